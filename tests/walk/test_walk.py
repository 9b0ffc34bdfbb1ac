"""The walk in, against the published rules, a slow twin and what must hold of any walk."""

from __future__ import annotations

import datetime as dt
import heapq
import itertools
import math
from zoneinfo import ZoneInfo

import geopandas as gpd
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.sparse.csgraph import dijkstra
from shapely import LineString

from terrain.errors import NoAnswer, NoGround, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.geodesy import azimuth_and_distance
from terrain.ground.places import Spot
from terrain.ground.relief.slope import slope_deg
from terrain.sun.twilight import twilight
from terrain.walk import window as window_module
from terrain.walk.dark import clock_about
from terrain.walk.net import lay_net
from terrain.walk.pace import (
    PATH_FACTOR,
    Floats,
    Going,
    din_33466,
    fastest_m_s,
    langmuir,
    naismith,
    tobler,
)
from terrain.walk.reach import walks_from
from terrain.walk.walk import Walk, walk_in
from tests.authorities import walking
from tests.conftest import MakeDem

CELL_M = 50.0
STEPS = [
    (i, j)
    for i, j in itertools.product(range(-2, 3), repeat=2)
    if (i or j) and math.gcd(i, j) == 1 and {abs(i), abs(j)} != {2}
]
# the cells that the line of a step touches, corners included
TOUCHED = {
    (i, j): [
        (a, b)
        for a, b in itertools.product(range(-2, 3), repeat=2)
        if LineString([(0, 0), (i, j)]).intersects(shapely.box(a - 0.5, b - 0.5, a + 0.5, b + 0.5))
    ]
    for i, j in STEPS
}


def at(dem: Dem, row: float, col: float, name: str = "") -> Spot:
    lon, lat = (float(part) for part in dem.grid.lonlat(row, col))
    return Spot(lon_deg=lon, lat_deg=lat, name=name)


def path(dem: Dem, *cells: tuple[float, float]) -> gpd.GeoDataFrame:
    lon, lat = dem.grid.lonlat(*np.array(cells, dtype=float).T)
    return gpd.GeoDataFrame(geometry=[LineString(np.column_stack([lon, lat]))], crs=4326)


def plane(make_dem: MakeDem, rise_m: float, cols: int = 141) -> Dem:
    """5 km from column 20 to column 120, rising evenly to the east."""
    return make_dem(np.tile((np.arange(cols) - 20.0) * rise_m / 100.0, (41, 1)), CELL_M)


def rough(seed: int, height_m: float, shape: tuple[int, int] = (9, 11)) -> NDArray[np.float64]:
    return np.random.default_rng(seed).normal(0.0, height_m, shape)


def slow_s(dem: Dem, start: tuple[int, int], pace, factor, max_slope, water=None) -> Floats:
    """Seconds to every cell by a plain search, cell by cell, over the sixteen steps."""
    rows, cols = dem.shape
    is_open = ~np.isnan(dem.heights_m) & (slope_deg(dem) <= max_slope)
    if water is not None:
        is_open &= ~water

    def free(row: int, col: int) -> bool:
        return 0 <= row < rows and 0 <= col < cols and bool(is_open[row, col])

    best = np.full(dem.shape, np.inf)
    best[start] = 0.0
    queue = [(0.0, start)] if free(*start) else []
    while queue:
        so_far, (row, col) = heapq.heappop(queue)
        if so_far > best[row, col]:
            continue
        for i, j in STEPS:
            if not all(free(row + a, col + b) for a, b in TOUCHED[i, j]):
                continue
            leg_m = math.hypot(i, j) * dem.cell_m
            rise_m = float(dem.heights_m[row + i, col + j]) - float(dem.heights_m[row, col])
            if abs(rise_m) > math.tan(math.radians(max_slope)) * leg_m:
                continue
            total = so_far + factor * float(pace(leg_m, rise_m))
            if total < best[row + i, col + j]:
                best[row + i, col + j] = total
                heapq.heappush(queue, (total, (row + i, col + j)))
    return best


