"""Sheets that do not fit one another are said to, with the place and how much."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
import rasterio
from affine import Affine
from scipy.ndimage import gaussian_filter

from terrain.errors import TerrainError
from terrain.ground.places import Spot
from terrain.ground.raster.parts import read_parts
from terrain.ground.raster.read import read_dem

UTM28 = "EPSG:32628"
CELL = 50.0


def hills(rows: int = 120, cols: int = 160, seed: int = 1) -> np.ndarray:
    """Steep country of 900 m of relief, with rough ground on it."""
    dice = np.random.default_rng(seed)
    smooth = gaussian_filter(dice.normal(size=(rows, cols)), 9.0)
    rough = gaussian_filter(dice.normal(size=(rows, cols)), 1.0)
    return (1200 + 900 * smooth / np.ptp(smooth) + 5 * rough).astype(np.float32)


def sheet(
    file: Path, heights: np.ndarray, row: int = 0, col: int = 0, cell: float = CELL, unit: str = ""
) -> Path:
    """Heights whose left upper cell is that row and column of the whole."""
    transform = Affine(cell, 0, 480_000 + CELL * col, 0, -cell, 6_040_000 - CELL * row)
    profile = {"driver": "GTiff", "crs": UTM28, "count": 1, "dtype": "float32"}
    rows, cols = heights.shape
    with rasterio.open(
        file, "w", height=rows, width=cols, transform=transform, **profile
    ) as raster:
        raster.write(heights.astype(np.float32), 1)
        if unit:
            raster.units = (unit,)
    return file


def cut(folder: Path, whole: np.ndarray, other: np.ndarray, axis: int, lap: int) -> list[Path]:
    """Two sheets of two grounds: the first half of the one, and the second of the other."""
    middle = whole.shape[axis] // 2
    first = sheet(folder / "first.tif", np.take(whole, range(middle + lap), axis))
    second = np.take(other, range(middle, whole.shape[axis]), axis)
    at = (middle, 0) if axis == 0 else (0, middle)
    return [first, sheet(folder / "second.tif", second, *at)]


@pytest.mark.parametrize("axis", [0, 1])
@pytest.mark.parametrize("lap", [0, 1, 12])
@pytest.mark.parametrize("seed", range(6))
def test_sheets_of_one_ground_fit(tmp_path: Path, axis: int, lap: int, seed: int) -> None:
    files = cut(tmp_path, hills(seed=seed), hills(seed=seed), axis, lap)
    assert read_dem(files).doubts == ()
    assert read_dem(files[::-1]).doubts == ()


@pytest.mark.parametrize("axis", [0, 1])
@pytest.mark.parametrize("lap", [0, 1, 12])
@pytest.mark.parametrize("offset", [-30.0, 8.0])
def test_a_sheet_that_stands_higher_is_told(
    tmp_path: Path, axis: int, lap: int, offset: float
) -> None:
    files = cut(tmp_path, hills(), hills() + offset, axis, lap)
    for order in (files, files[::-1]):
        (doubt,) = read_dem(order).doubts
        assert "first.tif" in doubt
        assert "second.tif" in doubt
        assert "\n" not in doubt
        (metres,) = re.findall(r"up to (\d+) m", doubt)
        assert float(metres) == pytest.approx(abs(offset), abs=0.5 if lap else 15.0)


def test_a_sheet_of_depths_counted_downwards_is_told(tmp_path: Path) -> None:
    """The bed of a lake, below the sea's level in one sheet and as depths in the other."""
    bed = hills() - 1500.0
    (doubt,) = read_dem(cut(tmp_path, bed, -bed, 0, 12)).doubts
    (metres,) = re.findall(r"up to (\d+) m", doubt)
    assert float(metres) == pytest.approx(2.0 * np.abs(bed[60:72]).max(), abs=0.5)


@pytest.mark.parametrize("lap", [0, 1])
def test_the_worst_place_of_a_seam_is_told(tmp_path: Path, lap: int) -> None:
    whole, other = hills(), hills()
    bump = 80.0 * np.exp(-(((np.arange(120) - 90) / 8.0) ** 2))
    other += bump[:, None].astype(np.float32)
    files = cut(tmp_path, whole, other, 1, lap)
    dem = read_dem(files)
    (doubt,) = dem.doubts
    metres, lat, lon = re.search(r"up to (\d+) m .* at ([\d.-]+), ([\d.-]+)$", doubt).groups()
    assert float(metres) == pytest.approx(80, abs=1 if lap else 12)
    row, col = dem.grid.rowcol(float(lon), float(lat))
    assert float(row) == pytest.approx(90, abs=1 if lap else 5)
    assert float(col) == pytest.approx(80, abs=1.5)
    # ground that is read elsewhere has no seam in it
    away = dem.grid.lonlat(60, 20)
    spot = Spot(lon_deg=float(away[0]), lat_deg=float(away[1]))
    assert read_dem(files, around=spot, reach_m=500).doubts == ()
    parts = list(read_parts(files, side_m=8_000.0, margin_m=0.0))
    assert any(part.dem.doubts for part in parts)


