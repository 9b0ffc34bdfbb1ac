"""The sun's year as tables: on which days it is how far between its solstices."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import lru_cache
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.arrays import frozen_arrays
from terrain.errors import TerrainError
from terrain.sun.position import declination_deg, equation_of_time_min, semidiameter_at

__all__ = ["SunYear", "days_in", "sun_year"]

Floats = NDArray[np.float64]

_FIRST_YEAR: Final = 1900
_LAST_YEAR: Final = 2199
_KNOTS: Final = 721
_HOURS: Final = 6.0


@dataclass(frozen=True, kw_only=True, eq=False)
@frozen_arrays()
class SunYear:
    """The declination of the sun through a calendar year, which is taken as a ring.

    year: the year; its last days count as those before its first where the sun is concerned.
    bounds: (5,) sine of the greatest declination either way, of the least and of the greatest;
        semi-diameter of the sun half way between, radians, and what it falls by for each unit of
        the sine (the sun is nearest in January, two weeks after the solstice, so that this is
        right to 0.001 degrees).
    north, south: (knots,) the day, from 0, in apparent solar time at Greenwich, on which the sine
        of the declination is the greatest times the sine of an angle that goes evenly from -90 to
        90 degrees; going north the days before the first of January are negative.
    clock: (days of the year,) what the local clock of that date is ahead of apparent solar time
        at Greenwich, in days.
    """

    year: int
    bounds: Floats
    north: Floats
    south: Floats
    clock: Floats

    def sine_at(self, sun_day: Floats) -> Floats:
        """Sine of the declination on days, from 0, in apparent solar time at Greenwich (any shape).

        Days beyond the year's ends are those at its other end.
        """
        angle = np.linspace(-0.5 * np.pi, 0.5 * np.pi, _KNOTS)
        day = np.concatenate([self.north, self.south[::-1]])
        around = self.north[0] + np.mod(sun_day - self.north[0], self.clock.size)
        return np.asarray(
            self.bounds[0] * np.sin(np.interp(around, day, np.append(angle, angle[::-1])))
        )


@lru_cache(maxsize=16)
def sun_year(year: int, zone: ZoneInfo) -> SunYear:
    """The tables of a calendar year, with dates by the clocks of a zone.

    Raises TerrainError for a year too far off for the earth's rotation to be known.

    >>> tables = sun_year(2025, ZoneInfo("UTC"))
    >>> float(np.degrees(np.arcsin(tables.bounds[2])).round(2))
    23.44
    >>> [float(leg[360].round()) for leg in (tables.north, tables.south)]  # the equinoxes
    [78.0, 265.0]
    """
    if not _FIRST_YEAR <= year <= _LAST_YEAR:
        raise TerrainError(f"the year must be {_FIRST_YEAR} to {_LAST_YEAR}, got {year}")
    length = days_in(year)
    start = pd.Timestamp(year, 1, 1, tz="UTC")
    times = start + pd.to_timedelta(np.arange(0.0, 24.0 * length + 1.0, _HOURS), unit="h")
    day = np.arange(times.size) * _HOURS / 24.0
    sine = np.sin(np.radians(declination_deg(times)))
    sun_day = day + equation_of_time_min(times) / 1440.0
    june, highest = _turning_point(sun_day, sine)
    december, lowest = _turning_point(sun_day, -sine)
    greatest = max(highest, lowest)
    north = np.concatenate([[december - length], sun_day - length, sun_day, [june]])
    rising = np.concatenate([[-lowest], sine, sine, [highest]])
    going_north = (north >= december - length) & (north <= june) & _once(north, sun_day)
    going_south = (sun_day > june) & (sun_day < december)
    south = np.concatenate([[june], sun_day[going_south], [december]])
    falling = np.concatenate([[highest], sine[going_south], [-lowest]])
    limbs = np.interp([june, december], sun_day, semidiameter_at(_unix_s(times)))
    small, large = np.radians(limbs)
    return SunYear(
        year=year,
        bounds=np.array(
            [greatest, -lowest, highest, (small + large) / 2.0, (large - small) / 2.0 / greatest]
        ),
        north=_by_way(north[going_north], rising[going_north] / greatest),
        south=_by_way(south[::-1], falling[::-1] / greatest),
        clock=_clock(year, zone) - np.interp(np.arange(length) + 0.5, day, sun_day - day),
    )


def days_in(year: int) -> int:
    """How many days a year has.

    >>> days_in(2024), days_in(2025)
    (366, 365)
    """
    return (dt.date(year + 1, 1, 1) - dt.date(year, 1, 1)).days


def _once(north: Floats, sun_day: Floats) -> NDArray[np.bool_]:
    """Which samples to keep where the end of the year, moved before its start, overlaps it."""
    moved = np.arange(north.size) <= sun_day.size
    return np.asarray(~(moved & (north >= sun_day[0])))


def _turning_point(sun_day: Floats, sine: Floats) -> tuple[float, float]:
    """When a curve is highest, and how high, by the parabola through the highest samples."""
    top = int(np.argmax(sine))
    before, at, after = sine[top - 1 : top + 2]
    aside = 0.5 * (before - after) / (before - 2.0 * at + after)
    moment = sun_day[top] + aside * (sun_day[top + 1] - sun_day[top])
    return float(moment), float(at - 0.25 * (before - after) * aside)


def _by_way(day: Floats, share: Floats) -> Floats:
    """Days at even steps of the angle whose sine is `share`, which rises but for rounding."""
    angle = np.maximum.accumulate(np.arcsin(np.clip(share, -1.0, 1.0)))
    return np.interp(np.linspace(-0.5 * np.pi, 0.5 * np.pi, _KNOTS), angle, day)


def _clock(year: int, zone: ZoneInfo) -> Floats:
    """How far the clocks are ahead of universal time at noon of each date, days."""
    noon = dt.datetime(year, 1, 1, 12, tzinfo=zone)
    offsets = [(noon + dt.timedelta(days=n)).utcoffset() for n in range(days_in(year))]
    return np.array([(offset or dt.timedelta()) / dt.timedelta(days=1) for offset in offsets])


def _unix_s(times: pd.DatetimeIndex) -> Floats:
    since = times - pd.Timestamp(0, tz="UTC")
    return np.asarray(since / pd.Timedelta(seconds=1), dtype=float)
