"""The climb over a raster from the top down: every top, its key col, and whose each cell is."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from terrain.compiling import njit

Floats = NDArray[np.float64]
Heights = NDArray[np.float32]
Tops = NDArray[np.int32]
Cells = NDArray[np.int64]

NOTHING = -1


@njit(cache=True, nogil=True)
def climb(
    heights: Heights, order: Cells, width_m: Floats, depth_m: Floats
) -> tuple[Tops, Cells, Cells, Cells, Tops]:
    """Lower a sea from the highest cell to the lowest; note where islands rise and where they join.

    heights: (rows, cols), metres, NaN unknown. order: flat indices of the known cells from high
    to low, those of equal height in order of index. width_m, depth_m: size of each row's cells.

    Results; tops are numbered from the highest down:
    top_of: (rows * cols) the top that steepest ascent from each cell leads to, -1 where unknown;
    top_cell: the first cell of each top;
    col_cell: where the island of each top joined that of a higher one, -1 never;
    touch_cell: where the island of each top, until then, first touched the raster's edge or
        unknown ground, or joined an island that had; -1 never;
    beyond: the top that steepest ascent leads to from the far side of the col, -1 no col.

    Islands are joined by union-find over the tops; the root is always the highest top::

        5 |    A
        4 |   / \\      B          B's island joins A's at the col c; steepest ascent from the
        3 |  /   \\    / \\         far side of c leads to A, so A is beyond B's col
        2 | /     \\ c/   \\
    """
    rows, cols = heights.shape
    flat = heights.reshape(-1)
    most_tops = ((rows + 1) // 2) * ((cols + 1) // 2)
    top_of = np.full(rows * cols, NOTHING, dtype=np.int32)
    top_cell = np.empty(most_tops, dtype=np.int64)
    col_cell = np.full(most_tops, NOTHING, dtype=np.int64)
    touch_cell = np.full(most_tops, NOTHING, dtype=np.int64)
    beyond = np.full(most_tops, NOTHING, dtype=np.int32)
    parent = np.empty(most_tops, dtype=np.int32)
    queue = np.empty_like(order)
    tops = 0
    start = 0
    while start < order.size:
        level = flat[order[start]]
        # the cells of one height: first those with a way up, then from each to its equals, so
        # that a flat is shared out by the nearest way up; what is left then is a flat top
        end = start
        tail = start
        while end < order.size and flat[order[end]] == level:
            up = _steepest_way_up(heights, order[end], width_m, depth_m)
            if up != NOTHING:
                top_of[order[end]] = top_of[up]
                queue[tail] = order[end]
                tail += 1
            end += 1
        seed = start
        for head in range(start, end):
            if head == tail:
                while top_of[order[seed]] != NOTHING:
                    seed += 1
                top_of[order[seed]] = tops
                top_cell[tops] = order[seed]
                parent[tops] = tops
                tops += 1
                queue[tail] = order[seed]
                tail += 1
            cell = queue[head]
            row, col = cell // cols, cell % cols
            for near_row in range(max(row - 1, 0), min(row + 2, rows)):
                for near_col in range(max(col - 1, 0), min(col + 2, cols)):
                    near = near_row * cols + near_col
                    if flat[near] == level and top_of[near] == NOTHING:
                        top_of[near] = top_of[cell]
                        queue[tail] = near
                        tail += 1
            _join(heights, cell, top_of, parent, col_cell, touch_cell, beyond)
        start = end
    return (
        top_of,
        top_cell[:tops].copy(),
        col_cell[:tops].copy(),
        touch_cell[:tops].copy(),
        beyond[:tops].copy(),
    )


@njit(cache=True, nogil=True)
def _steepest_way_up(heights: Heights, cell: int, width_m: Floats, depth_m: Floats) -> int:
    """The neighbour to which the ground rises most steeply, -1 where none is higher."""
    rows, cols = heights.shape
    row, col = cell // cols, cell % cols
    level = heights[row, col]
    width, depth = width_m[row], depth_m[row]
    steepest = 0.0
    way = NOTHING
    for near_row in range(max(row - 1, 0), min(row + 2, rows)):
        for near_col in range(max(col - 1, 0), min(col + 2, cols)):
            rise = heights[near_row, near_col] - level
            if rise > 0:
                slope = rise / np.hypot((near_row - row) * depth, (near_col - col) * width)
                if slope > steepest:
                    steepest = slope
                    way = near_row * cols + near_col
    return way


@njit(cache=True, nogil=True)
def _join(
    heights: Heights,
    cell: int,
    top_of: Tops,
    parent: Tops,
    col_cell: Cells,
    touch_cell: Cells,
    beyond: Tops,
) -> None:
    """Let the islands that meet at a cell become one, that of the highest top among them."""
    rows, cols = heights.shape
    row, col = cell // cols, cell % cols
    touches = row == 0 or col == 0 or row == rows - 1 or col == cols - 1
    root = _root(parent, top_of[cell])
    far_side = NOTHING
    highest = -np.inf
    meet = False
    for near_row in range(max(row - 1, 0), min(row + 2, rows)):
        for near_col in range(max(col - 1, 0), min(col + 2, cols)):
            touches |= np.isnan(heights[near_row, near_col])
            near = near_row * cols + near_col
            if top_of[near] != NOTHING:
                other = _root(parent, top_of[near])
                meet |= other != root
                if other < root or (other == root and heights[near_row, near_col] > highest):
                    root = other
                    far_side = top_of[near]
                    highest = heights[near_row, near_col]
    if meet:
        for near_row in range(max(row - 1, 0), min(row + 2, rows)):
            for near_col in range(max(col - 1, 0), min(col + 2, cols)):
                near = near_row * cols + near_col
                if top_of[near] != NOTHING:
                    lesser = _root(parent, top_of[near])
                    if lesser != root:
                        parent[lesser] = root
                        col_cell[lesser] = cell
                        beyond[lesser] = far_side
                        if touch_cell[lesser] != NOTHING and touch_cell[root] == NOTHING:
                            touch_cell[root] = cell
    if touches and touch_cell[root] == NOTHING:
        touch_cell[root] = cell


@njit(cache=True, nogil=True)
def _root(parent: Tops, top: int) -> int:
    while parent[top] != top:
        parent[top] = parent[parent[top]]
        top = parent[top]
    return top


@njit(cache=True, nogil=True)
def level_cells(heights: Heights, cell: int) -> Cells:
    """Flat indices of the flat that a cell belongs to: it and all its equals around it."""
    rows, cols = heights.shape
    level = heights[cell // cols, cell % cols]
    found = {cell}
    waiting = [cell]
    while waiting:
        at = waiting.pop()
        row, col = at // cols, at % cols
        for near_row in range(max(row - 1, 0), min(row + 2, rows)):
            for near_col in range(max(col - 1, 0), min(col + 2, cols)):
                near = near_row * cols + near_col
                if heights[near_row, near_col] == level and near not in found:
                    found.add(near)
                    waiting.append(near)
    return np.sort(np.array(list(found)))
