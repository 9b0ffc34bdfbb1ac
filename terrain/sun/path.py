"""The sun's way across the sky of a place during one local day, at any instant of it.

What is interpolated is the direction itself, as a unit vector, because it turns evenly whatever
the sun does: altitude and azimuth do not, where the sun passes near the zenith or the place is
near a pole::

          up |   o  direction = (east, north, up)
             |  /
             | /         altitude = atan2(up, hypot(east, north))
             |/_____ north
             /
            /  east      azimuth = atan2(east, north)

Cubic splines through samples minutes apart reproduce it to a millionth of a degree, which is as
even as the computed places themselves. Refraction is applied afterwards, exactly.

An evening is a morning in time reversed: its path begins at the end of the day and goes back, so
that on it too the sun comes up out of the ground, and whoever asks of a rise is told of the set.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Final, NamedTuple
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import ArrayLike
from scipy.interpolate import CubicSpline, PPoly

from terrain.arrays import Floats, sealed
from terrain.sun.clock import local_day, local_zone
from terrain.sun.refraction import refract, standard_pressure_hpa
from terrain.sun.sky_times import sky_times

_TICK_S: Final = 60.0


@dataclass(frozen=True, kw_only=True, eq=False)
class SunPath:
    """The sun during one local calendar day of a place.

    Times `t_s` are seconds since `start`, in an evening seconds back from the day's end, scalars
    or arrays of any shape; results have that shape, and are NaN before the day begins and after it
    ends. Altitudes and azimuths are of the centre of the disc.

    day: the date on the calendar at the place. start: its first instant, in local time.
    length_s: how long it lasts, seconds. zone: the time zone of the place. evening: whether its
    seconds count back.
    semidiameter_deg: half the angle across the disc in the middle of the day (it changes by less
    than 0.0001 degrees within one). pressure_hpa, temperature_c: of the air at the eye.
    """

    day: date
    start: datetime
    length_s: float
    zone: ZoneInfo
    semidiameter_deg: float
    pressure_hpa: float
    temperature_c: float
    _direction: PPoly
    _turned: tuple[Floats, Floats]
    evening: bool = False

    def at(self, t_s: ArrayLike) -> tuple[Floats, Floats]:
        """Azimuth and apparent altitude, degrees.

        The azimuth is continuous over the day, with no jump at north, and lies between 0 and 360
        when the sun rises fastest (in the east; in an evening when it sets fastest, in the west);
        so it can be negative, or more than 360, at other hours of the day.
        """
        azimuth, altitude = self.true_at(t_s)
        return azimuth, refract(
            altitude, pressure_hpa=self.pressure_hpa, temperature_c=self.temperature_c
        )

    def true_at(self, t_s: ArrayLike) -> tuple[Floats, Floats]:
        """Azimuth as in `at`, and the true altitude, degrees."""
        times = np.asarray(t_s, dtype=np.float64)
        direction = self._direction(times)
        east, north, up = direction[..., 0], direction[..., 1], direction[..., 2]
        azimuth = np.degrees(np.arctan2(east, north))
        roughly = np.interp(times, *self._turned)
        azimuth = azimuth + 360.0 * np.rint((roughly - azimuth) / 360.0)
        return azimuth, np.degrees(np.arctan2(up, np.hypot(east, north)))

    def east_at(self, t_s: ArrayLike) -> Floats:
        """Sine of the angle by which the sun is east of the meridian, -1 to 1; in an evening west.

        It falls through zero as the sun passes the meridian by day, at any latitude.
        """
        east = np.asarray(self._direction(np.asarray(t_s, dtype=np.float64))[..., 0])
        return -east if self.evening else east

    def rise(self, up_to_deg: float, from_deg: float = -90.0) -> tuple[float, float]:
        """From where it last passes an altitude on its way up, to where it passes a higher one.

        Seconds of the path. From its lowest where that is higher, to its highest where that is
        lower: between the two it only rises.
        """
        times = np.linspace(0.0, self.length_s, 1 + int(np.ceil(self.length_s / _TICK_S)))
        altitude = self.at(times)[1]
        noon = int(np.argmax(altitude))
        way = slice(int(np.argmin(altitude[: noon + 1])), noon + 1)
        first, last = np.interp([from_deg, up_to_deg], altitude[way], times[way])
        return float(first), float(last)

    def time(self, t_s: float) -> datetime:
        """The moment `t_s` as a datetime in local time, with its zone."""
        since_s = self._turned_round(float(t_s))
        return (self.start.astimezone(UTC) + timedelta(seconds=since_s)).astimezone(self.zone)

    def seconds(self, moment: datetime) -> float:
        """Seconds of the path at a timezone-aware moment: the inverse of `time`."""
        return self._turned_round((moment - self.start.astimezone(UTC)).total_seconds())

    def _turned_round(self, t_s: float) -> float:
        """Seconds from the other end of the day in an evening, else the same."""
        return self.length_s - t_s if self.evening else t_s


def sun_path(
    day: date,
    *,
    lon_deg: float,
    lat_deg: float,
    height_m: float = 0.0,
    step_s: float = 300.0,
    pressure_hpa: float | None = None,
    temperature_c: float = 10.0,
    evening: bool = False,
) -> SunPath:
    """The sun over a place during one local calendar day, 23, 24 or 25 hours long.

    Parameters
    ----------
    day : datetime.date
        The date on the calendar at the place.
    lon_deg : float
        Longitude, WGS 84 degrees.
    lat_deg : float
        Latitude, WGS 84 degrees.
    height_m : float, optional
        Of the eye above the sea, metres.
    step_s : float, optional
        Between samples, at most, seconds.
    pressure_hpa : float, optional
        Of the air at the eye, hPa; that of the standard atmosphere at its height unless given.
    temperature_c : float, optional
        Of the air at the eye, degrees Celsius.
    evening : bool, optional
        The day from its end back to its beginning.

    Returns
    -------
    SunPath
        Its `at` gives azimuth and apparent altitude so many seconds into the day (in an evening
        before its end), its `time` the clock.

    Raises
    ------
    TerrainError
        For a place that is not on the earth, or a day that the calendar there does not have.

    Examples
    --------
    >>> path = sun_path(date(2025, 3, 20), lon_deg=-24.0, lat_deg=54.4)
    >>> azimuth, altitude = path.at(6 * 3600.0)
    >>> round(float(azimuth), 2), round(float(altitude), 2)
    (93.38, 2.66)
    >>> path.time(6 * 3600.0).isoformat()
    '2025-03-20T06:00:00-02:00'
    """
    watch = _Watch(lon_deg, lat_deg, height_m, step_s, pressure_hpa, temperature_c, evening)
    return _path(day, watch)


def sun_paths(
    days: Iterable[date],
    *,
    lon_deg: float,
    lat_deg: float,
    height_m: float = 0.0,
    evening: bool = False,
) -> list[SunPath]:
    """The sun over a place on many days, computed together: a year takes well under a second.

    Arguments and errors as in `sun_path`; one path for each day, in the order of `days`. As many
    as are kept need not be worked out again by `sun_path`.

    >>> paths = sun_paths([date(2025, 3, 29), date(2025, 3, 30)], lon_deg=-3.1, lat_deg=54.5)
    >>> [path.length_s / 3600.0 for path in paths]
    [24.0, 23.0]
    """
    watch, days = _Watch(lon_deg, lat_deg, height_m, evening=evening), list(days)
    paths = _paths(days, watch)
    for day, path in list(zip(days, paths, strict=True))[:_KEPT]:
        _keep(day, watch, path)
    return paths


class _Watch(NamedTuple):
    """Where and how the sun is watched, and through which air; as `sun_path` has them."""

    lon_deg: float
    lat_deg: float
    height_m: float
    step_s: float = 300.0
    pressure_hpa: float | None = None
    temperature_c: float = 10.0
    evening: bool = False


def _path(day: date, watch: _Watch) -> SunPath:
    """The path of one day; one question about a morning leads to others about the same path."""
    path = _kept.get((day, watch))
    if path is None:
        (path,) = _paths([day], watch)
    _keep(day, watch, path)
    return path


def _keep(day: date, watch: _Watch, path: SunPath) -> None:
    """Keep a path as the last that is forgotten."""
    _kept.pop((day, watch), None)
    _kept[day, watch] = path
    while len(_kept) > _KEPT:
        _kept.pop(next(iter(_kept)), None)


_KEPT: Final = 64
_kept: dict[tuple[date, _Watch], SunPath] = {}


def _paths(days: Iterable[date], watch: _Watch) -> list[SunPath]:
    place = watch.lon_deg, watch.lat_deg
    zone = local_zone(*place)
    spans = [(day, *local_day(day, zone)) for day in days]
    if not spans:
        return []
    ticks = [_ticks(start, end, watch.step_s) for _, start, end in spans]
    unix = [start.timestamp() + tick for (_, start, _), tick in zip(spans, ticks, strict=True)]
    skies = sky_times(unix)
    directions = [_unit_vectors(*sky.direction(*place, watch.height_m)) for sky in skies]
    if watch.evening:
        # the ticks of a day are the same from either end
        directions = [direction[::-1] for direction in directions]
    pressure_hpa = watch.pressure_hpa
    if pressure_hpa is None:
        pressure_hpa = float(standard_pressure_hpa(watch.height_m))
    parts = spans, ticks, directions, _smooth(ticks, directions), skies
    return [
        SunPath(
            day=day,
            start=start.astimezone(zone),
            length_s=float(tick[-1]),
            zone=zone,
            semidiameter_deg=sky.semidiameter_deg,
            pressure_hpa=pressure_hpa,
            temperature_c=watch.temperature_c,
            _direction=smooth,
            _turned=_turned(tick, direction),
            evening=watch.evening,
        )
        for (day, start, _), tick, direction, smooth, sky in zip(*parts, strict=True)
    ]


def _smooth(ticks: list[Floats], directions: list[Floats]) -> list[PPoly]:
    """The cubic spline through each day, those of one length together, each a copy."""
    lengths, found = [(float(tick[-1]), tick.size) for tick in ticks], {}
    for length in set(lengths):
        alike = [number for number, each in enumerate(lengths) if each == length]
        every = CubicSpline(ticks[alike[0]], np.stack([directions[n] for n in alike], axis=1))
        for place, number in enumerate(alike):
            found[number] = PPoly.construct_fast(every.c[:, :, place].copy(), every.x, False)
    return [found[number] for number in range(len(ticks))]


def _ticks(start: datetime, end: datetime, step_s: float) -> Floats:
    """Sample times of a day, seconds since its start, both ends included."""
    length_s = (end - start).total_seconds()
    return np.linspace(0.0, length_s, 1 + max(3, int(np.ceil(length_s / step_s))))


def _unit_vectors(azimuth_deg: Floats, altitude_deg: Floats) -> Floats:
    """Directions as (n, 3) unit vectors: east, north, up."""
    azimuth, altitude = np.radians(azimuth_deg), np.radians(altitude_deg)
    level = np.cos(altitude)
    return np.stack([level * np.sin(azimuth), level * np.cos(azimuth), np.sin(altitude)], axis=-1)


def _turned(tick: Floats, direction: Floats) -> tuple[Floats, Floats]:
    """Sample times and the unwrapped azimuth at them: which turn an azimuth belongs to."""
    azimuth = np.unwrap(np.degrees(np.arctan2(direction[:, 0], direction[:, 1])), period=360.0)
    fastest = azimuth[int(np.argmax(np.gradient(direction[:, 2])))]
    azimuth = azimuth - 360.0 * np.floor(fastest / 360.0)
    return sealed(tick), sealed(azimuth)
