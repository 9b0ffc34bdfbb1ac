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

from terrain.arrays import Numbers
from terrain.compiling import njit
from terrain.constants import BLOCK_CELLS

SLACK_M = 0.01  # more than rounding adds to a height
LONGER = 0.25  # of what is left, before it is asked again whether all of the rest is known


@njit(cache=True, nogil=True)
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


@njit(cache=True, nogil=True)
def block_of(cell: float, blocks: int) -> int:
    """The block of a fractional row or column, that at the edge for what lies beyond it."""
    return int(min(max(math.floor(cell), 0.0) // BLOCK_CELLS, blocks - 1.0))


@njit(cache=True, nogil=True)
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
