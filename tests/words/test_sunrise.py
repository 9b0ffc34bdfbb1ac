"""What is said of a morning or an evening on which the sun does more than come up or go once."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np

from terrain.country import Country
from terrain.ground.relief.summits import hill_at
from terrain.sun.twilight import twilight
from terrain.view.backlight import Backlight, backlight
from terrain.view.contact import sun_contact
from terrain.view.look import look
from terrain.view.scene import Scene
from terrain.words.clocks import clock_and_zone, hour_minute
from terrain.words.sunrise import sunrise_rows, warnings
from tests.conftest import MakeDem
from tests.scenes import cone, flat, ring
from tests.view.test_backlight import stand

MARCH = dt.date(2026, 3, 20)
ONE_DAY = dt.timedelta(days=1)

Rows = list[tuple[str, str]]


def over_a_wall(make_dem: MakeDem, level_deg: float, *, evening: bool = False) -> Backlight:
    """A morning over level ground of an altitude, with a wall to the right of it.

    evening: over the same in a mirror.
    """
    side, edge = (-1.0, 90.4) if evening else (1.0, 90.65)
    dem = make_dem(cone(161, (80, 80), 600.0, 0.4))
    hill = hill_at(dem, *map(float, dem.grid.lonlat(80, 80)))
    scene = Scene(Country(dem), hill)
    view = look(scene, stand(hill))
    wall = ring(lambda a: np.where((side * a) % 360.0 < edge, level_deg, 3.0))
    seen = replace(view, skyline=wall, azimuth_deg=(side * 94.0) % 360.0, altitude_deg=3.0)
    return backlight(scene, seen, MARCH, evening=evening)


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


def clock_of(said: str) -> dt.time:
    return dt.time.fromisoformat(said.split()[0])


def evening_rows(answer: Backlight, lon_deg: float = -24.0, lat_deg: float = 54.4) -> Rows:
    """What is said of an evening from the date to the place."""
    day = answer.contact.appears.date()
    light, then = (
        twilight(each, lon_deg=lon_deg, lat_deg=lat_deg) for each in (day, day + ONE_DAY)
    )
    rows = list(sunrise_rows(answer, day, light, 100.0, np.nan, then=then))
    return rows[1 : [what for what, _ in rows].index("at azimuth, altitude")]


def test_an_evening_goes_by_the_clock(make_dem: MakeDem) -> None:
    answer = over_a_wall(make_dem, 0.9, evening=True)
    long, last = answer.passage
    rows = evening_rows(answer)
    assert [what for what, _ in rows] == [
        "nearest to the summit",
        "hidden for a while",
        "comes out again",
        "nearest to the summit",
        "sun gone",
        "sunset over a level sea",
        "a lamp is needed after (civil dusk)",
        "last shapes (nautical dusk)",
        "last grey (astronomical dusk)",
        "sun touches the ground",
    ]
    clocks = [clock_of(said) for _, said in rows[:-1]]
    assert clocks == sorted(clocks)
    assert long.end == answer.contact.later[0].appears
    assert rows[1][1].startswith(hour_minute(long.end))
    assert rows[2][1].endswith(f", for {last.seconds / 60.0:.1f} min")
    # it shows a part of its disc at the last: the wall stands by it all the time
    assert (answer.contact.clears, rows[-1][1]) == (None, "-")


def test_a_last_flash_is_called_that(make_dem: MakeDem) -> None:
    answer = over_a_wall(make_dem, 1.1, evening=True)
    assert answer.passage[-1].is_flash
    said = dict(evening_rows(answer))["comes out again"]
    assert said.endswith(f", a last flash of {answer.passage[-1].seconds:.0f} s")


def test_dusk_after_midnight_follows_the_sunset(make_dem: MakeDem) -> None:
    """In western Norway in early July the clock is nearly two hours ahead of the sun."""
    lon, lat = 5.3, 60.4
    answer = over_a_wall(make_dem, 0.9, evening=True)
    sea = flat(0.0, lon_deg=lon, lat_deg=lat)
    high = replace(answer.view, skyline=sea)
    contact = sun_contact(sea, dt.date(2026, 7, 10), evening=True)
    rows = dict(evening_rows(replace(answer, view=high, contact=contact), lon, lat))
    next_day = twilight(dt.date(2026, 7, 11), lon_deg=lon, lat_deg=lat)
    assert next_day.civil_dusk is not None
    assert rows["a lamp is needed after (civil dusk)"] == clock_and_zone(next_day.civil_dusk)
    assert clock_of(rows["a lamp is needed after (civil dusk)"]).hour == 0
    assert clock_of(rows["sun touches the ground"]).hour == 22
    assert list(rows)[-3:-1] == [
        "a lamp is needed after (civil dusk)",
        "last shapes (nautical dusk)",
    ]


def test_cautions_of_an_evening(make_dem: MakeDem) -> None:
    dawn, dusk = (list(warnings(over_a_wall(make_dem, 0.9, evening=e))) for e in (False, True))
    assert "would delay the sun" in dawn[0]
    assert "would hide the sun sooner" in dusk[0]
    assert dusk[1].startswith("The walk back is in the dark")
    assert dawn[1:] == dusk[2:] == ["Never look at the sun through a lens or a viewfinder."]
