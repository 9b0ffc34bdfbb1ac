"""A raster part by part: every cell once, with the margin asked for."""

from __future__ import annotations

import multiprocessing
import pickle
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np
import pytest
import rasterio

from terrain.errors import NoGround, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.raster.cuts import Cells
from terrain.ground.raster.parts import plan_parts, read_parts
from terrain.ground.raster.planned import GroundPart
from terrain.ground.raster.read import grid_of, read_dem
from tests.conftest import MakeDem


def write(dem: Dem, file: Path) -> Path:
    profile = {"driver": "GTiff", "count": 1, "dtype": "float32", "nodata": -9999}
    rows, cols = dem.shape
    with rasterio.open(
        file, "w", width=cols, height=rows, crs=dem.crs.to_wkt(), transform=dem.transform, **profile
    ) as raster:
        raster.write(np.nan_to_num(dem.heights_m, nan=-9999.0), 1)
    return file


def place_in(whole: Dem, part: GroundPart) -> tuple[int, int]:
    """Row and column of the whole that the first cell of a part is."""
    lon, lat = part.dem.grid.lonlat(0, 0)
    row, col = whole.grid.rowcol(lon, lat)
    assert abs(row - round(float(row))) < 1e-3
    assert abs(col - round(float(col))) < 1e-3
    return round(float(row)), round(float(col))


@pytest.mark.parametrize("shape", [(190, 310), (1, 40), (57, 1)])
def test_the_blocks_are_the_raster_each_cell_once(
    make_dem: MakeDem, tmp_path: Path, shape: tuple[int, int]
) -> None:
    heights = np.random.default_rng(2).uniform(0.0, 300.0, shape)
    whole = make_dem(heights, cell_m=50.0)
    file = write(whole, tmp_path / "whole.tif")
    assert grid_of(file).shape == shape
    times = np.zeros(shape, dtype=int)
    parts = list(read_parts(file, side_m=4_000.0, margin_m=1_500.0))
    assert [part.number for part in parts] == list(range(1, parts[0].count + 1))
    for part in parts:
        row, col = place_in(whole, part)
        rows, cols = part.dem.shape
        inside = np.s_[row : row + rows, col : col + cols]
        np.testing.assert_array_equal(part.dem.heights_m, whole.heights_m[inside])
        times[inside] += part.is_own
        own_rows, own_cols = (np.flatnonzero(part.is_own.any(axis=axis)) for axis in (1, 0))
        assert max(own_rows.size, own_cols.size) * 50.0 <= 4_000.0
        # the margin is there on every side but where the raster ends
        assert own_rows[0] >= 30 or row == 0
        assert own_cols[0] >= 30 or col == 0
        assert rows - 1 - own_rows[-1] >= 30 or row + rows == shape[0]
        assert cols - 1 - own_cols[-1] >= 30 or col + cols == shape[1]
    assert (times == 1).all()


def test_every_place_of_a_raster_in_degrees_is_in_one_part(jacksboro_file: Path) -> None:
    whole = read_dem(jacksboro_file).as_delivered
    rng = np.random.default_rng(4)
    row, col = (rng.uniform(2.0, count - 3.0, 3000) for count in whole.shape)
    lon, lat = whole.grid.lonlat(row, col)
    times, parts = np.zeros(row.size, dtype=int), 0
    for part in read_parts(jacksboro_file, side_m=12_000.0, margin_m=3_000.0):
        parts += 1
        at_row, at_col = part.dem.grid.rowcol(lon, lat)
        inside = part.dem.grid.contains(at_row, at_col)
        near = (np.rint(at_row[inside]).astype(int), np.rint(at_col[inside]).astype(int))
        near = tuple(
            np.clip(at, 0, count - 1) for at, count in zip(near, part.dem.shape, strict=True)
        )
        times[inside] += part.is_own[near]
        delivered = whole.heights_at(lon[inside], lat[inside])
        own = part.is_own[near]
        heights = part.dem.heights_at(lon[inside], lat[inside])
        assert np.nanmedian(np.abs(heights - delivered)[own]) < 2.0
    assert parts == 9
    # the cells of two planes meet aslant, within a cell of the line between them
    assert np.mean(times == 1) > 0.985
    assert times.max() <= 2


def test_parts_without_known_ground_are_left_out(make_dem: MakeDem, tmp_path: Path) -> None:
    heights = np.full((120, 120), np.nan)
    heights[:40, :40] = 10.0
    file = write(make_dem(heights), tmp_path / "isle.tif")
    parts = list(read_parts(file, side_m=2_000.0, margin_m=500.0))
    assert [part.number for part in parts] == [1]
    assert parts[0].count == 9


