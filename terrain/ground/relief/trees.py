"""Summits of ground in tiles: what of each tile matters outside, and how it is put together.

Each tile is given with the first line of cells of its neighbours to the south and east, so that
every two neighbouring cells are in some tile, and the cells of these lines in several::

      .------.------.        Whether a top is a summit may be decided beyond its tile: where its
      |  A   |      |        island, as a sea sinks, comes to a shared cell before it joins a higher
      |   \\  |      |        one. Such tops, the shared cells and the passes between them are the
      |    c---- B  |        tile's tree; all other tops are settled, and kept where they are
      |------|------|        summits. Trees are joined at their shared cells, which settles more;
      |      |      |        those of all tiles, in any order, leave nothing unsettled.
      '------'------'

The join tree of a raster is that of Carr, Snoeyink and Axen (2003), Computing contour trees in all
dimensions, Computational Geometry 24. Joining those of parts at what they share is after Pascucci
and Cole-McLaughlin (2003), Parallel computation of the topology of level sets, Algorithmica 38;
keeping of each no more than decides something elsewhere is after Morozov and Weber (2013),
Distributed merge trees, Principles and Practice of Parallel Programming. Cells come one by one, so
that cols and summits are to the cell those of the raster in one piece.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from terrain.arrays import Flags, Labels, Numbers, Singles, frozen_arrays
from terrain.ground.relief._island_kernels import join_nodes
from terrain.ground.relief._kernels import NOTHING
from terrain.ground.relief.summit_table import SummitCells


@dataclass(frozen=True, kw_only=True, eq=False)
@frozen_arrays(copy=False)
class Nodes:
    """Tops and shared cells, (nodes,) each; cells by flat index in the whole raster.

    cell, height_m: where and how high, metres. tiles: how many tiles have the cell. seen: how many
    of them have been joined. joined: the node whose island its own joins; -1. col_cell, col_m:
    where; -1 and NaN. touch_cell, touch_m: where until then it first touches the raster's edge or
    unknown ground; -1 and NaN. middle: the middle of the flat that a top is; -1 where it is not
    known.
    """

    cell: Numbers
    height_m: Singles
    tiles: Labels
    seen: Labels
    joined: Labels
    col_cell: Numbers
    col_m: Singles
    touch_cell: Numbers
    touch_m: Singles
    middle: Numbers


@dataclass(frozen=True, kw_only=True, eq=False)
class TopTree:
    """What is known of the summits of some tiles: those settled, and what may yet matter.

    settled: of at least `min_prominence_m`. nodes: of the rest, whatever their prominence.
    """

    min_prominence_m: float
    settled: SummitCells
    nodes: Nodes


def joined_trees(trees: Sequence[TopTree]) -> TopTree:
    """The tree of all tiles of some trees; ValueError for other prominences than the first's."""
    least_m = trees[0].min_prominence_m
    if any(tree.min_prominence_m != least_m for tree in trees):
        raise ValueError("trees of summits of different prominence cannot be joined")
    first = np.cumsum([0, *(tree.nodes.cell.size for tree in trees)])
    rows = {
        name: np.concatenate([getattr(tree.nodes, name) for tree in trees])
        for name in vars(trees[0].nodes)
    }
    for tree, at in zip(trees, first, strict=False):
        part = rows["joined"][at : at + tree.nodes.cell.size]
        part[part != NOTHING] += at
    found = settled(Nodes(**rows), least_m)
    return TopTree(
        min_prominence_m=least_m,
        settled=_together([*(tree.settled for tree in trees), found.settled]),
        nodes=found.nodes,
    )


