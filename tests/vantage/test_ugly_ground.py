"""Whole tiles on ugly ground: rugged, with holes, of one row; asked on edges and beside holes."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from terrain.errors import NoGround, NoSun
from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.ground.relief.hills import hill_ground
from terrain.light.day import DayAtlas, day_atlas, light_arrival
from terrain.sight.bend import bend_per_m
from terrain.sight.skyline import skyline
from terrain.view.contact import sun_contact
from terrain.view.touch import first_touch
from terrain.year.atlas import backlight_atlas
from tests.sight.test_correctness import clear_about, crossings, rugged
from tests.sight.test_viewshed import spot_on, twin_margins

MakeDem = Callable[..., Dem]
Floats = NDArray[np.float64]
SPRING = dt.date(2025, 3, 21)
MORNING_DEG = np.arange(60.0, 230.0, 0.1)

seeds = st.integers(0, 100_000)
shapes = st.sampled_from([(24, 30), (31, 17), (1, 40), (40, 1), (2, 25)])
ends = st.sampled_from([0.0, 0.5, 1.0])  # 0 and 1: the first and last line of cells


def on_line(
    dem: Dem,
    own: NDArray[np.bool_],
    hill: Hill,
    row: int,
    col: int,
    bend: float = bend_per_m(0.13),
) -> tuple[float, float, float]:
    """Slopes, from an eye, of other ground before a summit, other behind it, and own behind it.

    Crossing by crossing of the line through the summit with the lines of cell centres.
    """
    to_row, to_col = (float(part) for part in dem.grid.rowcol(hill.lon_deg, hill.lat_deg))
    down, along = round(to_row - row, 6), round(to_col - col, 6)
    away_m = math.hypot(down, along) * dem.cell_m
    step = down / away_m, along / away_m
    at_m, heights = crossings(dem, row, col, step)
    rows = np.clip(np.rint(row + at_m * step[0]), 0, dem.shape[0] - 1).astype(int)
    cols = np.clip(np.rint(col + at_m * step[1]), 0, dem.shape[1] - 1).astype(int)
    eye = float(dem.heights_m[row, col]) + 1.7
    slope = (heights - eye) / np.maximum(at_m, 1e-9) - bend * at_m
    known, mine = np.isfinite(heights), own[rows, cols] if at_m.size else np.zeros(0, dtype=bool)
    before, behind = at_m < away_m - 0.01, at_m > away_m + 0.01
    parts = (before & ~mine, behind & ~mine, behind & mine)
    found = [float(np.max(slope[part & known], initial=-math.inf)) for part in parts]
    return found[0], found[1], found[2]


@settings(max_examples=10, suppress_health_check=[HealthCheck.too_slow])
@given(seed=seeds, shape=shapes, down=ends, along=ends, holes=st.sampled_from([0.0, 0.05, 0.2]))
def test_the_year_atlas_on_edges_in_corners_and_beside_holes(
    make_dem: MakeDem, seed: int, shape: tuple[int, int], down: float, along: float, holes: float
) -> None:
    """What is seen, and what stands behind, against walks along the line through the summit."""
    row, col = round(down * (shape[0] - 1)), round(along * (shape[1] - 1))
    heights = rugged(seed, shape, holes)
    heights[row, col] = 150.0
    dem = make_dem(heights)
    lon, lat = (float(part) for part in dem.grid.lonlat(row, col))
    hill = Hill(lon_deg=lon, lat_deg=lat, height_m=150.0)
    atlas = backlight_atlas(dem, hill, 2025, tolerance_deg=3.0)
    known = np.isfinite(dem.heights_m)
    truth = twin_margins(dem, spot_on(dem, row, col, eye_m=0.0)) - 1.7
    clearly = known & (np.abs(truth) > 6.0)
    wrong = clearly & (atlas.sees != (truth <= 0.0))
    assert wrong.sum() <= 2 + 0.03 * clearly.sum()
    assert not atlas.sees[~known].any()
    own = hill_ground(dem, hill)
    off, decided = [], 0
    for at_row, at_col in np.argwhere(atlas.sees & (atlas.distance_m > 3.0 * dem.cell_m)):
        distance = float(atlas.distance_m[at_row, at_col])
        eye = float(dem.heights_m[at_row, at_col]) + 1.7
        top = (150.0 - eye) / distance - bend_per_m(0.13) * distance
        before, behind, mine = on_line(dem, own, hill, int(at_row), int(at_col))
        if abs(behind - max(top, mine)) > 0.05:
            decided += 1
            off.append(atlas.on_skyline[at_row, at_col] != (behind < max(top, mine)))
        stature = float(atlas.stature_deg[at_row, at_col])
        if min(shape) == 1:  # one line: nothing lies between two rays
            assert math.isnan(stature) == math.isinf(before)
            if math.isfinite(before):
                rise = math.degrees(math.atan(top) - math.atan(before))
                assert stature == pytest.approx(rise, abs=0.02)
    assert sum(off) <= 1 + 0.05 * decided


def rolling(seed: int, shape: tuple[int, int], holes: float) -> Floats:
    """Hills broad enough for the sun's own width, with single cells and blocks unknown."""
    rng = np.random.default_rng(seed)
    row, col = np.indices(shape)
    heights = np.zeros(shape)
    for length in (47.0, 29.0, 17.0):
        turn, phase = rng.uniform(0.0, 2.0 * np.pi, 2)
        wave = (row * np.cos(turn) + col * np.sin(turn)) * 2.0 * np.pi / length + phase
        heights += 2.5 * length * np.sin(wave)
    heights[rng.random(shape) < holes] = np.nan
    if holes:
        top, left = rng.integers(0, shape[0]), rng.integers(0, shape[1])
        heights[top : top + 6, left : left + 6] = np.nan
    return heights


