"""Trees of tops as files: arrays alone, since whatever else is read may run what it likes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import fields
from itertools import islice
from pathlib import Path
from typing import Any, Final

import numpy as np

from terrain.ground.relief._kernels import NOTHING
from terrain.ground.relief.summit_table import SummitCells
from terrain.ground.relief.trees import Nodes, TopTree, joined_trees

_AT_ONCE: Final = 32
"""So many trees are joined at once: what they settle among them need not be held together."""


def arrays_of(tree: TopTree) -> dict[str, Any]:
    """A tree as arrays by name."""
    parts: dict[str, Any] = {"settled": tree.settled, "nodes": tree.nodes}
    arrays = {
        f"{part}_{field.name}": getattr(value, field.name)
        for part, value in parts.items()
        for field in fields(value)
    }
    return {**arrays, "min_prominence_m": tree.min_prominence_m}


def tree_from(arrays: Mapping[str, Any]) -> TopTree:
    """The tree of arrays by name, as `arrays_of` gives them."""
    return TopTree(
        min_prominence_m=float(arrays["min_prominence_m"]),
        settled=SummitCells(**_fields("settled", SummitCells, arrays)),
        nodes=Nodes(**_fields("nodes", Nodes, arrays)),
    )


def joined_files(files: Sequence[Path]) -> TopTree:
    """The tree of all trees of some files, one or more, a few held at once."""
    trees = _read(files)
    joined: list[TopTree] = []
    while some := list(islice(trees, _AT_ONCE)):
        joined = [joined_trees([*joined, *some])]
    return joined[0]


def what_is_missing(tree: TopTree) -> TopTree:
    """What stands for the tiles whose trees are missing: where they begin the known ground ends."""
    nodes = tree.nodes
    waits = nodes.seen < nodes.tiles
    cell, height_m = nodes.cell[waits], nodes.height_m[waits]
    nothing = np.full(cell.size, NOTHING, dtype=np.int64)
    return TopTree(
        min_prominence_m=tree.min_prominence_m,
        settled=_no_summits(),
        nodes=Nodes(
            cell=cell,
            height_m=height_m,
            tiles=nodes.tiles[waits],
            seen=(nodes.tiles - nodes.seen)[waits],
            joined=nothing.astype(np.int32),
            col_cell=nothing,
            col_m=np.full(cell.size, np.nan, dtype=np.float32),
            touch_cell=cell,
            touch_m=height_m,
            middle=nodes.middle[waits],
        ),
    )


def _no_summits() -> SummitCells:
    cells, heights_m = np.empty(0, dtype=np.int64), np.empty(0)
    return SummitCells(
        cell=cells,
        height_m=heights_m,
        low_cell=cells,
        low_m=heights_m,
        bounded=np.empty(0, dtype=bool),
        middle=cells,
    )


def _read(files: Sequence[Path]) -> Iterator[TopTree]:
    for file in files:
        with np.load(file) as arrays:
            yield tree_from(arrays)


def _fields(part: str, kind: type[Any], arrays: Mapping[str, Any]) -> dict[str, Any]:
    return {field.name: arrays[f"{part}_{field.name}"] for field in fields(kind)}
