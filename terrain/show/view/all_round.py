"""What a spot sees all round: ground by distance, mist, and where it is not known."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from matplotlib.colors import to_rgb
from scipy import ndimage

from terrain.arrays import Flags, Floats
from terrain.ground.dem import Dem
from terrain.mist.mist import Mist
from terrain.show.paper import palette
from terrain.show.view.ring import Ring
from terrain.sight.seen import seen_ground
from terrain.sight.skyline import Skyline

_AT_FEET: Final = to_rgb(palette.EARTH_AT_FEET)
_AZIMUTHS: Final = 2160
_ALTITUDES: Final = 420
_NEAR_M: Final = 1000.0
_LEAST_SPAN_DEG: Final = 14.0
_LOWEST_DEG: Final = -9.0
_OVER_DEG: Final = 2.5
_RIDGE: Final = 1.3
"""How many times as far off ground is behind a ridge, at the least, for a line to be drawn."""

_HAIR_M: Final = 0.05


@dataclass(frozen=True, kw_only=True, eq=False)
class AllRound:
    """What a spot sees all round.

    dem: the bare ground. sky: its skyline, over the mist where there is some. known_m: where the
    ground is known less far than that, a hill beyond could stand.
    """

    dem: Dem
    mist: Mist | None
    sky: Skyline
    known_m: float

    @cached_property
    def ring(self) -> Ring:
        """The ring that shows it: near ground that stands higher than all else is cut off."""
        altitude = self.sky.altitude_deg
        far = altitude[(self.sky.distance_m > _NEAR_M) & np.isfinite(altitude)]
        known = altitude[np.isfinite(altitude)]
        top = float((far if far.size > 0.1 * known.size else known).max())
        low = max(min(float(known.min()), 0.0) - 5.0, _LOWEST_DEG)
        high = max(top, 0.0) + _OVER_DEG
        return Ring(low_deg=low, high_deg=max(high, low + _LEAST_SPAN_DEG))

    @property
    def unknown(self) -> Flags:
        """The directions in which a hill beyond the known ground could stand."""
        return np.asarray(self.sky.known_to_m < self.known_m)

    @property
    def over_sea(self) -> Flags:
        """The directions in which the horizon lies beyond the known ground."""
        return np.asarray(self.sky.distance_m > self.sky.known_to_m)

    @cached_property
    def colours(self) -> Floats:
        """Ground and mist by direction, (altitudes, azimuths, 4), clear where it is sky."""
        azimuths = np.arange(_AZIMUTHS) * 360.0 / _AZIMUTHS
        altitudes = np.linspace(self.ring.low_deg, self.ring.high_deg, _ALTITUDES)
        lid = None if self.mist is None else self.mist.lid_m
        seen = seen_ground(
            self.dem,
            self.sky.spot,
            azimuths,
            altitudes,
            lid_m=lid,
            refraction=self.sky.refraction,
        )
        distance = np.asarray(seen.distance_m, dtype=float)
        ground = np.isfinite(distance)
        rgb = by_distance(np.where(ground, distance, 1.0))
        with np.errstate(invalid="ignore", divide="ignore"):
            step = distance[1:] / distance[:-1]
        ridge = np.vstack([step > _RIDGE, np.zeros((1, _AZIMUTHS), dtype=bool)])
        ridge &= distance > 0.4 * _NEAR_M
        rgb[ridge] = 0.45 * rgb[ridge]
        if self.mist is not None:
            over = np.nan_to_num(self.mist.height_over(self.dem), nan=1.0)
            at = np.nan_to_num(np.stack([seen.row, seen.col]))
            # a hair above it still is mist: the ray ends where it meets its top
            misty = ground & (ndimage.map_coordinates(over, at, order=1) < _HAIR_M)
            rgb[misty] = palette.mixed(palette.MIST_DEEP, palette.MIST, _far(distance[misty]))
            shore = ground & (misty ^ np.vstack([misty[:1], misty[:-1]]))
            rgb[shore] = to_rgb(palette.SHORE)
        return np.concatenate([rgb, ground[..., np.newaxis].astype(float)], axis=2)


def by_distance(distance_m: Floats) -> Floats:
    """Colours of ground that far off, (..., 3): near ground is faded, far ground pales."""
    colour = palette.mixed(palette.EARTH, palette.EARTH_FAR, _far(distance_m)).astype(float)
    faded = 0.85 * np.clip(1.0 - np.log(np.maximum(distance_m, 1.0) / 60.0) / np.log(15.0), 0, 1)
    paled = colour + faded[..., np.newaxis] * (np.array(_AT_FEET) - colour)
    return np.asarray(paled, dtype=np.float64)


def _far(distance_m: Floats) -> Floats:
    share = np.log10(np.maximum(distance_m, 1.0) / 700.0) / np.log10(50.0)
    return np.asarray(np.clip(share, 0.0, 1.0), dtype=np.float64)
