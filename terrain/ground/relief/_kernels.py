"""Every top of a raster, and whose each cell is.

Cells are named by their flat index. Unknown ground is NaN, and so neither higher than anything
nor equal to it. As a sea sinks, cells come up one by one: the highest first, equals in order of
index. A cell that comes before all about it is a peak: every top is one, and now and then another
cell of a flat, which falls nothing to its col.
"""

from __future__ import annotations

import numpy as np

from terrain.arrays import ONE, Flags, Floats, Labels, Numbers, Singles
from terrain.compiling import inner, njit

NOTHING = -1


@njit(cache=True, nogil=True, error_model="numpy", _nrt=False)
def ways_up(
    first: int,
    end: int,
    heights: Singles,
    width_m: Floats,
    depth_m: Floats,
    way: Labels,
    steepest: Floats,
) -> None:
    """The neighbour to which the ground rises most steeply from each cell, -1 where none is higher.

    first, end: rows. heights: (rows, cols), metres. width_m, depth_m: (rows,) size of each row's
    cells. way: flat, to be filled. steepest: room for (cols,). Of neighbours as steep the first;
    each is looked at for all cells of a row at once.
    """
    rows, cols = heights.shape
    for row in range(first, end):
        across_m, along_m = width_m[row], depth_m[row]
        aslant_m = np.hypot(along_m, across_m)
        best = way[row * cols : (row + 1) * cols]
        for col in range(cols):
            steepest[col], best[col] = 0.0, NOTHING
        for near_row in range(max(row - 1, 0), min(row + 2, rows)):
            for right in range(-1, 2):
                beside_m = across_m if near_row == row else aslant_m
                away_m = along_m if right == 0 else beside_m
                start = max(-right, 0)
                near, level = heights[near_row, start + right :], heights[row, start:]
                there = near_row * cols + start + right
                for at in range(cols - abs(right)):
                    slope = (near[at] - level[at]) / away_m
                    rises = slope > steepest[start + at]
                    steepest[start + at] = slope if rises else steepest[start + at]
                    best[start + at] = there + at if rises else best[start + at]


@njit(cache=True, nogil=True, error_model="numpy", _nrt=False)
def lead_to_tops(
    flat: Singles, cols: int, way: Labels, queue: Numbers, waiting: int, tops: Numbers
) -> int:
    """Turn ways up into the top that steepest ascent leads to; a top leads to itself.

    A flat is shared out by the nearest way up from it; one without is a top. queue: its first
    `waiting` cells are those of `ways_off_flats`, with room for all equals without. tops: to be
    filled with the tops, of each flat one its first cell, in order. Results in their number.
    """
    _share_flats(flat, way, queue, waiting, cols)
    count = 0
    for cell in range(flat.size):
        if way[cell] == NOTHING and not np.isnan(flat[cell]):
            tops[count] = cell
            count += 1
            way[cell] = cell
            queue[0] = cell
            _share_flats(flat, way, queue, ONE, cols)
    _lead_on(way)
    return count


@njit(cache=True, nogil=True, error_model="numpy", _nrt=False)
def lead_to_peaks(flat: Singles, cols: int, way: Labels, is_peak: Flags) -> None:
    """Turn ways up into the peak that a way over cells which come before leads to.

    A cell without a way up leads to the first of its equals that comes before it; one without
    is a peak and leads to itself. is_peak: flat, to be filled.
    """
    for cell in range(flat.size):
        if way[cell] == NOTHING and not np.isnan(flat[cell]):
            way[cell] = _equal_before(flat, cell, cols)
        is_peak[cell] = way[cell] == cell
    _lead_on(way)


@inner(error_model="numpy", _nrt=False)
def _equal_before(flat: Singles, cell: int, cols: int) -> int:
    """The first of the cells about one that is as high and before it in order, else itself."""
    row, col = cell // cols, cell % cols
    for near_row in range(max(row - 1, 0), row + 1):
        for near_col in range(max(col - 1, 0), min(col + 2, cols)):
            near = near_row * cols + near_col
            if near < cell and flat[near] == flat[cell]:
                return near
    return cell


@inner(error_model="numpy", _nrt=False)
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


@njit(cache=True, nogil=True, error_model="numpy", _nrt=False)
def ways_off_flats(flat: Singles, cols: int, way: Labels, beside: Flags) -> int:
    """Mark the cells with a way up beside equals without; results in the number of those equals.

    beside: flat, all False.
    """
    count = 0
    for cell in range(flat.size):
        if way[cell] == NOTHING and not np.isnan(flat[cell]):
            count += 1
            row, col = cell // cols, cell % cols
            for near_row in range(max(row - 1, 0), min(row + 2, flat.size // cols)):
                for near_col in range(max(col - 1, 0), min(col + 2, cols)):
                    near = near_row * cols + near_col
                    if flat[near] == flat[cell] and way[near] != NOTHING:
                        beside[near] = True
    return count


@inner(error_model="numpy", _nrt=False)
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
