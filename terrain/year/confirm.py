"""What an atlas promises of a cell, held against the whole skyline and the sun's full position."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Sequence
from itertools import chain, groupby
from typing import Final

import numpy as np

from terrain.errors import NoGround, NoSun
from terrain.ground.geodesy import wrap_deg
from terrain.sun.calendar import Span, calendar_year
from terrain.sun.clock import local_zone
from terrain.sun.path import SunPath, sun_paths
from terrain.view.look import View
from terrain.view.nearness import UP_TO_DEG, nearness
from terrain.view.passage import Showing, sun_passage
from terrain.view.rims import DARK_DEG
from terrain.view.scene import Scene
from terrain.year._days_kernels import passing
from terrain.year.atlas import Atlas
from terrain.year.tables import sine_at, sun_year

_MORE_DEG: Final = 0.1  # the sun may meet the ground beside the summit, and lower


def days_near(view: View, year: int, within_deg: float, *, evening: bool) -> list[dt.date]:
    """The dates on which the sun's way passes the summit of a view within so many degrees.

    As an atlas has it, and from where the view has the sky begin over the summit.
    """
    spot = view.spot
    tables = sun_year(year, local_zone(spot.lon_deg, spot.lat_deg))
    least, _, greatest, share = passing(
        math.radians(view.azimuth_deg),
        math.radians(view.sky_from_deg),
        view.skyline.eye_height_m,
        math.radians(spot.lat_deg),
        math.radians(spot.lon_deg),
        math.radians(within_deg),
        evening,
        tables,
    )
    day = np.arange(float(tables.clock.size))
    declination = np.arcsin(sine_at(tables, day + share))
    near = np.flatnonzero((least <= declination) & (declination <= greatest))
    dates = (near + np.floor(share + tables.clock[near]).astype(int)) % day.size
    return [dt.date(year, 1, 1) + dt.timedelta(days=int(n)) for n in np.sort(dates)]


def held_days(
    atlas: Atlas, scene: Scene, view: View, among: Span | None = None
) -> dict[dt.date, float]:
    """The days on which a full look finds the sun within the tolerance of an atlas.

    view: over its scene. among: the first and the last of the days, of whatever years, in place of
    the atlas's own. From the day to how near it comes, degrees. None where the view does not have
    the summit.
    """
    if not view.visible:
        return {}
    first, last = among or calendar_year(atlas.year)
    within, evening = atlas.tolerance_deg, atlas.evening
    years = range(first.year, last.year + 1)
    near = (days_near(view, year, within + _MORE_DEG, evening=evening) for year in years)
    days = [day for day in chain.from_iterable(near) if first <= day <= last]
    lon, lat, eye_m = view.spot.lon_deg, view.spot.lat_deg, view.skyline.eye_height_m
    sun_paths(days, lon_deg=lon, lat_deg=lat, height_m=eye_m, evening=evening)
    away = {day: _away_deg(atlas, scene, view, day) for day in days}
    return {day: away_deg for day, away_deg in away.items() if away_deg <= within}


def _away_deg(atlas: Atlas, scene: Scene, view: View, day: dt.date) -> float:
    """How near the sun comes, as `Backlight.within` has it; infinite where it does not.

    The contact, which costs twice the passage, is asked for where that alone does not tell.
    """
    within, evening = atlas.tolerance_deg, atlas.evening
    if view.sky_from_deg + within < UP_TO_DEG:
        toward = view.azimuth_deg, view.sky_from_deg
        passage = sun_passage(view.skyline, day, evening=evening, toward=toward)
        nearest = (each.apart_deg for showing in passage for each in showing.nearest)
        away_deg = min(nearest, default=math.inf)
        if away_deg <= within:
            return away_deg
        if _comes_elsewhere(view, passage, view.sun_on(day, evening=evening), within):
            return math.inf
    try:
        near = nearness(scene, view, day, evening=evening)
    except (NoSun, NoGround):
        return math.inf
    return near.best.away_deg if near.within(within) else math.inf


def _comes_elsewhere(
    view: View, passage: Sequence[Showing], path: SunPath, within_deg: float
) -> bool:
    """Whether the first of the sun is sure to appear farther aside of the summit than that.

    Where the day does not begin in the dark it may have appeared before the passage.
    """
    if not passage or float(path.true_at(0.0)[1]) > DARK_DEG:
        return False
    azimuth_deg, altitude_deg = passage[0].start_azimuth_deg, passage[0].start_altitude_deg
    if path.evening:
        azimuth_deg, altitude_deg = passage[-1].end_azimuth_deg, passage[-1].end_altitude_deg
    level = math.cos(math.radians(altitude_deg))
    return abs(float(wrap_deg(azimuth_deg - view.azimuth_deg))) * level > within_deg


def runs(days: Iterable[dt.date]) -> list[list[dt.date]]:
    """Days in order, neighbours drawn together."""
    # in an unbroken run a day and its number in the order rise together
    numbered = groupby(enumerate(sorted(days)), key=lambda pair: pair[1].toordinal() - pair[0])
    return [[day for _, day in run] for _, run in numbered]


def as_ranges(days: Iterable[dt.date]) -> str:
    """Days in order as text, neighbours drawn together.

    >>> as_ranges([dt.date(2025, 4, 3), dt.date(2025, 4, 4), dt.date(2025, 9, 8)])
    '2025-04-03..2025-04-04, 2025-09-08'
    """
    return ", ".join(f"{run[0]}..{run[-1]}" if len(run) > 1 else f"{run[0]}" for run in runs(days))
