"""How far the ground is known, against walks line by line, and what hidden ground must be."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from terrain.errors import NoGround
from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.ground.raster.read import read_dem
from terrain.sight.bend import bend_per_m
from terrain.sight.horizon import horizon
from terrain.sight.known import known_along, known_between, known_to, lowest_hidden_m
from terrain.sight.left_out import LeftOut, left_out
from terrain.sight.rays import eye_at
from terrain.sight.skyline import skyline
from terrain.sight.viewshed import viewshed
from tests.sight.test_viewshed import spot_on

MakeDem = Callable[..., Dem]
Floats = NDArray[np.float64]

seeds = st.integers(0, 100_000)
shapes = st.one_of(
    st.tuples(st.integers(1, 34), st.integers(1, 34)),
    st.tuples(st.just(1), st.integers(1, 60)),
    st.tuples(st.integers(1, 60), st.just(1)),
)


def holed(seed: int, shape: tuple[int, int], share: float) -> Floats:
    """Noise with single unknown cells, and a block of them."""
    rng = np.random.default_rng(seed)
    heights = rng.uniform(0.0, 50.0, shape)
    heights[rng.random(shape) < share] = np.nan
    if share:
        top, left = rng.integers(0, shape[0]), rng.integers(0, shape[1])
        heights[top : top + 5, left : left + 3] = np.nan
    return heights


def walk(heights: Floats, row: int, col: int, angle: float, beside: int = 0) -> float:
    """Cells known ahead of one, line of centres by line of centres, in plain loops.

    beside: cells more to each side that must be known too.
    """
    rows, cols = heights.shape
    down, along = -math.cos(angle), math.sin(angle)
    most = max(abs(down), abs(along))
    down, along = (round(part / most, 9) for part in (down, along))
    by_rows, length = abs(down) == 1.0, math.hypot(down, along)
    ways = [math.inf]
    if down:
        ways.append(((rows - 0.5 - row) if down > 0 else row + 0.5) / abs(down))
    if along:
        ways.append(((cols - 0.5 - col) if along > 0 else col + 0.5) / abs(along))
    edge = min(ways)
    line = 1
    while line <= edge:
        at_row, at_col = row + line * down, col + line * along
        across = at_col if by_rows else at_row
        low, high = math.floor(across + 1e-6), math.ceil(across - 1e-6)
        for cell in range(low - beside, high + beside + 1):
            to_row, to_col = (round(at_row), cell) if by_rows else (cell, round(at_col))
            to_row, to_col = min(max(to_row, 0), rows - 1), min(max(to_col, 0), cols - 1)
            if math.isnan(heights[to_row, to_col]):
                return (line - 1) * length
        line += 1
    return edge * length


def walks(dem: Dem, grid_azimuth_deg: Floats, beside: int = 0) -> Floats:
    """The walk of every known cell, metres."""
    found = np.full(dem.shape, np.nan)
    for row, col in np.argwhere(~np.isnan(dem.heights_m)):
        angle = math.radians(float(grid_azimuth_deg[row, col]))
        found[row, col] = walk(dem.heights_m, row, col, angle, beside) * dem.cell_m
    return found


@settings(max_examples=40)
@given(seed=seeds, shape=shapes, share=st.sampled_from([0.0, 0.01, 0.08, 0.4]))
def test_own_directions_are_walked_exactly(
    make_dem: MakeDem, seed: int, shape: tuple[int, int], share: float
) -> None:
    dem = make_dem(holed(seed, shape, share))
    grid_azimuth = np.random.default_rng(seed).uniform(0.0, 360.0, shape)
    if seed % 4 == 0:
        grid_azimuth = np.round(grid_azimuth / 45.0) * 45.0
    lon, lat = dem.grid.lonlat(*np.indices(shape))
    found = known_to(dem, dem.grid.true_azimuth_deg(grid_azimuth, lon, lat))
    truth = walks(dem, grid_azimuth)
    # a line that runs past the corner of the raster leaves it by one side or the other
    np.testing.assert_allclose(found, truth, atol=0.02, rtol=1e-5)


@settings(max_examples=40)
@given(
    seed=seeds,
    shape=shapes,
    share=st.sampled_from([0.0, 0.01, 0.08, 0.4]),
    azimuth_deg=st.one_of(st.floats(0, 360), st.sampled_from([0.0, 45.0, 90.0, 180.0, 315.0])),
)
@example(seed=629, shape=(15, 8), share=0.08, azimuth_deg=44.6)
@example(seed=865, shape=(2, 13), share=0.08, azimuth_deg=180.0)
@example(seed=687, shape=(10, 12), share=0.4, azimuth_deg=294.0)
@example(seed=944, shape=(6, 16), share=0.08, azimuth_deg=163.3)  # between two lines beside a gap
@example(seed=1, shape=(6, 6), share=0.01, azimuth_deg=45.0)
@example(seed=1, shape=(6, 6), share=0.0, azimuth_deg=20.0)
def test_one_direction_for_all_is_never_said_to_be_known_farther(
    make_dem: MakeDem, seed: int, shape: tuple[int, int], share: float, azimuth_deg: float
) -> None:
    dem = make_dem(holed(seed, shape, share))
    turned = float(dem.grid.grid_azimuth_deg(azimuth_deg, *dem.grid.centre_lonlat))
    found, known = known_to(dem, azimuth_deg), ~np.isnan(dem.heights_m)
    grid_azimuth = np.full(shape, turned)
    truth, wider = walks(dem, grid_azimuth), walks(dem, grid_azimuth, beside=1)
    np.testing.assert_array_equal(~np.isnan(found), known)
    assert np.all((found <= truth + 0.02)[known])
    # a gap is at most one cell wider, and may end a line that has just left the raster
    assert np.all((found >= wider - 1.45 * dem.cell_m)[known])
    if min(shape) > 5:
        assert np.mean((found >= wider - 0.02)[known]) > 0.8
    if turned % 45.0 in (0.0, 45.0):
        np.testing.assert_allclose(found, truth, atol=0.02)


@settings(max_examples=25)
@given(
    seed=seeds,
    shape=shapes,
    share=st.sampled_from([0.0, 0.05, 0.3]),
    at=st.floats(0, 0.999),
    azimuth_deg=st.floats(0.0, 360.0),
)
def test_a_skyline_says_the_same_of_its_spot(
    make_dem: MakeDem,
    seed: int,
    shape: tuple[int, int],
    share: float,
    at: float,
    azimuth_deg: float,
) -> None:
    heights = holed(seed, shape, share)
    row, col = divmod(int(at * heights.size), shape[1])
    heights[row, col] = 20.0
    dem = make_dem(heights)
    line = skyline(dem, spot_on(dem, row, col), azimuths_deg=[azimuth_deg])
    own = known_along(dem, np.array([row]), np.array([col]), np.array([azimuth_deg]))
    # the skyline stops at the last crossing of either kind, up to a line farther
    assert -0.1 <= line.known_to_m[0] - own[0] <= 1.5 * dem.cell_m


def between(dem: Dem, spot: Spot) -> NDArray[np.bool_]:
    """The plain version of `known_between`: no unknown cell has a share in any line on the way."""
    eye, found = eye_at(dem, spot), np.zeros(dem.shape, dtype=bool)
    for row, col in np.argwhere(~np.isnan(dem.heights_m)):
        down, along = eye.row - row, eye.col - col
        lines = max(abs(down), abs(along))
        found[row, col] = True
        for line in range(1, math.ceil(lines)):
            at_row, at_col = row + line * down / lines, col + line * along / lines
            cells = [
                (to_row, to_col)
                for to_row in {math.floor(at_row + 1e-6), math.ceil(at_row - 1e-6)}
                for to_col in {math.floor(at_col + 1e-6), math.ceil(at_col - 1e-6)}
            ]
            if any(math.isnan(dem.heights_m[cell]) for cell in cells):
                found[row, col] = False
    return found


@settings(max_examples=30)
@given(seed=seeds, shape=shapes, share=st.sampled_from([0.0, 0.03, 0.2]), at=st.floats(0, 0.999))
def test_the_way_to_a_camera_is_known_where_no_gap_lies_on_it(
    make_dem: MakeDem, seed: int, shape: tuple[int, int], share: float, at: float
) -> None:
    heights = holed(seed, shape, share)
    row, col = divmod(int(at * heights.size), shape[1])
    heights[row, col] = 20.0
    dem = make_dem(heights)
    spot = spot_on(dem, row, col)
    flags = known_between(dem, spot)
    np.testing.assert_array_equal(flags, between(dem, spot))
    assert flags[row, col]


def test_hidden_ground_changes_what_a_camera_sees_only_where_it_is_flagged(
    make_dem: MakeDem,
) -> None:
    heights = np.random.default_rng(3).uniform(0.0, 10.0, (60, 60))
    gap = np.s_[20:26, 30:40]
    filled = heights.copy()
    filled[gap] = 400.0
    heights[gap] = np.nan
    dem, hidden = make_dem(heights), make_dem(filled)
    spot = spot_on(dem, 45.3, 12.4, eye_m=120.0)
    flags, known = known_between(dem, spot), ~np.isnan(heights)
    changed = known & (viewshed(dem, spot) != viewshed(hidden, spot))
    assert changed.sum() > 40
    # a cell is decided between two rays that may lie half a cell to its sides
    assert (changed & flags).sum() <= 0.02 * changed.sum()
    assert (known & ~flags).sum() > changed.sum()


def test_no_camera_no_flags(make_dem: MakeDem) -> None:
    dem = make_dem([[0.0, np.nan, 0.0]])
    with pytest.raises(NoGround):
        known_between(dem, spot_on(dem, 0, 1))
    assert not known_between(dem, spot_on(dem, 0, 0))[0, 2]


def test_directions_of_another_shape_are_refused(make_dem: MakeDem) -> None:
    dem = make_dem(np.zeros((3, 4)))
    with pytest.raises(ValueError, match=r"shape \(4, 3\)"):
        known_to(dem, np.zeros((4, 3)))
    with pytest.raises(ValueError, match=r"shape \(1, 4\)"):
        left_out(dem, 0.0, np.zeros((1, 4)))
    nowhere = np.full(dem.shape, np.nan)
    assert np.isnan(known_to(dem, nowhere)).all()
    assert math.isnan(left_out(dem, nowhere, nowhere).open_share)


@pytest.mark.parametrize("height_m", [0.0, 400.0])
def test_only_hidden_ground_that_reaches_the_line_of_sight_changes_a_horizon(
    make_dem: MakeDem, height_m: float
) -> None:
    """Ground put in place of what is not known: lower changes nothing, higher does."""
    ground = 30.0 * np.random.default_rng(5).random((1, 60))
    ground[0, :20] += height_m  # from up there the line of sight goes down
    ground[0, 25:] = np.nan
    dem = make_dem(ground, cell_m=200.0)
    east = float(dem.grid.true_azimuth_deg(90.0, *dem.grid.centre_lonlat))
    altitude, known = horizon(dem, east), known_to(dem, east)
    hidden = lowest_hidden_m(dem.heights_m, altitude, known)
    for cell in range(24):
        for over_m, changes in ((-0.5, False), (0.5, True)):
            filled = ground.copy()
            away = (np.arange(15_000) - cell) * 200.0
            ray = ground[0, cell] + np.tan(np.radians(altitude[0, cell])) * away
            ray += bend_per_m(0.13) * away**2
            # known ends at a centre, and the next one is the first that can hide something
            assert ray[24:].min() - 0.5 <= hidden[0, cell] <= ray[25:].min() + 1e-3
            lowest = 25 + int(np.argmin(ray[25:60]))
            if changes:
                filled[0, lowest] = ray[lowest] + over_m
            else:
                filled[0, 25:] = hidden[0, cell] + over_m
            other = horizon(make_dem(filled, cell_m=200.0), east)
            assert (other[0, cell] > altitude[0, cell] + 1e-5) == changes


def test_lowest_hidden_ground_in_closed_form() -> None:
    # level from 100 m: the ray is at the eye's height plus what the earth falls away by
    assert lowest_hidden_m(100.0, 0.0, 10_000.0) == pytest.approx(100.0 + 6.828, abs=1e-3)
    # at the dip of a sea horizon, the sea itself reaches it, wherever the known ground ends
    dip_deg = -math.degrees(math.atan(2.0 * math.sqrt(100.0 * bend_per_m(0.13))))
    assert lowest_hidden_m(100.0, dip_deg, 1_000.0) == pytest.approx(0.0, abs=1e-6)
    # beyond the sea horizon the earth falls away
    assert lowest_hidden_m(100.0, dip_deg, 60_000.0) > 30.0
    # on a flat earth a line that goes down has no lowest point: its end is told
    flat = lowest_hidden_m(0.0, -45.0, 1_000.0, refraction=1.0)
    assert flat == pytest.approx(-1_000.0)


def test_known_ground_of_a_national_grid_is_counted_from_true_north(open_data: Path) -> None:
    dem = read_dem(open_data / "lakeland_50m.tif")
    rng = np.random.default_rng(7)
    cells = np.argwhere(~np.isnan(dem.heights_m))
    row, col = cells[rng.choice(len(cells), 60, replace=False)].T
    azimuth = rng.uniform(0.0, 360.0, row.size)
    known = known_along(dem, row, col, azimuth)
    lon, lat = dem.grid.lonlat(row, col)
    for at in range(row.size):
        spot = Spot(lon_deg=float(lon[at]), lat_deg=float(lat[at]))
        line = skyline(dem, spot, azimuths_deg=[azimuth[at]])
        # 80 km off, a geodesic and a straight line on the grid are a cell or two apart
        assert line.known_to_m[0] == pytest.approx(known[at], abs=4.0 * dem.cell_m, rel=0.01)


def test_what_is_left_out_of_a_horizon(make_dem: MakeDem) -> None:
    col = np.arange(200)
    heights = np.tile(np.where(col < 150, 0.0, 300.0), (40, 1))
    heights[0, 0] = 320.0
    dem = make_dem(heights)
    east = float(dem.grid.true_azimuth_deg(90.0, *dem.grid.centre_lonlat))
    out = left_out(dem, east, horizon(dem, east))
    assert out.cells == dem.heights_m.size
    assert out.known_m == pytest.approx(np.percentile(known_to(dem, east), 10), abs=1.0)
    assert out.median_known_m == pytest.approx(5_000.0, abs=50.0)
    assert out.highest_m == 320.0
    # at the foot of the step the line of sight is far over its top at the raster's edge; on it,
    # and only there, ground as high as the highest would do
    assert out.open_share == pytest.approx(0.25, abs=0.01)
    words = out.sentence("the east")
    assert "Toward the east the ground is known for at least 1.0 km in nine of ten" in words
    assert "in 25 % of them it need not be higher than the highest here, 320 m" in words


def test_few_cells_stand_for_all_of_a_large_raster(make_dem: MakeDem) -> None:
    heights = np.zeros((700, 900))
    heights[:, 800:] = 200.0
    dem = make_dem(heights)
    azimuth = np.full(dem.shape, 88.0)
    altitude = horizon(dem, 88.0)
    out: LeftOut = left_out(dem, azimuth, altitude)
    assert out.cells == 100_000
    known = known_to(dem, azimuth)
    assert out.known_m == pytest.approx(np.nanpercentile(known, 10), rel=0.01)
    assert out.median_known_m == pytest.approx(np.nanmedian(known), rel=0.01)
    hidden = lowest_hidden_m(dem.heights_m, altitude, known)
    assert out.median_hidden_m == pytest.approx(np.nanmedian(hidden), rel=0.01)
    assert out.open_share == pytest.approx(np.mean(~(hidden > 200.0)), abs=0.005)
