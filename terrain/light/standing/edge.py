"""Where on the ground the sun just touches the skyline: the line to stand on.

::

                       _.-'  sun
      ridge  /\\_.-''  |
       _.-''    |      the line from the sun over the ridge meets the eyes of those who stand on
     o     ground      the edge of the light; downhill of it the sun is hidden
"""

from __future__ import annotations

import datetime as dt
import math

import geopandas as gpd
import numpy as np
from numpy.typing import NDArray

from terrain.country import Country, country_of
from terrain.errors import NoAnswer
from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.light.arrival import contour_lines
from terrain.light.standing.eye_lines import EyeLines
from terrain.mist.mist import Mist

__all__ = ["edge_of_light"]


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


def _about(middle: float, cells: float, count: int) -> NDArray[np.int64]:
    """The rows or columns about a place that the raster has."""
    first, last = max(math.ceil(middle - cells), 0), min(math.floor(middle + cells), count - 1)
    return np.arange(first, max(last, first) + 1)
