"""Far ground of the parts of a plan: the highest of each block of cells, read once for all parts.

Blocks are counted from the corner of the plan's grid. Each is worked out with the part in which it
begins, and any part puts together those about it::

      .-----------------------.
      |  blocks of all parts  |      no skyline over blocks lies lower than the true one, for no
      |     .-----------.     |      ground in a block or in the line of cells about it is higher
      |     |  window   |     |      than what is kept of it; within the window cells decide
      |     '-----------'     |
      '-----------------------'
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache, partial
from typing import Final

import numpy as np

from terrain.arrays import Singles, frozen_arrays
from terrain.ground.far import FarGround
from terrain.ground.grid import Grid
from terrain.ground.raster.cuts import Cells
from terrain.ground.raster.far import TILES_KEPT, block_tops, cells_on
from terrain.ground.raster.parts import PartsPlan
from terrain.ground.raster.planned import PlannedPart
from terrain.ground.raster.warp import Drawn, drawn_on, highest_about, resampled

BLOCK_SIDE: Final = 4
"""Cells along the side of a block: a sixteenth of the ground is handed on."""


@dataclass(frozen=True, kw_only=True, eq=False)
@frozen_arrays(copy=False)
class PartTops:
    """The highest of the blocks that begin in a part, with the line of cells about each.

    side: cells a block. row, col: of the first block, counted in blocks on the plan's grid. tops_m:
    (rows, cols) of blocks, NaN where none of one is known.
    """

    side: int
    row: int
    col: int
    tops_m: Singles


def tops_of_part(part: PlannedPart, *, side: int = BLOCK_SIDE) -> PartTops:
    """The blocks that begin in a part of a plan, so many cells a side."""
    grid, own = _grid_of(part), part.own
    top, left, bottom, right = (math.ceil(at / side) for at in own)
    shape = (bottom - top) * side + 2, (right - left) * side + 2
    if bottom <= top or right <= left:
        return PartTops(side=side, row=top, col=left, tops_m=np.empty((0, 0), dtype=np.float32))
    files = list(part.sheets), part.whole
    laid = highest_about, _drawn(part.whole, grid)
    heights_m = cells_on(grid, files, laid, top * side - 1, left * side - 1, shape)
    return PartTops(side=side, row=top, col=left, tops_m=block_tops(heights_m, side))


def far_of_part(
    plan: PartsPlan, number: int, tops: Sequence[PartTops], *, to_m: float
) -> FarGround:
    """What lies beyond the window of a part, as far as `to_m` metres from its edges.

    tops: of all parts that lie so near, of blocks of one size; what is beyond others is unknown.
    """
    part, side = plan.part(number), tops[0].side
    grid, window = _grid_of(part), part.window
    box = window.widened(math.ceil(to_m / grid.cell_m), grid)
    top, left = box.top // side, box.left // side
    blocks = Cells(top, left, math.ceil(box.bottom / side), math.ceil(box.right / side))
    found = np.full(blocks.shape, np.nan, dtype=np.float32)
    for piece in tops:
        _lay(found, blocks, piece)
    # those that lie within the window with the line of cells about them decide nothing
    inner = Cells(
        *(math.ceil((at + 1) / side) for at in window[:2]),
        *((at - 1) // side for at in window[2:]),
    )
    if inner.top < inner.bottom and inner.left < inner.right:
        found[inner.inside(blocks)] = -np.inf
    files = list(plan.sheets), plan.whole
    laid = resampled, _drawn(plan.whole, grid)
    return FarGround(
        tops_m=found,
        row=top * side - window.top,
        col=left * side - window.left,
        side=side,
        cell_m=grid.cell_m,
        to_m=to_m,
        read=lru_cache(TILES_KEPT)(partial(cells_on, window.of(grid), files, laid)),
    )


def _lay(found: Singles, blocks: Cells, piece: PartTops) -> None:
    """Put what of a piece lies among some blocks in its place."""
    rows, cols = piece.tops_m.shape
    both = Cells(
        max(blocks.top, piece.row),
        max(blocks.left, piece.col),
        min(blocks.bottom, piece.row + rows),
        min(blocks.right, piece.col + cols),
    )
    if both.top < both.bottom and both.left < both.right:
        own = Cells(piece.row, piece.col, piece.row + rows, piece.col + cols)
        found[both.inside(blocks)] = piece.tops_m[both.inside(own)]


def _grid_of(part: PlannedPart) -> Grid:
    if part.grid is None:
        raise ValueError("each part of this plan lies on a plane of its own")
    return part.grid


def _drawn(whole: Grid, grid: Grid) -> Drawn | None:
    """What the cells of a plan's grid are made from; None where they are those of the files."""
    return None if whole.is_metric else drawn_on(whole, grid)