def retimed_s(walk: Walk, pace, factor: float, *, back: bool = False) -> float:
    """A walk's time by day from nothing but its line, its heights and what it says is path."""
    _, legs_m = azimuth_and_distance(
        walk.lon_deg[:-1], walk.lat_deg[:-1], walk.lon_deg[1:], walk.lat_deg[1:]
    )
    rise_m = np.diff(walk.height_m) * (-1.0 if back else 1.0)
    seconds = np.array([float(pace(*leg)) for leg in zip(legs_m, rise_m, strict=True)])
    return float(np.sum(seconds * np.where(walk.on_path, 1.0, factor)))


# --- published times


@pytest.mark.parametrize(
    ("pace", "distance_m", "rise_m", "hours"),
    [(tobler, *case) for case in walking.TOBLER]
    + [(naismith, *case) for case in walking.NAISMITH]
    + [(langmuir, 5000.0, 300.0, 1.5)],
)
def test_published_times_along_a_path(make_dem, pace, distance_m, rise_m, hours):
    dem = plane(make_dem, rise_m)
    line = path(dem, (20, 5), (20, 135))
    walk = walk_in(dem, at(dem, 20, 20), at(dem, 20, 120), paths=line, pace=pace)
    assert walk.length_m == pytest.approx(distance_m, rel=1e-4)
    assert walk.there_s / 3600.0 == pytest.approx(hours, abs=1e-3)
    assert walk.off_path_m < 5.0
    assert (walk.ascent_m, walk.descent_m) == pytest.approx((max(rise_m, 0), max(-rise_m, 0)), 1e-3)


def test_without_a_path_it_takes_longer_by_the_factor(make_dem):
    dem = plane(make_dem, 500.0)
    walk = walk_in(dem, at(dem, 20, 20), at(dem, 20, 120))
    assert walk.there_s / 3600.0 == pytest.approx(1.409 / 0.6, rel=1e-3)
    assert walk.back_s / 3600.0 == pytest.approx(0.993 / 0.6, rel=1e-3)
    assert walk.off_path_m == pytest.approx(5000.0, rel=1e-4)
    assert walk.steepest.slope_deg == pytest.approx(math.degrees(math.atan(0.1)), abs=1e-3)
    assert walk.steepest_ground.ground_deg == pytest.approx(walk.steepest.slope_deg, abs=0.01)


def test_sixteen_directions_are_at_most_three_per_cent_too_long(make_dem):
    dem = make_dem(np.zeros((61, 61)), CELL_M)
    walks = walks_from(dem, at(dem, 30, 30), path_factor=1.0)
    row, col = np.indices(dem.shape)
    straight_m = np.hypot(row - 30, col - 30) * CELL_M
    flat_m = walks.minutes * 60.0 * 5000.0 / float(tobler(5000.0, 0.0))
    far = straight_m > 0.0
    longer = flat_m[far] / straight_m[far]
    assert longer.min() > 1.0 - 1e-6
    assert longer.max() < 1.028
    assert longer.mean() < 1.02


@pytest.mark.parametrize(("down", "along"), [(0, 1), (0, -1), (1, 0), (-1, 0)])
def test_a_way_along_a_row_or_a_column_is_straight_from_its_first_step(make_dem, down, along):
    """From a place past the middle of its cell, to the side it goes to."""
    dem = make_dem(np.zeros((21, 21)), CELL_M)
    start, end = at(dem, 10 + 0.4 * down, 10 + 0.4 * along), at(dem, 10 + 6 * down, 10 + 6 * along)
    assert walk_in(dem, start, end).length_m == pytest.approx(5.6 * CELL_M, rel=1e-3)


# --- the slow twin


