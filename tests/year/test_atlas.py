"""The year atlas against its slow twin, against closed forms, and against itself in a mirror."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from terrain.country import Country
from terrain.errors import NoAnswer, NoGround, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.ground.raster.read import read_dem
from terrain.ground.relief.hills import hill_ground
from terrain.ground.relief.summits import hill_at
from terrain.mist.level import level_mist
from terrain.vantage.find import find_vantages
from terrain.vantage.year import _best_of_blocks, _declination_deg
from terrain.view.look import look
from terrain.view.scene import Scene
from terrain.year.atlas import Atlas, backlight_atlas
from terrain.year.cells import _before_and_behind
from terrain.year.confirm import as_ranges, days_near
from tests.conftest import MakeDem
from tests.scenes import scene_with
from tests.year.atlas_twin import before_and_behind, passes_deg, spells, toward
from tests.year.confirmed import confirmed

BEND = 0.87 / (2.0 * 6_371_000.0)
EDGE_DEG = 0.025  # what a tolerance may be missed by and a day still fall on either side of it


def cone(make_dem: MakeDem, size: int = 91, cell_m: float = 150.0, **place: float) -> Dem:
    rows, cols = np.mgrid[:size, :size] - (size - 1) / 2
    return make_dem(np.maximum(900.0 - 0.35 * cell_m * np.hypot(rows, cols), 0.0), cell_m, **place)


def summit_of(dem: Dem) -> Hill:
    row, col = np.unravel_index(int(np.nanargmax(dem.heights_m)), dem.shape)
    lon, lat = (float(part) for part in dem.grid.lonlat(row, col))
    return Hill(lon_deg=lon, lat_deg=lat, height_m=float(dem.heights_m[row, col]), name="Peak")


def spells_at(atlas: Atlas, row: int, col: int) -> list[tuple[int, int]]:
    """Best day and number of days of the spells of a cell, in the order of the year."""
    pairs = (
        (atlas.north_day[row, col], atlas.north_spell_days[row, col]),
        (atlas.south_day[row, col], atlas.south_spell_days[row, col]),
    )
    return sorted((int(day), int(days)) for day, days in pairs if not np.isnan(day))


def check_cell(atlas: Atlas, dem: Dem, row: int, col: int, zone: str, length: int) -> int:
    """Hold the spells of one cell against the twin; returns how many the twin has."""
    summit, sky_deg = toward(dem, atlas.hill, row, col), float(atlas.sky_from_deg[row, col])
    aim = replace(summit, altitude_deg=max(summit.altitude_deg, sky_deg))
    away = passes_deg(aim, atlas.year, zone, evening=atlas.evening)
    found = spells_at(atlas, row, col)
    runs = spells(away, atlas.tolerance_deg, length)
    surely = spells(away, atlas.tolerance_deg - EDGE_DEG, length)
    perhaps = spells(away, atlas.tolerance_deg + EDGE_DEG, length)
    days = sum(count for _, count in found)
    # the last days of December stand in for those before January, by up to a day of a leap year
    ring = any({1, length} <= set(run) for run in perhaps)
    least, most = sum(map(len, surely)) - ring, sum(map(len, perhaps)) + ring
    assert least <= days <= most, (row, col, found, runs)
    assert len(perhaps) <= 2
    none = math.inf, math.inf
    for best, _ in found:
        near = [away.get((best + n - 1) % length + 1, none) for n in range(-4, 5)]
        edges = [edge for _, edge in near]
        assert min(edges[3:6]) <= min(edges) + EDGE_DEG, (best, near)
        assert near[4][0] <= atlas.tolerance_deg + EDGE_DEG
    return len(runs)


PLACES = [
    pytest.param(54.4, -24.0, "Etc/GMT+2", id="middle north"),
    pytest.param(-41.3, 172.6, "Pacific/Auckland", id="south, ahead of its sun"),
    pytest.param(10.0, 0.5, "Africa/Lome", id="tropics"),
    pytest.param(23.4, -105.0, "America/Mazatlan", id="on the tropic"),
    pytest.param(68.3, 18.0, "Europe/Stockholm", id="beyond the polar circle"),
    pytest.param(1.9, -157.4, "Pacific/Kiritimati", id="another date than its sun's"),
]


@pytest.mark.parametrize("evening", [False, True])
@pytest.mark.parametrize(("lat", "lon", "zone"), PLACES)
def test_days_and_widths_are_those_of_the_twin(
    make_dem: MakeDem, lat: float, lon: float, zone: str, evening: bool
) -> None:
    dem = cone(make_dem, lat=lat, lon=lon)
    for year, length in ((2025, 365), (2024, 366)):
        atlas = backlight_atlas(dem, summit_of(dem), year, evening=evening)
        longest = np.fmax(atlas.north_spell_days, atlas.south_spell_days)
        rng = np.random.default_rng(int(abs(lat)))
        had = 0
        for wanted in (longest >= 8, longest <= 3, atlas.sees & np.isnan(longest)):
            rows, cols = np.nonzero(wanted & (atlas.distance_m > 1000.0))
            assert rows.size
            for at in rng.choice(rows.size, 6):
                had += check_cell(atlas, dem, int(rows[at]), int(cols[at]), zone, length)
        assert had >= 12


def test_high_hills_near_by_in_the_tropics_agree_too(make_dem: MakeDem) -> None:
    rows, cols = np.mgrid[:101, :101] - 50.0
    dem = make_dem(np.maximum(900.0 - 40.0 * np.hypot(rows, cols), 0.0), 15.0, lat=10.0, lon=0.5)
    atlas = backlight_atlas(dem, summit_of(dem), 2025, tolerance_deg=1.0)
    rows, cols = np.nonzero(atlas.has_days & (atlas.altitude_deg > 50.0))
    rng = np.random.default_rng(2)
    for at in rng.choice(rows.size, 12):
        check_cell(atlas, dem, int(rows[at]), int(cols[at]), "Africa/Lome", 365)


def test_real_ground_agrees_with_the_twin_in_days(jacksboro: Dem) -> None:
    atlas = backlight_atlas(jacksboro, summit_of(jacksboro), 2026)
    rows, cols = np.nonzero(atlas.has_days)
    rng = np.random.default_rng(3)
    for at in rng.choice(rows.size, 15):
        row, col = int(rows[at]), int(cols[at])
        check_cell(atlas, jacksboro, row, col, "America/New_York", 365)
        aim = toward(jacksboro, atlas.hill, row, col)
        assert atlas.azimuth_deg[row, col] == pytest.approx(aim.azimuth_deg, abs=1e-3)
        assert atlas.altitude_deg[row, col] == pytest.approx(aim.altitude_deg, abs=1e-3)
        assert atlas.distance_m[row, col] == pytest.approx(aim.distance_m, rel=1e-5)


def test_a_national_grid_agrees_with_the_twin_in_days(open_data: Path) -> None:
    around = Spot(lon_deg=-3.2115, lat_deg=54.4542)
    dem = read_dem(open_data / "lakeland_50m.tif", around=around, reach_m=20_000.0)
    hill = hill_at(dem, around.lon_deg, around.lat_deg, name="the highest")
    atlas = backlight_atlas(dem, hill, 2026)
    rows, cols = np.nonzero(atlas.has_days)
    rng = np.random.default_rng(4)
    for at in rng.choice(rows.size, 15):
        row, col = int(rows[at]), int(cols[at])
        check_cell(atlas, dem, row, col, "Europe/London", 365)
        aim = toward(dem, hill, row, col)
        assert atlas.azimuth_deg[row, col] == pytest.approx(aim.azimuth_deg, abs=1e-3)


def check_line(dem: Dem, hill: Hill, *, count: int, seed: int, median_deg: float) -> None:
    """Before and behind, against the twin's walk along the same line."""
    atlas, own = backlight_atlas(dem, hill, 2025), hill_ground(dem, hill)
    rows, cols = np.nonzero(atlas.sees & (atlas.distance_m > 5.0 * dem.cell_m))
    chosen = np.random.default_rng(seed).choice(rows.size, min(count, rows.size), replace=False)
    stature, isolation, wrong, decided = [], [], [], 0
    for row, col in zip(rows[chosen], cols[chosen], strict=True):
        before, behind, mine = before_and_behind(dem, own, hill, int(row), int(col))
        top = float(atlas.altitude_deg[row, col])
        if (clear_deg := abs(behind - max(top, mine))) > 0.1:
            decided += 1
            if atlas.on_skyline[row, col] != (behind < max(top, mine)):
                wrong.append((clear_deg, row, col, top, behind))
        stature.append(float(atlas.stature_deg[row, col]) - (top - before))
        isolation.append(float(atlas.isolation_deg[row, col]) - (top - behind))
    assert decided > 0.5 * len(stature)
    # the lines of a sweep are not those of each cell: of a few hundred none, of more one in 200
    assert len(wrong) <= 0.005 * decided, wrong
    assert max(wrong, default=(0.0,))[0] < 0.2, wrong
    for misses in (stature, isolation):
        known = np.abs([miss for miss in misses if np.isfinite(miss)])
        assert np.median(known) < median_deg
        assert np.percentile(known, 90) < 20.0 * median_deg


