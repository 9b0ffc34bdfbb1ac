"""Passes on a map of mist: a lettered disc on each, and an arrow the way mist pours over it."""

from __future__ import annotations

import string
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import geopandas as gpd
import numpy as np
from matplotlib.patches import FancyArrowPatch
from matplotlib.path import Path
from matplotlib.patheffects import Normal, Stroke
from numpy.typing import ArrayLike

from terrain.arrays import Floats
from terrain.ground.dem import Dem
from terrain.show.map.extent import map_places, shape_places
from terrain.show.paper import palette
from terrain.show.paper.marks import RADIUS_PT, draw_marks, from_points, in_points

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["MOST_PASSES", "Pours", "draw_passes", "draw_ways", "lettered"]

MOST_PASSES: Final = 6

_LEAST_ARROW_PT: Final = 24.0
_CASING_PT: Final = 2.2


@dataclass(frozen=True, kw_only=True, eq=False)
class Pours:
    """Where mist pours over passes, for a map.

    ways: lines from the passes down, EPSG:4326. passes: rows of `pouring` with a letter each in
    a column `mark`; None where something else marks them.
    """

    ways: gpd.GeoDataFrame
    passes: gpd.GeoDataFrame | None = None


def lettered(poured: gpd.GeoDataFrame, marks: dict[Any, str] | None = None) -> gpd.GeoDataFrame:
    """At most six rows of `pouring`, lowest pass first, with a letter each in a column `mark`.

    marks: letters by the index of the row, for the maps of a series; a, b, c ... unless given.
    """
    shown = poured.head(MOST_PASSES).sort_values("height_m", kind="stable")
    if marks is None:
        marks = dict(zip(shown.index, string.ascii_lowercase, strict=False))
    return shown.assign(mark=[marks.get(label, "") for label in shown.index])


def draw_ways(ax: Axes, dem: Dem, ways: gpd.GeoDataFrame) -> None:
    """An arrow along each way that mist pours, from the pass down; lines in EPSG:4326.

    A way too short to be seen at the scale of the map is drawn as a short arrow the way it goes.
    """
    casing = Stroke(linewidth=1.3 + _CASING_PT, foreground=palette.PAPER, alpha=0.9)
    look: dict[str, Any] = {
        "arrowstyle": "-|>,head_length=4.2,head_width=2.1",
        "linewidth": 1.3,
        "color": palette.SHORE,
        "capstyle": "butt",
        "joinstyle": "round",
        "path_effects": [casing, Normal()],
        "shrinkA": 0.0,
        "shrinkB": 0.0,
    }
    for line in ways.geometry:
        along = Path(_long_enough(ax, shape_places(dem.grid, line)))
        ax.add_patch(FancyArrowPatch(path=along, zorder=4.2, gid="pour", **look))


def draw_passes(
    ax: Axes, dem: Dem, passes: gpd.GeoDataFrame, *, keep_out: ArrayLike | None = None
) -> None:
    """A disc with its letter beside each pass, on the side that the mist comes from."""
    places = shape_places(dem.grid, passes.geometry)
    beyond = map_places(dem.grid, passes["to_lon_deg"].to_numpy(), passes["to_lat_deg"].to_numpy())
    down = in_points(ax, beyond) - in_points(ax, places)
    away = down / np.maximum(np.hypot(*down.T), 1e-9)[:, np.newaxis]
    offset = -(RADIUS_PT + 3.0) * away
    marks = list(passes["mark"])
    draw_marks(ax, places, marks, offset_pt=offset, keep_out=keep_out, zorder=7.5)


def _long_enough(ax: Axes, along: Floats) -> Floats:
    at_pt = in_points(ax, along)
    steps = np.hypot(*np.diff(at_pt, axis=0).T)
    if steps.sum() >= _LEAST_ARROW_PT:
        return along
    way = at_pt[-1] - at_pt[0]
    way = np.array([1.0, 0.0]) if not way.any() else way / np.hypot(*way)
    return np.stack([along[0], from_points(ax, at_pt[0] + _LEAST_ARROW_PT * way)])