@pytest.mark.parametrize("pace", [tobler, naismith, langmuir, din_33466])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_every_cell_as_the_slow_twin_has_it(make_dem, pace, seed):
    heights = rough(seed, 12.0)
    heights[4, 6] = np.nan
    dem = make_dem(heights, CELL_M)
    water = np.zeros(dem.shape, bool)
    water[2:6, 3] = True
    start = (7, 1)
    slow = slow_s(dem, start, pace, PATH_FACTOR, 30.0, water)
    walks = walks_from(dem, at(dem, *start), water=water, pace=pace, max_slope_deg=30.0)
    quick = np.where(np.isnan(walks.minutes), np.inf, walks.minutes * 60.0)
    np.testing.assert_allclose(quick, slow, rtol=1e-5, atol=1e-3)
    assert np.isnan(walks.minutes[4, 6])
    assert np.isfinite(slow).sum() > 20
    farthest_first = np.argsort(-np.where(np.isfinite(slow), slow, -1.0), axis=None)
    for cell in zip(*np.unravel_index(farthest_first[:9:4], slow.shape), strict=True):
        walk = walk_in(
            dem, at(dem, *start), at(dem, *cell), water=water, pace=pace, max_slope_deg=30.0
        )
        assert walk.there_s == pytest.approx(slow[cell], rel=1e-5)


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10**6), height_m=st.floats(0.0, 25.0))
def test_what_holds_of_any_walk(make_dem, seed, height_m):
    dem = make_dem(rough(seed, height_m), CELL_M)
    rng = np.random.default_rng(seed)
    water = rng.random(dem.shape) < 0.12
    start, spot = at(dem, *rng.uniform(0.0, 8.0, 2)), at(dem, *rng.uniform(0.0, 8.0, 2))
    line = path(dem, *rng.uniform(0.0, 8.0, (4, 2)))
    options = {"paths": line, "water": water, "max_slope_deg": 30.0}
    try:
        walk = walk_in(dem, start, spot, **options)
    except NoAnswer:
        with pytest.raises(NoAnswer):
            walk_in(dem, spot, start, **options)
        return
    assert walk.there_s == pytest.approx(retimed_s(walk, tobler, PATH_FACTOR), rel=1e-3, abs=0.1)
    assert walk.back_s == pytest.approx(
        retimed_s(walk, tobler, PATH_FACTOR, back=True), rel=1e-3, abs=0.1
    )
    straight_m = float(
        azimuth_and_distance(start.lon_deg, start.lat_deg, spot.lon_deg, spot.lat_deg)[1]
    )
    assert walk.there_s >= straight_m / fastest_m_s(tobler) * 0.999
    returning = walk_in(dem, spot, start, **options)
    assert returning.there_s <= walk.back_s * (1.0 + 1e-9)
    turned = walk_in(dem, spot, start, pace=lambda d, r: tobler(d, -r), **options)
    assert turned.there_s == pytest.approx(walk.there_s)
    assert (walk.lon_deg[0], walk.lat_deg[-1]) == pytest.approx((start.lon_deg, spot.lat_deg))
    assert np.all(np.diff(walk.time_s) >= 0.0)
    assert walk.time_s[-1] == walk.there_s
    check_stays_open(dem, walk, (slope_deg(dem) <= 30.0) & ~water)


def check_stays_open(dem: Dem, walk: Walk, is_open: NDArray[np.bool_]) -> None:
    """No leg over open ground enters a closed cell, but from a place to a path beside it."""
    row, col = dem.grid.rowcol(walk.lon_deg, walk.lat_deg)
    share = np.linspace(0.001, 0.999, 400)
    rows, cols = dem.shape
    for leg in np.flatnonzero(~walk.on_path):
        on_row = np.rint(row[leg] + share * (row[leg + 1] - row[leg])).astype(int)
        on_col = np.rint(col[leg] + share * (col[leg + 1] - col[leg])).astype(int)
        inside = is_open[np.clip(on_row, 0, rows - 1), np.clip(on_col, 0, cols - 1)]
        beside = math.hypot(row[leg + 1] - row[leg], col[leg + 1] - col[leg]) <= 1.0
        assert inside.all() or (beside and leg in (0, len(walk.on_path) - 1))


# --- paths


def test_a_path_is_taken_where_it_saves_time_and_left_where_it_does_not(make_dem):
    dem = make_dem(np.zeros((41, 141)), CELL_M)
    start, spot = at(dem, 20, 20), at(dem, 20, 120)
    near = walk_in(dem, start, spot, paths=path(dem, (15, 10), (15, 130)))
    far = walk_in(dem, start, spot, paths=path(dem, (39, 10), (39, 130)), path_factor=1.05)
    open_ground = walk_in(dem, start, spot)
    assert 0.6 < near.there_s / open_ground.there_s < 0.72
    assert 250.0 < near.off_path_m < 1200.0
    assert not far.on_path.any()


