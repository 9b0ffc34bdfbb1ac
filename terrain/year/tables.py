"""The sun's year as tables: on which days it is how far between its solstices, and the air."""

from __future__ import annotations

import datetime as dt
import math
from functools import lru_cache
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from terrain.arrays import Floats, sealed
from terrain.sun.calendar import calendar_year
from terrain.sun.position import declination_deg, equation_of_time_min, semidiameter_at
from terrain.sun.refraction import refraction_deg, standard_pressure_hpa
from terrain.year._days_kernels import EvenTable, Year

_KNOTS: Final = 721
_HOURS: Final = 6.0
_AIR_DEG: Final = (-6.0, 0.02)
_DENSITY_M: Final = (-1000.0, 100.0)
_FORMULA_HPA: Final = 1010.0  # of the air that `refraction_deg` stands for unless told otherwise


@lru_cache(maxsize=16)
def sun_year(year: int, zone: ZoneInfo) -> Year:
    """The tables of a calendar year, with dates by the clocks of a zone.

    Raises TerrainError for a year too far off for the earth's rotation to be known.

    >>> tables = sun_year(2025, ZoneInfo("UTC"))
    >>> float(np.degrees(np.arcsin(tables.bounds[2])).round(2))
    23.44
    >>> [float(leg[360].round()) for leg in (tables.north, tables.south)]  # the equinoxes
    [78.0, 265.0]
    """
    first, last = calendar_year(year)
    length = (last - first).days + 1
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
    going_north = (north >= december - length) & (north <= june)
    # of the end of the year, moved before its start, only what lies before the start
    going_north &= (np.arange(north.size) > sun_day.size) | (north < sun_day[0])
    going_south = (sun_day > june) & (sun_day < december)
    south = np.concatenate([[june], sun_day[going_south], [december]])
    falling = np.concatenate([[highest], sine[going_south], [-lowest]])
    unix_s = np.asarray((times - pd.Timestamp(0, tz="UTC")) / pd.Timedelta(seconds=1), dtype=float)
    limbs = np.interp([june, december], sun_day, semidiameter_at(unix_s))
    small, large = np.radians(limbs)
    bounds = [greatest, -lowest, highest, (small + large) / 2.0, (large - small) / 2.0 / greatest]
    clock = _clock(year, length, zone) - np.interp(np.arange(length) + 0.5, day, sun_day - day)
    lift, density = _air()
    return Year(
        bounds=sealed(np.array(bounds)),
        north=sealed(_by_way(north[going_north], rising[going_north] / greatest)),
        south=sealed(_by_way(south[::-1], falling[::-1] / greatest)),
        clock=sealed(clock),
        lift=lift,
        density=density,
    )


def sine_at(year: Year, sun_day: Floats) -> Floats:
    """Sine of the declination on days, from 0, in apparent solar time at Greenwich (any shape).

    Days beyond the year's ends are those at its other end.
    """
    angle = np.linspace(-0.5 * np.pi, 0.5 * np.pi, _KNOTS)
    day = np.concatenate([year.north, year.south[::-1]])
    around = year.north[0] + np.mod(sun_day - year.north[0], year.clock.size)
    return np.asarray(
        year.bounds[0] * np.sin(np.interp(around, day, np.append(angle, angle[::-1])))
    )


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


def _clock(year: int, length: int, zone: ZoneInfo) -> Floats:
    """How far the clocks are ahead of universal time at noon of each date, days."""
    noon = dt.datetime(year, 1, 1, 12, tzinfo=zone)
    offsets = [(noon + dt.timedelta(days=n)).utcoffset() for n in range(length)]
    return np.array([(offset or dt.timedelta()) / dt.timedelta(days=1) for offset in offsets])


def _air() -> tuple[EvenTable, EvenTable]:
    """Refraction by the altitude, and the density of the air by the height."""
    air_deg = np.arange(_AIR_DEG[0], 90.0 + _AIR_DEG[1] / 2.0, _AIR_DEG[1])
    lift = np.radians(refraction_deg(np.minimum(air_deg, 90.0)))
    density = standard_pressure_hpa(np.arange(_DENSITY_M[0], 11_001.0, _DENSITY_M[1]))
    return (
        EvenTable(sealed(lift), math.radians(_AIR_DEG[0]), math.radians(_AIR_DEG[1])),
        EvenTable(sealed(density / _FORMULA_HPA), *_DENSITY_M),
    )
