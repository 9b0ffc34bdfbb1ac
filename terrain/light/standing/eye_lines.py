"""Eyes that stand anywhere between the cells' centres: the sun there, and what of it is hidden.

A camera moves by metres where the ground is known by cells, so each eye looks along its own ray.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from terrain.arrays import Floats
from terrain.country import Country
from terrain.ground.dem import Dem
from terrain.ground.geodesy import destination
from terrain.ground.places import Spot
from terrain.sight.beyond import floored
from terrain.sight.rays import altitudes_from
from terrain.sun.position import sun_position

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


@dataclass(frozen=True, kw_only=True)
class EyeLines:
    """Lines from eyes about one place to the part of the sun's disc that counts.

    spot: the place, and the height of all eyes over the ground of the country; they see its mist
    too. limb: of a disc so many semi-diameters wide the upper edge, or with a minus the lower.
    ValueError for one beyond the disc.
    """

    country: Country
    spot: Spot
    limb: float = 0.0

    def __post_init__(self) -> None:
        if not -1.0 <= self.limb <= 1.0:
            raise ValueError(
                f"a limb of {self.limb} semi-diameters is not on the disc: give -1 to 1"
            )

    @cached_property
    def ground_m(self) -> float:
        """Height of the ground at the place; NoGround where it is not known."""
        return self.country.dem.height_at(self.spot.lon_deg, self.spot.lat_deg)

    def sun(self, times: Moments) -> SunOver:
        """The sun over the place; ValueError for a time without a zone."""
        spot, limb = self.spot, self.limb
        sun = sun_position(
            times, lon_deg=spot.lon_deg, lat_deg=spot.lat_deg, height_m=self.ground_m
        )
        return SunOver(
            azimuth_deg=sun.azimuth_deg,
            centre_deg=sun.apparent_altitude_deg,
            limb_deg=sun.apparent_altitude_deg + limb * sun.semidiameter_deg,
            half_deg=abs(limb) * sun.semidiameter_deg,
        )

    def over_skyline(self, row: ArrayLike, col: ArrayLike, sun: SunOver) -> Floats:
        """How far the sun is over the skyline of places, degrees, in the shape of all together.

        row, col: fractional; they and the sun's arrays broadcast. Of an upper edge the point of
        the rim counts that stands highest over the skyline, of a lower edge the one that stands
        lowest. NaN where the ground under an eye is not known, or none in some direction.
        """
        places = (np.asarray(place, dtype=float)[..., np.newaxis] for place in (row, col))
        lines = np.broadcast_arrays(*places, *sun.rim())
        over = self._over(*(part.ravel() for part in lines)).reshape(lines[0].shape)
        any_will_do = bool((sun.limb_deg >= sun.centre_deg).all())
        return np.asarray(over.max(axis=-1) if any_will_do else over.min(axis=-1))

    def over_at(self, lon_deg: ArrayLike, lat_deg: ArrayLike, sun: SunOver) -> Floats:
        """The same of places by longitude and latitude."""
        return self.over_skyline(*self.country.dem.grid.rowcol(lon_deg, lat_deg), sun)

    def _over(self, row: Floats, col: Floats, azimuth: Floats, altitude: Floats) -> Floats:
        dem, country = self.country.dem, self.country
        lon, lat = dem.grid.lonlat(row, col)
        on_grid = dem.grid.grid_azimuth_deg(azimuth, lon, lat)
        eye = dem.heights_at(lon, lat) + self.spot.eye_m
        skyline, _ = altitudes_from(
            country.seen, row, col, on_grid, eye, refraction=country.refraction
        )
        skyline = floored(country.seen, skyline, eye, country.refraction)
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