def test_a_path_keeps_its_bends_and_its_own_gradient(make_dem):
    # a slope of 45 degrees is closed; a path climbs it in zigzags of one in four
    heights = np.tile(np.maximum(np.arange(60.0) - 30.0, 0.0)[:, np.newaxis] * 10.0, (1, 60))
    dem = make_dem(heights[::-1], 10.0)
    rows = [29.0, 25.0, 21.0, 17.0, 13.0, 9.0, 5.0]
    cols = [20.0, 36.0, 20.0, 36.0, 20.0, 36.0, 20.0]
    line = path(dem, (45, 20), *zip(rows, cols, strict=True))
    start, spot = at(dem, 45, 20), at(dem, 5, 20)
    walk = walk_in(dem, start, spot, paths=line)
    zigzags_m = 6.0 * math.hypot(4.0, 16.0) * 10.0
    assert walk.length_m == pytest.approx(160.0 + zigzags_m, rel=0.02)
    assert walk.off_path_m < 2.0
    assert abs(walk.steepest.slope_deg) == pytest.approx(13.6, abs=1.0)
    assert walk.steepest_ground.ground_deg == pytest.approx(45.0, abs=0.1)
    with pytest.raises(NoAnswer, match="steeper than 35 degrees"):
        walk_in(dem, start, spot)


def test_a_bridge_crosses_water_and_nothing_else_does(make_dem):
    dem = make_dem(np.zeros((41, 41)), CELL_M)
    water = np.zeros(dem.shape, bool)
    water[:, 20] = True
    start, spot = at(dem, 5, 5, "the farm"), at(dem, 5, 35, "the knoll")
    with pytest.raises(NoAnswer, match="leads from the farm to the knoll: water, unknown ground"):
        walk_in(dem, start, spot, water=water)
    walk = walk_in(dem, start, spot, water=water, paths=path(dem, (30, 17), (30, 23)))
    assert walk.off_path_m > 0.0
    assert walk.length_m - walk.off_path_m >= 50.0
    check_stays_open(dem, walk, ~water)


@pytest.mark.parametrize("turned", [False, True])
def test_a_river_of_cells_that_touch_by_corners_is_not_crossed(make_dem, turned):
    dem = make_dem(np.zeros((30, 30)), CELL_M)
    water = np.eye(30, dtype=bool)
    water = water[:, ::-1] if turned else water
    with pytest.raises(NoAnswer):
        walk_in(dem, at(dem, 2, 15), at(dem, 27, 15), water=water)


def test_paths_that_nearly_meet_are_joined_and_those_beyond_the_raster_do_no_harm(make_dem):
    dem = make_dem(np.zeros((41, 141)), CELL_M)
    # they meet far from any cell's centre
    one = path(dem, (20.4, -900), (20.4, 70.4))
    other = path(dem, (20.44, 70.44), (20.44, 300))
    both = gpd.GeoDataFrame(geometry=[*one.geometry, *other.geometry], crs=4326)
    walk = walk_in(dem, at(dem, 20.4, 20), at(dem, 20.4, 120), paths=both)
    assert walk.off_path_m < 12.0
    away = path(dem, (900, 900), (910, 910))
    walk = walk_in(dem, at(dem, 20, 20), at(dem, 20, 120), paths=away)
    assert walk.off_path_m == pytest.approx(walk.length_m)


def test_paths_that_cross_are_joined_where_neither_has_a_vertex(make_dem):
    dem = make_dem(np.zeros((41, 41)), CELL_M)
    water = np.ones(dem.shape, bool)
    one, other = [(2.3, 5.2), (35.4, 30.1)], [(30.0, 4.0), (8.0, 33.0)]
    both = gpd.GeoDataFrame(
        geometry=[*path(dem, *one).geometry, *path(dem, *other).geometry], crs=4326
    )
    walk = walk_in(dem, at(dem, *one[0]), at(dem, *other[1]), paths=both, water=water)
    crossing = LineString(one).intersection(LineString(other))
    away = crossing.distance(shapely.Point(one[0])) + crossing.distance(shapely.Point(other[1]))
    assert walk.length_m == pytest.approx(away * CELL_M, rel=1e-3)
    assert walk.off_path_m < 1.0


def test_a_track_that_wavers_on_a_slope_is_not_climbed_up_and_down(make_dem):
    dem = make_dem(np.tile(np.arange(41.0)[:, np.newaxis] * 25.0, (1, 141)), CELL_M)
    cols = np.arange(20.0, 120.0, 0.05)
    rows = 20.0 + np.random.default_rng(1).uniform(-0.05, 0.05, cols.size)
    walk = walk_in(
        dem, at(dem, 20, 20), at(dem, 20, 119.95), paths=path(dem, *zip(rows, cols, strict=True))
    )
    assert walk.ascent_m < 60.0
    assert walk.there_s == pytest.approx(float(tobler(5000.0, 0.0)), rel=0.05)


