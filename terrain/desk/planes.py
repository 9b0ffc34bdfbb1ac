"""Values of every cell as planes of 16 bits, in tiles that a picture on a page can hold."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from terrain.errors import TerrainError

Plane = NDArray[np.uint16]

NONE: Final = 65535
"""What a plane holds where nothing is known, or nothing ever comes."""

MOST: Final = NONE - 1
SIDE: Final = 2048
_STEPS_M: Final = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5)


@dataclass(frozen=True)
class Scale:
    """How a plane counts: value = low + step * number."""

    low: float
    step: float

    def plane(self, values: ArrayLike) -> Plane:
        """Values as numbers of the nearest step; those that are not finite are NONE.

        TerrainError for a value that the scale does not reach.
        """
        values = np.asarray(values)
        known = np.isfinite(values)
        steps = np.rint((np.where(known, values, self.low) - self.low) / self.step)
        if steps.size and not (steps.min() >= 0 and steps.max() <= MOST):
            reach = f"{self.low:g} to {self.low + MOST * self.step:g}"
            raise TerrainError(f"a value is beyond what the map can hold, {reach}: ask for less")
        return np.where(known, steps, NONE).astype("<u2")


def metres_from(low_m: float, high_m: float) -> Scale:
    """The finest scale in whole centimetres or more that holds heights between two."""
    low_m = math.floor(low_m)
    step = next((s for s in _STEPS_M if (high_m - low_m) / s <= MOST), _STEPS_M[-1])
    return Scale(low_m, step)


@dataclass(frozen=True)
class Tile:
    """A part of the cells: its first row and column, and how many of each."""

    row: int
    col: int
    rows: int
    cols: int

    def of(self, values: NDArray[np.generic]) -> NDArray[np.generic]:
        """The part of values for every cell that lies in the tile."""
        return values[self.row : self.row + self.rows, self.col : self.col + self.cols]


def tiles_of(shape: tuple[int, int], side: int = SIDE) -> list[Tile]:
    """The tiles of a raster of a shape, from the north-west row by row.

    >>> tiles_of((3, 5), side=4)
    [Tile(row=0, col=0, rows=3, cols=4), Tile(row=0, col=4, rows=3, cols=1)]
    """
    rows, cols = shape
    return [
        Tile(row, col, min(side, rows - row), min(side, cols - col))
        for row in range(0, rows, side)
        for col in range(0, cols, side)
    ]
