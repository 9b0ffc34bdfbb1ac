"""The line the rising sun draws over a tile on one morning: its azimuth at each altitude.

At a given altitude the sun's azimuth depends on the latitude and the declination alone; over a
tile the latitude changes, so the line is worked out at three latitudes and blended between.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from terrain.errors import NoSun
from terrain.ground.dem import Dem
from terrain.ground.places import Hill
from terrain.sun.path import SunPath, sun_paths

__all__ = ["SunLine", "sun_line", "sun_lines"]

Floats = NDArray[np.float64]

_LATITUDES = 3
_SAMPLE_S = 60.0
_LOWEST_DEG = -6.0


@dataclass(frozen=True, kw_only=True)
class SunLine:
    """The morning sun over a tile.

    day: the local date. lat_deg: (latitudes,) ascending. altitude_deg: (samples,) ascending,
    apparent. azimuth_deg: (latitudes, samples) from true north, unwrapped; NaN where the sun does
    not reach that altitude.
    """

    day: dt.date
    lat_deg: Floats
    altitude_deg: Floats
    azimuth_deg: Floats

    def azimuth_at(self, altitude_deg: ArrayLike, lat_deg: ArrayLike) -> Floats:
        """Azimuth of the sun's centre when it stands at an apparent altitude, seen from a latitude.

        The arguments broadcast to the shape of the result; NaN where it never does.
        """
        altitude, lat = np.broadcast_arrays(
            np.asarray(altitude_deg, dtype=float), np.asarray(lat_deg, dtype=float)
        )
        ahead = np.clip(np.searchsorted(self.lat_deg, lat), 1, self.lat_deg.size - 1)
        share = (lat - self.lat_deg[ahead - 1]) / (self.lat_deg[ahead] - self.lat_deg[ahead - 1])
        lines = np.stack([np.interp(altitude, self.altitude_deg, line, left=np.nan, right=np.nan)
                          for line in self.azimuth_deg])  # fmt: skip
        below = np.take_along_axis(lines, (ahead - 1)[np.newaxis], axis=0)[0]
        above = np.take_along_axis(lines, ahead[np.newaxis], axis=0)[0]
        return np.asarray(below + share * (above - below))


def sun_line(day: dt.date, dem: Dem, hill: Hill) -> SunLine:
    """The morning sun over a tile on a local day at the hill; NoSun where it does not rise."""
    lat = _latitudes(dem)
    return _line(day, hill, lat, [_mornings([day], hill, float(value))[0] for value in lat])


def sun_lines(days: Sequence[dt.date], dem: Dem, hill: Hill) -> list[SunLine]:
    """The same for many days, worked out together; days on which it does not rise are left out."""
    lat = _latitudes(dem)
    mornings = zip(*(_mornings(days, hill, float(value)) for value in lat), strict=True)
    lines = []
    for day, morning in zip(days, mornings, strict=True):
        with suppress(NoSun):
            lines.append(_line(day, hill, lat, morning))
    return lines


def _latitudes(dem: Dem) -> Floats:
    """From the south of a tile to its north."""
    rows, cols = dem.shape
    corner_row, corner_col = np.array([0, 0, rows, rows]) - 0.5, np.array([0, cols, 0, cols]) - 0.5
    _, lats = dem.grid.lonlat(corner_row, corner_col)
    return np.linspace(lats.min(), lats.max(), _LATITUDES)


def _line(
    day: dt.date, hill: Hill, lat_deg: Floats, mornings: Sequence[tuple[Floats, Floats]]
) -> SunLine:
    highest = max(altitude[-1] for altitude, _ in mornings)
    if highest < -1.0:
        raise NoSun(
            f"the sun does not rise at {hill.label} on {day}: "
            f"at its highest it stands {-highest:.1f} degrees below the horizontal"
        )
    altitude = np.arange(_LOWEST_DEG, highest, 0.02)
    azimuth = np.stack(
        [np.interp(altitude, *morning, left=np.nan, right=np.nan) for morning in mornings]
    )
    return SunLine(day=day, lat_deg=lat_deg, altitude_deg=altitude, azimuth_deg=azimuth)


def _mornings(days: Sequence[dt.date], hill: Hill, lat_deg: float) -> list[tuple[Floats, Floats]]:
    """Apparent altitudes, ascending, and azimuths from each day's lowest sun to its highest."""
    height_m = max(hill.height_m, 0.0)
    paths = sun_paths(days, lon_deg=hill.lon_deg, lat_deg=lat_deg, height_m=height_m)
    return [_morning(path) for path in paths]


def _morning(path: SunPath) -> tuple[Floats, Floats]:
    azimuth, altitude = path.at(np.arange(0.0, path.length_s, _SAMPLE_S))
    top = int(np.argmax(altitude))
    bottom = int(np.argmin(altitude[: top + 1]))
    return altitude[bottom : top + 1], azimuth[bottom : top + 1]
