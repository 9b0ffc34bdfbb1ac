"""A raster by blocks of its cells: means, tops, edges, voids; never more of it held than a part."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import rasterio
from affine import Affine

from terrain.errors import TerrainError
from terrain.ground.grid import Grid
from terrain.ground.places import Spot
from terrain.ground.raster import blocks, read
from terrain.ground.raster.blocks import coarse_enough
from terrain.ground.raster.read import how_coarse, read_dem
from terrain.ground.relief.summits import find_summits, hill_at
from terrain.sight.farther import with_far_ground
from tests.benchmarks.ground import rugged
from tests.scenes import written

SHAPE = (101, 143)


@pytest.fixture
def heights() -> np.ndarray:
    found = rugged(160).heights_m[: SHAPE[0], : SHAPE[1]].copy()
    found[10:14, 20:25] = np.nan  # whole blocks and parts of some
    return found


def twin(heights: np.ndarray, side: int) -> tuple[np.ndarray, np.ndarray]:
    """Mean and highest of each block, cell by cell; unknown where most of it is."""
    rows, cols = (-(-count // side) for count in heights.shape)
    means, tops = np.full((rows, cols), np.nan), np.full((rows, cols), np.nan)
    for row in range(rows):
        for col in range(cols):
            block = heights[row * side : (row + 1) * side, col * side : (col + 1) * side]
            known = block[~np.isnan(block)]
            if known.size and 2 * known.size >= block.size:
                means[row, col], tops[row, col] = known.mean(), known.max()
    return means, tops


@pytest.mark.parametrize("side", [2, 3, 7])
@pytest.mark.parametrize("is_in_rows", [False, True])
def test_blocks_are_as_the_twin_has_them(
    tmp_path: Path,
    heights: np.ndarray,
    side: int,
    is_in_rows: bool,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(blocks, "_PART_CELLS", 2_000)
    monkeypatch.setattr(blocks, "_PART_SIDE", 50)
    file = tmp_path / "ground.tif"
    written(file, np.nan_to_num(heights, nan=-99.0), nodata=-99.0)
    if not is_in_rows:
        tiled(file)
    held: list[int] = []
    whole = read.heights_on

    def watched(grid: Grid, sheets: list) -> tuple:
        held.append(grid.shape[0] * grid.shape[1])
        return whole(grid, sheets)

    monkeypatch.setattr(read, "heights_on", watched)
    dem = read_dem(file, most_cells=-(-SHAPE[0] * SHAPE[1] // side**2))
    means, tops = twin(heights, side)
    assert dem.cell_m == side * 50.0
    np.testing.assert_allclose(dem.heights_m, means, rtol=1e-5)
    np.testing.assert_array_equal(dem.as_delivered.heights_m, tops.astype(np.float32))
    assert len(held) > 3
    assert max(held) <= max(2_000, side * SHAPE[1] * side)


def tiled(file: Path) -> None:
    with rasterio.open(file) as raster:
        profile, values = raster.profile, raster.read()
    profile |= {"tiled": True, "blockxsize": 64, "blockysize": 64}
    with rasterio.open(file, "w", **profile) as raster:
        raster.write(values)


def test_blocks_about_a_place_are_those_of_the_whole(tmp_path: Path, heights: np.ndarray) -> None:
    file = written(tmp_path / "ground.tif", np.nan_to_num(heights, nan=300.0))
    whole = read_dem(file, most_cells=heights.size // 9 + 1)
    lon, lat = whole.grid.lonlat(15.2, 20.9)
    spot = Spot(lon_deg=float(lon), lat_deg=float(lat))
    part = read_dem(file, around=spot, reach_m=1_500.0, most_cells=450)
    assert part.cell_m == 150.0
    row, col = (round(float(at)) for at in whole.grid.rowcol(*part.grid.lonlat(0, 0)))
    rows, cols = part.shape
    inside = np.s_[row : row + rows, col : col + cols]
    np.testing.assert_array_equal(part.heights_m, whole.heights_m[inside])


def test_degrees_are_warped_from_blocks(tmp_path: Path) -> None:
    fine = rugged(160).heights_m
    file = tmp_path / "degrees.tif"
    profile = {"driver": "GTiff", "count": 1, "dtype": "float32", "crs": "EPSG:4326"}
    placing = Affine(1 / 1200, 0, -15.0, 0, -1 / 1200, 54.5)
    with rasterio.open(file, "w", width=160, height=160, transform=placing, **profile) as raster:
        raster.write(fine, 1)
    coarse = read_dem(file, most_cells=6_000)
    exact = read_dem(file)
    assert 2.5 < coarse.cell_m / exact.cell_m < 3.5
    assert coarse.heights_m.size < 6_500
    off = coarse.heights_m - exact.heights_at(*coarse.grid.lonlat(*np.indices(coarse.shape)))
    assert abs(np.nanmean(off)) < 3.0
    assert coarse.as_delivered.heights_m.max() == fine.max()


def test_summits_keep_their_heights_and_have_no_more_prominence(tmp_path: Path) -> None:
    file = written(tmp_path / "ground.tif", rugged(400).heights_m)
    exact = find_summits(read_dem(file), min_prominence_m=30.0)
    dem = read_dem(file, most_cells=17_800)
    found = find_summits(dem, min_prominence_m=30.0)
    assert dem.cell_m == 150.0
    assert len(found) > 15
    heights, at_least = exact["height_m"].to_numpy(), exact["prominence_m"].to_numpy()
    for _, one in found.iterrows():
        twin_row = int(np.flatnonzero(heights == one["height_m"])[0])
        assert one["prominence_m"] <= at_least[twin_row] + 1e-6
        assert exact.geometry.iloc[twin_row].distance(one.geometry) < 0.005
    top = found.geometry.iloc[0]
    assert hill_at(dem, top.x, top.y).height_m == heights[0]


def test_far_ground_over_blocks_is_no_lower_than_the_cells(tmp_path: Path) -> None:
    fine = rugged(400).heights_m.copy()
    fine[7, 203] = 4_000.0  # a needle in the corner of a block, far north of the place
    file = written(tmp_path / "ground.tif", fine)
    exact = read_dem(file)
    lon, lat = (float(part) for part in exact.grid.lonlat(300, 200))
    spot = Spot(lon_deg=lon, lat_deg=lat)
    dem = read_dem(file, around=spot, reach_m=3_000.0, most_cells=300)
    assert dem.cell_m == 350.0
    far = with_far_ground(dem, file, around=spot).far
    assert far is not None
    assert far.highest_m == 4_000.0
    whole = read_dem(file, most_cells=10_000)
    assert with_far_ground(whole, file, around=spot) is whole


def test_a_pit_does_not_spoil_the_mean_about_it(tmp_path: Path) -> None:
    ground = np.full((60, 60), 200.0, dtype=np.float32)
    ground[30, 30] = -5_000.0
    dem = read_dem(written(tmp_path / "pit.tif", ground), most_cells=400)
    np.testing.assert_array_equal(dem.heights_m, 200.0)


def test_what_is_asked_for_is_not_made_larger(tmp_path: Path) -> None:
    file = written(tmp_path / "ground.tif", rugged(100).heights_m)
    assert read_dem(file, cell_m=250.0, most_cells=500).shape == (20, 20)
    with pytest.raises(TerrainError, match="too many to read at once"):
        read_dem(file, cell_m=100.0, most_cells=500)
    asked = how_coarse(file, cell_m=100.0, most_cells=500)
    assert (asked.side, asked.cells, asked.is_asked) == (2, 2500, True)


@pytest.mark.parametrize(("most", "side"), [(2400, 1), (2399, 2), (600, 2), (599, 3), (1, 49)])
def test_the_finest_of_which_there_are_not_too_many(most: int, side: int) -> None:
    grid = Grid(crs="EPSG:32628", transform=Affine(50, 0, 5e5, 0, -50, 6e6), shape=(40, 60))
    assert coarse_enough(grid, most_cells=most).side == side


def test_a_doubt_of_several_parts_is_told_once(tmp_path: Path) -> None:
    whole = rugged(120).heights_m
    left = written(tmp_path / "left.tif", whole[:, :70])
    written(tmp_path / "right.tif", whole[:, 60:] + 40.0, corner_m=(303_000, 6_035_000))
    files = [left, tmp_path / "right.tif"]
    assert len(read_dem(files).doubts) == 1
    assert len(read_dem(files, most_cells=2_000).doubts) == 1