def test_before_and_behind_are_those_of_a_walk_along_the_line(jacksboro: Dem) -> None:
    tops = [(36.6349, -84.1912), (36.5117, -84.2300)]
    for lat, lon in tops:
        hill = hill_at(jacksboro, lon, lat)
        check_line(jacksboro, hill, count=1000, seed=5, median_deg=0.01)


@pytest.mark.parametrize("rough", [0, 1])
def test_before_and_behind_hold_on_rough_made_up_ground(make_dem: MakeDem, rough: int) -> None:
    rng = np.random.default_rng(rough)
    size = 120
    rows, cols = np.mgrid[:size, :size]
    ground = np.zeros((size, size))
    for wave in (60.0, 31.0, 17.0, 9.0):
        turn, phase = rng.uniform(0, 2 * np.pi, 2)
        ground += wave * np.sin((rows * np.cos(turn) + cols * np.sin(turn)) * 6.0 / wave + phase)
    dem = make_dem(3.0 * ground, 100.0)
    inner = dem.heights_m[40:80, 40:80]
    row, col = np.unravel_index(int(np.argmax(inner)), inner.shape)
    lon, lat = (float(part) for part in dem.grid.lonlat(row + 40, col + 40))
    check_line(dem, hill_at(dem, lon, lat), count=100, seed=rough, median_deg=0.02)


