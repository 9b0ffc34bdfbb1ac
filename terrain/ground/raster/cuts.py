"""How the cells of a grid are cut into parts."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import NamedTuple

from terrain.ground.grid import Grid


class Cells(NamedTuple):
    """Some rows and columns of a grid: the first of each, and that after the last.

    Parameters
    ----------
    top : int
        The first row.
    left : int
        The first column.
    bottom : int
        The row after the last.
    right : int
        The column after the last.

    Examples
    --------
    >>> import terrain
    >>> terrain.Cells(0, 10, 4, 30).shape
    (4, 20)
    """

    top: int
    left: int
    bottom: int
    right: int

    @property
    def shape(self) -> tuple[int, int]:
        """(rows, cols)."""
        return self.bottom - self.top, self.right - self.left

    def of(self, grid: Grid) -> Grid:
        """The part of a grid that they are."""
        return grid.window(self.top, self.left, self.shape)

    def widened(self, cells: int, grid: Grid) -> Cells:
        """The same with so many cells more to each side, as far as a grid goes."""
        rows, cols = grid.shape
        top, left = max(self.top - cells, 0), max(self.left - cells, 0)
        return Cells(top, left, min(self.bottom + cells, rows), min(self.right + cells, cols))

    def inside(self, other: Cells) -> tuple[slice, slice]:
        """Where they are in an array of other cells, which hold them."""
        rows = slice(self.top - other.top, self.bottom - other.top)
        return rows, slice(self.left - other.left, self.right - other.left)


def blocks_of(grid: Grid, side_m: float) -> tuple[Cells, ...]:
    """Blocks of even size, row by row; each row of square cells is cut alike."""
    width_m, depth_m = grid.cell_sizes_m()
    rows = _cuts(grid.shape[0], side_m / float(depth_m.max()))
    if grid.is_metric:
        return crossed(rows, _cuts(grid.shape[1], side_m / float(width_m.max())))
    return tuple(
        block
        for top, bottom in rows
        for block in crossed(
            [(top, bottom)], _cuts(grid.shape[1], side_m / float(width_m[top:bottom].max()))
        )
    )


def crossed(rows: list[tuple[int, int]], cols: list[tuple[int, int]]) -> tuple[Cells, ...]:
    """The blocks of some runs of rows and columns, row by row."""
    return tuple(Cells(top, left, bottom, right) for top, bottom in rows for left, right in cols)


def _cuts(cells: int, most: float) -> list[tuple[int, int]]:
    """Where to cut so many cells into even runs of at most `most`, but of one at least."""
    # the scale of a projection must not add a block for its thousandths
    return even(cells, max(min(math.ceil(cells / max(most, 1.0) - 0.01), cells), 1))


def even(cells: int, count: int) -> list[tuple[int, int]]:
    """So many cells cut into runs of even length."""
    edges = [cells * at // count for at in range(count + 1)]
    return list(pairwise(edges))
