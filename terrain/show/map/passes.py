"""The map of the passes between valleys, and of the ways that mist pours over them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas as gpd

from terrain.ground.dem import Dem
from terrain.mist.pouring import pouring_paths
from terrain.show.map.contents import MOST_SUMMITS, MapContents
from terrain.show.map.keys import pass_key
from terrain.show.map.map import map_figure
from terrain.show.map.pouring_marks import Pours

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["passes_map"]


def passes_map(dem: Dem, found: gpd.GeoDataFrame, *, title: str) -> Figure:
    """A map of the first of some passes, with the ways that mist pours.

    Parameters
    ----------
    dem : Dem
        The ground.
    found : geopandas.GeoDataFrame
        As `passes` gives it.
    title : str
        What it shows, one line.

    Returns
    -------
    matplotlib.figure.Figure
        For `save_picture`, or as a notebook shows it.

    Examples
    --------
    >>> import numpy as np
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(100, 0, 5e5, 0, -100, 6e6), shape=(60, 61))
    >>> row, col = np.mgrid[-30:30, -30:31]
    >>> wall = 400.0 - 8.0 * abs(col) + 0.05 * row**2 - 2.0 * (col > 0) * abs(col)
    >>> dem = terrain.Dem(wall, grid)
    >>> lon, lat = (float(part) for part in grid.lonlat(30, 10))
    >>> west = terrain.Spot(lon_deg=lon, lat_deg=lat)
    >>> found = terrain.passes(dem, seeds=[west])
    >>> page = terrain.passes_map(dem, found, title="The pass")
    >>> len(page.axes) > 0
    True
    """
    shown = found.head(MOST_SUMMITS)
    ways = pouring_paths(dem, shown[shown["pours"]])
    pouring_first = "Passes that mist pours over, then the lowest"
    order = pouring_first if found["pours"].any() else "The lowest passes between them"
    return map_figure(
        dem,
        MapContents(summits=shown, pours=Pours(ways=ways) if len(ways) else None),
        title=title,
        subtitle=f"{order}, and the side that fills first",
        key=pass_key(shown),
    )
