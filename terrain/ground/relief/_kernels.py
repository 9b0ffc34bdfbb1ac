"""Every top of a raster, whose each cell is, and where the islands of two tops join.

Cells are named by their flat index. Unknown ground is NaN, and so neither higher than anything
nor equal to it. As a sea sinks, cells come up one by one: the highest first, equals in order of
index. A cell that comes before all about it is a peak: every top is one, and now and then another
cell of a flat, which falls nothing to its col.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from terrain.arrays import Flags, Floats, Labels, Numbers, Singles
from terrain.compiling import njit

NOTHING = -1


class Ends(NamedTuple):
    """The rows and columns at which the ground ends: the outermost of a raster; -1 for others."""

    top: int
    left: int
    bottom: int
    right: int


@njit(cache=True, nogil=True)
def ways_up(
    first: int, end: int, heights: Singles, width_m: Floats, depth_m: Floats, way: Labels
) -> None:
    """The neighbour to which the ground rises most steeply from each cell, -1 where none is higher.

    first, end: rows. heights: (rows, cols), metres. width_m, depth_m: (rows,) size of each row's
    cells. way: flat, to be filled.
    """
    rows, cols = heights.shape
    for row in range(first, end):
        width, depth = width_m[row], depth_m[row]
        for col in range(cols):
            level = heights[row, col]
            steepest = 0.0
            best = NOTHING
            for near_row in range(max(row - 1, 0), min(row + 2, rows)):
                for near_col in range(max(col - 1, 0), min(col + 2, cols)):
                    rise = heights[near_row, near_col] - level
                    if rise > 0:
                        way_m = np.hypot((near_row - row) * depth, (near_col - col) * width)
                        if rise / way_m > steepest:
                            steepest = rise / way_m
                            best = near_row * cols + near_col
            way[row * cols + col] = best


@njit(cache=True, nogil=True)
def lead_to_tops(heights: Singles, way: Labels) -> Numbers:
    """Turn ways up into the top that steepest ascent leads to; a top leads to itself.

    A flat is shared out by the nearest way up from it; one without is a top. Results in the
    tops: of each flat one its first cell, in order.
    """
    cols = heights.shape[1]
    flat = heights.reshape(-1)
    queue, waiting = _ways_off_flats(flat, way, cols)
    _share_flats(flat, way, queue, waiting, cols)
    tops = np.empty(queue.size, dtype=np.int64)
    count = 0
    for cell in range(flat.size):
        if way[cell] == NOTHING and not np.isnan(flat[cell]):
            tops[count] = cell
            count += 1
            way[cell] = cell
            queue[0] = cell
            _share_flats(flat, way, queue, 1, cols)
    _lead_on(way)
    return tops[:count].copy()


@njit(cache=True, nogil=True)
def lead_to_peaks(heights: Singles, way: Labels) -> Numbers:
    """Turn ways up into the peak that a way over cells which come before leads to.

    A cell without a way up leads to the first of its equals that comes before it; one without
    is a peak and leads to itself. Results in the peaks, in order.
    """
    cols = heights.shape[1]
    flat = heights.reshape(-1)
    count = 0
    for cell in range(flat.size):
        if way[cell] == NOTHING and not np.isnan(flat[cell]):
            way[cell] = _equal_before(flat, cell, cols)
            if way[cell] == cell:
                count += 1
    peaks = np.empty(count, dtype=np.int64)
    count = 0
    for cell in range(flat.size):
        if way[cell] == cell:
            peaks[count] = cell
            count += 1
    _lead_on(way)
    return peaks


@njit(cache=True, nogil=True)
def _equal_before(flat: Singles, cell: int, cols: int) -> int:
    """The first of the cells about one that is as high and before it in order, else itself."""
    row, col = cell // cols, cell % cols
    for near_row in range(max(row - 1, 0), row + 1):
        for near_col in range(max(col - 1, 0), min(col + 2, cols)):
            near = near_row * cols + near_col
            if near < cell and flat[near] == flat[cell]:
                return near
    return cell


@njit(cache=True, nogil=True)
def _lead_on(way: Labels) -> None:
    """Lead each cell that has a way to where all ways end."""
    for cell in range(way.size):
        if way[cell] != NOTHING:
            end = cell
            while way[end] != end:
                end = way[end]
            at = cell
            while way[at] != end:
                onward = way[at]
                way[at] = end
                at = onward


@njit(cache=True, nogil=True)
def _ways_off_flats(flat: Singles, way: Labels, cols: int) -> tuple[Numbers, int]:
    """A queue of the cells with a way up beside equals without, in order, and their number.

    It has room for all those equals too.
    """
    beside = np.zeros(flat.size, dtype=np.bool_)
    count = 0
    for cell in range(flat.size):
        if way[cell] == NOTHING and not np.isnan(flat[cell]):
            count += 1
            row, col = cell // cols, cell % cols
            for near_row in range(max(row - 1, 0), min(row + 2, flat.size // cols)):
                for near_col in range(max(col - 1, 0), min(col + 2, cols)):
                    near = near_row * cols + near_col
                    if flat[near] == flat[cell] and way[near] != NOTHING and not beside[near]:
                        beside[near] = True
                        count += 1
    queue = np.empty(count, dtype=np.int64)
    waiting = 0
    for cell in range(flat.size):
        if beside[cell]:
            queue[waiting] = cell
            waiting += 1
    return queue, waiting


@njit(cache=True, nogil=True)
def _share_flats(flat: Singles, way: Labels, queue: Numbers, tail: int, cols: int) -> None:
    """From the first `tail` cells of the queue on, lead equals without a way to one that has it."""
    head = 0
    while head < tail:
        cell = queue[head]
        head += 1
        row, col = cell // cols, cell % cols
        for near_row in range(max(row - 1, 0), min(row + 2, flat.size // cols)):
            for near_col in range(max(col - 1, 0), min(col + 2, cols)):
                near = near_row * cols + near_col
                if flat[near] == flat[cell] and way[near] == NOTHING:
                    way[near] = cell
                    queue[tail] = near
                    tail += 1


@njit(cache=True, nogil=True)
def meeting_cells(
    first: int, end: int, heights: Singles, peak_of: Labels, ends: Ends, meets: Flags
) -> None:
    """Where islands of two peaks may meet as a sea sinks, or one may touch the end of the ground.

    Cells at an end or beside unknown ground, and those beside one that comes before and leads to
    another peak. first, end: rows. heights: (rows, cols). peak_of: flat. meets: flat, to be filled.
    """
    rows, cols = heights.shape
    for row in range(first, end):
        for col in range(cols):
            cell = row * cols + col
            level, own = heights[row, col], peak_of[cell]
            here = row == ends.top or col == ends.left or row == ends.bottom or col == ends.right
            for near_row in range(max(row - 1, 0), min(row + 2, rows)):
                for near_col in range(max(col - 1, 0), min(col + 2, cols)):
                    near, beside = heights[near_row, near_col], near_row * cols + near_col
                    before = near > level or (near == level and beside < cell)
                    here |= np.isnan(near) or (before and peak_of[beside] != own)
            meets[cell] = here and not np.isnan(level)


@njit(cache=True, nogil=True)
def join_islands(
    heights: Singles, order: Numbers, peak_of: Labels, peaks: int, ends: Ends
) -> tuple[Numbers, Numbers, Numbers, Labels]:
    """Lower a sea past every peak and note where islands join, and where they touch an end.

    order: the cells of `meeting_cells`, highest first, equals in order of index. peak_of: flat,
    the number of the peak that each cell leads to, peaks numbered in the order of their cells.

    Results, one entry a peak:
    col_cell: where its island joined that of a peak before it, -1 never;
    touch_cell: where its island, until then, first touched an end or unknown ground, or joined an
        island that had; -1 never;
    far_cell: the cell on the far side of the col, of those in that island the highest; -1 no col;
    joined: the peak whose island it joined, -1 no col.

    Islands are joined by union-find over the peaks; the root is always the first peak::

        5 |    A
        4 |   / \\      B          B's island joins A's at the col c, for there a cell of A's
        3 |  /   \\    / \\         comes before c, on its far side
        2 | /     \\ c/   \\
    """
    rows, cols = heights.shape
    flat = heights.reshape(-1)
    col_cell = np.full(peaks, NOTHING, dtype=np.int64)
    touch_cell = np.full(peaks, NOTHING, dtype=np.int64)
    far_cell = np.full(peaks, NOTHING, dtype=np.int64)
    joined = np.full(peaks, NOTHING, dtype=np.int32)
    parent = np.arange(peaks).astype(np.int32)
    meeting = np.empty(9, dtype=np.int64)
    for cell in order:
        row, col = cell // cols, cell % cols
        touches = row == ends.top or col == ends.left or row == ends.bottom or col == ends.right
        root = root_of(parent, peak_of[cell])
        far_side, highest = cell, flat[cell]
        meeting[0] = root
        count = 1
        for near_row in range(max(row - 1, 0), min(row + 2, rows)):
            for near_col in range(max(col - 1, 0), min(col + 2, cols)):
                near = near_row * cols + near_col
                touches |= np.isnan(flat[near])
                if flat[near] > flat[cell] or (flat[near] == flat[cell] and near < cell):
                    other = root_of(parent, peak_of[near])
                    meeting[count] = other
                    count += 1
                    if other < root or (other == root and flat[near] > highest):
                        root = other
                        far_side, highest = near, flat[near]
        for lesser in meeting[:count]:
            if lesser != root and parent[lesser] == lesser:
                far_cell[lesser] = far_side
                join(parent, lesser, root, cell, col_cell, joined, touch_cell)
        if touches and touch_cell[root] == NOTHING:
            touch_cell[root] = cell
    return col_cell, touch_cell, far_cell, joined


@njit(cache=True, nogil=True)
def join(
    parent: Labels,
    lesser: int,
    root: int,
    at: int,
    col: Numbers,
    joined: Labels,
    touch: Numbers,
) -> None:
    """Join an island to that of a peak before it, which from then on touches an end if that did."""
    parent[lesser] = root
    col[lesser] = at
    joined[lesser] = root
    if touch[lesser] != NOTHING and touch[root] == NOTHING:
        touch[root] = at


@njit(cache=True, nogil=True)
def root_of(parent: Labels, peak: int) -> int:
    while parent[peak] != peak:
        parent[peak] = parent[parent[peak]]
        peak = parent[peak]
    return peak
