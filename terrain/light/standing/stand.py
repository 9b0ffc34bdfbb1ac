"""Where to stand: on the edge of the light, or so that the sun is behind a tree or a figure.

::

                       _.-'  sun
      ridge  /\\_.-''  |
       _.-''    |      the line from the sun over the ridge meets the eyes of those who stand on
     o     ground      the edge of the light; downhill of it the sun is hidden

          .' sun
        .'
      | tree        the line from the sun over its top, followed down
    .'|             to where it passes eye height over the ground
   o__|___
"""

from __future__ import annotations

import datetime as dt
import math
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd

from terrain.arrays import Floats, Numbers
from terrain.constants import EYE_HEIGHT_M
from terrain.country import Country, country_of
from terrain.errors import NoAnswer, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.geodesy import destination, drop_m
from terrain.ground.places import Spot
from terrain.ground.tables import with_points
from terrain.light.arrival import contour_lines
from terrain.light.standing.eye_lines import EyeLines, Moments, SunOver, slope_and_fall
from terrain.mist.mist import Mist


def edge_of_light(
    ground: Dem | Country,
    spot: Spot,
    at: dt.datetime,
    *,
    reach_m: float = 1000.0,
    mist: Mist | None = None,
    limb: float = 1.0,
    refraction: float | None = None,
) -> gpd.GeoDataFrame:
    """The lines about a spot on which the sun just touches the skyline at a moment.

    Between the cells' centres the height of the sun over the skyline is taken for linear.

    Parameters
    ----------
    ground : Dem or Country
        The ground, and what a country knows of it.
    spot : Spot
        The middle of the ground that is looked at, and the height of the camera there.
    at : datetime
        The moment, aware.
    reach_m : float, optional
        How far about the spot, to all four sides, metres.
    mist : Mist, optional
        Lies over the ground; eyes keep their height over the true ground.
    limb : float, optional
        The part of the disc that touches, in semi-diameters: 1 its upper edge, 0 its centre, -1 its
        lower edge.
    refraction : float, optional
        Coefficient k of terrestrial refraction, dimensionless, in place of the country's own.

    Returns
    -------
    geopandas.GeoDataFrame
        One row with `time`, `length_m`, the sun's `azimuth_deg` and `altitude_deg` (apparent, of
        its centre), and the lines (EPSG:4326): on one side of them the sun is hidden.

    Raises
    ------
    NoAnswer
        Where no such line passes, or the sun is down.
    NoGround
        Where the spot has no known ground.
    ValueError
        For a moment without a time zone.

    Examples
    --------
    >>> from affine import Affine
    >>> from pyproj import CRS
    >>> from terrain.ground.grid import Grid
    >>> grid = Grid(crs=CRS(32628), transform=Affine(25, 0, 5e5, 0, -25, 6e6), shape=(40, 90))
    >>> wall_in_the_east = np.tile(np.where(np.arange(90) < 60, 0.0, 90.0), (40, 1))
    >>> lon, lat = (float(part) for part in grid.lonlat(20, 20))
    >>> spot, at = Spot(lon_deg=lon, lat_deg=lat), dt.datetime(2025, 3, 20, 7, 44, tzinfo=dt.UTC)
    >>> edge = edge_of_light(Dem(wall_in_the_east, grid), spot, at, reach_m=400.0)
    >>> edge.length_m.round().tolist()
    [981.0]
    """
    country = country_of(ground, mist=mist, refraction=refraction)
    dem, eyes = country.dem, EyeLines(country=country, spot=spot, limb=limb)
    sun = eyes.sun([at])
    row, col = dem.grid.rowcol(spot.lon_deg, spot.lat_deg)
    rows = _about(float(row), reach_m / dem.cell_m, dem.shape[0])
    cols = _about(float(col), reach_m / dem.cell_m, dem.shape[1])
    over = eyes.over_skyline(rows[:, np.newaxis], cols, sun)
    grid = dem.grid.window(int(rows[0]), int(cols[0]), over.shape)
    lines, length_m = contour_lines(grid, over, 0.0)
    if length_m == 0.0:
        state = "in view" if (over > 0.0).any() else "hidden, or the ground toward it unknown,"
        raise NoAnswer(
            f"within {reach_m:.0f} m of {spot.lat_deg:.4f}, {spot.lon_deg:.4f} the sun is {state} "
            f"everywhere at {at:%H:%M}: ask for another minute, or farther about"
        )
    return gpd.GeoDataFrame(
        {
            "time": [at],
            "length_m": [length_m],
            "azimuth_deg": sun.azimuth_deg,
            "altitude_deg": sun.centre_deg,
        },
        geometry=[lines],
        crs="EPSG:4326",
    )