def test_a_lone_cone_stands_on_the_skyline_wherever_it_is_seen(make_dem: MakeDem) -> None:
    dem = cone(make_dem)
    atlas = backlight_atlas(dem, summit_of(dem), 2025)
    assert atlas.sees.mean() > 0.99
    away = atlas.distance_m > 1.0
    assert (atlas.on_skyline == (atlas.sees & away))[away].all()
    assert np.isnan(atlas.isolation_deg).all()  # the plain is the cone's own ground


@pytest.mark.parametrize("wall_m", [260.0, 700.0])
def test_a_wall_behind_takes_the_skyline_where_the_closed_form_says(
    make_dem: MakeDem, wall_m: float
) -> None:
    size, cell_m, wall_col = 121, 100.0, 75
    rows, cols = np.mgrid[:size, :size]
    ground = np.maximum(500.0 - 60.0 * np.hypot(rows - 60, cols - 60), 0.0)
    ground[:, wall_col] = wall_m
    dem = make_dem(ground, cell_m)
    lon, lat = (float(part) for part in dem.grid.lonlat(60, 60))
    hill = Hill(lon_deg=lon, lat_deg=lat, height_m=500.0)
    atlas = backlight_atlas(dem, hill, 2025)
    # along the line through the summit: d from the cell to it, x from it on to the wall
    d = np.hypot(rows - 60, cols - 60) * cell_m
    with np.errstate(divide="ignore", invalid="ignore"):
        x = (wall_col - 60) / (60.0 - cols) * d
        at_wall = 60 + (wall_col - 60) / (60.0 - cols) * (60.0 - rows)
        eye = ground + 1.7
        summit = (500.0 - eye) / d - BEND * d
        wall = (wall_m - eye) / (d + x) - BEND * (d + x)
    asked = (cols < 58) & (d > 500.0) & (at_wall > 0) & (at_wall < size - 1) & (ground == 0.0)
    clear = asked & (np.abs(np.degrees(wall - summit)) > 0.002)
    assert (atlas.on_skyline[clear] == (wall < summit)[clear]).all()
    share = float((wall < summit)[clear].mean())
    assert share == 1.0 if wall_m < 300.0 else 0.02 < share < 0.98
    isolation = np.degrees(np.arctan(summit) - np.arctan(wall))
    np.testing.assert_allclose(atlas.isolation_deg[clear], isolation[clear], atol=0.01)


