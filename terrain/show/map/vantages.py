"""The map of the vantages of a hill, with what must be said of it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import geopandas as gpd

from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.mist.level import AnyMist, hoped_mist
from terrain.show.map.contents import MapContents
from terrain.show.map.map import map_figure
from terrain.words.vantages import NOTES, range_note, vantages_subtitle

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["vantages_map"]


def vantages_map(
    dem: Dem,
    hill: Hill,
    found: gpd.GeoDataFrame,
    *,
    when: str,
    mist: AnyMist | None = None,
    starts: Sequence[Spot] = (),
    paths: gpd.GeoDataFrame | None = None,
) -> Figure:
    """A map of the vantages of a hill, as `find_vantages` has them.

    Parameters
    ----------
    dem : Dem
        The ground.
    hill : Hill
        The hill that is looked at.
    found : geopandas.GeoDataFrame
        As `find_vantages` gives it.
    when : str
        The day or the year in words.
    mist : Mist or MistRange, optional
        None unless given; of a range the top hoped for is drawn.
    starts : sequence of Spot, optional
        Where a walk could begin; those are shown that some vantage is nearest to.
    paths : geopandas.GeoDataFrame, optional
        Ways to walk on.

    Returns
    -------
    matplotlib.figure.Figure
        For `save_picture`, or as a notebook shows it.

    Examples
    --------
    >>> import datetime as dt
    >>> import numpy as np
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(100, 0, 5e5, 0, -100, 6e6), shape=(61, 81))
    >>> row, col = np.mgrid[-30:31, -40:41]
    >>> cone = terrain.Dem(np.maximum(300.0 - 40.0 * np.hypot(row, col), 0.0), grid)
    >>> hill = terrain.hill_at(cone, *map(float, grid.lonlat(30, 40)), name="Cone")
    >>> lon, lat = (float(part) for part in grid.lonlat(30, 10))
    >>> spot = terrain.Spot(lon_deg=lon, lat_deg=lat, name="the stile")
    >>> found = terrain.find_vantages(cone, hill, day=dt.date(2025, 3, 30), count=2)
    >>> page = terrain.vantages_map(cone, hill, found, when="30 March 2025")
    >>> len(page.axes) > 0
    True
    """
    # those that some vantage is nearest to
    nearest = [start for start in starts if start.label in set(found.get("start", ()))]
    shown = MapContents(
        mist=hoped_mist(mist), hill=hill, vantages=found, starts=nearest, paths=paths
    )
    return map_figure(
        dem,
        shown,
        title=f"{hill.label} at sunrise: where to stand",
        subtitle=vantages_subtitle(found, when, mist),
        notes=(*range_note(mist), *NOTES),
    )