def spot_of(dem: Dem, row: int, col: int) -> Spot:
    lon, lat = (float(part) for part in dem.grid.lonlat(row, col))
    return Spot(lon_deg=lon, lat_deg=lat, eye_m=0.0)


def ugly_cells(dem: Dem, rng: np.random.Generator) -> list[tuple[int, int]]:
    """Known cells: corners, some of each edge, some beside unknown ground, some anywhere."""
    rows, cols = dem.shape
    known = np.isfinite(dem.heights_m)
    chosen = [(0, 0), (0, cols - 1), (rows - 1, 0), (rows - 1, cols - 1)]
    for at in rng.integers(0, max(rows, cols), 1):
        chosen += [(0, at % cols), (rows - 1, at % cols), (at % rows, 0), (at % rows, cols - 1)]
    holes = np.pad(~known, 1)
    beside = known & np.any(
        [np.roll(holes, shift, axis=axis)[1:-1, 1:-1] for axis in (0, 1) for shift in (-1, 1)],
        axis=0,
    )
    for cells in (np.argwhere(beside), np.argwhere(known)):
        if len(cells):
            chosen += [(int(r), int(c)) for r, c in cells[rng.integers(0, len(cells), 4)]]
    return [cell for cell in dict.fromkeys(chosen) if known[cell]]


@settings(max_examples=4, suppress_health_check=[HealthCheck.too_slow])
@given(seed=seeds, holes=st.sampled_from([0.0, 0.01, 0.05]))
@example(seed=17926, holes=0.05)  # a cell beside the edge, with a hole alone toward the sun
def test_first_light_on_edges_in_corners_and_beside_holes(
    make_dem: MakeDem, seed: int, holes: float
) -> None:
    """Against the whole disc over the skyline of each cell by itself."""
    dem = make_dem(rolling(seed, (60, 70), holes), cell_m=60.0)
    atlas: DayAtlas = day_atlas(dem, SPRING)
    arrival = light_arrival(dem, SPRING)
    known = np.isfinite(dem.heights_m)
    assert np.isnan(arrival.arrives_s[~known]).all()
    assert not arrival.is_known[~known].any()
    np.testing.assert_array_equal(np.isnan(atlas.distance_m), np.isnan(atlas.arrival.arrives_s))
    low = float(np.nanmin(dem.heights_m))
    off: list[float] = []
    agree: list[bool] = []
    for cell in ugly_cells(dem, np.random.default_rng(seed)):
        rise = float(dem.heights_m[cell]) - low
        dip_deg = -math.degrees(math.sqrt(2.0 * rise * 0.87 / 6_371_000.0))
        try:
            line = skyline(dem, spot_of(dem, *cell), azimuths_deg=MORNING_DEG)
            contact = first_touch(line, SPRING)
        except (NoGround, NoSun):
            # where known ground falls away below that, the earth itself hides the sun
            by_the_earth = arrival.altitude_deg[cell] <= dip_deg + 0.02
            agree.append(bool(by_the_earth or not np.isfinite(arrival.arrives_s[cell])))
            continue
        agree.append(bool(arrival.is_known[cell]))
        far = contact.distance_m > 5.0 * dem.cell_m
        if far and contact.altitude_deg > dip_deg and np.isfinite(arrival.arrives_s[cell]):
            off.append(abs(float(arrival.arrives_s[cell]) - arrival.seconds(contact.appears)))
    # toward the very edge one of the two may see a sliver of ground that the other does not
    assert np.mean(agree) > 0.9
    if len(off) > 5:
        assert np.median(off) < 20.0
        assert np.percentile(off, 75) < 90.0


