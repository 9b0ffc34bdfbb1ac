"""Tiles of a degree, and which of them a place needs: within its reach, and farther to the sun."""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np

from terrain.arrays import Floats
from terrain.ground.geodesy import destination, wrap_deg
from terrain.ground.places import Spot
from terrain.sun import triangle

# of the sun at the solstices, and where it stands when its upper edge is on a level horizon
_OBLIQUITY_DEG: Final = 23.44
_RISING_DEG: Final = -0.833
_STEP_M: Final = 5000.0


class Tile(NamedTuple):
    """A tile by its south-west corner, whole degrees."""

    south_deg: int
    west_deg: int

    @property
    def label(self) -> str:
        """Its corner, as tiles are commonly named.

        >>> Tile(-3, -7).label
        'S03W007'
        """
        return self.written("{ns}{lat}{ew}{lon}")

    def written(self, pattern: str) -> str:
        """A pattern with the corner put in; all else in it stays as it is."""
        words = {
            "{ns}": "N" if self.south_deg >= 0 else "S",
            "{lat}": f"{abs(self.south_deg):02}",
            "{ew}": "E" if self.west_deg >= 0 else "W",
            "{lon}": f"{abs(self.west_deg):03}",
        }
        for mark, word in words.items():
            pattern = pattern.replace(mark, word)
        return pattern


def sunrise_azimuths_deg(lat_deg: float) -> tuple[float, float]:
    """The northernmost and southernmost azimuth of sunrise over a year; sunsets are their mirror.

    Where the sun does not set at midsummer the first is 0, and so for the last, 180, in midwinter.

    >>> [round(azimuth) for azimuth in sunrise_azimuths_deg(50.0)]
    [50, 127]
    """
    first, last = sunrise_azimuth_deg(lat_deg, np.array([_OBLIQUITY_DEG, -_OBLIQUITY_DEG]))
    return float(first), float(last)


def sunrise_azimuth_deg(lat_deg: float, declination_deg: Floats) -> Floats:
    """Where the sun comes up over a level horizon at so much declination; 0 or 180 where never."""
    cosine = triangle.azimuth_cosine(
        math.radians(lat_deg), math.radians(_RISING_DEG), np.sin(np.radians(declination_deg))
    )
    return np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0)))


def tiles_about(around: Spot, reach_m: float, sunward_m: float = 0.0) -> list[Tile]:
    """The tiles of the square of a reach about a place, and those toward the sun beyond it.

    sunward_m: how far they are wanted where the sun comes up or goes down on any day of the year.
    """
    lon, lat = places_wanted(around, reach_m, sunward_m)
    return sorted(set(tiles_of(lon, lat)), reverse=True)


def tiles_of(lon_deg: Floats, lat_deg: Floats) -> list[Tile]:
    """The tile that each place lies in."""
    south = np.floor(np.clip(lat_deg, -90.0, 89.999)).astype(int)
    west = np.floor(wrap_deg(lon_deg)).astype(int)
    return [Tile(int(a), int(b)) for a, b in zip(south, west, strict=True)]


def places_wanted(around: Spot, reach_m: float, sunward_m: float = 0.0) -> tuple[Floats, Floats]:
    """Longitude and latitude of places all over the ground that `tiles_about` is to hold."""
    steps = np.linspace(-reach_m, reach_m, max(3, math.ceil(2 * reach_m / _STEP_M) + 1))
    east, north = (part.ravel() for part in np.meshgrid(steps, steps))
    azimuth, distance = np.degrees(np.arctan2(east, north)), np.hypot(east, north)
    if sunward_m > reach_m:
        first, last = sunrise_azimuths_deg(around.lat_deg)
        rising = np.arange(first, last + 0.5)
        out = np.arange(reach_m, sunward_m + _STEP_M / 2, _STEP_M)
        toward, far = (part.ravel() for part in np.meshgrid([*rising, *(360 - rising)], out))
        azimuth, distance = np.append(azimuth, toward), np.append(distance, far)
    return destination(around.lon_deg, around.lat_deg, azimuth, distance)
