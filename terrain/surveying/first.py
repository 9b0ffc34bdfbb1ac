"""The first stage: what each tile knows of the hills and the skylines of the whole country.

What only a task needs is loaded by the task, here and in the second: where all is done, none is.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from io import BytesIO
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np

from terrain.ground.features import Features
from terrain.ground.raster.far_parts import PartTops, tops_of_part
from terrain.ground.raster.planned import PlannedPart
from terrain.show.files.whole import whole_file
from terrain.surveying.about import Blocks
from terrain.surveying.blocks import joined_blocks
from terrain.surveying.cut import Cut, ground_of


def know_tile(
    part: PlannedPart, side: int, min_prominence_m: float, path: Path
) -> Mapping[str, Any]:
    """Write what a tile knows: its tree of tops, and its blocks of a side.

    part: without a margin. min_prominence_m: least of a summit.
    """
    from terrain.ground.relief.tiles import tree_of_part
    from terrain.surveying.kept_trees import arrays_of

    tree = tree_of_part(part, min_prominence_m=min_prominence_m)
    ground = ground_of(part)
    tops = tops_of_part(part, side=side)
    _save(path, **arrays_of(tree), row=tops.row, col=tops.col, tops_m=tops.tops_m)
    return {"cells": 0 if ground is None else int(np.isfinite(ground.heights_m).sum())}


def summits_from(
    files: Mapping[int, Path], cut: Cut, min_prominence_m: float, names: Features | None
) -> gpd.GeoDataFrame:
    """The summits of the country from what its tiles know; files: by the number of the tile.

    A tile without one is unknown ground: what may hang on it is bounded.
    """
    from terrain.ground.relief.tiles import summits_of_parts
    from terrain.surveying.kept_trees import joined_files, what_is_missing

    tree = joined_files(list(files.values()))
    return summits_of_parts([tree, what_is_missing(tree)], cut.plan, names=names)


def blocks_from(files: Sequence[Path], cut: Cut, side: int) -> Blocks:
    """The blocks of the country from what its tiles know."""
    return joined_blocks((_tops_in(file, side) for file in files), cut.grid, side)


def save_blocks(blocks: Blocks, path: Path) -> None:
    """Write the blocks of a country, complete or not at all."""
    with whole_file(path) as partial:
        packed = BytesIO()
        np.save(packed, blocks.tops_m)
        partial.write_bytes(packed.getbuffer())


def read_blocks(path: Path, side: int) -> Blocks:
    """Blocks as they were written; read as they are needed."""
    return Blocks(tops_m=np.load(path, mmap_mode="r"), side=side)


def _save(path: Path, **arrays: Any) -> None:
    with whole_file(path) as partial:
        packed = BytesIO()
        np.savez_compressed(packed, **arrays)
        partial.write_bytes(packed.getbuffer())


def _tops_in(file: Path, side: int) -> PartTops:
    with np.load(file) as found:
        row, col = int(found["row"]), int(found["col"])
        return PartTops(side=side, row=row, col=col, tops_m=found["tops_m"])