@pytest.mark.parametrize("shape", [(1, 60), (60, 1), (1, 1), (2, 2)])
@pytest.mark.parametrize("holes", [False, True])
def test_narrow_ground_has_its_morning(
    make_dem: MakeDem, shape: tuple[int, int], holes: bool
) -> None:
    heights = np.zeros(shape)
    heights.flat[-1] = 100.0
    if holes and heights.size > 40:
        heights.flat[30:33] = np.nan
    # a row that lies along the way to the rising sun, as near as a grid may
    dem = make_dem(heights, cell_m=500.0)
    arrival, atlas = light_arrival(dem, SPRING), day_atlas(dem, SPRING)
    for found in (arrival, atlas.arrival):
        known = np.isfinite(dem.heights_m)
        assert np.isnan(found.arrives_s[~known]).all()
        # where the sun comes over unknown ground alone it is known whence, but not when
        assert np.isfinite(found.azimuth_deg[known]).all()
        assert np.all(~found.is_known[known] == np.isnan(found.arrives_s[known]))
        assert not found.is_known.flat[-1] or shape == (2, 2)
    off_s = []
    for row, col in np.argwhere(arrival.is_known)[::3]:
        line = skyline(dem, spot_of(dem, int(row), int(col)), azimuths_deg=MORNING_DEG)
        contact = sun_contact(line, SPRING)
        off_s.append(float(arrival.arrives_s[row, col]) - arrival.seconds(contact.appears))
    # the sun may show for a moment beside the end of a line of ground before that hides it
    assert np.mean(np.abs(off_s) < 5.0) > 0.9 if off_s else shape != (1, 60)
    if shape == (1, 60):
        assert arrival.is_known[0, 59 - 12 : 59].any()


def test_light_beside_unknown_ground_comes_as_if_it_were_not_there(make_dem: MakeDem) -> None:
    """A hole hides nothing, and what stands beyond it still does."""
    heights = np.zeros((61, 200))
    heights[:, 150:] = 300.0
    whole = light_arrival(make_dem(heights), SPRING)
    heights[:, 60:70] = np.nan
    holed = light_arrival(make_dem(heights), SPRING)
    beside = np.s_[20:41, 40:60]
    np.testing.assert_allclose(holed.arrives_s[beside], whole.arrives_s[beside], atol=2.0)
    # and it is flagged: all that is known toward the sun is the ground before the hole
    assert np.nanmax(holed.known_to_m[beside]) < 25 * 50.0
    assert np.nanmin(whole.known_to_m[beside]) > 100 * 50.0
    assert holed.left_out().known_m < whole.left_out().known_m


@settings(max_examples=10)
@given(seed=seeds, holes=st.sampled_from([0.05, 0.2]))
def test_a_summit_beside_unknown_ground_is_asked_for_all_the_same(
    make_dem: MakeDem, seed: int, holes: float
) -> None:
    heights = clear_about(rugged(seed, (21, 23), holes), 10, 11, cells=0.6)
    heights[10, 11], heights[9, 11], heights[11, 12] = 200.0, np.nan, np.nan
    dem = make_dem(heights)
    lon, lat = (float(part) for part in dem.grid.lonlat(10, 11))
    atlas = backlight_atlas(dem, Hill(lon_deg=lon, lat_deg=lat, height_m=200.0), 2025)
    assert atlas.sees.any()
    north = atlas.sees[:9, 11]
    # straight north of it the line to the summit crosses the unknown cell, and that is flagged
    assert np.all(atlas.known_to_m[:9, 11][north] < atlas.distance_m[:9, 11][north])