def test_a_wall_before_gives_the_stature_of_the_closed_form(make_dem: MakeDem) -> None:
    size, cell_m, wall_col = 101, 100.0, 30
    rows, cols = np.mgrid[:size, :size]
    ground = np.maximum(500.0 - 60.0 * np.hypot(rows - 50, cols - 50), 0.0)
    ground[:, wall_col] = 50.0
    dem = make_dem(ground, cell_m)
    lon, lat = (float(part) for part in dem.grid.lonlat(50, 50))
    atlas = backlight_atlas(dem, Hill(lon_deg=lon, lat_deg=lat, height_m=500.0), 2025)
    for col in (2, 10, 20):
        to_wall, to_top = (30 - col) * cell_m, (50 - col) * cell_m
        wall = (50.0 - 1.7) / to_wall - BEND * to_wall
        top = (500.0 - 1.7) / to_top - BEND * to_top
        stature = math.degrees(math.atan(top) - math.atan(wall))
        assert atlas.stature_deg[50, col] == pytest.approx(stature, abs=2e-3)
    assert np.isnan(atlas.stature_deg[50, 40])  # between wall and hill all ground is the hill's


@pytest.mark.parametrize("turns", range(4))
@pytest.mark.parametrize("beyond", [20.0, 40.3])
def test_beyond_the_raster_the_ground_of_its_edge_goes_on(
    make_dem: MakeDem, turns: int, beyond: float
) -> None:
    """A wall on one edge is not read for what lies beyond the opposite one, turned to any side.

    The summit is in the middle, or in the outer half of a cell of the edge opposite the wall.
    """
    size, row, col = 41, 20.0, beyond
    ground = np.zeros((size, size))
    ground[:, 0] = 400.0
    for _ in range(turns):
        row, col = size - 1 - col, row
    rows, cols = np.mgrid[:size, :size]
    away = np.hypot(rows - row, cols - col)
    own = away < 4.0
    dem = make_dem(np.rot90(ground, turns), 100.0)
    lon, lat = (float(part) for part in dem.grid.lonlat(row, col))
    hill = Hill(lon_deg=lon, lat_deg=lat, height_m=600.0, name="Peak")
    scene = scene_with(dem, hill, own)
    asked = (away > 8.0) & (np.rot90(ground, turns) == 0.0)
    on_skyline, stature_deg, isolation_deg = _before_and_behind(scene, asked, 1.7)
    for at_row, at_col in zip(*np.nonzero(asked), strict=True):
        top = toward(dem, hill, int(at_row), int(at_col)).altitude_deg
        # all the ground before it is level, and hardly below the eye
        assert stature_deg[at_row, at_col] == pytest.approx(top, abs=1.0)
        _, behind, _ = before_and_behind(dem, own, hill, int(at_row), int(at_col))
        if beyond < size - 1 and np.isfinite(behind) and abs(top - behind) > 1.0:
            assert isolation_deg[at_row, at_col] == pytest.approx(top - behind, abs=1.0)
            assert on_skyline[at_row, at_col] == (behind < top)


