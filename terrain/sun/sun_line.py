"""The line the rising sun draws over a tile on one morning: its azimuth at each altitude.

That of the setting sun is the same in a mirror: the hours before noon are then those after it.

At a true altitude the sun's azimuth depends on the latitude and the declination alone, by way of
its hour angle, which is how far it still has to go to the meridian (see `triangle`).

The declination changes a little while the sun climbs. By the hour angle it does so evenly, and in
the same way for all of a tile; by altitude it would not, since near noon the sun takes an hour for
what it climbs in a minute at sunrise. So the two are solved together, in a few turns.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from terrain.arrays import Floats, frozen_arrays, sealed
from terrain.errors import NoSun
from terrain.ground.places import Hill
from terrain.sun import triangle
from terrain.sun.path import SunPath, sun_paths
from terrain.sun.refraction import refract

_SAMPLE_S: Final = 300.0
_LOWEST_DEG: Final = -6.0
_TRUE_DEG: Final = np.linspace(-10.0, 90.0, 5001)
_TURNS: Final = 4
_PAST_NOON_DEG: Final = 3.0
_AT_THE_MERIDIAN: Final = 2e-5
"""Of the cosine of the hour angle: the sun is highest a few minutes before the meridian, or after,
and stands then this much higher than on it."""


class SkyPoints(NamedTuple):
    """Points of the sky by hour angle and declination, degrees, in a mirror for an evening.

    They hang on the place and its air alone, so they are the same for all days of a place.
    """

    hour_deg: Floats
    declination_deg: Floats


@dataclass(frozen=True, kw_only=True, eq=False)
@frozen_arrays()
class SunLine:
    """The morning sun over a tile, or the evening sun.

    day: the local date. altitude_deg: (samples,) ascending, apparent; true_deg: the same without
    refraction. hour_deg: (moments,) ascending hour angles of the morning, negative before noon, or
    of the evening with the sign turned; declination_deg: (moments,) of the sun then. evening:
    whether it is the evening's. The arrays are read-only.
    """

    day: dt.date
    altitude_deg: Floats
    true_deg: Floats
    hour_deg: Floats
    declination_deg: Floats
    evening: bool = False

    def azimuth_at(self, altitude_deg: ArrayLike, lat_deg: ArrayLike) -> Floats:
        """Azimuth of the sun's centre when it stands at an apparent altitude, seen from a latitude.

        The arguments broadcast to the shape of the result; NaN where it never does that morning
        or evening, and more than 6 degrees below the horizontal.
        """
        altitude, lat = np.broadcast_arrays(
            np.asarray(altitude_deg, dtype=float), np.radians(np.asarray(lat_deg, dtype=float))
        )
        true = np.interp(altitude, self.altitude_deg, self.true_deg, right=np.nan)
        up = np.radians(np.where(altitude < _LOWEST_DEG, np.nan, true))
        dips = np.full(up.shape, np.radians(self.declination_deg[-1]))
        for _ in range(_TURNS):
            cosine = triangle.hour_cosine(lat, up, dips)
            hour = -np.arccos(np.clip(cosine, -1.0, 1.0))
            dips = np.radians(np.interp(np.degrees(hour), self.hour_deg, self.declination_deg))
        reached = np.abs(triangle.hour_cosine(lat, up, dips)) <= 1.0 + _AT_THE_MERIDIAN
        # before the first moment of the day, or after the last, it was another day
        reached &= np.degrees(hour) >= self.hour_deg[0] - 360.0 * _SAMPLE_S / 86_400.0
        azimuth = np.degrees(triangle.azimuth(lat, dips, hour))
        return np.where(reached, 360.0 - azimuth if self.evening else azimuth, np.nan)

    def aside_of(
        self, azimuth_deg: ArrayLike, altitude_deg: ArrayLike, lat_deg: ArrayLike
    ) -> Floats:
        """How far aside of the sun's way points of the sky lie, degrees of declination.

        Positive to the north of it. The arguments, apparent altitudes among them, broadcast to the
        shape of the result; NaN for what the sun is near in the other half of the day alone.
        """
        return self.aside_of_points(self.sky_points(azimuth_deg, altitude_deg, lat_deg))

    def sky_points(
        self, azimuth_deg: ArrayLike, altitude_deg: ArrayLike, lat_deg: ArrayLike
    ) -> SkyPoints:
        """Points of the sky for `aside_of_points`, of this line and of others from `sun_lines`.

        Their arguments as in `aside_of`.
        """
        true = np.interp(np.asarray(altitude_deg), self.altitude_deg, self.true_deg)
        azimuth = np.radians(np.asarray(azimuth_deg) * (-1.0 if self.evening else 1.0))
        seen = np.radians(np.asarray(lat_deg, dtype=float)), np.radians(true), azimuth
        sine = np.clip(triangle.declination_sine(*seen), -1.0, 1.0)
        return SkyPoints(np.degrees(triangle.hour_angle(*seen)), np.degrees(np.arcsin(sine)))

    def aside_of_points(self, points: SkyPoints) -> Floats:
        """As `aside_of` has it."""
        hour, declination = points
        aside = declination - np.interp(hour, self.hour_deg, self.declination_deg)
        return np.where(hour <= self.hour_deg[-1] + _PAST_NOON_DEG, aside, np.nan)


def sun_line(
    day: dt.date, hill: Hill, latitudes_deg: tuple[float, float], *, evening: bool = False
) -> SunLine:
    """The morning sun of a local day at a hill, over a tile from its south to its north.

    evening: the evening sun in its place. NoSun where it rises nowhere on the tile.
    """
    (path,) = _paths([day], hill, evening)
    return _line(path, hill, latitudes_deg)


def sun_lines(
    days: Sequence[dt.date],
    hill: Hill,
    latitudes_deg: tuple[float, float],
    *,
    evening: bool = False,
) -> list[SunLine]:
    """The same for many days, worked out together; days on which it does not rise are left out."""
    lines = []
    for path in _paths(days, hill, evening):
        with suppress(NoSun):
            lines.append(_line(path, hill, latitudes_deg))
    return lines


def _paths(days: Sequence[dt.date], hill: Hill, evening: bool) -> list[SunPath]:
    return sun_paths(
        days,
        lon_deg=hill.lon_deg,
        lat_deg=hill.lat_deg,
        height_m=max(hill.height_m, 0.0),
        evening=evening,
    )


def _line(path: SunPath, hill: Hill, latitudes_deg: tuple[float, float]) -> SunLine:
    hour_deg, declination_deg = _toward_noon(path, hill.lat_deg)
    apparent = _apparent_deg(path.pressure_hpa, path.temperature_c)
    # by the formula for its altitude on the meridian, over the nearest latitude of the tile
    aside = np.clip(declination_deg[-1], *latitudes_deg) - declination_deg[-1]
    highest = float(np.interp(90.0 - abs(aside), _TRUE_DEG, apparent, left=90.0 - abs(aside)))
    if highest < -1.0:
        raise NoSun(
            f"the sun does not rise at {hill.label} on {path.day}: "
            f"at its highest it stands {-highest:.1f} degrees below the horizontal"
        )
    return SunLine(
        day=path.day,
        altitude_deg=apparent,
        true_deg=_TRUE_DEG,
        hour_deg=hour_deg,
        declination_deg=declination_deg,
        evening=path.evening,
    )


@lru_cache(maxsize=8)
def _apparent_deg(pressure_hpa: float, temperature_c: float) -> Floats:
    return sealed(refract(_TRUE_DEG, pressure_hpa=pressure_hpa, temperature_c=temperature_c))


def _toward_noon(path: SunPath, lat_deg: float) -> tuple[Floats, Floats]:
    """Hour angles, ascending, from the lowest sun of a day to noon, and declinations, degrees."""
    azimuth, true = path.true_at(np.arange(0.0, path.length_s, _SAMPLE_S))
    seen_from = np.radians(lat_deg), np.radians(true), np.radians(azimuth)
    hour = np.degrees(triangle.hour_angle(*seen_from)) * (-1.0 if path.evening else 1.0)
    noon = int(np.argmin(np.abs(hour)))
    before = np.flatnonzero(hour[: noon + 1] <= 0.0)
    sine = triangle.declination_sine(*seen_from)[before]
    return hour[before], np.degrees(np.arcsin(sine))
