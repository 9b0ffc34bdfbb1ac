"""Ugly ground: random ruggedness with holes, and cameras on edges, corners and beside holes."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from terrain.errors import NoGround
from terrain.ground.dem import Dem
from terrain.sight._line_hull_kernels import NEAR
from terrain.sight.bend import bend_per_m
from terrain.sight.horizon import horizon, horizon_and_distance
from terrain.sight.line import sight_line
from terrain.sight.rays import altitudes_toward, before_and_behind, eye_at, grid_steps
from terrain.sight.seen import seen_ground
from terrain.sight.skyline import skyline
from terrain.sight.viewshed import margin, viewshed
from tests.sight import twins
from tests.sight.test_toward import stepped
from tests.sight.test_viewshed import spot_on, twin_margins

MakeDem = Callable[..., Dem]
Floats = NDArray[np.float64]
ROUND = np.arange(3.0, 360.0, 24.0)
FINE = 18
"""Cells, and some to spare, within which the surface between two crossings counts too."""

seeds = st.integers(0, 100_000)
places = st.tuples(st.floats(0, 1), st.floats(0, 1))
# 0 and 1: the first and last line of cells; None: anywhere along it
sides = st.sampled_from(
    [(0, None), (1, None), (None, 0), (None, 1), (0, 0), (0, 1), (1, 0), (1, 1)]
)


def rugged(seed: int, shape: tuple[int, int], holes: float) -> Floats:
    """Hills under noise, with single cells and whole blocks of them unknown."""
    rng = np.random.default_rng(seed)
    row, col = np.indices(shape)
    heights = 60 * np.sin(row / rng.uniform(2, 9) + col / rng.uniform(2, 9))
    heights += rng.uniform(0, 40, shape)
    heights[rng.random(shape) < holes] = np.nan
    if holes:
        top, left = rng.integers(0, shape[0]), rng.integers(0, shape[1])
        heights[top : top + 4, left : left + 4] = np.nan
    return heights


def clear_about(heights: Floats, row: float, col: float, cells: float = 1.6) -> Floats:
    """The same ground, known close to a place."""
    rows, cols = np.indices(heights.shape)
    near = np.maximum(np.abs(rows - row), np.abs(cols - col)) < cells
    return np.where(near & np.isnan(heights), 30.0, heights)


def check_viewshed(dem: Dem, row: float, col: float) -> None:
    """What is seen, and by how much not, against the walk to every cell."""
    spot = spot_on(dem, row, col)
    truth = twin_margins(dem, spot)
    seen, rise = viewshed(dem, spot), margin(dem, spot)
    known = np.isfinite(dem.heights_m)
    np.testing.assert_array_equal(np.isfinite(rise), known)
    np.testing.assert_array_equal(seen, np.nan_to_num(rise, nan=np.inf) <= 0.0)
    clearly = known & (np.abs(truth) > 6.0)
    wrong = clearly & (seen != (truth <= 0.0))
    assert wrong.sum() <= 2 + 0.03 * clearly.sum()
    assert np.median(np.abs(rise - np.maximum(truth, 0.0))[known]) < 3.0


def crossings(dem: Dem, row: float, col: float, step: tuple[float, float]) -> tuple[Floats, Floats]:
    """Distances in metres, and heights, where a ray meets lines of centres before the edge."""
    at_m: list[float] = []
    for start, rate, count in zip((row, col), step, dem.shape, strict=True):
        if rate != 0.0:
            at_m += [(line - start) / rate for line in range(count)]
    places = [(at, row + at * step[0], col + at * step[1]) for at in sorted(at_m) if at > 1e-6]
    inside = [place for place in places if dem.grid.contains(place[1], place[2])]
    heights = []
    for _, to_row, to_col in inside:
        whole = abs(to_row - round(to_row)) < abs(to_col - round(to_col))
        to_row, to_col = (round(to_row), to_col) if whole else (to_row, round(to_col))
        heights.append(twins.across(dem.heights_m, float(to_row), float(to_col)))
    return np.array([place[0] for place in inside]), np.array(heights)


def check_skyline(dem: Dem, row: float, col: float) -> None:
    """The skyline of a camera against every crossing of its rays, and how far it is known."""
    spot = spot_on(dem, row, col)
    eye = eye_at(dem, spot)
    found = skyline(dem, spot, azimuths_deg=ROUND)
    steps = grid_steps(dem, spot, ROUND)
    over_m = eye.height_m - min(0.0, float(np.nanmin(dem.heights_m)))
    sea = math.degrees(math.atan(twins.sea_seen(over_m, bend_per_m(0.13), dem.cell_m)[0]))
    for index in range(ROUND.size):
        at_m, heights = crossings(dem, eye.row, eye.col, (steps[0][index], steps[1][index]))
        altitude, known = found.altitude_deg[index], np.isfinite(heights)
        assert math.isnan(altitude) == math.isnan(found.distance_m[index]) == (not known.any())
        if known.any():
            rise = (heights[known] - eye.height_m) / at_m[known] - bend_per_m(0.13) * at_m[known]
            truth = max(math.degrees(math.atan(rise.max())), sea)
            assert altitude >= truth - 1e-3  # heights are float32, and may be very near
            if found.distance_m[index] > FINE * dem.cell_m:
                assert altitude == pytest.approx(truth, abs=1e-5)
        if not known.all():
            gap = int(np.argmin(known))
            last_known_m = at_m[gap - 1] if gap else 0.0
            assert found.known_to_m[index] == pytest.approx(last_known_m, abs=0.01)
        elif known.any():
            assert found.known_to_m[index] >= at_m[-1]


@settings(max_examples=12, deadline=None)
@given(
    seed=seeds, side=sides, share=st.floats(0, 1), out=st.floats(-0.45, 0.0), holes=st.booleans()
)
def test_cameras_on_edges_and_corners(
    make_dem: MakeDem,
    seed: int,
    side: tuple[int | None, int | None],
    share: float,
    out: float,
    holes: bool,
) -> None:
    shape = (26, 34)
    ends = [(out, count - 1 - out) for count in shape]
    row, col = (
        share * (count - 1) if which is None else end[which]
        for which, end, count in zip(side, ends, shape, strict=True)
    )
    heights = clear_about(rugged(seed, shape, 0.08 if holes else 0.0), row, col)
    dem = make_dem(heights)
    check_viewshed(dem, row, col)
    check_skyline(dem, row, col)


@settings(max_examples=20, deadline=None)
@given(seed=seeds, place=places, holes=st.sampled_from([0.02, 0.1, 0.3]))
def test_rugged_ground_with_holes(
    make_dem: MakeDem, seed: int, place: tuple[float, float], holes: float
) -> None:
    heights = rugged(seed, (44, 37), holes)
    row, col = place[0] * 43, place[1] * 36
    dem = make_dem(clear_about(heights, row, col))
    check_viewshed(dem, row, col)
    check_skyline(dem, row, col)


@settings(max_examples=25, deadline=None)
@given(
    seed=seeds,
    count=st.integers(2, 60),
    place=st.floats(0, 1),
    holes=st.sampled_from([0.0, 0.2]),
    upright=st.booleans(),
)
def test_a_single_row_or_column_is_decided_exactly(
    make_dem: MakeDem, seed: int, count: int, place: float, holes: float, upright: bool
) -> None:
    line = rugged(seed, (1, count), holes)
    at = round(place * (count - 1))
    line = clear_about(line, 0, at, cells=0.6)
    dem = make_dem(line.T if upright else line)
    spot = spot_on(dem, *((at, 0) if upright else (0, at)))
    truth = twin_margins(dem, spot)
    rise, seen = margin(dem, spot), viewshed(dem, spot)
    np.testing.assert_allclose(rise, np.maximum(truth, 0.0), atol=0.01)
    clearly = np.abs(truth) > 0.01
    np.testing.assert_array_equal(seen[clearly], truth[clearly] <= 0.0)


@settings(max_examples=20, deadline=None)
@given(seed=seeds, place=places, more=st.sampled_from([0.03, 0.2]), azimuth_deg=st.floats(0, 360))
def test_ground_that_becomes_unknown_hides_no_more_than_before(
    make_dem: MakeDem, seed: int, place: tuple[float, float], more: float, azimuth_deg: float
) -> None:
    heights = rugged(seed, (40, 40), 0.02)
    row, col = place[0] * 39, place[1] * 39
    heights = clear_about(heights, row, col)
    fewer = np.where(np.random.default_rng(seed).random(heights.shape) < more, np.nan, heights)
    fewer = np.where(np.isnan(clear_about(np.full_like(heights, np.nan), row, col)), fewer, heights)
    dem = make_dem(heights)
    # known ground below the sea tells how low the unknown may be
    holed = replace(make_dem(fewer), sea_m=dem.floor_m)
    spot, left = spot_on(dem, row, col), np.isfinite(fewer)
    assert np.all((margin(holed, spot) <= margin(dem, spot) + 0.01)[left])
    assert np.all((viewshed(holed, spot) >= viewshed(dem, spot))[left])
    assert not viewshed(holed, spot)[~left].any()
    lower = skyline(holed, spot, azimuths_deg=ROUND)
    higher = skyline(dem, spot, azimuths_deg=ROUND)
    both = np.isfinite(lower.altitude_deg)
    assert np.all((lower.altitude_deg <= higher.altitude_deg + 1e-6)[both])
    assert np.all(lower.known_to_m <= higher.known_to_m + 1e-6)
    assert np.all(np.isnan(horizon(holed, azimuth_deg)[~left]))


@pytest.mark.parametrize("beside", [(0, 1), (1, 0), (1, 1), (-1, 0), (0, -1), (-1, -1)])
def test_a_camera_beside_unknown_ground(make_dem: MakeDem, beside: tuple[int, int]) -> None:
    heights = rugged(4, (31, 31), 0.0)
    heights[15 + beside[0], 15 + beside[1]] = np.nan
    dem = make_dem(heights)
    check_viewshed(dem, 15, 15)
    spot = spot_on(dem, 15, 15)
    toward_deg = math.degrees(math.atan2(beside[1], -beside[0])) % 360.0
    turned = float(dem.grid.true_azimuth_deg(toward_deg, spot.lon_deg, spot.lat_deg)) % 360.0
    found = skyline(dem, spot, azimuths_deg=[turned])
    assert found.known_to_m[0] < 1.01 * dem.cell_m * math.hypot(*beside)
    assert math.isfinite(found.altitude_deg[0])  # what is known farther on still counts
    with pytest.raises(NoGround, match="unknown"):
        viewshed(dem, spot_on(dem, 15 + 0.5 * beside[0], 15 + 0.5 * beside[1]))


def test_ground_all_round_unknown_but_for_the_camera(make_dem: MakeDem) -> None:
    heights = np.full((7, 7), np.nan)
    heights[3, 3] = 100.0
    dem = make_dem(heights)
    spot = spot_on(dem, 3, 3)
    assert viewshed(dem, spot).sum() == 1
    assert np.isfinite(margin(dem, spot)).sum() == 1
    assert np.isnan(horizon(dem, 30.0)).all()
    line = skyline(dem, spot, azimuths_deg=ROUND)
    assert np.isnan(line.altitude_deg).all()
    np.testing.assert_array_equal(line.known_to_m, 0.0)
    altitude, distance_m = altitudes_toward(dem, [3], [3], [40.0])
    assert np.isnan(altitude[0])
    assert np.isnan(distance_m[0])
    seen: Any = seen_ground(dem, spot, azimuths_deg=[0.0, 90.0], altitudes_deg=[-30.0, 0.0])
    assert np.isnan(seen.distance_m).all()


@settings(max_examples=25, deadline=None)
@example(seed=3, places=(1, 1, 1, 5), holes=0.15)  # along a row, with unknown ground beside it
@given(seed=seeds, places=st.tuples(*[st.integers(0, 24)] * 4), holes=st.sampled_from([0.0, 0.15]))
def test_one_line_of_sight_says_what_the_viewshed_says(
    make_dem: MakeDem, seed: int, places: tuple[int, int, int, int], holes: float
) -> None:
    row, col, to_row, to_col = places
    assume((row, col) != (to_row, to_col))
    heights = clear_about(rugged(seed, (25, 25), holes), row, col, cells=0.6)
    assume(np.isfinite(heights[to_row, to_col]))
    dem = make_dem(heights)
    spot = spot_on(dem, row, col)
    lon, lat = (float(part) for part in dem.grid.lonlat(to_row, to_col))
    line = sight_line(dem, spot, lon, lat, float(heights[to_row, to_col]))
    truth = float(twin_margins(dem, spot)[to_row, to_col])
    # the line also looks at the surface between the crossings, so not the converse
    assert not (line.visible and truth > 1.0)
    assert line.visible == (line.clearance_deg >= 0.0)
    assert math.isnan(line.blocked_at_m) == line.visible


turns = st.floats(0, 360).map(lambda degrees: round(degrees, 3))
shapes = st.sampled_from([(1, 1), (1, 45), (45, 1), (2, 30), (33, 26), (20, 47)])


@settings(max_examples=15, deadline=None)
@given(seed=seeds, shape=shapes, holes=st.sampled_from([0.0, 0.05, 0.3]), turn=turns)
def test_horizons_and_their_distances_on_all_edges(
    make_dem: MakeDem, seed: int, shape: tuple[int, int], holes: float, turn: float
) -> None:
    """Every cell, those of the outermost lines and beside holes too, against walks of rays."""
    dem = make_dem(rugged(seed, shape, holes))
    altitude, distance_m = horizon_and_distance(dem, turn)
    np.testing.assert_array_equal(altitude, horizon(dem, turn))
    np.testing.assert_array_equal(np.isnan(altitude), np.isnan(distance_m))
    grid_turn = math.radians(float(dem.grid.grid_azimuth_deg(turn, *dem.grid.centre_lonlat)))
    steps = -math.cos(grid_turn), math.sin(grid_turn)
    truth, cells = twins.horizons(dem.heights_m, *steps, bend_per_m(0.13), dem.cell_m)
    assert np.mean(np.isnan(altitude) == np.isnan(truth)) > 0.9
    # nearer than the first parallel lines each cell looks along its own ray, exactly
    near = np.isfinite(altitude) & np.isfinite(truth) & (cells < 0.9 * NEAR)
    off = np.abs(altitude - truth)[near]
    assert np.sum(off > 0.01) <= 3 + 0.1 * off.size
    same = near.copy()
    same[near] = off < 0.005
    apart = np.abs(distance_m / dem.cell_m - cells)[same]
    assert np.sum(apart > 0.05 * cells[same] + 0.05) <= 1 + 0.02 * apart.size


@settings(max_examples=25, deadline=None)
@given(seed=seeds, shape=shapes, holes=st.sampled_from([0.0, 0.05, 0.3]), turn=turns)
def test_looks_toward_one_direction_from_every_cell(
    make_dem: MakeDem, seed: int, shape: tuple[int, int], holes: float, turn: float
) -> None:
    """From edges, corners and beside holes: every crossing of the ray of each cell counts."""
    dem = make_dem(rugged(seed, shape, holes))
    row, col = np.indices(shape).reshape(2, -1)
    altitude, distance_m = altitudes_toward(dem, row, col, turn)
    step = -math.cos(math.radians(turn)) / dem.cell_m, math.sin(math.radians(turn)) / dem.cell_m
    for at in range(0, row.size, 7):
        ground_m = float(dem.heights_m[row[at], col[at]])
        at_m, heights = crossings(dem, row[at], col[at], step)
        known = np.isfinite(heights)
        if math.isnan(ground_m) or not known.any():
            assert math.isnan(altitude[at])
            assert math.isnan(distance_m[at])
            continue
        rise = (heights[known] - ground_m - 1.7) / at_m[known] - bend_per_m(0.13) * at_m[known]
        truth = math.degrees(math.atan(rise.max()))
        assert altitude[at] >= truth - 1e-3
        if distance_m[at] > FINE * dem.cell_m:
            assert altitude[at] == pytest.approx(truth, abs=1e-5)


@settings(max_examples=25, deadline=None)
@given(seed=seeds, shape=shapes, holes=st.sampled_from([0.0, 0.05, 0.3]), turn=turns)
def test_before_and_behind_a_hill_from_every_cell(
    make_dem: MakeDem, seed: int, shape: tuple[int, int], holes: float, turn: float
) -> None:
    dem = make_dem(rugged(seed, shape, holes))
    turn += 0.3  # at 60 degrees a step ends just between two cells, and either is the nearest
    rng = np.random.default_rng(seed)
    row, col = np.nonzero(np.isfinite(dem.heights_m))
    assume(row.size > 0)
    own, target_m = rng.random(shape) < 0.2, rng.uniform(60.0, 1500.0, row.size)
    found = before_and_behind(dem, own, row, col, turn, target_m)
    for at in range(0, row.size, 11):
        truth = stepped(dem, own, int(row[at]), int(col[at]), turn, float(target_m[at]))
        assert (found[0][at], found[1][at]) == pytest.approx(truth, abs=1e-6, nan_ok=True)


def test_nothing_is_seen_of_a_raster_of_one_cell_but_that_cell(make_dem: MakeDem) -> None:
    dem = make_dem([[50.0]])
    spot = spot_on(dem, 0, 0)
    assert viewshed(dem, spot).all()
    assert margin(dem, spot)[0, 0] == 0.0
    assert np.isnan(horizon(dem, 77.0)).all()
    assert np.isnan(skyline(dem, spot, azimuths_deg=ROUND).altitude_deg).all()