@pytest.mark.parametrize("axis", [0, 1])
def test_a_window_may_end_where_another_sheet_begins(tmp_path: Path, axis: int) -> None:
    whole = hills()
    files = cut(tmp_path, whole, whole, axis, 0)
    middle = whole.shape[axis] // 2
    row, col = (middle - 11, 70) if axis == 0 else (60, middle - 11)
    lon, lat = (float(part) for part in read_dem(files).grid.lonlat(row, col))
    spot = Spot(lon_deg=lon, lat_deg=lat)
    for order in (files, files[::-1]):
        dem = read_dem(order, around=spot, reach_m=500.0)
        np.testing.assert_array_equal(
            dem.heights_m, whole[row - 10 : row + 11, col - 10 : col + 11]
        )


def test_warped_ground_carries_its_doubts(tmp_path: Path) -> None:
    dem = read_dem(cut(tmp_path, hills(), hills() + 30, 0, 0), cell_m=100)
    assert dem.delivered is not None
    assert len(dem.doubts) == 1


def test_a_cliff_along_a_seam_is_no_doubt(tmp_path: Path) -> None:
    # terraces as high as the step at the edge, everywhere
    row = np.arange(120)
    terraces = np.tile((row // 6 * 60.0)[:, None], (1, 160)) + hills() / 100
    assert read_dem(cut(tmp_path, terraces, terraces, 0, 0)).doubts == ()


def test_a_coarse_sheet_about_a_fine_one_fits(tmp_path: Path) -> None:
    whole = hills()
    coarse = whole[:120, :159].reshape(40, 3, 53, 3).mean(axis=(1, 3))
    files = [
        sheet(tmp_path / "fine.tif", whole[30:90, 30:90], 30, 30),
        sheet(tmp_path / "coarse.tif", coarse, cell=150.0),
    ]
    assert read_dem(files).doubts == ()
    lifted = sheet(tmp_path / "lifted.tif", coarse + 25, cell=150.0)
    (doubt,) = read_dem([files[0], lifted]).doubts
    assert "lifted.tif and" in doubt


@pytest.mark.parametrize("lap", [0, 12])
def test_a_sheet_in_feet_beside_one_in_metres_is_questioned(tmp_path: Path, lap: int) -> None:
    files = cut(tmp_path, hills(), hills() / 0.3048, 1, lap)
    for order in (files, files[::-1]):
        with pytest.raises(TerrainError, match=r"second.tif reads 3.2\d times .*first") as said:
            read_dem(order)
        assert "\n" not in str(said.value)
    with rasterio.open(files[1], "r+") as raster:
        raster.units = ("ft",)
    dem = read_dem(files)
    assert dem.doubts == ()
    np.testing.assert_allclose(dem.heights_m, hills(), rtol=1e-5)


def test_real_sheets_fit(open_data: Path) -> None:
    south, north = open_data / "N49E011.hgt.zip", open_data / "N50E011.hgt.zip"
    assert read_dem([south, north]).doubts == ()


def test_cuts_of_real_ground_fit_and_a_shifted_one_does_not(
    open_data: Path, tmp_path: Path
) -> None:
    dem = read_dem(open_data / "lakeland_50m.tif")
    whole = dem.heights_m
    for lap in (0, 1):
        for axis in (0, 1):
            assert read_dem(cut(tmp_path, whole, whole, axis, lap)).doubts == ()
            assert len(read_dem(cut(tmp_path, whole, whole + 6, axis, lap)).doubts) == 1


def test_real_ground_of_wider_cells_beside_finer_fits(open_data: Path, tmp_path: Path) -> None:
    whole = read_dem(open_data / "lakeland_50m.tif").heights_m
    rows, cols = (side // 3 * 3 for side in whole.shape)
    half = cols // 6 * 3
    wide = whole[:rows, half:cols].reshape(rows // 3, 3, -1, 3).mean(axis=(1, 3))
    files = [
        sheet(tmp_path / "fine.tif", whole[:rows, :half]),
        sheet(tmp_path / "wide.tif", wide, col=half, cell=3 * CELL),
    ]
    assert read_dem(files).doubts == ()
    assert read_dem(files[::-1]).doubts == ()
    lifted = sheet(tmp_path / "lifted.tif", wide + 15, col=half, cell=3 * CELL)
    assert len(read_dem([files[0], lifted]).doubts) == 1
