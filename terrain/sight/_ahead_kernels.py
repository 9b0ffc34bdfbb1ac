"""What may still lie ahead on a ray: how far off anything could be seen, and whether all is known.

Nothing that stands no higher over the eye than the highest of the ground reaches a slope from
farther off than a distance that can be told::

        slope asked for ___----'
            ___----'      |
        eye ______________|______ highest of the ground, sinking away with the bend of the earth
                          `-- here it falls below the line, and all beyond it stays there
"""

from __future__ import annotations

import math

from terrain.arrays import Numbers, Singles
from terrain.compiling import inner
from terrain.constants import BLOCK_CELLS, SMALL_BLOCK_CELLS

SLACK_M = 0.01  # more than rounding adds to a height
NUDGE_CELLS = 1e-7  # more than rounding adds to a place, and far too little to change a height
LONGER = 0.25  # of what is left, before it is asked again whether all of the rest is known


@inner(error_model="numpy", _nrt=False)
def reaches_to(slope: float, over: float, bend: float) -> float:
    """How far off ground that stands so much over the eye may reach a slope, metres.

    It is (over / s - bend s) at a distance s; -1 where it nowhere is that steep.
    """
    if not bend > 0.0:
        return math.inf
    square = slope * slope + 4.0 * bend * over
    if square < 0.0:
        return -1.0
    return (math.sqrt(square) - slope) / (2.0 * bend)


@inner(error_model="numpy", _nrt=False)
def block_of(cell: float, blocks: int) -> int:
    """The block of a fractional row or column, that at the edge for what lies beyond it."""
    return int(min(max(math.floor(cell), 0.0) // BLOCK_CELLS, blocks - 1.0))


@inner(error_model="numpy", _nrt=False)
def all_known(unknown: Numbers, row: float, col: float, to_row: float, to_col: float) -> bool:
    """Whether no block of a box about the way between two places holds an unknown cell.

    unknown: sums of unknown cells, as `Dem.unknown_sums` has them.
    """
    rows, cols = unknown.shape[0] - 1, unknown.shape[1] - 1
    top, left = block_of(min(row, to_row) - 1.0, rows), block_of(min(col, to_col) - 1.0, cols)
    end = block_of(max(row, to_row) + 2.0, rows) + 1
    right = block_of(max(col, to_col) + 2.0, cols) + 1
    inside = unknown[end, right] - unknown[top, right] - unknown[end, left] + unknown[top, left]
    return bool(inside == 0)


@inner(error_model="numpy", _nrt=False)
def rises_to(over: float, from_m: float, to_m: float, bend: float) -> float:
    """A slope that ground so much over the eye does not exceed between two distances."""
    if over > 0.0:
        return over / from_m - bend * from_m
    return over / to_m - bend * from_m


@inner(error_model="numpy", _nrt=False)
def block_ahead(
    tops: Singles, row: float, col: float, row_step: float, col_step: float, at: float
) -> tuple[float, float]:
    """The top of the small block that a ray is about to pass at a distance, and where it leaves it.

    tops: as `Dem.block_tops_m` has them. At the edges a block has no end.
    """
    along = at + NUDGE_CELLS / math.hypot(row_step, col_step)
    down, row_end_m = block_on(row, row_step, along, tops.shape[0])
    right, col_end_m = block_on(col, col_step, along, tops.shape[1])
    return float(tops[down, right]), min(row_end_m, col_end_m)


@inner(error_model="numpy", _nrt=False)
def block_on(start: float, step: float, along: float, blocks: int) -> tuple[int, float]:
    """The small block of a row or a column at a distance, and at which one leaves it."""
    place = math.floor(start + along * step) // SMALL_BLOCK_CELLS
    block = min(max(place, 0), blocks - 1)
    if step > 0.0 and block < blocks - 1:
        return block, ((block + 1) * SMALL_BLOCK_CELLS - start) / step
    if step < 0.0 and block > 0:
        return block, (block * SMALL_BLOCK_CELLS - start) / step
    return block, math.inf


@inner(error_model="numpy", _nrt=False)
def line_from(start: float, step: float, line: int, count: int, at: float) -> int:
    """The first line of centres that is not crossed before a distance, none before `line`."""
    if step > 0.0:
        return max(line, min(math.ceil(start + at * step - NUDGE_CELLS), count))
    if step < 0.0:
        return min(line, max(math.floor(start + at * step + NUDGE_CELLS), -1))
    return line


@inner(error_model="numpy", _nrt=False)
def line_before(start: float, step: float, line: int) -> float:
    """How far off the line before one is crossed, metres: negative where it lies behind."""
    if step > 0.0:
        return (line - 1 - start) / step
    if step < 0.0:
        return (line + 1 - start) / step
    return -math.inf
