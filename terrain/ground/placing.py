"""From places on the earth to rows and columns of a raster."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
from affine import Affine
from numpy.typing import ArrayLike
from pyproj import CRS, Transformer

from terrain.arrays import Floats
from terrain.ground.geodesy import wrap_deg


class Placing(NamedTuple):
    """What brings WGS 84 places to rows and columns.

    to_map: to map coordinates. transform: of the raster's grid. middle_deg: of a grid in degrees,
    about which longitudes are counted; else None.
    """

    to_map: Transformer
    transform: Affine
    middle_deg: float | None

    def rowcol(self, lon_deg: ArrayLike, lat_deg: ArrayLike) -> tuple[Floats, Floats]:
        """Fractional row and column of places, degrees, of any shape."""
        easting, northing = self.to_map.transform(
            np.asarray(lon_deg, dtype=float), np.asarray(lat_deg, dtype=float)
        )
        if self.middle_deg is not None:
            easting = wrapped(easting, self.middle_deg)
        row = (np.asarray(northing) - self.transform.f) / self.transform.e - 0.5
        col = (np.asarray(easting) - self.transform.c) / self.transform.a - 0.5
        return row, col


@lru_cache(maxsize=64)
def from_places(crs: CRS) -> Transformer:
    """From WGS 84 to a reference system; kept, for a raster is read by many parts of one grid."""
    return Transformer.from_crs("EPSG:4326", crs, always_xy=True)


def wrapped(lon_deg: ArrayLike, middle_deg: float) -> Floats:
    """Longitudes brought within half a turn of a middle, degrees."""
    return np.asarray(middle_deg + wrap_deg(np.asarray(lon_deg) - middle_deg))
