"""Ground beyond what is read cell by cell: of each block of cells the highest.

::

    .------.------.------.------.
    |  9   |  4   |  4   |  7   |      a number a block: no ground in it, nor in the line of cells
    |      |.-----|---.  |      |      about it, is higher; so a skyline over the blocks is nowhere
    |------||:::::|:::|--|------|      lower than the true one
    |  8   ||:::::|:::|  |  2   |
    |      |'-----|---'  |      |      ::: the Dem, whose cells decide within it
    '------'------'------'------'
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np

from terrain.arrays import Singles, frozen_arrays

TILE_CELLS: Final = 512

ReadTile = Callable[[int, int, tuple[int, int]], Singles]
"""Heights of the cells from a row and a column on, of a shape; NaN where they are unknown."""


@dataclass(frozen=True, kw_only=True, eq=False)
@frozen_arrays(copy=False)
class FarGround:
    """Ground beyond a Dem, on the same grid, by the highest of each block of its cells.

    tops_m: (rows, cols) of the blocks, NaN where none of a block is known, -inf where it was not
    read because no ground there can make a skyline. row, col: of the Dem's grid, the first cell of
    the first block. side: cells a block. cell_m: of the Dem. to_m: how far from the place it was
    read for ground is there, metres. read: the cells themselves.
    """

    tops_m: Singles
    row: int
    col: int
    side: int
    cell_m: float
    to_m: float
    read: ReadTile

    @cached_property
    def highest_m(self) -> float:
        """The highest of it, metres; -inf where nothing was read."""
        return float(np.fmax.reduce(self.tops_m, axis=None, initial=-np.inf))

    @property
    def how(self) -> str:
        """What was read how, in words."""
        return (
            f"farther ground, to {self.to_m / 1000.0:.0f} km, is read for what it hides by the "
            f"highest of each {self.side * self.cell_m:.0f} m, and by its {self.cell_m:.0f} m "
            "cells where it makes the skyline of a spot"
        )

    def top_at(self, row: float, col: float) -> float:
        """The highest of the block at a place on the Dem's grid, metres; NaN where not known."""
        down, along = (
            math.floor((at + 0.5 - first) / self.side)
            for at, first in ((row, self.row), (col, self.col))
        )
        inside = 0 <= down < self.tops_m.shape[0] and 0 <= along < self.tops_m.shape[1]
        top_m = float(self.tops_m[down, along]) if inside else math.nan
        return top_m if math.isfinite(top_m) else math.nan

    def highest_deg(self, shape: tuple[int, int], height_m: float) -> float:
        """What no block stands higher than over the middle half of a Dem, degrees, however far.

        shape: of the Dem. height_m: of its lowest ground.
        """
        away = np.zeros(self.tops_m.shape, dtype=np.float32)
        for axis, (first, size) in enumerate(zip((self.row, self.col), shape, strict=True)):
            at = first + self.side * np.arange(self.tops_m.shape[axis])
            off = np.maximum(np.maximum(size // 4 - at - self.side, at - size * 3 // 4), 0)
            away += np.expand_dims(np.float32(off) ** 2, 1 - axis)
        rise = (self.tops_m - height_m) / np.maximum(np.sqrt(away) * self.cell_m, self.cell_m)
        return math.degrees(math.atan(np.fmax.reduce(rise, axis=None, initial=-np.inf)))

    def tile(self, down: int, along: int) -> tuple[int, int, Singles]:
        """The cells of a tile with a line of them about it: first row and column, and heights."""
        row, col = self.row + down * TILE_CELLS - 1, self.col + along * TILE_CELLS - 1
        return row, col, self.read(row, col, (TILE_CELLS + 2, TILE_CELLS + 2))
