"""Where the islands of two peaks join as a sea sinks, over a raster or by a few cells of it.

Cells are named by their flat index, and come up in the order that `_kernels` has them in.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from terrain.arrays import Flags, Labels, Numbers, Singles
from terrain.compiling import inner, njit
from terrain.ground.relief._kernels import NOTHING

_CLOCKWISE = ((-1, 0), (-1, 1), (0, 1), (1, 1), (1, 0), (1, -1), (0, -1), (-1, -1))
_CORNERS = 0b10101010


class Ends(NamedTuple):
    """The rows and columns at which the ground ends: the outermost of a raster; -1 for others."""

    top: int
    left: int
    bottom: int
    right: int


class Islands(NamedTuple):
    """What becomes of the island of each peak as a sea sinks, (peaks,) each; -1 never, or none.

    col_cell: where it joined that of a peak before it;
    touch_cell: where, until then, it first touched an end or unknown ground, or joined an island
        that had;
    far_cell: the cell on the far side of the col, of those in that island the highest;
    joined: the peak whose island it joined.
    """

    col_cell: Numbers
    touch_cell: Numbers
    far_cell: Numbers
    joined: Labels


@njit(cache=True, nogil=True, error_model="numpy", _nrt=False)
def meeting_cells(
    first: int,
    end: int,
    heights: Singles,
    peak_of: Labels,
    ends: Ends,
    meets: Flags,
    is_border: Flags,
) -> None:
    """Where islands of two peaks may meet as a sea sinks, or one may touch the end of the ground.

    Cells at an end or beside unknown ground, and those about which the cells that come before lie
    apart and lead to several peaks: where they lie side by side, their islands have met already.
    first, end: rows. heights: (rows, cols). peak_of: flat. meets: flat, to be filled. is_border:
    room for (cols,). Each neighbour is looked at for all cells of a row at once.
    """
    rows, cols = heights.shape
    for row in range(first, end):
        here = meets[row * cols : (row + 1) * cols]
        for col in range(cols):
            is_end = row == ends.top or row == ends.bottom or col == ends.left or col == ends.right
            here[col], is_border[col] = is_end, False
        for near_row in range(max(row - 1, 0), min(row + 2, rows)):
            for right in range(-1, 2):
                start = max(-right, 0)
                near, level = heights[near_row, start + right :], heights[row, start:]
                other = peak_of[near_row * cols + start + right :]
                own = peak_of[row * cols + start :]
                comes_first = near_row < row or (near_row == row and right < 0)
                for at in range(cols - abs(right)):
                    equal_before = (near[at] == level[at]) & comes_first
                    comes_before = (near[at] > level[at]) | equal_before
                    is_border[start + at] |= comes_before & (other[at] != own[at])
                    here[start + at] |= np.isnan(near[at])
        for col in range(cols):
            if is_border[col] and not here[col]:
                here[col] = _lie_apart(heights, row, col)
            here[col] &= not np.isnan(heights[row, col])


@inner(error_model="numpy", _nrt=False)
def _lie_apart(heights: Singles, row: int, col: int) -> bool:
    """Whether the cells about one that come before it are not all side by side.

    They are the bits of a number, clockwise from the north. North and east are side by side over
    the corner too, so that a corner between two such counts with them; then each 1 that follows on
    a 0 begins a group.
    """
    rows, cols = heights.shape
    level = heights[row, col]
    before = 0
    for bit, (down, right) in enumerate(_CLOCKWISE):
        near_row, near_col = row + down, col + right
        if 0 <= near_row < rows and 0 <= near_col < cols:
            near = heights[near_row, near_col]
            comes_first = down < 0 or (down == 0 and right < 0)
            if near > level or (near == level and comes_first):
                before |= 1 << bit
    before |= (before << 1 | before >> 7) & (before >> 1 | before << 7) & _CORNERS
    begins = before & ~(before << 1 | before >> 7)
    return begins & (begins - 1) != 0


@njit(cache=True, nogil=True, error_model="numpy", _nrt=False)
def join_islands(
    heights: Singles,
    order: Numbers,
    peak_of: Labels,
    ends: Ends,
    islands: Islands,
    parent: Labels,
    meeting: Numbers,
) -> None:
    """Lower a sea past every peak and note where islands join, and where they touch an end.

    order: the cells of `meeting_cells`, highest first, equals in order of index. peak_of: flat,
    the number of the peak that each cell leads to, peaks numbered in the order of their cells.
    islands: to be filled, all -1. parent: (peaks,) each its own number. meeting: room for 9.

    Islands are joined by union-find over the peaks; the root is always the first peak::

        5 |    A
        4 |   / \\      B          B's island joins A's at the col c, for there a cell of A's
        3 |  /   \\    / \\         comes before c, on its far side
        2 | /     \\ c/   \\
    """
    rows, cols = heights.shape
    flat = heights.reshape(-1)
    col_cell, touch_cell, far_cell, joined = islands
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


@inner(error_model="numpy", _nrt=False)
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


@inner(error_model="numpy", _nrt=False)
def root_of(parent: Labels, peak: int) -> int:
    while parent[peak] != peak:
        parent[peak] = parent[parent[peak]]
        peak = parent[peak]
    return peak


@njit(cache=True, nogil=True, error_model="numpy")
def join_nodes(
    first: Numbers, second: Numbers, is_open: Flags
) -> tuple[Numbers, Numbers, Labels, Flags]:
    """The same of a tree: what happens is given in order, one by one.

    first, second: (events,) nodes, numbered in the order of their cells; at an event the islands
    of two nodes join, or that of the first touches an end, where the second is -1. is_open:
    (nodes,) whether more of a node is to come from elsewhere.

    Results, one entry a node: the events of its col and of its touch, and the node joined, as
    `join_islands` has them; whether its island, until it joins another, has an open node.
    """
    nodes = is_open.size
    col = np.full(nodes, NOTHING, dtype=np.int64)
    touch = np.full(nodes, NOTHING, dtype=np.int64)
    joined = np.full(nodes, NOTHING, dtype=np.int32)
    parent = np.empty(nodes, dtype=np.int32)
    for node in range(nodes):
        parent[node] = node
    reaches_out = is_open.copy()
    for event in range(first.size):
        root = root_of(parent, first[event])
        if second[event] == NOTHING:
            if touch[root] == NOTHING:
                touch[root] = event
        else:
            other = root_of(parent, second[event])
            if other != root:
                lesser, root = max(root, other), min(root, other)
                join(parent, lesser, root, event, col, joined, touch)
                reaches_out[root] |= reaches_out[lesser]
    return col, touch, joined, reaches_out
