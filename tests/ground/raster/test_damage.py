"""A file with a few wrong bytes is refused, or what cannot be in it is told."""

from __future__ import annotations

import zipfile
from pathlib import Path

import numpy as np
import pytest
import rasterio
from rasterio.shutil import copy

from terrain.errors import TerrainError
from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.ground.raster.read import read_dem

SIDE = 1201


def tile(folder: Path, heights: np.ndarray | None = None) -> Path:
    """An SRTM tile: no more than its cells, so that nothing in it can tell a wrong byte."""
    row, col = np.indices((SIDE, SIDE))
    ground = 400 + 200 * np.sin(row / 90) * np.cos(col / 70) if heights is None else heights
    file = folder / "N54W025.hgt"
    file.write_bytes(ground.astype(">i2").tobytes())
    return file


def damaged(content: bytes, first: int, last: int, seed: int) -> bytes:
    rng, out = np.random.default_rng(seed), bytearray(content)
    for at in rng.integers(first, last, 8):
        out[at] ^= int(rng.integers(1, 256))
    return bytes(out)


def ground(file: Path, **said: str) -> Dem:
    """A little of it, about row 500 and column 120."""
    return read_dem(file, around=Spot(lon_deg=-24.9, lat_deg=54.58), reach_m=8000.0, **said)


@pytest.mark.parametrize("seed", range(3))
def test_a_damaged_archive_is_no_ground(tmp_path: Path, seed: int) -> None:
    archive, plain = tmp_path / "N54W025.hgt.zip", tile(tmp_path)
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.write(plain, plain.name)
    assert ground(archive).doubts == ()
    whole = archive.read_bytes()
    archive.write_bytes(damaged(whole, 60, len(whole) - 120, seed))
    with pytest.raises(TerrainError, match=r"N54W025.hgt.zip is damaged.*its own checksum"):
        ground(archive)
    archive.write_bytes(whole)
    assert ground(archive).doubts == ()


def test_an_archive_that_disagrees_with_its_own_list(tmp_path: Path) -> None:
    # GDAL ended the process at lengths before the file that are not those of the list
    archive, plain = tmp_path / "N54W025.hgt.zip", tile(tmp_path)
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_STORED) as packed:
        packed.write(plain, plain.name)
    whole = archive.read_bytes()
    archive.write_bytes(whole[:21] + bytes([7, 7, 7, 7]) + whole[25:])
    with pytest.raises(TerrainError, match=r"N54W025.hgt.zip is damaged"):
        ground(archive)
    archive.write_bytes(whole)
    assert ground(archive).doubts == ()


def test_an_archive_that_unpacks_to_too_much(tmp_path: Path, monkeypatch) -> None:
    monkeypatch.setattr("terrain.ground.raster.sheet._MOST_BYTES", 1_000_000)
    with zipfile.ZipFile(tmp_path / "a.zip", "w", zipfile.ZIP_DEFLATED) as packed:
        packed.write(tile(tmp_path), "N54W025.hgt")
    with pytest.raises(TerrainError, match="unpacks to more than"):
        read_dem(tmp_path / "a.zip")


def test_leaps_are_told_of_with_the_worst_place(tmp_path: Path) -> None:
    heights = np.full((SIDE, SIDE), 300.0)
    heights[480, 120] = 6000.0
    heights[510, 150] = 1200.0
    dem = ground(tile(tmp_path, heights))
    # the cells are centred on whole 3 seconds from the corner at 55 N, 25 W; the step leads to one
    (doubt,) = dem.doubts
    assert "leaps by 5700 m from one cell to the next at 54.6008, -24.9000" in doubt
    assert "and 7 more such steps: no" in doubt
    heights[510, 150] = 300.0
    heights[479, 120] = heights[480, 119] = -32768
    assert "and 1 more such step: no" in ground(tile(tmp_path, heights)).doubts[0]


def test_steep_ground_is_believed(tmp_path: Path) -> None:
    heights = np.full((SIDE, SIDE), 300.0)
    heights[:, 120:] = 740.0  # 78 degrees over these cells
    assert ground(tile(tmp_path, heights)).doubts == ()


def test_heights_of_no_ground_are_told_of(tmp_path: Path) -> None:
    heights = np.full((SIDE, SIDE), 300.0)
    heights[500, 100:120] = 31_000 + np.arange(20)
    dem = ground(tile(tmp_path, heights), height_unit="metre")
    assert any("from 31000 to 31019 m that no ground" in doubt for doubt in dem.doubts)
    assert np.nanmax(dem.heights_m) < 9000


@pytest.mark.parametrize("cut", [0.3, 0.9])
@pytest.mark.parametrize("ending", [".hgt", ".bil", ".asc", ".img", ".grd"])
def test_a_file_cut_short_is_no_ground(tmp_path: Path, ending: str, cut: float) -> None:
    drivers = {".bil": "EHdr", ".asc": "AAIGrid", ".img": "HFA", ".grd": "GSBG"}
    file = tile(tmp_path)
    if ending in drivers:
        with rasterio.open(file) as raster:
            file, heights = tmp_path / f"a{ending}", raster.read()
            profile = {"width": SIDE, "height": SIDE, "count": 1, "dtype": "int16"}
            profile |= {"crs": raster.crs, "transform": raster.transform}
        with rasterio.open(tmp_path / "a.tif", "w", driver="GTiff", **profile) as raster:
            raster.write(heights)
        copy(tmp_path / "a.tif", file, driver=drivers[ending])
    file.write_bytes(file.read_bytes()[: int(file.stat().st_size * cut)])
    with pytest.raises(TerrainError):
        read_dem(file, crs=None if ending != ".asc" else "EPSG:4326")
