"""Cells that the ground keeps in the shade for the rest of the day, told without their rays.

The sun's way is cut into sectors. Where on some line ahead every cell that the rays of a sector
can come to stands over the steepest of them, at none of its moments does the sun come out::

        line k   #  #  #  #        each higher than any ray of the sector there
                  \\      /
                   \\    /
                     o             the cell
"""

from __future__ import annotations

import math
from typing import NamedTuple

from terrain.arrays import ONE, Bytes, Flags, Floats, Numbers, Singles
from terrain.compiling import inner, njit
from terrain.light._ray_kernels import ROUNDING_M

LINES = 400
SPARSER = 16  # of lines farther off than so many not each is looked at
ASIDE = 1e-6  # cells by which the place of a ray on a line is rounded, and more


class Sectors(NamedTuple):
    """The rays to parts of the sun's way, each (n,), as a `Ray` has one.

    by_rows, step: whether they cross rows, and which way; first, last: the least and the greatest
    slant; rise, curve: of the steepest.
    """

    by_rows: Flags
    step: Numbers
    first: Floats
    last: Floats
    rise: Floats
    curve: Floats


@inner(error_model="numpy", _nrt=False)
def hides(heights: Singles, row: int, col: int, sectors: Sectors, item: int, k: int) -> bool:
    """Whether what is known of line k hides all of a sector from a cell."""
    rows, cols = heights.shape
    by_rows = sectors.by_rows[item]
    line, cell = (row, col) if by_rows else (col, row)
    length, across = (rows, cols) if by_rows else (cols, rows)
    line += sectors.step[item] * k
    first = math.floor(cell + sectors.first[item] * k - ASIDE)
    last = math.floor(cell + sectors.last[item] * k + ASIDE) + 1
    if line < 0 or line >= length or first < 0 or last >= across:
        return False
    over_sea = heights[row, col] + k * (sectors.rise[item] + sectors.curve[item] * k)
    for beside in range(first, last + 1):
        z = heights[line, beside] if by_rows else heights[beside, line]
        if not z > over_sea + ROUNDING_M:
            return False
    return True


@njit(cache=True, nogil=True, error_model="numpy", _nrt=False)
def stay_dark(
    first: int, end: int, heights: Singles, cells: Numbers, sectors: Sectors, dark: Bytes
) -> None:
    """Tell the cells (flat indices) that surely stay in the shade, of those from `first` to `end`.

    dark: 1 where they do. The line that hid one sector is looked at first for the next.
    """
    cols = heights.shape[1]
    for index in range(first, end):
        row, col, k = cells[index] // cols, cells[index] % cols, ONE
        hidden = True
        for item in range(sectors.step.size):
            hidden = hides(heights, row, col, sectors, item, k)
            line = ONE
            while line <= LINES and not hidden:
                hidden = hides(heights, row, col, sectors, item, line)
                k = line if hidden else k
                line += 1 + line // SPARSER
            if not hidden:
                break
        dark[index] = hidden
