"""The map of the vantages of a hill, with what must be said of them and views from the first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import geopandas as gpd
import numpy as np
from matplotlib.figure import Figure

from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.mist.level import AnyMist, hoped_mist
from terrain.mist.trees import TREES_M
from terrain.show.map.contents import MapContents
from terrain.show.map.extent import MapCells
from terrain.show.map.map import cells_about, map_figure
from terrain.show.map.spread import without_place
from terrain.show.paper.style import own_style
from terrain.show.paper.vignette import Vignette
from terrain.words.vantages import (
    NOTES,
    range_note,
    vantages_subtitle,
    vantages_title,
    worth_note,
)

_CONTOURS_M: Final = (10.0, 20.0, 50.0, 100.0, 200.0)
_MOST_CONTOURS: Final = 20


@own_style()
def vantages_map(
    dem: Dem,
    hill: Hill,
    found: gpd.GeoDataFrame,
    *,
    when: str,
    mist: AnyMist | None = None,
    starts: Sequence[Spot] = (),
    paths: gpd.GeoDataFrame | None = None,
    trees_m: tuple[float, float] = TREES_M,
    named: Sequence[Spot] = (),
    views: Sequence[Vignette] = (),
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
    trees_m : (float, float), optional
        How high trees are, the low and the high, metres: in mist as shallow their tops are shown.
    named : sequence of Spot, optional
        Places whose names are written on the map as far as there is room, the first first.
    views : sequence of Vignette, optional
        Small pictures beside the legend, as `small_views` gives them.

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
        mist=hoped_mist(mist),
        trees_m=trees_m,
        hill=hill,
        vantages=found,
        starts=nearest,
        paths=paths,
        named=without_place(named, hill),
    )
    shown = replace(shown, contour_m=_contour_step_m(cells_about(dem, shown), dem))
    return map_figure(
        dem,
        shown,
        title=vantages_title(hill, found),
        subtitle=vantages_subtitle(found, when, mist),
        notes=(*range_note(mist), *worth_note(found), *NOTES),
        views=views,
    )


def _contour_step_m(cells: MapCells, dem: Dem) -> float:
    """Height between two contours that leaves the map readable, metres."""
    heights = cells.thinned(dem.heights_m)
    span_m = float(np.nanmax(heights) - np.nanmin(heights))
    return next((step for step in _CONTOURS_M if span_m / step <= _MOST_CONTOURS), _CONTOURS_M[-1])