@pytest.mark.parametrize(
    ("cell_m", "aside_m", "kept"),
    # bends up to a fifth of a cell, and up to 5 m, are taken for a waver of the record
    [(10.0, 1.8, False), (10.0, 2.2, True), (100.0, 4.5, False), (100.0, 5.5, True)],
)
def test_bends_wider_than_a_waver_are_walked(make_dem, cell_m, aside_m, kept):
    dem = make_dem(np.zeros((41, 61)), cell_m)
    col = np.arange(10.0, 50.5, 0.5)
    aside = np.where(np.arange(col.size) % 2, aside_m, -aside_m) / cell_m
    aside[[0, -1]] = 0.0
    bends = path(dem, *zip(20.0 + aside, col, strict=True))
    walk = walk_in(dem, at(dem, 20, 10), at(dem, 20, 50), paths=bends)
    straight_m = 40.0 * cell_m
    drawn_m = float(np.hypot(np.diff(aside), np.diff(col)).sum()) * cell_m
    assert walk.off_path_m < 0.1
    assert drawn_m > 1.001 * straight_m
    assert walk.length_m == pytest.approx(drawn_m if kept else straight_m, rel=2e-4)


def test_a_car_park_on_closed_ground_beside_a_road(make_dem):
    dem = make_dem(np.zeros((41, 41)), CELL_M)
    water = np.zeros(dem.shape, bool)
    water[20, 10] = True
    start, spot = at(dem, 20, 10, "the quay"), at(dem, 20, 30)
    with pytest.raises(NoAnswer, match="the quay cannot be walked to or from: it lies on water"):
        walk_in(dem, start, spot, water=water)
    with pytest.raises(NoAnswer, match="the quay cannot be walked to or from"):
        walks_from(dem, start, water=water)
    walk = walk_in(dem, start, spot, water=water, paths=path(dem, (20.3, 10), (20.3, 30)))
    assert walk.length_m == pytest.approx(1000.0, rel=0.03)


def test_over_less_than_half_a_cell_a_way_has_the_slope_of_half_a_cell(make_dem):
    dem = plane(make_dem, 1000.0)  # one in five
    walk = walk_in(dem, at(dem, 20, 40), at(dem, 20, 40.1))
    rise_m = 0.1 * CELL_M * 0.2
    slope_deg = math.degrees(math.atan(rise_m / (0.5 * CELL_M)))
    assert walk.steepest.slope_deg == pytest.approx(slope_deg, rel=0.01)
    assert walk.steepest_ground.ground_deg == pytest.approx(math.degrees(math.atan(0.2)), abs=0.01)


# --- windows


def test_a_long_way_round_is_found_beyond_the_first_window(make_dem):
    dem = make_dem(rough(4, 1.0, (300, 300)), CELL_M)
    water = np.zeros(dem.shape, bool)
    water[:260, 150] = True
    start, spot = at(dem, 150, 140), at(dem, 150, 160)
    walk = walk_in(dem, start, spot, water=water)
    net = lay_net(dem, [start, spot], Going(water=water))
    whole = dijkstra(net.graph, indices=[net.place(0)])[0, net.place(1)]
    assert walk.there_s == pytest.approx(whole)
    assert walk.length_m > 10_000.0


def test_a_way_that_touches_the_edge_of_its_window_is_looked_for_farther_out(make_dem):
    dem = make_dem(np.zeros((300, 300)), CELL_M)
    water = np.zeros(dem.shape, bool)
    # the window ends with row 180, the only one that the water leaves open
    water[:180, 150] = True
    start, spot = at(dem, 150, 140), at(dem, 150, 160)
    line = path(dem, (160, 141), (190, 141), (190, 159), (160, 159))
    walk = walk_in(dem, start, spot, water=water, paths=line, path_factor=4.0)
    assert walk.length_m - walk.off_path_m > 70.0 * CELL_M