def _about(middle: float, cells: float, count: int) -> Numbers:
    """The rows or columns about a place that the raster has."""
    first, last = max(math.ceil(middle - cells), 0), min(math.floor(middle + cells), count - 1)
    return np.arange(first, max(last, first) + 1)


def stand_behind(
    ground: Dem | Country,
    lon_deg: float,
    lat_deg: float,
    height_m: float,
    times: Moments,
    *,
    eye_m: float = EYE_HEIGHT_M,
    reach_m: float = 500.0,
    mist: Mist | None = None,
    refraction: float | None = None,
) -> gpd.GeoDataFrame:
    """Where to stand so that the sun is behind the top of a tree, a cairn or a figure.

    The line from the sun over that point is followed down to where it passes eye height over the
    ground.

    Parameters
    ----------
    ground : Dem or Country
        The ground, and what a country knows of it.
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
        Coefficient k of terrestrial refraction, dimensionless, in place of the country's own.

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
    country = country_of(ground, mist=mist, refraction=refraction)
    spot = Spot(lon_deg=lon_deg, lat_deg=lat_deg, eye_m=eye_m)
    eyes = EyeLines(country=country, spot=spot)
    top_m, suns = eyes.ground_m + height_m, eyes.sun(times)
    ahead_m = np.arange(0.0, reach_m + 0.25, min(0.5, country.dem.cell_m / 8.0))[1:]
    found = []
    for index in np.flatnonzero(suns.centre_deg > 0.0).tolist():
        sun = suns.at(index)
        away_m = _meets_eyes_m(eyes, sun, top_m, ahead_m)
        if away_m is not None:
            found.append({"time": times[index], **_stand(eyes, sun, away_m)})
    if not found:
        raise NoAnswer(
            f"at none of {len(times)} times can one stand within {reach_m:.0f} m of the object "
            f"at {lat_deg:.4f}, {lon_deg:.4f} and have the sun behind it: ask for other times"
        )
    return with_points(pd.DataFrame(found)).drop(columns=["lon_deg", "lat_deg"])


def _stand(eyes: EyeLines, sun: SunOver, away_m: float) -> dict[str, Any]:
    """The place so far behind an object, seen from the sun."""
    dem, azimuth = eyes.country.dem, float(sun.azimuth_deg)
    to = destination(eyes.spot.lon_deg, eyes.spot.lat_deg, azimuth + 180.0, away_m)
    lon, lat = (float(part) for part in to)
    return {
        "distance_m": away_m,
        "bearing_deg": azimuth,
        "altitude_deg": float(sun.centre_deg),
        "ground_m": float(dem.heights_at(lon, lat)),
        "slope_deg": slope_and_fall(dem, lon, lat)[0],
        "sun_in_view": not bool(eyes.over_at(lon, lat, sun) < 0.0),
        "lon_deg": lon,
        "lat_deg": lat,
    }


def _meets_eyes_m(eyes: EyeLines, sun: SunOver, top_m: float, ahead_m: Floats) -> float | None:
    """How far behind the object the line over its top first passes eye height, metres."""
    country, spot = eyes.country, eyes.spot
    lon, lat = destination(spot.lon_deg, spot.lat_deg, float(sun.azimuth_deg) + 180.0, ahead_m)
    # seen from the eye the top stands at the sun's altitude, and the far one sinks
    rise = math.tan(math.radians(float(sun.centre_deg)))
    fall = ahead_m * rise + drop_m(ahead_m, country.refraction)
    over = top_m - fall - country.dem.heights_at(lon, lat) - spot.eye_m
    passed = np.flatnonzero((over[:-1] >= 0.0) != (over[1:] >= 0.0))
    passed = passed[np.isfinite(over[passed] + over[passed + 1])]
    if passed.size == 0:
        return None
    at = int(passed[0])
    share = over[at] / (over[at] - over[at + 1])
    return float(ahead_m[at] + (ahead_m[at + 1] - ahead_m[at]) * share)
