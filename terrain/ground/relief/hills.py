"""Whose ground it is: each hill owns the ground whose steepest ascent leads to its summit.

A top that falls less than the least prominence to its key col is a shoulder of a greater hill:
its ground goes to the hill that owns the far side of that col. ::

          A                      B falls less than the limit to the col c, so the ground from
         / \\     B              d to c is A's as well; C falls more to d and keeps its own.
        /   \\ c / \\     C
       /     \\_/   \\ d / \\
"""

from __future__ import annotations

from typing import TypeVar

import geopandas as gpd
import numpy as np
from numpy.typing import NDArray

from terrain.ground.dem import Dem
from terrain.ground.raster.warp import to_grid
from terrain.ground.relief._kernels import NOTHING
from terrain.ground.relief.summits import DEFAULT_PROMINENCE_M
from terrain.ground.relief.tops import Tops, find_tops

__all__ = ["hill_labels", "of_cells", "owners"]

Label = TypeVar("Label", np.bool_, np.int32)


def hill_labels(
    dem: Dem,
    summits: gpd.GeoDataFrame,
    *,
    min_prominence_m: float | None = None,
    tops: Tops | None = None,
) -> NDArray[np.int32]:
    """Which summit's hill each cell belongs to, (rows, cols) int32 on the grid of `dem`.

    summits: a table from `find_summits`; row i is label i + 1. min_prominence_m: metres; tops
    that fall less to their key cols are parts of greater hills; unless given, what the table
    was made with. 0 is unknown ground and the ground of hills that the table does not list,
    such as those at the raster's edge whose prominence is not known to be enough. tops: those of
    `dem`, found here unless given.
    """
    if min_prominence_m is None:
        min_prominence_m = float(summits.attrs.get("min_prominence_m", DEFAULT_PROMINENCE_M))
    tops = find_tops(dem) if tops is None else tops
    places = zip(summits.geometry.x, summits.geometry.y, strict=True)
    listed = [int(tops.top_of[dem.as_delivered.grid.cell_of(lon, lat)]) for lon, lat in places]
    kept = tops.drop_m >= min_prominence_m
    kept[listed] = True
    label = np.zeros(tops.cell.size, dtype=np.int32)
    label[listed] = np.arange(1, len(listed) + 1)
    return _onto(dem, of_cells(tops, label[owners(tops, kept)]))


def owners(tops: Tops, kept: NDArray[np.bool_]) -> NDArray[np.int64]:
    """The top whose hill each top is part of: itself if kept, else that beyond its col, and on."""
    own = np.arange(kept.size)
    owner = np.where(kept | (tops.beyond == NOTHING), own, tops.beyond)
    while True:
        further = owner[owner]
        if (further == owner).all():
            return owner
        owner = further


def of_cells(tops: Tops, label: NDArray[Label]) -> NDArray[Label]:
    """The labels of the tops that own the cells; 0 on unknown ground."""
    # unknown ground has the number -1 and so takes the last entry
    return np.append(label, np.zeros(1, dtype=label.dtype))[tops.top_of]


def _onto(dem: Dem, labels: NDArray[np.int32]) -> NDArray[np.int32]:
    """Labels of the ground as delivered on the grid of `dem`, where its ground is known."""
    if dem.delivered is None:
        return labels
    onto = to_grid(labels, dem.delivered.grid, dem.grid)
    return np.where(np.isnan(dem.heights_m), np.int32(0), onto)