def test_a_way_along_the_edge_of_the_widest_window_will_do(make_dem, monkeypatch):
    dem = make_dem(np.zeros((201, 201)), CELL_M)
    start, spot = at(dem, 100, 90), at(dem, 100, 110)
    window = window_module.window_about(dem, [start, spot])
    water = np.zeros(dem.shape, bool)
    water[window.top + 2 : window.bottom, 99:101] = True
    monkeypatch.setattr(window_module, "MOST_CELLS", math.prod(window.shape))
    walk = walk_in(dem, start, spot, water=water)
    rows, _ = dem.grid.rowcol(walk.lon_deg, walk.lat_deg)
    assert rows.min() == pytest.approx(window.top, abs=1.01)
    assert (walk.lon_deg[-1], walk.lat_deg[-1]) == pytest.approx((spot.lon_deg, spot.lat_deg))


def test_reach_is_the_same_in_a_smaller_window_and_ends_at_its_limit(make_dem):
    dem = make_dem(rough(5, 8.0, (240, 240)), CELL_M)
    start = at(dem, 120, 40)
    wide = walks_from(dem, start, within_min=60.0)
    near = walks_from(dem, start, within_min=20.0)
    assert near.grid.shape[0] < wide.grid.shape[0]
    over, all_over = near.over(dem), wide.over(dem)
    within = all_over <= 20.0
    np.testing.assert_allclose(over[within], all_over[within], rtol=1e-6)
    assert not np.isfinite(over[~within]).any()
    shorter = wide.within(20.0)
    np.testing.assert_allclose(shorter.over(dem), over, rtol=1e-6)
    assert (shorter.within_min, near.within(60.0)) == (20.0, None)
    spot = at(dem, 120, 62)
    walk = walk_in(dem, start, spot)
    assert float(wide.minutes_at(spot.lon_deg, spot.lat_deg)) == pytest.approx(walk.there_s / 60.0)
    assert float(near.minutes_at(0.0, 54.0)) == np.inf
    with pytest.raises(ValueError, match="other ground"):
        near.over(make_dem(np.zeros((240, 240)), 20.0))


def test_too_much_ground_to_search(make_dem, monkeypatch):
    dem = make_dem(np.zeros((200, 200)), CELL_M)
    monkeypatch.setattr(window_module, "MOST_CELLS", 9_000)
    with pytest.raises(TerrainError, match="10 km of 50 m cells are too many to search"):
        walk_in(dem, at(dem, 2, 2), at(dem, 197, 197))
    # its longer side is told
    with pytest.raises(TerrainError, match="10 km of 50 m cells are too many to search"):
        walk_in(dem, at(dem, 2, 60), at(dem, 197, 60))


# --- the clock

SPOT = {"lon": -24.0, "lat": 54.4}
AZORES = ZoneInfo("Atlantic/Azores")
DAY = dt.date(2026, 10, 21)


@pytest.fixture(scope="module")
def moor(make_dem):
    return plane(make_dem, 200.0)


def clocked(dem: Dem, **options) -> Walk:
    return walk_in(dem, at(dem, 20, 20), at(dem, 20, 120), **options)


def dawn(dem: Dem, day: dt.date = DAY) -> dt.datetime:
    start = at(dem, 20, 20)
    found = twilight(day, lon_deg=start.lon_deg, lat_deg=start.lat_deg).civil_dawn
    assert found is not None
    return found


def test_in_the_dark_every_leg_takes_longer(moor):
    by_day, first_light = clocked(moor), dawn(moor)
    before = clocked(moor, arrives=first_light)
    assert before.there_s == pytest.approx(1.25 * by_day.there_s, abs=0.5)
    assert before.dark_s == pytest.approx(before.there_s, abs=1.0)
    assert before.back_s == by_day.back_s
    after = clocked(moor, sets_out=first_light + dt.timedelta(seconds=2))
    assert after.there_s == pytest.approx(by_day.there_s, abs=0.5)
    assert after.dark_s == pytest.approx(0.0, abs=1.0)
    np.testing.assert_allclose(before.lon_deg, by_day.lon_deg)


