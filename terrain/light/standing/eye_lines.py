"""Eyes that stand anywhere between the cells' centres: the sun there, and what of it is hidden.

A camera moves by metres where the ground is known by cells, so each eye looks along its own ray.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from terrain.ground.dem import Dem
from terrain.ground.geodesy import destination
from terrain.ground.places import Spot
from terrain.sight.toward import altitudes_from
from terrain.sun.position import sun_position

__all__ = ["Eyes", "Moments", "SunOver", "slope_and_fall", "sun_over"]

Floats = NDArray[np.float64]
Moments = Sequence[dt.datetime]


ASIDE: Final = np.array([0.0, -0.5, 0.5, -0.87, 0.87])
"""Points of the rim that are looked at, in semi-diameters to the right of the disc's middle."""


@dataclass(frozen=True, kw_only=True, eq=False)
class SunOver:
    """The sun over one place at several moments; arrays of one shape, degrees.

    azimuth_deg, centre_deg: of the middle of the disc; limb_deg: apparent altitude of the part
    of it that counts, over or under the middle; half_deg: how far that is from it.
    """

    azimuth_deg: Floats
    centre_deg: Floats
    limb_deg: Floats
    half_deg: Floats

    def at(self, which: object) -> SunOver:
        """The sun at some of the moments, or its arrays in another shape, by an index."""
        return SunOver(**{name: values[which] for name, values in vars(self).items()})

    def rim(self) -> tuple[Floats, Floats]:
        """Azimuths and altitudes of points of the rim, with an axis more, (..., points)."""
        aside = ASIDE if (self.half_deg > 0.0).any() else ASIDE[:1]
        middle, centre, limb, half = (values[..., np.newaxis] for values in vars(self).values())
        azimuth = middle + half * aside / np.cos(np.radians(centre))
        return azimuth, centre + (limb - centre) * np.sqrt(1.0 - aside**2)


def sun_over(spot: Spot, times: Moments, height_m: float, limb: float) -> SunOver:
    """The sun over a spot; ValueError for a limb beyond the disc or a time without a zone.

    limb: of a disc so many semi-diameters wide the upper edge, or with a minus the lower.
    """
    if not -1.0 <= limb <= 1.0:
        raise ValueError(f"a limb of {limb} semi-diameters is not on the disc: give -1 to 1")
    sun = sun_position(times, lon_deg=spot.lon_deg, lat_deg=spot.lat_deg, height_m=height_m)
    return SunOver(
        azimuth_deg=sun.azimuth_deg,
        centre_deg=sun.apparent_altitude_deg,
        limb_deg=sun.apparent_altitude_deg + limb * sun.semidiameter_deg,
        half_deg=abs(limb) * sun.semidiameter_deg,
    )


@dataclass(frozen=True, kw_only=True)
class Eyes:
    """Eyes at one height over the ground: dem, and what they see, the ground with its mist."""

    dem: Dem
    seen: Dem
    eye_m: float
    refraction: float

    def over_skyline(self, row: Floats, col: Floats, sun: SunOver) -> Floats:
        """How far the sun is over the skyline of places, degrees, in the shape of all together.

        row, col: fractional; they and the sun's arrays broadcast. Of an upper edge the point of
        the rim counts that stands highest over the skyline, of a lower edge the one that stands
        lowest. NaN where the ground under an eye is not known, or none in some direction.
        """
        azimuth, altitude = sun.rim()
        row, col, azimuth, altitude = np.broadcast_arrays(
            np.asarray(row, dtype=float)[..., np.newaxis],
            np.asarray(col, dtype=float)[..., np.newaxis],
            azimuth,
            altitude,
        )
        over = self._over(row.ravel(), col.ravel(), azimuth.ravel(), altitude.ravel())
        over = over.reshape(altitude.shape)
        any_will_do = bool((sun.limb_deg >= sun.centre_deg).all())
        return np.asarray(over.max(axis=-1) if any_will_do else over.min(axis=-1))

    def _over(self, row: Floats, col: Floats, azimuth: Floats, altitude: Floats) -> Floats:
        lon, lat = self.dem.grid.lonlat(row, col)
        on_grid = self.dem.grid.grid_azimuth_deg(azimuth, lon, lat)
        eye = self.dem.heights_at(lon, lat) + self.eye_m
        skyline, _ = altitudes_from(self.seen, row, col, on_grid, eye, refraction=self.refraction)
        return np.where(np.isnan(eye), np.nan, altitude - skyline)


def slope_and_fall(dem: Dem, lon_deg: float, lat_deg: float) -> tuple[float, float]:
    """Slope of the ground at a place, and the way down from true north, degrees.

    Over half a cell to every side, so that it is the slope of the surface one stands on.
    """
    bearings = np.array([0.0, 90.0, 180.0, 270.0])
    around = dem.heights_at(*destination(lon_deg, lat_deg, bearings, dem.cell_m / 2.0))
    north, east, south, west = around
    to_north, to_east = (north - south) / dem.cell_m, (east - west) / dem.cell_m
    slope = math.degrees(math.atan(math.hypot(to_north, to_east)))
    return slope, math.degrees(math.atan2(-to_east, -to_north)) % 360.0
