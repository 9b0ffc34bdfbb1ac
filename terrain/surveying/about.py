"""The ground about one hill: what its answer hangs on, and that is the hill's own affair alone.

::

    .------.------.------.------.     however the country is cut into tiles, a hill is answered
    |      |      |      |      |     from the same cells about it, and from the same blocks
    |------|---.--|---.--|------|     beyond, counted from the corner of the whole: so tiles
    |      |   |::|:::|  |      |     and one piece give the same, cell for cell
    |------|---|::A:::|--|------|
    |      |   '--|---'  |      |     ::: cells within the reach; the rest by the highest of
    '------'------'------'------'     each block
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property, partial

import numpy as np

from terrain.arrays import Flags, Singles
from terrain.constants import TERRESTRIAL_REFRACTION
from terrain.ground.dem import Dem
from terrain.ground.far import TILE_CELLS, FarGround
from terrain.ground.grid import Grid
from terrain.ground.places import Hill
from terrain.ground.raster.cuts import Cells

ReadCells = Callable[[int, int, tuple[int, int]], Singles]
"""Heights of the cells of the whole from a row and a column on, of a shape; NaN where unknown."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Blocks:
    """The highest of each block of the cells of a whole country, and of the line about each.

    tops_m: (rows, cols) of the blocks, NaN where none of a block is known. side: cells a block.
    """

    tops_m: Singles
    side: int

    @cached_property
    def highest_m(self) -> float:
        """What no ground of the country stands higher than, metres; -inf where none is known."""
        return float(np.fmax.reduce(self.tops_m, axis=None, initial=-np.inf))


@dataclass(frozen=True, kw_only=True, eq=False)
class Surround:
    """The ground of a tile and its margin, in the whole country that it is part of.

    whole: the grid of the country. dem: the ground that is held. row, col: where on the whole its
    first cell lies. blocks: of the whole. read: cells of the whole.
    """

    whole: Grid
    dem: Dem
    row: int
    col: int
    blocks: Blocks
    read: ReadCells

    def about(self, hill: Hill, reach_m: float, refraction: float = TERRESTRIAL_REFRACTION) -> Dem:
        """The ground for so far about a hill, with what lies beyond as far as it can matter."""
        reach = math.ceil(reach_m / self.whole.cell_m)
        row, col = self.whole.cell_of(hill.lon_deg, hill.lat_deg)
        square = Cells(row, col, row + 1, col + 1).widened(reach, self.whole)
        return self._of(square, refraction)

    def all_of_it(self, refraction: float = TERRESTRIAL_REFRACTION) -> Dem:
        """All the ground that is held, with what lies beyond as far as it can matter."""
        return self._of(self._held, refraction)

    @property
    def _held(self) -> Cells:
        rows, cols = self.dem.shape
        return Cells(self.row, self.col, self.row + rows, self.col + cols)

    def _of(self, cells: Cells, refraction: float) -> Dem:
        heights = self.dem.heights_m[cells.inside(self._held)]
        if heights.shape != cells.shape:
            raise ValueError(f"a margin too small: {cells} are not all within {self._held}")
        near = replace(
            self.dem, heights_m=heights, grid=cells.of(self.whole), delivered=None, doubts=()
        )
        return replace(near, far=self._beyond(near, cells, refraction))

    def _beyond(self, near: Dem, cells: Cells, refraction: float) -> FarGround | None:
        """The blocks about some ground as far as they can matter, None where there are none."""
        if near.shape == self.whole.shape:
            return None
        side, a_tile = self.blocks.side, TILE_CELLS // self.blocks.side
        to_m = self._matters_to_m(near, refraction)
        reach = to_m / near.cell_m
        # whole tiles of cells, so that hills of a tile ask for the same ones
        (top, bottom), (left, right) = (
            (
                max(math.floor((first - reach) / TILE_CELLS), 0) * a_tile,
                min(math.ceil((end + reach) / TILE_CELLS) * a_tile, count),
            )
            for first, end, count in zip(
                cells[:2], cells[2:], self.blocks.tops_m.shape, strict=True
            )
        )
        tops = np.array(self.blocks.tops_m[top:bottom, left:right])
        row, col = top * side - cells.top, left * side - cells.left
        tops[_within(tops.shape, side, (row, col), near.shape)] = -np.inf
        if not np.isfinite(tops).any():
            return None
        return FarGround(
            tops_m=tops,
            row=row,
            col=col,
            side=side,
            cell_m=near.cell_m,
            to_m=to_m,
            read=partial(_cells_from, self.read, (cells.top, cells.left)),
        )

    def _matters_to_m(self, near: Dem, refraction: float) -> float:
        """How far from some ground there may be other that stands over a line of sight, metres."""
        from terrain.sight.beyond import lowest_deg
        from terrain.sight.farther import farthest_m

        eye_m = float(np.nanmax(near.heights_m))
        level_deg = lowest_deg(near, eye_m, refraction)[0]
        highest_m = max(self.blocks.highest_m, eye_m)
        return float(farthest_m(highest_m, eye_m, level_deg, refraction).max())


def _cells_from(
    read: ReadCells, first: tuple[int, int], row: int, col: int, shape: tuple[int, int]
) -> Singles:
    """Cells counted from the first of some ground."""
    return read(row + first[0], col + first[1], shape)


def _within(
    blocks: tuple[int, int], side: int, first: tuple[int, int], shape: tuple[int, int]
) -> Flags:
    """Which blocks lie within some ground whole, and count for nothing beyond it.

    first: the first cell of the first block, counted from the first of the ground.
    """
    inside = []
    for count, begin, size in zip(blocks, first, shape, strict=True):
        at = begin + side * np.arange(count)
        inside.append((at >= 0) & (at + side <= size))
    return np.logical_and.outer(*inside)