@pytest.mark.parametrize("lat", [0.0, 54.4, 65.0])
def test_the_dark_ends_at_civil_dawn_to_the_second(lat):
    spot = Spot(lon_deg=-3.0, lat_deg=lat)
    first_light = twilight(dt.date(2026, 10, 13), lon_deg=-3.0, lat_deg=lat).civil_dawn
    assert first_light is not None
    for before_min in (20.0, 20.3, 20.5, 20.8):
        moment = first_light - dt.timedelta(minutes=before_min)
        clock = clock_about(moment, spot, reach_s=3600.0, dark_factor=1.25)
        dark_s = clock.dark_s - np.interp(0.0, clock.clock_s, clock.dark_s)
        assert dark_s[-1] == pytest.approx(60.0 * before_min, abs=1.0)


@pytest.mark.parametrize("minutes", [-30, 10, 47, 500])
def test_a_walk_through_dawn_adds_up_and_can_be_told_from_either_end(moor, minutes):
    by_day, first_light = clocked(moor), dawn(moor)
    there = clocked(moor, arrives=first_light + dt.timedelta(minutes=minutes), dark_factor=1.5)
    assert there.sets_out is not None
    assert there.arrives is not None
    assert (there.arrives - there.sets_out).total_seconds() == pytest.approx(there.there_s)
    light_s = there.there_s - there.dark_s
    assert light_s + there.dark_s / 1.5 == pytest.approx(by_day.there_s, abs=0.5)
    assert there.dark_s == pytest.approx(
        np.clip((first_light - there.sets_out).total_seconds(), 0.0, there.there_s), abs=1.5
    )
    again = clocked(moor, sets_out=there.sets_out, dark_factor=1.5)
    np.testing.assert_allclose(again.time_s, there.time_s, atol=0.5)
    assert abs(again.arrives - there.arrives) < dt.timedelta(seconds=1)


def test_light_all_night_dark_all_day_and_a_change_of_the_clock(make_dem):
    north = make_dem(np.zeros((41, 141)), CELL_M, lon=20.0, lat=69.0)
    midnight = dt.datetime(2026, 6, 21, 1, 0, tzinfo=ZoneInfo("Europe/Stockholm"))
    assert clocked(north, sets_out=midnight).dark_s == 0.0
    far_north = make_dem(np.zeros((41, 141)), CELL_M, lon=20.0, lat=80.0)
    noon = dt.datetime(2026, 12, 21, 12, 0, tzinfo=ZoneInfo("Europe/Oslo"))
    polar = clocked(far_north, sets_out=noon)
    assert polar.dark_s == pytest.approx(polar.there_s)
    # at 01:00 UTC that night the clocks of the Azores went from 01:00 back to 00:00
    dem = make_dem(np.zeros((41, 141)), CELL_M)
    walk = clocked(dem, sets_out=dt.datetime(2026, 10, 25, 0, 30, tzinfo=AZORES))
    passed = walk.arrives.astimezone(dt.UTC) - walk.sets_out.astimezone(dt.UTC)
    assert passed.total_seconds() == pytest.approx(walk.there_s)
    assert walk.arrives.tzinfo is AZORES


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"arrives": dt.datetime(2026, 10, 21, 6)}, "has no time zone"),
        (
            {
                "arrives": dt.datetime(2026, 10, 21, 6, tzinfo=AZORES),
                "sets_out": dt.datetime(2026, 10, 21, 5, tzinfo=AZORES),
            },
            "give one of them",
        ),
        (
            {"arrives": dt.datetime(2026, 10, 21, 6, tzinfo=AZORES), "dark_factor": 0.8},
            "1 or more times as long, not 0.8",
        ),
        ({"path_factor": 0.6}, "1 or more times as long as a path"),
    ],
)
def test_options_that_make_no_sense(moor, options, message):
    with pytest.raises(TerrainError, match=message):
        clocked(moor, **options)


def test_ground_of_too_many_cells_is_searched_in_blocks(make_dem, monkeypatch):
    row, col = np.mgrid[:241, :241]
    heights = 40.0 * np.sin(row / 40.0) + 0.1 * col * 10.0
    heights[100:140, 90] = np.nan
    dem = make_dem(heights, cell_m=10.0)
    start, water = at(dem, 60, 60), np.zeros(dem.shape, bool)
    water[150:170, 20:200] = True
    fine = walks_from(dem, start, water=water)
    monkeypatch.setattr("terrain.walk.window.MOST_CELLS", 10_000)
    rough = walks_from(dem, start, water=water)
    assert rough.grid == fine.grid
    assert np.array_equal(np.isnan(rough.minutes), np.isnan(dem.heights_m))
    both = np.isfinite(fine.minutes) & np.isfinite(rough.minutes) & (fine.minutes > 5.0)
    assert both.mean() > 0.85
    off = rough.minutes[both] / fine.minutes[both] - 1.0
    assert np.abs(np.median(off)) < 0.02
    assert np.quantile(np.abs(off), 0.95) < 0.08
    assert rough.over(dem).shape == dem.shape


