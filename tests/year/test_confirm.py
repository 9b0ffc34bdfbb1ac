"""What an atlas promises of a cell, held against a full look: for the morning and the evening."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pandas as pd
import pytest

from terrain.country import Country
from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.view.backlight import backlight
from terrain.view.look import look
from terrain.view.passage import sun_passage
from terrain.view.scene import Scene
from terrain.year.atlas import backlight_atlas
from terrain.year.confirm import _comes_elsewhere, days_near, held_days
from tests.scenes import cone
from tests.year.confirmed import confirmed

MakeDem = Callable[..., Dem]

SIZE = 11


def all_confirmed(dem: Dem, *, evening: bool) -> pd.DataFrame:
    """Cells of every other row that a cone's atlas has days for, looked at in full; by place."""
    lon, lat = (float(part) for part in dem.grid.lonlat(SIZE // 2, SIZE // 2))
    hill = Hill(lon_deg=lon, lat_deg=lat, height_m=200.0, name="Cone")
    atlas = backlight_atlas(dem, hill, 2025, evening=evening, tolerance_deg=0.7)
    off_the_summit = atlas.has_days & (atlas.distance_m > dem.cell_m)
    off_the_summit[1::2] = False
    return confirmed(atlas, dem, *np.nonzero(off_the_summit)).set_index(["row", "col"])


def test_the_evening_is_confirmed_as_the_morning_is_in_a_mirror(make_dem: MakeDem) -> None:
    # the summit's own slope is the last ground before the edge, behind and beside it
    dem = make_dem(cone(SIZE, (SIZE // 2, SIZE // 2), 200.0, 0.5), 50.0, lon=0.0)
    morning, evening = (all_confirmed(dem, evening=late) for late in (False, True))
    assert len(morning) >= 15
    turned = evening.rename(index=lambda col: SIZE - 1 - col, level="col")
    both = morning.merge(turned, left_index=True, right_index=True, suffixes=("", "_late"))
    assert len(both) >= len(morning) - 2
    assert (both["held_days"] > 0).mean() > 0.2
    held, late = both["held_days"], both["held_days_late"]
    assert ((held > 0) == (late > 0)).mean() > 0.9
    assert (held - late).abs().max() <= 2
    assert (held - late).abs().mean() <= 0.6


def test_the_days_of_a_span_are_those_of_each_year_in_it(make_dem: MakeDem) -> None:
    """Whichever of the years the atlas is of."""
    dem = make_dem(cone(41, (20, 25), 200.0, 0.5), 50.0, lon=0.0)
    lon, lat = (float(part) for part in dem.grid.lonlat(20, 25))
    hill = Hill(lon_deg=lon, lat_deg=lat, height_m=200.0, name="Cone")
    scene = Scene(Country(dem), hill)
    both = [backlight_atlas(dem, hill, year, tolerance_deg=1.0) for year in (2027, 2028)]
    rows, cols = np.nonzero(both[0].has_days & both[1].has_days & (both[0].distance_m > 600.0))
    seen = set()
    for at in range(0, rows.size, rows.size // 2):
        lon, lat = (float(part) for part in dem.grid.lonlat(rows[at], cols[at]))
        view = look(scene, Spot(lon_deg=lon, lat_deg=lat))
        years = held_days(both[0], scene, view) | held_days(both[1], scene, view)
        span = dt.date(2027, 9, 1), dt.date(2028, 8, 31)
        expected = {day: aside for day, aside in years.items() if span[0] <= day <= span[1]}
        assert [held_days(atlas, scene, view, span) for atlas in both] == [expected] * 2
        seen |= {day.year for day in expected}
    assert seen == {2027, 2028}


def by_calendar(early: dt.date, late: dt.date) -> int:
    """From a date to one a year later, days by the calendar of a year with a 29 February."""
    numbers = [day.replace(year=2028).timetuple().tm_yday for day in (early, late)]
    aside = abs(numbers[1] - numbers[0])
    over_february = {numbers[0], numbers[1]} == {59, 61}  # neighbours where there is none
    return min(aside, 366 - aside) - over_february


def test_from_one_year_to_the_next_a_day_shifts_by_one_at_most(make_dem: MakeDem) -> None:
    dem = make_dem(cone(81, (40, 40), 200.0, 0.5), 50.0)
    lon, lat = (float(part) for part in dem.grid.lonlat(40, 40))
    hill = Hill(lon_deg=lon, lat_deg=lat, height_m=200.0, name="Cone")
    years = [backlight_atlas(dem, hill, year, tolerance_deg=1.0) for year in range(2026, 2031)]
    for before, after in pairwise(years):
        starts = [dt.date(atlas.year, 1, 1).toordinal() for atlas in (before, after)]
        for way in ("north_day", "south_day"):
            days = [getattr(atlas, way) for atlas in (before, after)]
            both = ~np.isnan(days[0] + days[1])
            assert both.mean() > 0.2
            early, late = (
                [dt.date.fromordinal(start - 1 + round(day)) for day in year[both].tolist()]
                for start, year in zip(starts, days, strict=True)
            )
            shift = np.array([by_calendar(*dates) for dates in zip(early, late, strict=True)])
            assert np.abs(shift).max() == 1


def test_where_higher_ground_stands_behind_the_days_are_those_of_the_sky_over_it(
    make_dem: MakeDem,
) -> None:
    """Not those of the lone cone, and full looks bear them out."""
    size = 41
    lone = cone(size, (20, 25), 200.0, 0.5)
    dem = make_dem(lone, 50.0, lon=0.0)
    walled = lone.copy()
    walled[:, 36:] = 900.0
    behind = make_dem(walled, 50.0, lon=0.0)
    lon, lat = (float(part) for part in dem.grid.lonlat(20, 25))
    hill = Hill(lon_deg=lon, lat_deg=lat, height_m=200.0, name="Cone")
    atlas = backlight_atlas(dem, hill, 2025)
    rows, cols = np.nonzero(atlas.has_days & (atlas.distance_m > 600.0))
    lon, lat = dem.grid.lonlat(rows[0], cols[0])
    spot = Spot(lon_deg=float(lon), lat_deg=float(lat))
    free, hidden = Scene(Country(dem), hill), Scene(Country(behind), hill)
    before = held_days(atlas, free, look(free, spot))
    view = look(hidden, spot)
    assert view.visible
    assert not view.on_skyline
    assert view.sky_from_deg > view.altitude_deg + 1.0
    held = held_days(atlas, hidden, view)
    assert before
    assert held
    assert set(before).isdisjoint(held)
    for day, away_deg in held.items():
        answer = backlight(hidden, view, day)
        assert answer.within(atlas.tolerance_deg)
        assert answer.best.away_deg <= away_deg + 1e-6


@pytest.mark.parametrize("evening", [False, True])
def test_held_days_are_those_of_a_full_look_at_each(make_dem: MakeDem, evening: bool) -> None:
    """Whatever is spared where the passage, or the first of the sun, tells enough."""
    ground = cone(41, (20, 20), 70.0, 0.2)
    ground[:8] += 20.0  # a step beside the hill that hides some of the sun's ways
    dem = make_dem(ground, 50.0, lon=0.0)
    lon, lat = (float(part) for part in dem.grid.lonlat(20, 20))
    hill = Hill(lon_deg=lon, lat_deg=lat, height_m=70.0, name="Cone")
    scene, within = Scene(Country(dem), hill), 0.3
    atlas = backlight_atlas(dem, hill, 2027, evening=evening, tolerance_deg=within)
    spared = aside = behind = 0
    for row, col in ((20, 38 if evening else 2), (12, 36 if evening else 4)):
        lon, lat = (float(part) for part in dem.grid.lonlat(row, col))
        view = look(scene, Spot(lon_deg=lon, lat_deg=lat))
        near = days_near(view, 2027, within + 0.1, evening=evening)
        full = {day: backlight(scene, view, day, evening=evening) for day in near}
        expected = {day: each.best.away_deg for day, each in full.items() if each.within(within)}
        for day, each in full.items():
            passage = sun_passage(view.skyline, day, evening=evening)
            elsewhere = _comes_elsewhere(view, passage, each.sun_path, within)
            assert not (elsewhere and each.first_within(within))
            aside += elsewhere
            behind += each.first_within(within)
        held = held_days(atlas, scene, view)
        assert held.keys() == expected.keys()
        assert all(expected[day] - 1e-6 <= held[day] <= within for day in held)
        spared += len(near) - len(held)
    assert min(spared, aside, behind) > 0
