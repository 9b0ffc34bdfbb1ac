"""The tree of a tile's tops and passes, and the summits of all tiles together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import geopandas as gpd
import numpy as np

from terrain.arrays import Labels, Numbers, Singles, sealed
from terrain.ground.features import Features
from terrain.ground.raster.cuts import Cells
from terrain.ground.raster.parts import PartsPlan
from terrain.ground.raster.planned import PlannedPart
from terrain.ground.relief._island_kernels import Ends
from terrain.ground.relief._kernels import NOTHING
from terrain.ground.relief.peaks import Peaks, join_peaks
from terrain.ground.relief.prominence import DEFAULT_PROMINENCE_M
from terrain.ground.relief.summit_table import (
    check_count,
    check_prominence,
    middle_of,
    summit_table,
)
from terrain.ground.relief.tops import level_cells, ways_up_from
from terrain.ground.relief.trees import Nodes, TopTree, joined_trees, settled

_FLAT_CELLS: Final = 8


def tree_of_part(part: PlannedPart, *, min_prominence_m: float = DEFAULT_PROMINENCE_M) -> TopTree:
    """What the tops of a part of a plan decide, there and elsewhere; reads its cells as delivered.

    Also of a part without any ground of its own, for the first cells of its neighbours are known.
    """
    check_prominence(min_prominence_m)
    heights_m = part.heights_m(part.shared)
    return tree_of_tile(heights_m, part.delivered, part.whole.shape, min_prominence_m)


def summits_of_parts(
    trees: Sequence[TopTree], plan: PartsPlan, *, names: Features | None = None
) -> gpd.GeoDataFrame:
    """The summits of the ground in one piece, as `find_summits` gives them, from all its parts.

    trees: of all parts, or of some that were joined, in any order. ValueError where some are
    missing.
    """
    tree = joined_trees(trees)
    if tree.nodes.cell.size:
        raise ValueError("the trees of some parts are missing")
    found = tree.settled
    check_count(found.cell.size, tree.min_prominence_m)
    middle = found.middle.copy()
    for at in np.flatnonzero(middle == NOTHING):
        middle[at] = _middle_in(plan, int(found.cell[at]))
    return summit_table(
        plan.whole,
        replace(found, middle=middle),
        min_prominence_m=tree.min_prominence_m,
        names=names,
    )


def tree_of_tile(
    heights_m: Singles, own: Cells, shape: tuple[int, int], min_prominence_m: float
) -> TopTree:
    """The tree of a tile of a raster of a shape.

    heights_m: of the cells in `own`, and of the next row and column where the raster has them.
    """
    heights_m = sealed(np.ascontiguousarray(heights_m).view())
    unit = sealed(np.ones(heights_m.shape[0]))
    way = ways_up_from(heights_m, unit, unit)
    peaks, peak_of = join_peaks(heights_m, way, _ends(heights_m.shape, own, shape))
    tiles = _tiles_of(heights_m.shape, own, shape)
    nodes = _nodes(heights_m.reshape(-1), peaks, peak_of, tiles)
    nodes = replace(nodes, middle=_middles(nodes, heights_m, tiles, min_prominence_m))
    return settled(_in_whole(nodes, heights_m.shape[1], own, shape[1]), min_prominence_m)


def _ends(size: tuple[int, int], own: Cells, shape: tuple[int, int]) -> Ends:
    """Where in a tile of some rows and columns the whole raster ends."""
    return Ends(
        top=0 if own.top == 0 else NOTHING,
        left=0 if own.left == 0 else NOTHING,
        bottom=size[0] - 1 if own.top + size[0] == shape[0] else NOTHING,
        right=size[1] - 1 if own.left + size[1] == shape[1] else NOTHING,
    )


def _tiles_of(size: tuple[int, int], own: Cells, shape: tuple[int, int]) -> Labels:
    """How many tiles each cell of a tile is in, (rows, cols)."""
    tiles = np.ones(size, dtype=np.int32)
    if own.top > 0:
        tiles[0] *= 2
    if own.left > 0:
        tiles[:, 0] *= 2
    if own.bottom < shape[0]:
        tiles[-1] *= 2
    if own.right < shape[1]:
        tiles[:, -1] *= 2
    return tiles


def _shared_cells(flat: Singles, tiles: Labels) -> Numbers:
    """The cells of a tile by which its tree is joined to those of others, flat indices in order.

    Of each line of cells that two tiles share those that come before the cells beside them on it,
    and its ends: from any other the line itself leads up to one of these, in both tiles.
    """
    rows, cols = tiles.shape
    along, down = np.arange(cols), np.arange(rows) * cols
    lines = [along, down, along + (rows - 1) * cols, down + cols - 1]
    several = tiles.reshape(-1) > 1
    kept = [_first_of(line, flat) for line in lines if several[line].all()]
    return np.unique(np.concatenate(kept)) if kept else np.empty(0, dtype=np.int64)


def _first_of(line: Numbers, flat: Singles) -> Numbers:
    """The cells of a line that come before those beside them on it, and its ends, if known."""
    height_m = flat[line]
    keeps = ~np.isnan(height_m)
    # of equals the one before on the line comes before in order as well
    keeps[1:-1] &= ~(height_m[:-2] >= height_m[1:-1]) & ~(height_m[2:] > height_m[1:-1])
    return line[keeps]


def _nodes(flat: Singles, peaks: Peaks, peak_of: Labels, tiles: Labels) -> Nodes:
    """All peaks of a tile and the cells by which its tree is joined to others, in its own cells."""
    shared = _shared_cells(flat, tiles)
    shared = shared[peaks.cell[peak_of[shared]] != shared]
    none = np.full(shared.size, NOTHING, dtype=np.int64)
    cell = np.concatenate([peaks.cell, shared])
    # a shared cell is of the island of the peak that it leads to from the first
    col_cell = np.concatenate([peaks.col_cell, shared])
    touch_cell = np.concatenate([peaks.touch_cell, none])
    return Nodes(
        cell=cell,
        height_m=flat[cell],
        tiles=tiles.reshape(-1)[cell],
        seen=np.ones(cell.size, dtype=np.int32),
        joined=np.concatenate([peaks.joined, peak_of[shared]]),
        col_cell=col_cell,
        col_m=_heights(flat, col_cell),
        touch_cell=touch_cell,
        touch_m=_heights(flat, touch_cell),
        middle=np.full(cell.size, NOTHING, dtype=np.int64),
    )


def _middles(nodes: Nodes, heights_m: Singles, tiles: Labels, min_prominence_m: float) -> Numbers:
    """The middle of the flat of each node that may be a summit; -1 where it goes on elsewhere."""
    several, cols = tiles.reshape(-1) > 1, tiles.shape[1]
    low_m = np.fmax(nodes.col_m, nodes.touch_m)
    middle = nodes.middle.copy()
    for at in np.flatnonzero(~(nodes.height_m - low_m < min_prominence_m)):
        cells = level_cells(heights_m, int(nodes.cell[at]))
        if not several[cells].any():
            middle[at] = middle_of(cells, cols)
    return middle


def _in_whole(nodes: Nodes, cols: int, own: Cells, whole_cols: int) -> Nodes:
    """Nodes by the cells of a tile of so many columns as nodes by those of the whole raster."""

    def placed(cell: Numbers) -> Numbers:
        row, col = np.divmod(cell, cols)
        return np.where(cell == NOTHING, cell, (row + own.top) * whole_cols + col + own.left)

    return replace(
        nodes,
        cell=placed(nodes.cell),
        col_cell=placed(nodes.col_cell),
        touch_cell=placed(nodes.touch_cell),
        middle=placed(nodes.middle),
    )


def _middle_in(plan: PartsPlan, cell: int) -> int:
    """The middle of the flat of a cell, wherever the tiles of the raster lie."""
    row, col = divmod(cell, plan.whole.shape[1])
    reach = _FLAT_CELLS
    while True:
        about = Cells(row, col, row + 1, col + 1).widened(reach, plan.whole)
        start = (row - about.top) * about.shape[1] + col - about.left
        at_row, at_col = np.divmod(level_cells(plan.heights_m(about), start), about.shape[1])
        at_row, at_col = at_row + about.top, at_col + about.left
        if not _goes_on(at_row, at_col, about, plan.whole.shape):
            return middle_of(at_row * plan.whole.shape[1] + at_col, plan.whole.shape[1])
        reach *= 4


def _goes_on(row: Numbers, col: Numbers, part: Cells, shape: tuple[int, int]) -> bool:
    """Whether cells of a part of a raster touch an edge of it that is not one of the raster."""
    return bool(
        (part.top > 0 and row.min() == part.top)
        or (part.left > 0 and col.min() == part.left)
        or (part.bottom < shape[0] and row.max() == part.bottom - 1)
        or (part.right < shape[1] and col.max() == part.right - 1)
    )


def _heights(flat: Singles, cell: Numbers) -> Singles:
    return np.where(cell == NOTHING, np.float32(np.nan), flat[cell])