RUGGED = st.builds(
    lambda seed, holes: (np.random.default_rng(seed), holes),
    st.integers(0, 2**32 - 1),
    st.sampled_from([0.0, 0.1]),
)


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(RUGGED, st.integers(5, 23), st.integers(5, 23))
def test_on_any_ground_the_atlas_keeps_its_own_rules(
    make_dem: MakeDem, drawn: tuple[np.random.Generator, float], rows: int, cols: int
) -> None:
    rng, holes = drawn
    ground = rng.uniform(0.0, 300.0, (rows, cols)).astype(np.float32)
    ground[rng.random(ground.shape) < holes] = np.nan
    row, col = int(rng.integers(0, rows)), int(rng.integers(0, cols))
    ground[row, col] = 400.0
    dem = make_dem(ground, 90.0)
    atlas = backlight_atlas(dem, summit_of(dem), 2025, tolerance_deg=1.0)
    assert not (atlas.sees & np.isnan(ground)).any()
    assert not (atlas.on_skyline & ~atlas.sees).any()
    assert not (atlas.has_days & ~atlas.sees).any()
    for day, days in (
        (atlas.north_day, atlas.north_spell_days),
        (atlas.south_day, atlas.south_spell_days),
    ):
        known = ~np.isnan(day)
        assert (known == ~np.isnan(days)).all()
        assert ((day[known] >= 1) & (day[known] <= 365) & (days[known] >= 1)).all()
        assert (day[known] % 1.0 == 0.0).all()
    # other ground that rises behind a summit never puts it on the skyline
    raised = np.where(hill_ground(dem, atlas.hill), ground, ground + np.float32(40.0))
    higher = backlight_atlas(make_dem(raised, 90.0), atlas.hill, 2025)
    both = higher.sees & atlas.sees & ~np.isnan(atlas.isolation_deg)
    same_own = (
        hill_ground(make_dem(raised, 90.0), atlas.hill) == hill_ground(dem, atlas.hill)
    ).all()
    if same_own:
        eye_same = both & hill_ground(dem, atlas.hill)
        assert (higher.isolation_deg[eye_same] <= atlas.isolation_deg[eye_same] + 1e-3).all()


@pytest.mark.parametrize(("row", "col"), [(0, 0), (0, 9), (14, 19), (7, 0)])
def test_a_summit_on_the_edge_or_in_a_corner(make_dem: MakeDem, row: int, col: int) -> None:
    ground = np.random.default_rng(1).uniform(0.0, 20.0, (15, 20))
    ground[row, col] = 300.0
    dem = make_dem(ground, 100.0)
    atlas = backlight_atlas(dem, summit_of(dem), 2025)
    assert atlas.sees.mean() > 0.8
    assert atlas.on_skyline[atlas.sees & (atlas.distance_m > 1.0)].all()


@pytest.mark.parametrize("shape", [(1, 12), (12, 1)])
def test_a_raster_of_one_row_or_one_column(make_dem: MakeDem, shape: tuple[int, int]) -> None:
    ground = np.zeros(shape)
    ground.flat[8] = 200.0
    ground.flat[3] = 90.0
    dem = make_dem(ground, 100.0)
    atlas = backlight_atlas(dem, summit_of(dem), 2025)
    assert not atlas.sees.flat[1]
    assert atlas.sees.flat[5]
    assert atlas.on_skyline.flat[5]


def test_the_evening_is_the_morning_in_a_mirror(make_dem: MakeDem) -> None:
    rng = np.random.default_rng(8)
    ground = rng.uniform(0.0, 60.0, (61, 61))
    ground[30, 30] = 800.0
    plain, mirrored = (make_dem(z, 120.0, lon=0.0) for z in (ground, ground[:, ::-1]))
    morning = backlight_atlas(plain, summit_of(plain), 2025)
    evening = backlight_atlas(mirrored, summit_of(mirrored), 2025, evening=True)
    both = morning.on_skyline & evening.on_skyline[:, ::-1]
    assert both.sum() > 500
    for name in ("north_day", "south_day"):
        early, late = getattr(morning, name)[both], getattr(evening, name)[:, ::-1][both]
        shift = np.abs((late - early + 182.0) % 365.0 - 182.0)
        assert np.nanmax(shift) <= 2.0
        assert (np.isnan(early) != np.isnan(late)).mean() < 0.02