def test_parts_that_cannot_be(tmp_path: Path, make_dem: MakeDem) -> None:
    file = write(make_dem(np.zeros((4, 4))), tmp_path / "small.tif")
    with pytest.raises(TerrainError, match="give a side above 0"):
        next(read_parts(file, side_m=0.0, margin_m=10.0))
    with pytest.raises(TerrainError, match="margin of -1"):
        next(read_parts(file, side_m=100.0, margin_m=-1.0))
    part = next(read_parts(file, side_m=100.0, margin_m=0.0))
    with pytest.raises(ValueError, match="read-only"):
        part.is_own[0, 0] = False
    with pytest.raises(ValueError, match="flags of shape"):
        GroundPart(number=1, count=1, dem=part.dem, is_own=np.ones((9, 9), dtype=bool))


def test_a_part_may_be_far_wider_than_the_raster(make_dem: MakeDem, tmp_path: Path) -> None:
    file = write(make_dem(np.zeros((4, 4)), cell_m=50.0), tmp_path / "small.tif")
    assert len(plan_parts(file, side_m=1e7, margin_m=0.0)) == 1


def test_a_plan_knows_its_parts_before_any_height_is_read(
    make_dem: MakeDem, tmp_path: Path
) -> None:
    heights = np.random.default_rng(3).uniform(0.0, 300.0, (190, 310))
    whole = make_dem(heights, cell_m=50.0)
    plan = plan_parts(write(whole, tmp_path / "whole.tif"), side_m=4_000.0, margin_m=1_010.0)
    assert plan.grid == whole.grid
    assert len(plan) == 12
    times = np.zeros(heights.shape, dtype=int)
    for part in plan:
        # 1010 m are 21 cells of 50 m
        assert part.window == part.own.widened(21, whole.grid)
        times[part.own.inside(Cells(0, 0, 190, 310))] += 1
        read = part.read()
        assert read.dem.grid == part.window.of(whole.grid)
        at = part.window.inside(Cells(0, 0, 190, 310))
        np.testing.assert_array_equal(read.dem.heights_m, whole.heights_m[at])
        assert read.is_own.sum() == np.prod(part.own.shape)
        assert read.is_own[part.own.inside(part.window)].all()
    assert (times == 1).all()
    with pytest.raises(IndexError, match="no part 13 of 12"):
        plan.read(13)


def test_any_part_is_read_in_another_process(make_dem: MakeDem, tmp_path: Path) -> None:
    heights = np.random.default_rng(5).uniform(0.0, 300.0, (900, 900))
    files = [
        write(make_dem(heights), tmp_path / "whole.tif"),
        write(make_dem(heights[:4, :4]), tmp_path / "small.tif"),
    ]
    plan = plan_parts(files, side_m=15_000.0, margin_m=500.0)
    assert len(pickle.dumps(plan)) < 20_000
    assert len(plan.part(5).sheets) == 2  # both lie in the middle
    assert len(plan.part(9).sheets) == 1
    with ProcessPoolExecutor(1, multiprocessing.get_context("spawn")) as other:
        parts = [other.submit(plan.read, 9).result(), other.submit(plan.part(9).read).result()]
    for part in parts:
        here = plan.read(9)
        assert (part.number, part.count) == (9, 9)
        assert part.dem.grid == here.dem.grid
        np.testing.assert_array_equal(part.dem.heights_m, here.dem.heights_m)
        np.testing.assert_array_equal(part.is_own, here.is_own)


def test_parts_of_a_raster_in_degrees_lie_on_the_plane_of_the_whole(jacksboro_file: Path) -> None:
    whole = read_dem(jacksboro_file)
    plan = plan_parts(jacksboro_file, side_m=12_000.0, margin_m=3_000.0)
    assert plan.grid == whole.grid
    assert len(plan) == 9
    everything = Cells(0, 0, *whole.shape)
    found, times = np.full(whole.shape, np.nan), np.zeros(whole.shape, dtype=int)
    delivered = np.zeros(whole.as_delivered.shape, dtype=int)
    for part in plan:
        read = part.read()
        assert read.dem.grid == part.window.of(whole.grid)
        at = part.own.inside(everything)
        times[at] += 1
        found[at] = read.dem.heights_m[part.own.inside(part.window)]
        own = part.delivered.inside(Cells(0, 0, *plan.whole.shape))
        delivered[own] += 1
        np.testing.assert_array_equal(
            part.heights_m(part.delivered), whole.as_delivered.heights_m[own]
        )
    assert (times == 1).all()
    assert (delivered == 1).all()
    np.testing.assert_array_equal(np.isnan(found), np.isnan(whole.heights_m))
    # but for the last bits, wherever a part begins
    np.testing.assert_allclose(found, whole.heights_m, atol=1e-3)


def test_a_part_without_ground_is_named(make_dem: MakeDem, tmp_path: Path) -> None:
    heights = np.full((120, 120), np.nan)
    heights[:40, :40] = 10.0
    plan = plan_parts(write(make_dem(heights), tmp_path / "isle.tif"), side_m=2e3, margin_m=500.0)
    assert plan.read(1).dem.shape == (50, 50)
    with pytest.raises(NoGround, match="no ground is known in part 9 of 9"):
        plan.read(9)
