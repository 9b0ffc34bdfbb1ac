"""A valley mist on valleys whose floors are known, and on real ground."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import ndimage

from terrain.errors import NoAnswer, NoGround, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.mist.drainage import drain
from terrain.mist.level import level_mist
from terrain.mist.mist import Mist
from terrain.mist.valley import valley_mist

MakeDem = Callable[..., Dem]

CELL_M = 50.0
TILT, SIDE = 0.02, 0.3


def spot_in(dem: Dem, row: float, col: float) -> Spot:
    lon, lat = dem.grid.lonlat(row, col)
    return Spot(lon_deg=float(lon), lat_deg=float(lat))


def vee(rows: int, cols: int, tilt: float = TILT, side: float = SIDE) -> NDArray[np.float64]:
    """A V-shaped valley that falls to the south, its floor in the middle column, 0 at its end."""
    row, col = np.mgrid[0:rows, 0:cols]
    return CELL_M * (tilt * (rows - 1 - row) + side * np.abs(col - cols // 2))


def sharpest_bend(dem: Dem, mist: Mist) -> float:
    """Greatest change of the top's slope from a cell to the next, 200 m and more off the shore."""
    offshore = ndimage.distance_transform_edt(np.pad(mist.covers, 1))[1:-1, 1:-1] * CELL_M > 200
    top = np.where(offshore, mist.top_m, np.nan)
    slopes = np.stack(np.gradient(top, CELL_M))
    return max(float(np.nanmax(np.abs(np.diff(slopes, axis=axis)))) for axis in (1, 2))


@pytest.fixture(scope="module")
def tilted(make_dem: MakeDem) -> Dem:
    return make_dem(vee(200, 121), cell_m=CELL_M)


@pytest.fixture(scope="module")
def confluence(make_dem: MakeDem) -> Dem:
    """A V of 2 % joined from the north-east, at an angle, by one of 6 %."""
    row, col = np.mgrid[0:240, 0:241]
    main = vee(240, 241)
    # the side valley's floor leaves the main one in row 160 and runs 3 across to 4 up
    along, across = (160 - row) * 0.8 + (col - 120) * 0.6, (160 - row) * 0.6 - (col - 120) * 0.8
    side_valley = CELL_M * (TILT * 79 + 0.06 * along + SIDE * np.abs(across))
    ground = np.where(along > 0, np.minimum(main, side_valley), main)
    return make_dem(ground, cell_m=CELL_M)


def test_depth_is_constant_along_the_thalweg_of_a_tilted_valley(tilted: Dem) -> None:
    mist = valley_mist(tilted, 120.0)
    depth = mist.depth(tilted)[:, 60]
    # to the raster's ends, where a spike would be
    np.testing.assert_allclose(depth, 120.0, atol=0.5)
    over_floor = (mist.top_m - tilted.heights_m[:, [60]])[mist.covers]
    np.testing.assert_allclose(over_floor, 120.0, atol=1.5)
    # the shore is where the sides rise as high: 8 cells off, to the cell
    wide = np.count_nonzero(mist.covers, axis=1)
    assert 15 <= wide.min() <= wide.max() <= 17


def test_the_ceiling_is_a_lid(tilted: Dem) -> None:
    free, capped = valley_mist(tilted, 120.0), valley_mist(tilted, 120.0, ceiling_m=200.0)
    assert capped.range_m[1] == 200.0
    assert not capped.covers[tilted.heights_m >= 200].any()
    below = free.top_m < 140
    np.testing.assert_allclose(capped.top_m[below], free.top_m[below], atol=0.5)
    flat = capped.covers & (tilted.heights_m[:, [60]] > 120.0)
    np.testing.assert_allclose(capped.top_m[flat], 200.0, atol=0.5)


def test_mist_backs_up_level_into_a_floor_too_steep_for_it(make_dem: MakeDem) -> None:
    # a floor of 2 % for 80 rows, below 120 rows of 20 %
    row, col = np.mgrid[0:200, 0:121]
    floor = np.where(row > 119, TILT * (199 - row), TILT * 80 + 0.2 * (119 - row))
    dem = make_dem(CELL_M * (floor + SIDE * np.abs(col - 60)), cell_m=CELL_M)
    mist = valley_mist(dem, 60.0)
    top, foot_m = mist.top_m[:, 60], CELL_M * TILT * 80
    steep = ~np.isnan(top[:119])
    # it ends where the floor rises out of the level that it has at the foot of the steep
    assert np.nanmax(top) <= foot_m + 60.0 + 0.5
    assert 3 <= np.count_nonzero(steep) <= 7
    assert np.all(np.abs(np.diff(top[:119][steep])) < 0.05 * CELL_M)
    # allowed to stay on it, it covers the steep floor as deep
    everywhere = valley_mist(dem, 60.0, max_floor_slope=0.5)
    # away from the foot, where the top bends, and from the channel that runs down its fold
    np.testing.assert_allclose(everywhere.depth(dem)[10:85, 60], 60.0, atol=1.0)