def test_mist_hides_what_lies_under_it_and_stands_behind(make_dem: MakeDem) -> None:
    size = 101
    rows, cols = np.mgrid[:size, :size] - 50
    ground = np.maximum(500.0 - 12.0 * np.hypot(rows, cols), 20.0)
    ground[45:56, 5:12] = 300.0
    dem = make_dem(ground, 50.0)
    hill = summit_of(dem)
    mist = level_mist(dem, 250.0)
    atlas = backlight_atlas(dem, hill, 2025, mist=mist)
    assert not (atlas.sees & mist.covers).any()
    assert atlas.has_days[50, 8]
    lon, lat = (float(part) for part in dem.grid.lonlat(50, 8))
    drowned = Hill(lon_deg=lon, lat_deg=lat, height_m=300.0)
    with pytest.raises(NoAnswer, match="under the mist"):
        backlight_atlas(dem, drowned, 2025, mist=level_mist(dem, 350.0))


def test_the_window_about_a_hill_grows_with_the_hill(make_dem: MakeDem) -> None:
    dem = cone(make_dem, size=201, cell_m=200.0)  # 40 km across, all of it the cone's own
    assert Scene(Country(dem), summit_of(dem)).own_ground.all()


def test_an_atlas_is_read_only_and_names_its_bands(make_dem: MakeDem) -> None:
    dem = cone(make_dem, size=41)
    atlas = backlight_atlas(dem, summit_of(dem), 2025)
    with pytest.raises(ValueError, match="read-only"):
        atlas.north_day[0, 0] = 1.0
    bands = atlas.bands()
    assert len(bands) == 13
    assert all(values.shape == dem.shape for values in bands.values())
    assert any("day of 2025" in name for name in bands)


def test_areas_are_counted_in_cells(make_dem: MakeDem) -> None:
    dem = cone(make_dem, size=41)
    atlas = backlight_atlas(dem, summit_of(dem), 2025)
    cell_km2 = dem.cell_m**2 / 1e6
    areas = atlas.areas_km2()
    assert areas["sees_km2"] == pytest.approx(np.count_nonzero(atlas.sees) * cell_km2)
    assert areas["on_skyline_km2"] == pytest.approx(np.count_nonzero(atlas.on_skyline) * cell_km2)
    days = np.isfinite(atlas.north_day) | np.isfinite(atlas.south_day)
    assert areas["backlit_km2"] == pytest.approx(np.count_nonzero(days) * cell_km2)
    assert 0.0 < areas["backlit_km2"] < areas["sees_km2"]


def test_what_makes_no_sense_is_refused(make_dem: MakeDem) -> None:
    dem = cone(make_dem, size=41)
    hill = summit_of(dem)
    with pytest.raises(TerrainError, match="tolerance must be above 0"):
        backlight_atlas(dem, hill, 2025, tolerance_deg=0.0)
    with pytest.raises(TerrainError, match="1900 to 2199, got 2300"):
        backlight_atlas(dem, hill, 2300)
    with pytest.raises(TerrainError, match="eye height of -1"):
        backlight_atlas(dem, hill, 2025, eye_m=-1.0)
    with pytest.raises(NoGround, match="no ground at 10"):
        backlight_atlas(dem, Hill(lon_deg=0.0, lat_deg=10.0, height_m=9.0), 2025)


@pytest.mark.parametrize("evening", [False, True])
def test_days_near_a_view_are_those_of_the_twin(make_dem: MakeDem, evening: bool) -> None:
    for lat, lon, zone in ((54.4, -24.0, "Etc/GMT+2"), (-41.3, 172.6, "Pacific/Auckland")):
        dem = cone(make_dem, lat=lat, lon=lon)
        scene = Scene(Country(dem), summit_of(dem))
        for row, col in ((45, 20), (45, 70), (60, 30), (60, 60)):
            place = (float(part) for part in dem.grid.lonlat(row, col))
            view = look(scene, Spot(**dict(zip(("lon_deg", "lat_deg"), place, strict=True))))
            aim = toward(dem, scene.hill, row, col)
            away = passes_deg(aim, 2025, zone, evening=evening)
            days = {day.timetuple().tm_yday for day in days_near(view, 2025, 1.0, evening=evening)}
            surely, perhaps = (
                {day for day, (near, _) in away.items() if near <= 1.0 + edge}
                for edge in (-EDGE_DEG, EDGE_DEG)
            )
            assert surely <= days <= perhaps


