"""The map of the passes between valleys, and of the ways that mist pours over them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas as gpd

from terrain.ground.dem import Dem
from terrain.mist.pouring import pouring_paths
from terrain.show.map.contents import MOST_SUMMITS
from terrain.show.map.keys import pass_key
from terrain.show.map.map import map_figure
from terrain.show.map.pouring_marks import Pours

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["passes_map"]


def passes_map(dem: Dem, found: gpd.GeoDataFrame, *, title: str) -> Figure:
    """A map of the first of some passes, as `passes` has them, with the ways that mist pours."""
    shown = found.head(MOST_SUMMITS)
    ways = pouring_paths(dem, shown[shown["pours"]])
    pouring_first = "Passes that mist pours over, then the lowest"
    order = pouring_first if found["pours"].any() else "The lowest passes between them"
    return map_figure(
        dem,
        title=title,
        subtitle=f"{order}, and the side that fills first",
        summits=shown,
        key=pass_key(shown),
        pours=Pours(ways=ways) if len(ways) else None,
    )
