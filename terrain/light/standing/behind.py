"""Where to stand so that the sun is behind a tree, a cairn or a figure.

::

          .' sun
        .'
      | tree        the line from the sun over its top, followed down
    .'|             to where it passes eye height over the ground
   o__|___
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.constants import EYE_HEIGHT_M, TERRESTRIAL_REFRACTION
from terrain.errors import NoAnswer, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.geodesy import destination, drop_m
from terrain.ground.places import Spot
from terrain.light.standing.eye_lines import Eyes, Moments, SunOver, slope_and_fall, sun_over
from terrain.mist.mist import Mist

__all__ = ["stand_behind"]

Floats = NDArray[np.float64]


def stand_behind(
    dem: Dem,
    lon_deg: float,
    lat_deg: float,
    height_m: float,
    times: Moments,
    *,
    eye_m: float = EYE_HEIGHT_M,
    reach_m: float = 500.0,
    mist: Mist | None = None,
    refraction: float = TERRESTRIAL_REFRACTION,
) -> gpd.GeoDataFrame:
    """Where to stand so that the sun is behind the top of a tree, a cairn or a figure.

    The line from the sun over that point is followed down to where it passes eye height over the
    ground.

    Parameters
    ----------
    dem : Dem
        The ground.
    lon_deg : float
        Longitude of the object, WGS 84 degrees.
    lat_deg : float
        Latitude of the object, WGS 84 degrees.
    height_m : float
        Of the point behind which the centre of the sun is to be, over the ground there, metres: its
        top, or lower.
    times : sequence of datetime
        Aware.
    eye_m : float, optional
        Height of the camera over the ground, metres.
    reach_m : float, optional
        How far from the object, at most, metres.
    mist : Mist, optional
        Lies over the ground and may hide the sun; object and camera stand on the ground under it.
    refraction : float, optional
        Coefficient k of terrestrial refraction, dimensionless; 0.13 unless given.

    Returns
    -------
    geopandas.GeoDataFrame
        One row for each time at which that happens, in order (points, EPSG:4326): `time`,
        `distance_m` to the object, `bearing_deg` in which one looks (the sun's azimuth),
        `altitude_deg` of the sun, `ground_m`, the height of the ground there, `slope_deg` of it,
        and `sun_in_view`, whether the ground beyond the object lets the sun's centre be seen.

    Raises
    ------
    NoGround
        Where the object has no known ground.
    NoAnswer
        Where there is no such place at any of the times.
    TerrainError
        For a height that is not above 0.
    ValueError
        For a time without a zone.

    Examples
    --------
    >>> from affine import Affine
    >>> from pyproj import CRS
    >>> from terrain.ground.grid import Grid
    >>> grid = Grid(crs=CRS(32628), transform=Affine(50, 0, 5e5, 0, -50, 6e6), shape=(40, 40))
    >>> lon, lat = (float(part) for part in grid.lonlat(20, 20))
    >>> morning = dt.datetime(2025, 3, 20, 8, tzinfo=dt.UTC)
    >>> stand_behind(Dem(np.zeros(grid.shape), grid), lon, lat, 12.0, [morning]).distance_m.round(1)
    0    75.5
    Name: distance_m, dtype: float64
    """
    if not 0.0 < height_m < math.inf:
        raise TerrainError(f"an object must stand out by more than 0 m, got {height_m}")
    base_m = dem.height_at(lon_deg, lat_deg)
    seen = dem if mist is None else mist.surface(dem)
    look = _Look(
        dem=dem,
        eyes=Eyes(dem=dem, seen=seen, eye_m=eye_m, refraction=refraction),
        object=Spot(lon_deg=lon_deg, lat_deg=lat_deg, eye_m=eye_m),
        top_m=base_m + height_m,
    )
    sun = sun_over(look.object, times, base_m, 0.0)
    ahead_m = np.arange(0.0, reach_m + 0.25, min(0.5, dem.cell_m / 8.0))[1:]
    rows = [
        _stand(look, sun, index, time, ahead_m)
        for index, time in enumerate(times)
        if sun.centre_deg[index] > 0.0
    ]
    found = [row for row in rows if row is not None]
    if not found:
        raise NoAnswer(
            f"at none of {len(times)} times can one stand within {reach_m:.0f} m of the object "
            f"at {lat_deg:.4f}, {lon_deg:.4f} and have the sun behind it: ask for other times"
        )
    table = pd.DataFrame(found)
    points = gpd.points_from_xy(table.pop("lon_deg"), table.pop("lat_deg"))
    return gpd.GeoDataFrame(table, geometry=points, crs="EPSG:4326")


@dataclass(frozen=True, kw_only=True)
class _Look:
    """What all looks over one object have in common; `object` has the camera's height."""

    dem: Dem
    eyes: Eyes
    object: Spot
    top_m: float


def _stand(
    look: _Look, sun: SunOver, index: int, time: dt.datetime, ahead_m: Floats
) -> dict[str, Any] | None:
    """The nearest place behind an object at one time, None where the line meets no ground."""
    azimuth, altitude = float(sun.azimuth_deg[index]), float(sun.centre_deg[index])
    away_m = _meets_eyes_m(look, azimuth, altitude, ahead_m)
    if away_m is None:
        return None
    to_lon, to_lat = destination(look.object.lon_deg, look.object.lat_deg, azimuth + 180.0, away_m)
    lon, lat = float(to_lon), float(to_lat)
    over = look.eyes.over_skyline(*look.dem.grid.rowcol(lon, lat), sun.at(index))
    return {
        "time": time,
        "distance_m": away_m,
        "bearing_deg": azimuth,
        "altitude_deg": altitude,
        "ground_m": float(look.dem.heights_at(lon, lat)),
        "slope_deg": slope_and_fall(look.dem, lon, lat)[0],
        "sun_in_view": not bool(over < 0.0),
        "lon_deg": lon,
        "lat_deg": lat,
    }


def _meets_eyes_m(
    look: _Look, azimuth_deg: float, altitude_deg: float, ahead_m: Floats
) -> float | None:
    """How far behind the object the line over its top first passes eye height, metres."""
    lon, lat = destination(look.object.lon_deg, look.object.lat_deg, azimuth_deg + 180.0, ahead_m)
    # seen from the eye the top stands at the sun's altitude, and the far one sinks
    fall = ahead_m * math.tan(math.radians(altitude_deg)) + drop_m(ahead_m, look.eyes.refraction)
    over = look.top_m - fall - look.dem.heights_at(lon, lat) - look.eyes.eye_m
    passed = np.flatnonzero((over[:-1] >= 0.0) != (over[1:] >= 0.0))
    passed = passed[np.isfinite(over[passed] + over[passed + 1])]
    if passed.size == 0:
        return None
    at = int(passed[0])
    share = over[at] / (over[at] - over[at + 1])
    return float(ahead_m[at] + (ahead_m[at + 1] - ahead_m[at]) * share)
