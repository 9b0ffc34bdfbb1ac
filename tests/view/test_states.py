"""How the sun stands to a hill, against a disc of points laid over an outline that is a formula."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from terrain.country import Country
from terrain.ground.dem import Dem
from terrain.ground.geodesy import destination
from terrain.ground.places import Spot
from terrain.ground.relief.summits import hill_at
from terrain.mist.level import level_mist
from terrain.sun.path import SunPath
from terrain.sun.position import sun_position
from terrain.sun.refraction import refract, standard_pressure_hpa
from terrain.view.backlight import backlight
from terrain.view.facing import Facing, SunPose
from terrain.view.look import View, look
from terrain.view.scene import Scene
from terrain.view.states import best_pose, sun_spells, sun_stand
from tests.conftest import MakeDem
from tests.scenes import Floats, cone, ring, scene_with

SIZE, AWAY_M, PLAIN_DEG, SUMMIT_DEG = 161, 3000.0, 0.5, 3.0
LEFT_DEG, RIGHT_DEG = -2.0, 6.0
MADE_TO_S = 3.0


def outline_deg(aside_deg: Floats) -> Floats:
    """A hill that is steep on the left and easy on the right, on a level skyline."""
    steep = (aside_deg - LEFT_DEG) / -LEFT_DEG
    easy = (RIGHT_DEG - aside_deg) / RIGHT_DEG
    return PLAIN_DEG + (SUMMIT_DEG - PLAIN_DEG) * np.clip(np.minimum(steep, easy), 0.0, 1.0)


def made(make_dem: MakeDem, toward_deg: float) -> tuple[Scene, View]:
    """A view of a hill whose outline is that formula, about an azimuth."""
    dem = make_dem(cone(SIZE, (80, 80), 200.0, 0.4))
    hill = hill_at(dem, *map(float, dem.grid.lonlat(80, 80)))
    lon, lat = destination(hill.lon_deg, hill.lat_deg, toward_deg + 180.0, AWAY_M)
    row, col = np.mgrid[:SIZE, :SIZE]
    scene = scene_with(dem, hill, np.hypot(row - 80, col - 80) < 16)
    view = look(scene, Spot(lon_deg=float(lon), lat_deg=float(lat)))
    sky = ring(
        lambda azimuth: outline_deg(np.mod(azimuth - view.azimuth_deg + 180.0, 360.0) - 180.0),
        lon_deg=float(lon),
        lat_deg=float(lat),
        step_deg=0.01,
    )
    aside = np.mod(sky.azimuth_deg - view.azimuth_deg + 180.0, 360.0) - 180.0
    own = (aside >= LEFT_DEG) & (aside <= RIGHT_DEG)
    sky = replace(sky, distance_m=np.where(own, AWAY_M, 30_000.0))
    # the hill's own ground must be under the far ends of its outline too
    return scene_with(dem, hill, near(dem, view)), replace(
        view, skyline=sky, altitude_deg=SUMMIT_DEG
    )


def near(dem: Dem, view: View) -> np.ndarray:
    """Cells that lie between 2.5 and 3.5 km from the spot of a view."""
    row, col = dem.grid.rowcol(view.spot.lon_deg, view.spot.lat_deg)
    rows, cols = np.mgrid[:SIZE, :SIZE]
    away_m = np.hypot(rows - float(row), cols - float(col)) * dem.cell_m
    return (away_m > 2500.0) & (away_m < 3500.0)


DISC = np.stack(np.meshgrid(*[np.linspace(-1.0, 1.0, 81)] * 2))
DISC = DISC[:, np.hypot(*DISC) <= 1.0]


def slow_states(view: View, moments: list[dt.datetime], within_deg: float = 1.0) -> list[str]:
    """Whether points of the disc are seen over the outline, and points of it under it are not."""
    spot, eye_m = view.spot, view.skyline.eye_height_m
    sun = sun_position(moments, lon_deg=spot.lon_deg, lat_deg=spot.lat_deg, height_m=eye_m)
    half = float(sun.semidiameter_deg[0])
    middle, pressure = sun.azimuth_deg - view.azimuth_deg, standard_pressure_hpa(eye_m)
    centre = refract(sun.altitude_deg, pressure_hpa=pressure)
    states = []
    for aside, true, seen in zip(middle, sun.altitude_deg, centre, strict=True):
        level = np.cos(np.radians(seen))
        across, over = _over_outline(aside, true, half, pressure, level)
        own = (across >= LEFT_DEG) & (across <= RIGHT_DEG)
        if over.any():
            is_over = LEFT_DEG <= aside <= RIGHT_DEG
            free = SunPose.OVER if is_over else SunPose.ELSEWHERE
            states.append(SunPose.RIM if (own & ~over).any() else free)
            continue
        along = np.linspace(LEFT_DEG, RIGHT_DEG, 8001)
        apart = np.hypot((along - aside) * level, outline_deg(along) - seen).min() - half
        is_hidden = own.all() and apart <= within_deg
        states.append(SunPose.HIDDEN if is_hidden else SunPose.ELSEWHERE)
    return states


def _over_outline(
    aside: float, true: float, half: float, pressure: Floats, level: float
) -> tuple[Floats, np.ndarray]:
    """Where the points of a disc are, from the summit, and whether each is over the outline."""
    across = aside + half * DISC[0] / level
    return across, refract(true + half * DISC[1], pressure_hpa=pressure) > outline_deg(across)


# from days on which the sun comes up to the left of the hill to such on which it does behind it
@pytest.mark.parametrize("toward_deg", [84.5, 88.0, 90.0, 91.5, 92.5, 94.0])
def test_states_as_a_disc_of_points_has_them(make_dem: MakeDem, toward_deg: float) -> None:
    scene, view = made(make_dem, toward_deg)
    path = view.sun_on(dt.date(2026, 3, 20))
    begin = dt.datetime(2026, 3, 20, 7, 20, tzinfo=dt.UTC)
    moments = [begin + dt.timedelta(seconds=20 * number) for number in range(200)]
    slow = slow_states(view, moments)
    seconds = np.array([path.seconds(moment) for moment in moments])
    found = Facing(scene=scene, view=view, path=path, within_deg=1.0).at(seconds)
    assert len(set(slow)) > 2
    for number, moment in enumerate(moments):
        if found.state[number] != slow[number]:
            # only where it changes within seconds
            around = [moment + dt.timedelta(seconds=each) for each in (-MADE_TO_S, MADE_TO_S)]
            assert found.state[number] in slow_states(view, around)
    azimuth, altitude = path.at(seconds)
    aside = (azimuth - view.azimuth_deg) * np.cos(np.radians(altitude))
    assert found.aside_deg == pytest.approx(aside)
    assert found.above_deg == pytest.approx(altitude - SUMMIT_DEG)


@pytest.mark.parametrize("toward_deg", [90.0, 92.5])
def test_spells_begin_and_end_where_the_state_changes(make_dem: MakeDem, toward_deg: float) -> None:
    scene, view = made(make_dem, toward_deg)
    path = view.sun_on(dt.date(2026, 3, 20))
    spells = sun_spells(scene, view, path, up_to_deg=8.0)
    begin = dt.datetime(2026, 3, 20, 7, 30, tzinfo=dt.UTC)
    moments = [begin + dt.timedelta(seconds=2 * number) for number in range(2400)]
    slow = [
        (after, moment)
        for (before, after), moment in zip(
            pairwise(slow_states(view, moments)), moments[1:], strict=True
        )
        if before != after != SunPose.ELSEWHERE
    ]
    assert len(spells) >= 3
    assert [spell.state for spell in spells] == [state for state, _ in slow]
    for spell, (_, expected) in zip(spells, slow, strict=True):
        assert abs(spell.start - expected) <= dt.timedelta(seconds=MADE_TO_S)
        assert spell.start <= spell.nearest.at <= spell.end
        nearest = sun_stand(scene, view, path, spell.nearest.at)
        assert (nearest.state, nearest.at) == (spell.state, spell.nearest.at)
        middle = spell.start + 0.5 * (spell.end - spell.start)
        assert sun_stand(scene, view, path, middle).state == spell.state


class Back(SunPath):
    """A day from its end back to its beginning, as an evening is a morning in time reversed."""

    def true_at(self, t_s: object) -> tuple[Floats, Floats]:
        return super().true_at(self.length_s - np.asarray(t_s))

    def time(self, t_s: float) -> dt.datetime:
        return super().time(self.length_s - t_s)

    def seconds(self, moment: dt.datetime) -> float:
        return self.length_s - super().seconds(moment)


def test_an_evening_is_told_by_the_clock(make_dem: MakeDem) -> None:
    scene, view = made(make_dem, 266.0)
    day = dt.date(2026, 3, 20)
    path = Back(**vars(view.sun_on(day)))
    spells = sun_spells(scene, view, path)
    assert len(spells) >= 2
    assert all(spell.start < spell.end for spell in spells)
    assert [spell.start for spell in spells] == sorted(spell.start for spell in spells)
    for spell in spells:
        assert spell.start.hour >= 16
        middle = spell.start + 0.5 * (spell.end - spell.start)
        assert slow_states(view, [middle]) == [spell.state]


def test_at_the_edge_of_a_showing_it_stands_as_within_it(make_dem: MakeDem) -> None:
    scene, view = made(make_dem, 90.0)
    answer = backlight(scene, view, dt.date(2026, 3, 20))
    facing = Facing(scene=scene, view=view, path=answer.sun_path)
    first_s = facing.path.seconds(answer.contact.appears)
    assert facing.poses([first_s - 0.9, first_s, first_s + 5.0]) == [SunPose.RIM] * 3
    assert facing.poses([first_s - 9.0]) == [SunPose.HIDDEN]
    at_best = facing.at([facing.path.seconds(answer.best.at) + 0.5]).state[0]
    assert best_pose(scene, answer) == at_best != SunPose.ELSEWHERE


def test_nearer_to_the_outline_counts_as_just_hidden_for_less(make_dem: MakeDem) -> None:
    scene, view = made(make_dem, 89.0)
    path = view.sun_on(dt.date(2026, 3, 20))
    lasts = []
    for within_deg in (0.2, 1.0, 2.0):
        spells = sun_spells(scene, view, path, within_deg=within_deg)
        hidden = [spell for spell in spells if spell.state == SunPose.HIDDEN]
        lasts.append(sum((spell.end - spell.start).total_seconds() for spell in hidden))
        middles = [spell.start + 0.5 * (spell.end - spell.start) for spell in hidden]
        assert set(slow_states(view, middles, within_deg)) <= {SunPose.HIDDEN}
    assert 0.0 <= lasts[0] < lasts[1] < lasts[2]


def below_skyline(make_dem: MakeDem, eye_m: float = 250.0) -> tuple[Scene, View]:
    """A cone in mist seen from above, and far behind it a wall over which the sun comes up."""
    heights = cone(241, (120, 70), 300.0, 0.9)
    heights[:, 220:] = 700.0
    heights[120, 20] = 101.0
    dem = make_dem(heights)
    hill = hill_at(dem, *map(float, dem.grid.lonlat(120, 70)))
    lon, lat = (float(part) for part in dem.grid.lonlat(120, 20))
    scene = Scene(Country(dem, mist=level_mist(dem, 100.0)), hill)
    return scene, look(scene, Spot(lon_deg=lon, lat_deg=lat, eye_m=eye_m))


@pytest.mark.parametrize("day", [dt.date(2026, 3, 24), dt.date(2026, 3, 28), dt.date(2026, 4, 2)])
def test_over_a_hill_below_the_skyline_the_sun_stands_over_ground_behind(
    make_dem: MakeDem, day: dt.date
) -> None:
    scene, view = below_skyline(make_dem)
    assert view.visible
    assert not view.on_skyline
    path = view.sun_on(day)
    (spell,) = sun_spells(scene, view, path)
    assert spell.state == SunPose.OVER
    # the cone is 222 m wide to either side on the shore, and nearest as wide as it looks there
    wide_m, away_m = (300.0 - 100.0) / 0.9, 2500.0
    half_deg = np.degrees(np.arcsin(wide_m / away_m))
    ends = [path.at(path.seconds(moment)) for moment in (spell.start, spell.end)]
    aside = [float(azimuth) - view.azimuth_deg for azimuth, _ in ends]
    assert aside[1] == pytest.approx(half_deg, abs=0.25) or float(ends[1][1]) > 5.95
    skyline_deg = float(view.skyline.at(view.azimuth_deg + aside[0]))
    rises = abs(float(ends[0][1]) - skyline_deg) < 0.3
    assert rises or aside[0] == pytest.approx(-half_deg, abs=0.25)
    assert spell.nearest.above_deg > view.under_skyline_deg - 0.3
    azimuth, altitude = path.at(path.seconds(spell.nearest.at))
    assert spell.nearest.above_deg == pytest.approx(float(altitude) - view.altitude_deg)
    assert abs(spell.nearest.aside_deg) <= abs(aside[0]) + 1e-6
    assert abs(float(azimuth) - view.azimuth_deg) == pytest.approx(
        abs(spell.nearest.aside_deg) / np.cos(np.radians(float(altitude)))
    )


def test_a_hidden_hill_has_no_sun_about_it(make_dem: MakeDem) -> None:
    scene, view = made(make_dem, 96.0)
    hidden = replace(view, visible=False, on_skyline=False)
    assert sun_spells(scene, hidden, hidden.sun_on(dt.date(2026, 3, 20))) == ()


def test_where_the_sun_stays_away_there_is_no_spell(make_dem: MakeDem) -> None:
    scene, view = made(make_dem, 350.0)
    assert sun_spells(scene, view, view.sun_on(dt.date(2026, 3, 20))) == ()
