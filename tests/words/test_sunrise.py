"""What is said of a morning on which the sun does more than come up once."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np

from terrain.country import Country
from terrain.ground.relief.summits import hill_at
from terrain.sun.twilight import twilight
from terrain.view.backlight import Backlight, backlight
from terrain.view.look import look
from terrain.view.scene import Scene
from terrain.words.sunrise import sunrise_rows
from tests.conftest import MakeDem
from tests.scenes import cone, ring
from tests.view.test_backlight import stand

MARCH = dt.date(2026, 3, 20)


def over_a_wall(make_dem: MakeDem, level_deg: float) -> Backlight:
    """A morning over level ground of an altitude, with a wall to the right of it."""
    dem = make_dem(cone(161, (80, 80), 600.0, 0.4))
    hill = hill_at(dem, *map(float, dem.grid.lonlat(80, 80)))
    scene = Scene(Country(dem), hill)
    view = look(scene, stand(hill))
    wall = ring(lambda a: np.where(a < 90.65, level_deg, 3.0))
    seen = replace(view, skyline=wall, azimuth_deg=94.0, altitude_deg=3.0)
    return backlight(scene, seen, MARCH)


def told(answer: Backlight) -> list[tuple[str, str]]:
    light = twilight(MARCH, lon_deg=-24.0, lat_deg=54.4)
    rows = list(sunrise_rows(answer, MARCH, light, 100.0, np.nan))
    first = [what for what, _ in rows].index("sun clear of the ground") + 1
    return rows[first : [what for what, _ in rows].index("at azimuth, altitude")]


def test_a_first_flash_is_called_that_and_what_follows_stands_in_order(make_dem: MakeDem) -> None:
    answer = over_a_wall(make_dem, 1.01)
    flash, whole = answer.passage
    assert flash.is_flash
    rows = told(answer)
    assert [what for what, _ in rows] == [
        "hidden again",
        "nearest to the summit",
        "and appears again",
        "nearest to the summit",
    ]
    assert rows[0][1].endswith(f", a first flash of {flash.seconds:.0f} s")
    nearest = answer.nearest
    assert nearest is not None
    assert nearest == whole.nearest[0]
    assert rows[3][1].endswith(
        f", {nearest.apart_deg:.2f}° from its centre, {nearest.apart_widths:.1f} sun widths"
    )


def test_a_longer_showing_is_no_flash(make_dem: MakeDem) -> None:
    answer = over_a_wall(make_dem, 0.9)
    (_, hidden), *_ = told(answer)
    assert answer.passage[0].seconds > 90.0
    assert hidden.endswith(f", after {answer.passage[0].seconds / 60.0:.1f} min")


def test_a_summit_higher_than_the_span_is_within_it(make_dem: MakeDem) -> None:
    answer = over_a_wall(make_dem, 1.01)
    high = replace(answer, view=replace(answer.view, azimuth_deg=104.0, altitude_deg=9.0))
    assert high.nearest is not None
    assert high.nearest.sun_altitude_deg > 8.0
