"""Whose ground it is: each hill owns the ground whose steepest ascent leads to its summit.

A top that falls less than the least prominence to its key col is a shoulder of a greater hill:
its ground goes to the hill that owns the far side of that col. ::

          A                      B falls less than the limit to the col c, so the ground from
         / \\     B              d to c is A's as well; C falls more to d and keeps its own.
        /   \\ c / \\     C
       /     \\_/   \\ d / \\
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final, TypeVar

import geopandas as gpd
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from terrain.arrays import Flags, Labels, Singles, sealed
from terrain.errors import NoGround
from terrain.ground.dem import Dem
from terrain.ground.places import Hill
from terrain.ground.raster.warp import as_warped, to_grid
from terrain.ground.relief._kernels import NOTHING
from terrain.ground.relief.prominence import DEFAULT_PROMINENCE_M
from terrain.ground.relief.tops import Tops, cells_about, find_tops, owners, tops_of

_REACH_M: Final = 8000.0
_LATTICE: Final = 9
_RIM: Final = 2

Label = TypeVar("Label", np.bool_, np.int32)
Part = tuple[slice, slice]


def hill_labels(dem: Dem, summits: gpd.GeoDataFrame, *, tops: Tops | None = None) -> Labels:
    """Which summit's hill each cell belongs to, (rows, cols) int32 on the grid of `dem`.

    summits: a table from `find_summits`; row i is label i + 1. Tops that fall less to their key
    cols than it asks of a summit are parts of greater hills. 0 is unknown ground and the ground of
    hills that the table does not list, such as those at the raster's edge whose prominence is not
    known to be enough. tops: those of `dem`, found here unless given.
    """
    min_prominence_m = float(summits.attrs.get("min_prominence_m", DEFAULT_PROMINENCE_M))
    tops = find_tops(dem) if tops is None else tops
    places = zip(summits.geometry.x, summits.geometry.y, strict=True)
    listed = [int(tops.top_of[dem.as_delivered.grid.cell_of(lon, lat)]) for lon, lat in places]
    kept = tops.drop_m >= min_prominence_m
    kept[listed] = True
    label = np.zeros(tops.cell.size, dtype=np.int32)
    label[listed] = np.arange(1, len(listed) + 1)
    return as_warped(of_cells(tops, label[owners(tops, kept)]), dem)


def of_cells(tops: Tops, label: NDArray[Label]) -> NDArray[Label]:
    """The labels of the tops that own the cells; 0 on unknown ground."""
    # unknown ground has the number -1 and so takes the last entry
    return np.append(label, np.zeros(1, dtype=label.dtype))[tops.top_of]


def hill_ground(dem: Dem, hill: Hill) -> Flags:
    """Where the hill's own ground is, (rows, cols) of the grid of `dem`.

    Tops on it that fall less than `hill.min_prominence_m` to their key cols are part of it. A
    summit that falls less itself still owns its ground; a place on a slope stands for the hill
    that slope belongs to. Only as much of the raster is looked at as it takes to be sure. The
    result is read-only. NoGround where the hill is off the raster or on unknown ground.
    """
    ground = dem.as_delivered
    row, col = ground.grid.cell_of(hill.lon_deg, hill.lat_deg)
    if np.isnan(ground.heights_m[row, col]):
        raise NoGround(f"{hill.label} stands on unknown ground: choose another raster")
    width_m, depth_m = ground.grid.cell_sizes_m()
    reach_m = _REACH_M
    while True:
        rows = cells_about(row, reach_m / float(depth_m[row]), ground.shape[0])
        cols = cells_about(col, reach_m / float(width_m[row]), ground.shape[1])
        part = np.ascontiguousarray(ground.heights_m[rows, cols])
        tops = tops_of(part, width_m[rows], depth_m[rows])
        at = row - rows.start, col - cols.start
        own = _tops_owned(tops, part, at, hill.min_prominence_m)
        cells = of_cells(tops, own)
        if part.shape == ground.shape or (
            not _leaves(cells, (rows, cols), ground.shape)
            and _is_sure(tops, part, own, cells, at, hill.min_prominence_m)
        ):
            return _onto(dem, cells, (rows, cols))
        reach_m *= 2.0


def _tops_owned(
    tops: Tops, heights_m: Singles, at: tuple[int, int], min_prominence_m: float
) -> Flags:
    """The tops that are part of the hill at a cell, whose summit counts however little it falls."""
    top = tops.top_of[at]
    kept = tops.drop_m >= min_prominence_m
    kept[top] |= heights_m[at] == tops.height_m[top]
    owner = owners(tops, kept)
    return np.asarray(owner == owner[top])


def _leaves(own: Flags, part: Part, shape: tuple[int, int]) -> bool:
    """Whether cells of a part of a raster touch an edge of it that is not one of the raster."""
    rows, cols = part
    return bool(
        (rows.start > 0 and own[0].any())
        or (cols.start > 0 and own[:, 0].any())
        or (rows.stop < shape[0] and own[-1].any())
        or (cols.stop < shape[1] and own[:, -1].any())
    )


def _is_sure(
    tops: Tops,
    heights_m: Singles,
    own: Flags,
    cells: Flags,
    at: tuple[int, int],
    min_prominence_m: float,
) -> bool:
    """Whether the ground beyond a part of a raster cannot change whose its tops are.

    What is a shoulder is decided above its height less the least prominence. So it is known for
    a top whose island, as the sea sinks that far, joins a higher one before it reaches the edge
    of the part. That must be so of all tops of the hill but its own summit; and a top beside it
    that it does not own, or one whose island that of this one is part of, must be known or else
    stand too high over the ground between them to be a shoulder of the hill.
    """
    col_m = np.nan_to_num(tops.col_height_m, nan=-np.inf)
    touch_m = np.nan_to_num(tops.touch_height_m, nan=-np.inf)
    unsure = touch_m > np.maximum(col_m, tops.height_m - min_prominence_m)
    summit = tops.top_of[at]
    if heights_m[at] == tops.height_m[summit]:
        unsure[summit] = False
    if (own & unsure).any():
        return False
    for top, low_m, high_m in _beside(tops, heights_m, cells):
        island = top
        while tops.height_m[island] < high_m + min_prominence_m:
            if touch_m[island] > max(col_m[island], low_m):
                return False
            if not col_m[island] > low_m:
                break
            island = int(tops.joined[island])
    return True


def _beside(tops: Tops, heights_m: Singles, cells: Flags) -> Iterator[tuple[int, float, float]]:
    """Tops whose ground lies beside some cells: each with the lowest and the highest way over."""
    count = tops.cell.size
    low_m, high_m = np.full(count, np.inf), np.full(count, -np.inf)
    rows, cols = cells.shape
    for down, along in ((0, 1), (1, -1), (1, 0), (1, 1)):
        here = np.s_[: rows - down, max(-along, 0) : cols - max(along, 0)]
        there = np.s_[down:, max(along, 0) : cols + min(along, 0)]
        for own, other in ((here, there), (there, here)):
            meets = cells[own] & ~cells[other] & (tops.top_of[other] != NOTHING)
            top = tops.top_of[other][meets]
            way_m = np.minimum(heights_m[own][meets], heights_m[other][meets])
            np.minimum.at(low_m, top, way_m)
            np.maximum.at(high_m, top, way_m)
    for top in np.flatnonzero(np.isfinite(low_m)):
        yield int(top), float(low_m[top]), float(high_m[top])


def _onto(dem: Dem, cells: Flags, part: Part) -> Flags:
    """Cells of a part of the ground as delivered, on the grid of `dem` where that is known."""
    own = np.zeros(dem.shape, dtype=bool)
    if dem.delivered is None:
        own[part] = cells
        return sealed(own)
    rows, cols = ndimage.find_objects(cells.astype(np.int8))[0]
    rim = np.pad(cells[rows, cols].astype(np.int32), _RIM)
    north, west = part[0].start + rows.start - _RIM, part[1].start + cols.start - _RIM
    source = dem.delivered.grid.window(north, west, rim.shape)
    lattice = (np.linspace(0.0, size - 1.0, _LATTICE) for size in source.shape)
    ends = dem.grid.rowcol(*source.lonlat(*np.meshgrid(*lattice)))
    window = tuple(
        slice(max(math.floor(at.min()), 0), min(math.ceil(at.max()) + 1, size))
        for at, size in zip(ends, dem.shape, strict=True)
    )
    known = ~np.isnan(dem.heights_m[window])
    placing = dem.grid.window(window[0].start, window[1].start, known.shape)
    own[window] = known & (to_grid(rim, source, placing) == 1)
    return sealed(own)
