"""Where the islands of two peaks join, worked out from a few cells in place of a raster's all."""

from __future__ import annotations

import numpy as np

from terrain.arrays import Flags, Labels, Numbers
from terrain.compiling import njit
from terrain.ground.relief._kernels import NOTHING, join, root_of


@njit(cache=True, nogil=True)
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
    parent = np.arange(nodes).astype(np.int32)
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
