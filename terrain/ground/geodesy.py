"""Distances, azimuths and the fall of the curved earth below a level line."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike
from pyproj import CRS, Geod
from pyproj.crs import CompoundCRS
from pyproj.exceptions import CRSError

from terrain.arrays import Floats
from terrain.constants import EARTH_RADIUS_M, TERRESTRIAL_REFRACTION
from terrain.errors import TerrainError

_WGS84 = Geod(ellps="WGS84")


def azimuth_and_distance(
    lon_deg: ArrayLike, lat_deg: ArrayLike, to_lon_deg: ArrayLike, to_lat_deg: ArrayLike
) -> tuple[Floats, Floats]:
    """Azimuth from true north (0 to 360 degrees) and geodesic distance (metres) between places.

    All four arguments are WGS 84 degrees, scalars or arrays that broadcast to one shape, which
    is also the shape of both results. Source: Karney (2013), by PROJ's geodesic library.

    >>> azimuth, distance = azimuth_and_distance(-24.0, 54.0, -24.0, 54.01)
    >>> round(float(azimuth), 6), round(float(distance))
    (0.0, 1113)
    """
    lon, lat, to_lon, to_lat = _alike(lon_deg, lat_deg, to_lon_deg, to_lat_deg)
    azimuth, _, distance = _WGS84.inv(lon, lat, to_lon, to_lat)
    return np.mod(np.asarray(azimuth), 360.0), np.asarray(distance)


def destination(
    lon_deg: ArrayLike, lat_deg: ArrayLike, azimuth_deg: ArrayLike, distance_m: ArrayLike
) -> tuple[Floats, Floats]:
    """Longitude and latitude reached from a place along a geodesic.

    Arguments broadcast to one shape, that of both results; degrees from true north and metres.

    >>> lon, lat = destination(-24.0, 54.0, 90.0, 1000.0)
    >>> round(float(lon), 4), round(float(lat), 4)
    (-23.9848, 54.0)
    """
    lon, lat, azimuth, distance = _alike(lon_deg, lat_deg, azimuth_deg, distance_m)
    to_lon, to_lat, _ = _WGS84.fwd(lon, lat, azimuth, distance)
    return np.asarray(to_lon), np.asarray(to_lat)


def drop_m(distance_m: ArrayLike, refraction: float = TERRESTRIAL_REFRACTION) -> Any:
    """How far ground at a distance sinks below the observer's horizontal, metres.

    ``d² (1 - k) / 2R``: the earth falls away, the refracted ray bends after it. Shape of
    `distance_m` (metres). Source: any surveying handbook, e.g. Torge, Geodesy, on
    trigonometric levelling.

    >>> round(float(drop_m(10_000.0)), 2)
    6.83
    """
    distance = np.asarray(distance_m, dtype=float)
    return distance**2 * (1.0 - refraction) / (2.0 * EARTH_RADIUS_M)


def crs_of_places(crs: Any) -> CRS:
    """A coordinate reference system that places on the earth have, from whatever pyproj takes.

    TerrainError for what is none, such as a system of heights alone.

    >>> crs_of_places("EPSG:27700").name
    'OSGB36 / British National Grid'
    """
    message = f'{crs} is no coordinate reference system of places: give one like "EPSG:27700"'
    try:
        found = CRS.from_user_input(crs)
    except CRSError as error:
        raise TerrainError(message) from error
    if not (found.is_geographic or found.is_projected):
        raise TerrainError(message)
    return found


def horizontal(crs: CRS) -> CRS:
    """The part of a coordinate reference system that places are counted in, without heights."""
    return crs.sub_crs_list[0] if crs.is_compound else crs


def with_heights(crs: CRS, vertical: str) -> CRS:
    """A system of places with one of heights, such as "EPSG:3855"; "" for none.

    >>> with_heights(CRS("EPSG:4326"), "EPSG:3855").to_epsg()
    9518
    """
    if not vertical:
        return crs
    high = CRS(vertical)
    return CompoundCRS(name=f"{crs.name} + {high.name}", components=[crs, high])


def local_transverse_mercator(lon_deg: float, lat_deg: float) -> CRS:
    """A transverse Mercator projection in metres centred on a place, with scale 1 there."""
    return CRS.from_proj4(
        f"+proj=tmerc +lon_0={lon_deg:.6f} +lat_0={lat_deg:.6f} +k=1 +x_0=0 +y_0=0 "
        "+datum=WGS84 +units=m +no_defs"
    )


def wrap_deg(angle_deg: ArrayLike) -> Any:
    """An angle brought into [-180, 180), so that a difference of azimuths is the short way.

    >>> float(wrap_deg(350.0 - 10.0))
    -20.0
    """
    return np.mod(np.asarray(angle_deg, dtype=float) + 180.0, 360.0) - 180.0


def _alike(*values: ArrayLike) -> list[Floats]:
    return [np.array(value, dtype=float) for value in np.broadcast_arrays(*values)]