@pytest.mark.parametrize("evening", [False, True])
def test_a_full_look_confirms_what_the_atlas_promises(jacksboro: Dem, evening: bool) -> None:
    hill = hill_at(jacksboro, -84.2300, 36.5117)
    atlas = backlight_atlas(jacksboro, hill, 2026, evening=evening)
    tall = atlas.has_days & (atlas.stature_deg > 0.1)
    rows, cols = np.nonzero(tall & (atlas.distance_m > 2000.0))
    chosen = np.random.default_rng(9).choice(rows.size, 6, replace=False)
    table = confirmed(atlas, jacksboro, rows[chosen], cols[chosen])
    assert table["sees"].all()
    held = table[table["held_days"] > 0]
    assert len(held) >= 5
    assert (np.abs(held["held_days"] - held["promised_days"]) <= 3).all()
    assert (held["away_deg"] <= atlas.tolerance_deg).all()
    for _, cell in held.iterrows():
        best = cell["best_day"].timetuple().tm_yday
        given = [day for day, _ in spells_at(atlas, cell["row"], cell["col"])]
        assert min(abs(best - day) for day in given) <= 1


def test_the_vantages_of_a_year_hold_when_looked_at_again(jacksboro: Dem) -> None:
    from terrain.ground.places import Spot
    from terrain.view.backlight import check_backlight

    hill = hill_at(jacksboro, -84.2300, 36.5117)
    table = find_vantages(jacksboro, hill, year=2026, count=3)
    assert 1 <= len(table) <= 3
    assert (np.diff(table["score"]) <= 0.0).all()
    for _, row in table.iterrows():
        spot = Spot(lon_deg=row["lon_deg"], lat_deg=row["lat_deg"])
        again = check_backlight(jacksboro, spot, hill, row["day"])
        assert again.within(1.0)
        assert again.best.which == row["best"]
        assert row["day"].isoformat()[:4] == "2026"
        assert row["spell_days"] >= 1
        assert row["days"]
        assert row["appears"].date() == row["day"]


def test_a_hill_that_nothing_sees_before_the_sun_has_no_vantages(make_dem: MakeDem) -> None:
    ground = np.zeros((11, 81))
    ground[5, 0] = 300.0  # the sun rises in the east, and west of it there is no room
    with pytest.raises(NoAnswer, match="on any day of 2026"):
        find_vantages(make_dem(ground, 100.0), summit_of(make_dem(ground, 100.0)), year=2026)


def test_days_are_drawn_together() -> None:
    assert as_ranges([]) == ""
    week = [dt.date(2025, 2, 26) + dt.timedelta(days=n) for n in range(7)]
    assert as_ranges([*week, dt.date(2025, 9, 8)]) == "2025-02-26..2025-03-04, 2025-09-08"


def test_the_quick_declination_is_that_of_the_equinox() -> None:
    """The Astronomical Applications Department (USNO): 2026 March 20, 14:46 UT.

    The declination then grows by 23.7 minutes of arc a day, as at every March equinox.
    """
    cells = pd.DataFrame({"lon_deg": [0.0, 0.0], "day_of_year": [79.0, 80.0]})
    before_h = np.array([14.0 + 46.0 / 60.0 - 6.0, 14.0 + 46.0 / 60.0 - 30.0])
    assert _declination_deg(2026, cells, 6.0) == pytest.approx(
        -23.7 / 60.0 * before_h / 24.0, abs=0.003
    )


def test_of_each_block_of_cells_the_first_is_kept() -> None:
    rng = np.random.default_rng(3)
    ranked = pd.DataFrame(rng.integers(0, 20, (60, 2)), columns=["row", "col"])
    met: set[tuple[int, int]] = set()
    first = []
    for at, (row, col) in enumerate(ranked.to_numpy().tolist()):
        block = row - row % 4, col - col % 4
        if block not in met:
            met.add(block)
            first.append(at)
    assert list(_best_of_blocks(ranked, 4).index) == first
    assert len(first) < len(ranked)
