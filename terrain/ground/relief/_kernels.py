"""Every top of a raster, whose each cell is, and where the islands of two tops join.

Numbers are named by their flat index. Unknown ground is NaN, and so neither higher than anything
nor equal to it.
"""

from __future__ import annotations

import numpy as np

from terrain.arrays import Flags, Floats, Labels, Numbers, Singles
from terrain.compiling import njit

NOTHING = -1


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
    for cell in range(flat.size):
        if way[cell] != NOTHING:
            top = cell
            while way[top] != top:
                top = way[top]
            at = cell
            while way[at] != top:
                onward = way[at]
                way[at] = top
                at = onward
    return tops[:count].copy()


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
def meeting_cells(first: int, end: int, heights: Singles, top_of: Labels, meets: Flags) -> None:
    """Where the ground of two tops may meet as a sea sinks, or where an island touches the edge.

    Numbers at the raster's edge or beside unknown ground, and those beside the ground of another
    top that is as high or higher. first, end: rows. meets: flat, to be filled.
    """
    rows, cols = heights.shape
    for row in range(first, end):
        for col in range(cols):
            level, own = heights[row, col], top_of[row * cols + col]
            here = row == 0 or col == 0 or row == rows - 1 or col == cols - 1
            for near_row in range(max(row - 1, 0), min(row + 2, rows)):
                for near_col in range(max(col - 1, 0), min(col + 2, cols)):
                    near = heights[near_row, near_col]
                    other = top_of[near_row * cols + near_col] != own
                    here |= np.isnan(near) or (near >= level and other)
            meets[row * cols + col] = here and not np.isnan(level)


@njit(cache=True, nogil=True)
def join_islands(
    heights: Singles, order: Numbers, top_of: Labels, tops: int
) -> tuple[Numbers, Numbers, Labels, Labels]:
    """Lower a sea past every top and note where islands join, and where they touch the edge.

    order: the cells of `meeting_cells`, highest first, equals in order of index. top_of: flat,
    the number of the top that each cell leads up to, tops numbered from the highest down.

    Results, one entry a top:
    col_cell: where its island joined that of a higher top, -1 never;
    touch_cell: where its island, until then, first touched the raster's edge or unknown ground,
        or joined an island that had; -1 never;
    beyond: the top that steepest ascent leads to from the far side of the col, -1 no col;
    joined: the top whose island it joined, -1 no col.

    Islands are joined by union-find over the tops; the root is always the highest top::

        5 |    A
        4 |   / \\      B          B's island joins A's at the col c; steepest ascent from the
        3 |  /   \\    / \\         far side of c leads to A, so A is beyond B's col
        2 | /     \\ c/   \\
    """
    rows, cols = heights.shape
    flat = heights.reshape(-1)
    col_cell = np.full(tops, NOTHING, dtype=np.int64)
    touch_cell = np.full(tops, NOTHING, dtype=np.int64)
    beyond = np.full(tops, NOTHING, dtype=np.int32)
    joined = np.full(tops, NOTHING, dtype=np.int32)
    parent = np.arange(tops).astype(np.int32)
    meeting = np.empty(9, dtype=np.int64)
    for cell in order:
        row, col = cell // cols, cell % cols
        touches = row == 0 or col == 0 or row == rows - 1 or col == cols - 1
        root = _root(parent, top_of[cell])
        far_side, highest = top_of[cell], flat[cell]
        meeting[0] = root
        count = 1
        for near_row in range(max(row - 1, 0), min(row + 2, rows)):
            for near_col in range(max(col - 1, 0), min(col + 2, cols)):
                near = near_row * cols + near_col
                touches |= np.isnan(flat[near])
                if flat[near] > flat[cell] or (flat[near] == flat[cell] and near < cell):
                    other = _root(parent, top_of[near])
                    meeting[count] = other
                    count += 1
                    if other < root or (other == root and flat[near] > highest):
                        root = other
                        far_side, highest = top_of[near], flat[near]
        for lesser in meeting[:count]:
            if lesser != root and parent[lesser] == lesser:
                parent[lesser] = root
                col_cell[lesser] = cell
                beyond[lesser] = far_side
                joined[lesser] = root
                if touch_cell[lesser] != NOTHING and touch_cell[root] == NOTHING:
                    touch_cell[root] = cell
        if touches and touch_cell[root] == NOTHING:
            touch_cell[root] = cell
    return col_cell, touch_cell, beyond, joined


@njit(cache=True, nogil=True)
def _root(parent: Labels, top: int) -> int:
    while parent[top] != top:
        parent[top] = parent[parent[top]]
        top = parent[top]
    return top