def settled(rows: Nodes, min_prominence_m: float) -> TopTree:
    """The tree of some nodes, several of which may be one cell, without those that are decided."""
    nodes = _unified(rows)
    first, second, cell, height_m = _events(rows, nodes)
    col, touch, joined, reaches_out = join_nodes(first, second, nodes.seen < nodes.tiles)
    cell, height_m = np.append(cell, NOTHING), np.append(height_m, np.float32(np.nan))
    done = Nodes(
        cell=nodes.cell,
        height_m=nodes.height_m,
        tiles=nodes.tiles,
        seen=nodes.seen,
        joined=joined,
        col_cell=cell[col],
        col_m=height_m[col],
        touch_cell=cell[touch],
        touch_m=height_m[touch],
        middle=nodes.middle,
    )
    summits = summits_of(_chosen(done, ~reaches_out), min_prominence_m)
    return TopTree(
        min_prominence_m=min_prominence_m, settled=summits, nodes=_chosen(done, reaches_out)
    )


def summits_of(nodes: Nodes, min_prominence_m: float) -> SummitCells:
    """Those of some nodes that have a prominence, were nothing more to come; as `find_summits`."""
    bounded = (nodes.col_cell == NOTHING) | (nodes.touch_m > nodes.col_m)
    low_m = np.where(bounded, nodes.touch_m, nodes.col_m).astype(float)
    low_cell = np.where(bounded, nodes.touch_cell, nodes.col_cell)
    kept = nodes.height_m - low_m >= min_prominence_m
    return SummitCells(
        cell=nodes.cell[kept],
        height_m=nodes.height_m[kept].astype(float),
        low_cell=low_cell[kept],
        low_m=low_m[kept],
        bounded=bounded[kept],
        middle=nodes.middle[kept],
    )


def _unified(rows: Nodes) -> Nodes:
    """Each cell once, the highest first and equals in order of index; without joins."""
    cell, at, which = np.unique(rows.cell, return_index=True, return_inverse=True)
    order = np.lexsort((cell, -rows.height_m[at]))
    at = at[order]
    seen = np.zeros(cell.size, dtype=np.int32)
    np.add.at(seen, which, rows.seen)
    middle = np.full(cell.size, NOTHING, dtype=np.int64)
    np.maximum.at(middle, which, rows.middle)
    nothing = np.full(cell.size, np.nan, dtype=np.float32)
    never = np.full(cell.size, NOTHING, dtype=np.int64)
    return Nodes(
        cell=rows.cell[at],
        height_m=rows.height_m[at],
        tiles=rows.tiles[at],
        seen=seen[order],
        joined=never.astype(np.int32),
        col_cell=never,
        col_m=nothing,
        touch_cell=never,
        touch_m=nothing,
        middle=middle[order],
    )


def _events(rows: Nodes, nodes: Nodes) -> tuple[Numbers, Numbers, Numbers, Singles]:
    """What `join_nodes` takes, with the cell and the height of each event."""
    by_cell = np.argsort(nodes.cell)
    number = by_cell[np.searchsorted(nodes.cell, rows.cell, sorter=by_cell)]
    joins, touches = (np.flatnonzero(at != NOTHING) for at in (rows.joined, rows.touch_cell))
    first = np.concatenate([number[joins], number[touches]])
    second = np.concatenate([number[rows.joined[joins]], np.full(touches.size, NOTHING)])
    cell = np.concatenate([rows.col_cell[joins], rows.touch_cell[touches]])
    height_m = np.concatenate([rows.col_m[joins], rows.touch_m[touches]])
    order = np.lexsort((cell, -height_m))
    return first[order], second[order], cell[order], height_m[order]


def _chosen(nodes: Nodes, chosen: Flags) -> Nodes:
    """Some of the nodes; those they join are among them, or not wanted."""
    number = np.full(chosen.size + 1, NOTHING, dtype=np.int32)
    number[:-1][chosen] = np.arange(np.count_nonzero(chosen), dtype=np.int32)
    rows = {name: values[chosen] for name, values in vars(nodes).items()}
    return Nodes(**{**rows, "joined": number[rows["joined"]]})


def _together(several: Sequence[SummitCells]) -> SummitCells:
    """Some lists of summits as one, in the order of their cells: the highest first."""
    rows = {
        name: np.concatenate([getattr(some, name) for some in several]) for name in vars(several[0])
    }
    order = np.lexsort((rows["cell"], -rows["height_m"]))
    return SummitCells(**{name: values[order] for name, values in rows.items()})
