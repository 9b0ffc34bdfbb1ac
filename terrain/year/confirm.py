"""What an atlas promises of a cell, held against the whole skyline and the sun's full position."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable
from dataclasses import replace
from itertools import chain, groupby
from typing import Final

import numpy as np

from terrain.arrays import Floats
from terrain.ground.geodesy import destination, drop_m, wrap_deg
from terrain.sun.calendar import Span, calendar_year
from terrain.sun.clock import local_zone
from terrain.sun.path import SunPath
from terrain.sun.refraction import refraction_deg, standard_pressure_hpa
from terrain.sun.triangle import azimuth_cosine, hour_angle
from terrain.view.look import View
from terrain.view.rims import Rims
from terrain.view.scene import Scene
from terrain.year._days_kernels import PARALLAX
from terrain.year.atlas import Atlas
from terrain.year.tables import sine_at, sun_year

_MORE_DEG: Final = 0.3  # the sun meets the ground beside the summit, not the summit's altitude


def promised_offsets_deg(atlas: Atlas, row: int, col: int) -> Floats:
    """How far from the summit the sun passes its altitude, on each date of the year, degrees.

    (days of the year,), positive to the right, by the formula of the atlas; NaN where the sun does
    not stand as high on its way up (in the evening down), and all NaN where the summit is not seen.
    """
    hill = atlas.hill
    tables = sun_year(atlas.year, local_zone(hill.lon_deg, hill.lat_deg))
    distance, altitude_deg = float(atlas.distance_m[row, col]), float(atlas.altitude_deg[row, col])
    lon_deg, lat_deg = (float(part) for part in atlas.grid.lonlat(row, col))
    lat, altitude = math.radians(lat_deg), math.radians(altitude_deg)
    eye = hill.height_m - distance * math.tan(altitude) - float(drop_m(distance, atlas.refraction))
    air = refraction_deg(altitude_deg, pressure_hpa=standard_pressure_hpa(eye))
    limb, limb_swing = (float(part) for part in tables.bounds[3:])
    day = np.arange(tables.clock.size)
    side = -1.0 if atlas.evening else 1.0
    # the declination of the moment hangs on the moment: twice round is enough
    share = np.full(day.size, 0.5 - side * 0.25 - lon_deg / 360.0)
    for _ in range(2):
        sine = sine_at(tables, day + share)
        true = altitude - math.radians(float(air)) - limb + limb_swing * sine
        true += PARALLAX * np.cos(true)
        cosine = azimuth_cosine(lat, true, sine)
        azimuth = np.arccos(np.where(np.abs(cosine) <= 1.0, cosine, np.nan))
        turned = 0.5 + side * hour_angle(lat, true, azimuth) / (2.0 * np.pi) - lon_deg / 360.0
        share = np.where(np.isnan(turned), share, turned)
    aside = wrap_deg(side * np.degrees(azimuth) - float(atlas.azimuth_deg[row, col]))
    found = np.full(day.size, np.nan)
    found[(day + np.floor(share + tables.clock).astype(int)) % day.size] = aside
    return found * math.cos(altitude)


def promised_days(
    atlas: Atlas, row: int, col: int, *, more_deg: float = _MORE_DEG
) -> list[dt.date]:
    """The dates on which the sun passes a cell's summit within the tolerance and `more_deg`."""
    start = dt.date(atlas.year, 1, 1)
    near = np.abs(promised_offsets_deg(atlas, row, col)) <= atlas.tolerance_deg + more_deg
    return [start + dt.timedelta(days=int(day)) for day in np.flatnonzero(near)]


def held_days(
    atlas: Atlas, scene: Scene, view: View, among: Span | None = None
) -> dict[dt.date, float]:
    """Those of the promised days on which the sun meets the hill's own ground near its summit.

    view: from a cell of the atlas over its scene. among: the first and the last of the days, of
    whatever years, in place of the atlas's own. From the day to the distance from the summit,
    degrees, positive to the right. None where the summit is not on the skyline of the view.
    """
    if not (view.visible and view.on_skyline):
        return {}
    cell = atlas.grid.cell_of(view.spot.lon_deg, view.spot.lat_deg)
    first, last = among or calendar_year(atlas.year)
    every = [replace(atlas, year=year) for year in range(first.year, last.year + 1)]
    promised = chain.from_iterable(promised_days(one, *cell) for one in every)
    days = [day for day in promised if first <= day <= last]
    paths = {day: view.sun_on(day, evening=atlas.evening) for day in days}
    offsets = {day: _offset_deg(scene, view, path) for day, path in paths.items()}
    return {day: aside for day, aside in offsets.items() if abs(aside) <= atlas.tolerance_deg}


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


def _offset_deg(scene: Scene, view: View, path: SunPath) -> float:
    """From the summit to where the sun first appears on a path; NaN beside the hill."""
    sky, spot = view.skyline, view.spot
    azimuth = Rims(skyline=sky, path=path).meeting_azimuth()
    if azimuth is None or not math.isfinite(float(sky.at(azimuth))):
        return math.nan
    distance_m = float(sky.distance_at(azimuth))
    if not scene.is_own(*destination(spot.lon_deg, spot.lat_deg, azimuth, distance_m)):
        return math.nan
    level = math.cos(math.radians(float(sky.at(azimuth))))
    return float(wrap_deg(azimuth - view.azimuth_deg)) * level