def test_no_terrace_where_valleys_meet(confluence: Dem) -> None:
    mist = valley_mist(confluence, 100.0, max_floor_slope=0.2)
    # the floors' slopes differ by 6.3 % at the confluence; spread over 300 m either way, no step
    # of 50 m takes more than a part of that
    assert sharpest_bend(confluence, mist) < 0.025
    unspread = valley_mist(confluence, 100.0, max_floor_slope=0.2, smooth_m=0.0)
    assert sharpest_bend(confluence, unspread) > 0.1
    # well away from it each valley keeps its own depth
    assert mist.depth(confluence)[30, 120] == pytest.approx(100.0, abs=0.5)
    assert mist.depth(confluence)[220, 120] == pytest.approx(100.0, abs=0.5)


def test_mist_from_seeds_stays_in_their_valleys(make_dem: MakeDem) -> None:
    two = np.concatenate([vee(120, 61), vee(120, 61)], axis=1)
    dem = make_dem(two, cell_m=CELL_M)
    both = valley_mist(dem, 80.0)
    assert both.covers[60, [30, 91]].all()
    # a seed on the valley's side stands for the valley below it
    one = valley_mist(dem, 80.0, seeds=[spot_in(dem, 60, 10)])
    assert one.covers[60, 30]
    assert not one.covers[:, 61:].any()
    np.testing.assert_array_equal(one.top_m[:, :61], both.top_m[:, :61])


def test_each_place_has_its_own_depth(make_dem: MakeDem) -> None:
    two = np.concatenate([vee(120, 61), vee(120, 61)], axis=1)
    dem = make_dem(two, cell_m=CELL_M)
    mist = valley_mist(dem, {spot_in(dem, 60, 30): 80.0, spot_in(dem, 60, 91): 150.0})
    depth = mist.depth(dem)
    assert depth[60, 30] == pytest.approx(80.0, abs=3.0)
    assert depth[60, 91] == pytest.approx(150.0, abs=3.0)
    west = valley_mist(dem, {spot_in(dem, 60, 30): 80.0})
    np.testing.assert_allclose(west.depth(dem)[:, 30], 80.0, atol=0.5)
    assert not west.covers[:, 61:].any()


def test_lakes_and_the_sea_are_floors(make_dem: MakeDem) -> None:
    row, _ = np.mgrid[0:80, 0:80]
    dem = make_dem(np.maximum(20.0 * (20 - row), 0), cell_m=CELL_M)
    mist = valley_mist(dem, 50.0)
    np.testing.assert_allclose(mist.top_m[25:], 50.0, atol=0.5)
    assert not mist.covers[:17].any()


def test_mist_that_stands_over_its_rim_thins_out_beyond(make_dem: MakeDem) -> None:
    # a gentle floor that breaks off into a drop of 1 in 2
    row, col = np.mgrid[0:200, 0:121]
    floor = np.where(row < 120, 2000 + TILT * CELL_M * (120 - row), 2000 - 25.0 * (row - 120))
    dem = make_dem(floor + CELL_M * SIDE * np.abs(col - 60), cell_m=CELL_M)
    mist = valley_mist(dem, 60.0)
    depth = np.nan_to_num(mist.depth(dem)[:, 60])
    assert depth[60] == pytest.approx(60.0, abs=0.5)
    ends = int(np.flatnonzero(depth)[-1])
    assert 100 < ends < 140
    # it loses at most 15 m in 100 m, and there is no wall of mist at its end
    assert depth[ends] < 0.15 * CELL_M * 1.5
    assert np.all(np.diff(depth[100 : ends + 1]) > -0.16 * CELL_M - 2.0)


def test_voids_are_no_sink(make_dem: MakeDem) -> None:
    ground = vee(200, 121)
    whole = valley_mist(make_dem(ground, cell_m=CELL_M), 120.0)
    ground[100:103, 58:62] = np.nan
    dem = make_dem(ground, cell_m=CELL_M)
    mist = valley_mist(dem, 120.0)
    assert not mist.covers[np.isnan(ground)].any()
    known = ~np.isnan(mist.top_m) & ~np.isnan(whole.top_m)
    assert np.count_nonzero(known) > 0.98 * np.count_nonzero(whole.covers)
    np.testing.assert_allclose(mist.top_m[known], whole.top_m[known], atol=4.0)


def test_a_deeper_mist_hides_more_of_real_ground(jacksboro: Dem) -> None:
    before = np.zeros(jacksboro.shape, dtype=bool)
    for depth_m in (20.0, 50.0, 110.0):
        mist = valley_mist(jacksboro, depth_m)
        assert mist.covers.mean() > before.mean() + 0.05
        before = mist.covers
        assert np.nanmin(mist.top_m - jacksboro.heights_m) > 0
        # no wall: the top hardly ever falls more steeply than the ground itself does
        fall = np.abs(np.diff(mist.top_m, axis=0)) / jacksboro.cell_m
        assert np.nanquantile(fall, 0.99) < 0.25