def test_a_block_is_water_where_more_than_half_of_it_is(make_dem, monkeypatch):
    """A canal through blocks of four cells: two cells wide it closes half of them, three most."""
    dem = make_dem(np.zeros((81, 80)), cell_m=10.0)
    start, rows = at(dem, 10, 10), 40
    monkeypatch.setattr("terrain.walk.window.MOST_CELLS", 21 * 20)
    for wide, is_open in ((2, True), (3, False)):
        water = np.zeros(dem.shape, bool)
        water[rows : rows + wide] = True
        reach = walks_from(dem, start, water=water)
        assert np.isfinite(reach.over(dem)[rows + 10, 10]) == is_open


def test_places_off_the_ground_and_masks_of_another_shape(moor):
    away = Spot(lon_deg=0.0, lat_deg=54.4)
    with pytest.raises(NoGround):
        walk_in(moor, at(moor, 20, 20), away)
    with pytest.raises(NoGround):
        walks_from(moor, away)
    with pytest.raises(ValueError, match=r"shape \(3, 3\)"):
        walk_in(moor, at(moor, 20, 20), at(moor, 20, 30), water=np.zeros((3, 3), bool))
    with pytest.raises(TerrainError, match="give a time above 0"):
        walks_from(moor, at(moor, 20, 20), within_min=0.0)


def test_a_walk_to_where_one_is_and_what_a_walk_knows_of_itself(moor):
    here = walk_in(moor, at(moor, 20, 20), at(moor, 20, 20))
    assert here.there_s == pytest.approx(0.0, abs=0.01)
    walk = clocked(moor)
    assert walk.line.length > 0.0
    assert len(walk.line.coords) == len(walk.lon_deg)
    assert float(walk.time_at(walk.length_m / 2.0)) == pytest.approx(walk.there_s / 2.0, rel=0.01)
    with pytest.raises(ValueError, match="read-only"):
        walk.lon_deg[0] = 0.0


def test_over_real_ground_paths_or_none(jacksboro):
    rows, cols = jacksboro.shape
    start, spot = at(jacksboro, rows * 0.4, cols * 0.4), at(jacksboro, rows * 0.5, cols * 0.5)
    walk = walk_in(jacksboro, start, spot)
    assert walk.there_s == pytest.approx(retimed_s(walk, tobler, PATH_FACTOR), rel=5e-3)
    assert walk.ascent_m - walk.descent_m == pytest.approx(
        walk.height_m[-1] - walk.height_m[0], abs=0.01
    )
    heights = jacksboro.heights_at(walk.lon_deg, walk.lat_deg)
    np.testing.assert_allclose(walk.height_m, heights, atol=0.5)


def test_a_lake_is_walked_round_unless_it_is_said_to_be_ground(make_dem: MakeDem) -> None:
    row, col = np.mgrid[:61, :61]
    ground = 100.0 + 0.3 * row + 0.2 * col
    lake = np.hypot(row - 30, col - 30) <= 18.0
    dem = make_dem(np.where(lake, 90.0, ground), cell_m=50.0)
    start, spot = (at(dem, 30, col) for col in (5, 55))
    round_it = walk_in(dem, start, spot)
    over_it = walk_in(dem, start, spot, water=np.zeros(dem.shape, dtype=bool))
    places = zip(round_it.lon_deg, round_it.lat_deg, strict=True)
    assert not any(lake[dem.grid.cell_of(*place)] for place in places)
    # the shortest way round a circle: two tangents and the arc between them
    tangent, arc = math.sqrt(25**2 - 18**2), math.pi - 2.0 * math.acos(18 / 25)
    assert round_it.length_m > 50.0 * (2.0 * tangent + 18.0 * arc) > 1.2 * over_it.length_m
    # who stands on it knows that it is ground
    assert walk_in(dem, at(dem, 30, 30), spot).length_m < 1400.0
