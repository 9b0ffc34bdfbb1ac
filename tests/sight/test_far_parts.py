"""Far ground of a part, put together from the blocks of all parts."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.ground.raster.far import block_tops
from terrain.ground.raster.far_parts import far_of_part, tops_of_part
from terrain.ground.raster.parts import PartsPlan, plan_parts
from terrain.ground.raster.read import read_dem
from terrain.sight.skyline import skyline
from tests.conftest import MakeDem
from tests.ground.raster.test_parts import write

AZIMUTHS_DEG = np.arange(0.0, 360.0, 3.1)


def rough(make_dem: MakeDem, holes: float = 0.0) -> Dem:
    dice = np.random.default_rng(6)
    heights = dice.uniform(0.0, 60.0, (150, 190)) + 500.0 * dice.random((150, 190)) ** 12
    heights[dice.random(heights.shape) < holes] = np.nan
    return make_dem(heights)


def with_far(plan: PartsPlan, number: int, *, side: int = 4, to_m: float = 1e5) -> Dem:
    tops = [tops_of_part(part, side=side) for part in plan]
    return replace(plan.read(number).dem, far=far_of_part(plan, number, tops, to_m=to_m))


@pytest.mark.parametrize("side", [4, 8])
@pytest.mark.parametrize("holes", [0.0, 0.2])
def test_the_blocks_of_all_parts_are_those_of_the_whole(
    make_dem: MakeDem, tmp_path: Path, side: int, holes: float
) -> None:
    whole = rough(make_dem, holes)
    plan = plan_parts(write(whole, tmp_path / "a.tif"), side_m=2_500.0, margin_m=600.0)
    window = plan.part(6).window
    far = with_far(plan, 6, side=side).far
    assert far is not None
    rows, cols = (-(-count // side) * side for count in whole.shape)
    padded = np.full((rows + 2, cols + 2), np.nan, dtype=np.float32)
    padded[1 : whole.shape[0] + 1, 1 : whole.shape[1] + 1] = whole.heights_m
    expected = block_tops(padded, side)
    assert far.tops_m.shape == expected.shape
    assert (far.row, far.col) == (-window.top, -window.left)
    beyond = far.tops_m != -np.inf
    np.testing.assert_array_equal(far.tops_m[beyond], expected[beyond])
    # no more is left out than what the cells of the window decide
    inner_row, inner_col = np.nonzero(~beyond)
    assert inner_row.size > 0
    assert inner_row.min() * side > window.top
    assert (inner_row.max() + 1) * side < window.bottom
    assert inner_col.min() * side > window.left
    assert (inner_col.max() + 1) * side < window.right


def test_a_skyline_from_a_part_is_that_from_the_whole(make_dem: MakeDem, tmp_path: Path) -> None:
    whole = rough(make_dem)
    # at the very edge ground is taken to go on level, which the far ground knows nothing of
    heights = whole.heights_m.copy()
    heights[[0, 1, -2, -1], :] = heights[:, [0, 1, -2, -1]] = -60.0
    whole = replace(whole, heights_m=heights)
    plan = plan_parts(write(whole, tmp_path / "a.tif"), side_m=2_500.0, margin_m=1_000.0)
    dem = with_far(plan, 6)
    lon, lat = (float(place) for place in dem.grid.lonlat(40.0, 45.0))
    spot = Spot(lon_deg=lon, lat_deg=lat, eye_m=30.0)
    truth, found = (skyline(ground, spot, azimuths_deg=AZIMUTHS_DEG) for ground in (whole, dem))
    np.testing.assert_allclose(found.altitude_deg, truth.altitude_deg, atol=1e-6)
    near = skyline(replace(dem, far=None), spot, azimuths_deg=AZIMUTHS_DEG)
    assert (near.altitude_deg < truth.altitude_deg - 0.1).any()


def test_far_ground_ends_where_it_is_told_to(make_dem: MakeDem, tmp_path: Path) -> None:
    plan = plan_parts(write(rough(make_dem), tmp_path / "a.tif"), side_m=2_500.0, margin_m=500.0)
    far = with_far(plan, 1, to_m=2_000.0).far
    assert far is not None
    window = plan.part(1).window
    assert window.shape[0] + 40 <= far.tops_m.shape[0] * 4 < window.shape[0] + 48
    # parts that were not worked out are unknown, not low
    only = far_of_part(plan, 1, [tops_of_part(plan.part(1))], to_m=2_000.0)
    assert np.isnan(only.tops_m[-1, -1])


def test_far_ground_of_a_warped_raster(jacksboro_file: Path) -> None:
    whole = read_dem(jacksboro_file)
    plan = plan_parts(jacksboro_file, side_m=12_000.0, margin_m=2_000.0)
    far, window = with_far(plan, 5).far, plan.part(5).window
    assert far is not None
    cells = far.read(-window.top, -window.left, whole.shape)
    np.testing.assert_allclose(cells, whole.heights_m, atol=1e-3)
    high = np.repeat(np.repeat(far.tops_m, 4, axis=0), 4, axis=1)
    high = high[: whole.shape[0], : whole.shape[1]]
    known = ~np.isnan(whole.heights_m) & (high != -np.inf)
    assert (high[known] >= whole.heights_m[known] - 1e-3).all()