def test_what_is_no_mist_is_told_in_one_line(tilted: Dem) -> None:
    with pytest.raises(TerrainError, match="a mist 0 m deep is none"):
        valley_mist(tilted, 0)
    with pytest.raises(TerrainError, match="at least one place"):
        valley_mist(tilted, {})
    with pytest.raises(TerrainError, match="the ceiling of a mist"):
        valley_mist(tilted, 10.0, ceiling_m=float("nan"))
    with pytest.raises(TerrainError, match="a floor slope of 0"):
        valley_mist(tilted, 10.0, max_floor_slope=0.0)
    with pytest.raises(NoGround, match="the raster covers"):
        valley_mist(tilted, 10.0, seeds=[Spot(lon_deg=10, lat_deg=10)])
    with pytest.raises(NoAnswer) as nowhere:
        valley_mist(tilted, 50.0, ceiling_m=-20.0)
    assert str(nowhere.value) == (
        "mist 50 m deep under a ceiling at -20 m covers no ground: the lowest here is 0 m, and "
        "valley floors may be too steep or too small"
    )
    assert nowhere.value.loosen == ({"ceiling_m": None},)
    with pytest.raises(NoAnswer) as steep:
        valley_mist(tilted, 50.0, max_floor_slope=1e-4)
    ((key, top_m),) = steep.value.loosen[0].items()
    assert key == "level_top_m"
    assert np.isfinite(level_mist(tilted, top_m).top_m).any()


def test_a_place_whose_way_down_meets_no_floor_is_told(make_dem: MakeDem) -> None:
    """Mist lies in the V; a slope beyond its eastern rim falls off the raster without a floor."""
    ground = np.hstack([vee(200, 121), 1.0e3 - 0.4 * CELL_M * np.mgrid[:200, :40][1]])
    dem = make_dem(ground, cell_m=CELL_M)
    lon, lat = (float(part) for part in dem.grid.lonlat(100, 140))
    place = Spot(lon_deg=lon, lat_deg=lat, name="the slope")
    assert np.isfinite(valley_mist(dem, 10.0).top_m).any()
    with pytest.raises(
        NoAnswer, match=r"10 m deep from the slope covers no ground: the way down"
    ) as caught:
        valley_mist(dem, 10.0, seeds=[place])
    assert caught.value.loosen == ({"seeds": None},)
    with pytest.raises(NoAnswer) as caught:
        valley_mist(dem, {place: 10.0})
    assert not caught.value.loosen


def test_a_raised_mist_is_as_much_deeper_under_a_ceiling_as_much_higher(tilted: Dem) -> None:
    end, start = spot_in(tilted, 190, 60), spot_in(tilted, 100, 60)
    mist = valley_mist(tilted, {end: 60.0, start: 100.0}, ceiling_m=190.0)
    for by_m in (25.0, -40.0):
        there = valley_mist(tilted, {end: 60.0 + by_m, start: 100.0 + by_m}, ceiling_m=190.0 + by_m)
        np.testing.assert_array_equal(mist.raised(tilted, by_m).top_m, there.top_m)
    # the one place runs dry before the other
    low = np.nan_to_num(mist.raised(tilted, -80.0).depth(tilted)[:, 60])
    assert low[190] < 1.0 < 10.0 < low[100]
    with pytest.raises(NoAnswer, match="covers no ground"):
        mist.raised(tilted, -100.0)
    one = valley_mist(tilted, 100.0, smooth_m=0.0, drainage=drain(tilted))
    deeper = valley_mist(tilted, 110.0, smooth_m=0.0)
    np.testing.assert_array_equal(one.raised(tilted, 10.0).top_m, deeper.top_m)
    with pytest.raises(NoAnswer, match="mist 0 m deep covers no ground"):
        one.raised(tilted, -150.0)


@pytest.mark.parametrize("to_the_north", [False, True])
def test_a_corner_has_the_top_of_the_floor_abreast(make_dem: MakeDem, to_the_north: bool) -> None:
    """Sides so gentle that all is misty, and water runs down them aslant, far down the valley."""
    ground = vee(60, 41, side=0.03)
    ground = ground[::-1] if to_the_north else ground
    mist = valley_mist(make_dem(ground, cell_m=CELL_M), 120.0, smooth_m=0.0)
    assert mist.covers.all()
    lower_half = np.s_[:30] if to_the_north else np.s_[30:]
    over_floor = (mist.top_m - ground[:, [20]])[lower_half]
    np.testing.assert_allclose(over_floor, 120.0, atol=2.0)
