"""The highest of each block of a country, put together from what each tile knows of it."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from terrain.ground.far import TILE_CELLS
from terrain.ground.grid import Grid
from terrain.ground.raster.far_parts import PartTops
from terrain.surveying.about import Blocks

_SIDES = (8, 16, 32, 64, 128, 256, TILE_CELLS)
_MOST_BLOCKS = 16_000_000


def side_for(whole: Grid) -> int:
    """How many cells a block of a country is wide, so that there are not too many of them."""
    rows, cols = whole.shape
    return next((n for n in _SIDES if rows * cols <= _MOST_BLOCKS * n * n), _SIDES[-1])


def joined_blocks(parts: Iterable[PartTops], whole: Grid, side: int) -> Blocks:
    """The blocks of a country from those of its tiles, NaN where none is known.

    >>> grid = Grid(crs="EPSG:32628", transform=(50, 0, 5e5, 0, -50, 6e6), shape=(2, 4))
    >>> one = np.array([[5.0]], dtype=np.float32)
    >>> part = PartTops(side=2, row=0, col=1, tops_m=one)
    >>> joined_blocks([part], grid, 2).tops_m.tolist()
    [[nan, 5.0]]
    """
    tops = np.full([-(-count // side) for count in whole.shape], np.nan, dtype=np.float32)
    for part in parts:
        rows, cols = part.tops_m.shape
        tops[part.row : part.row + rows, part.col : part.col + cols] = part.tops_m
    return Blocks(tops_m=tops, side=side)
