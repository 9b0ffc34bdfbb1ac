"""Where in a picture the top of a mist is seen.

Both surfaces are read between the centres of the four cells about a place, as
`scipy.ndimage.map_coordinates` of order 1 reads them, to the last digit.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from terrain.arrays import Flags, Singles
from terrain.compiling import inner, njit


class Part(NamedTuple):
    """The two lines of cells about a place, those at the end where it lies beyond, and its shares.

    The second share is what the first leaves, as rounded.
    """

    low: int
    high: int
    low_share: float
    high_share: float


@inner()
def part_of(at: float, count: int) -> Part:
    """Where a place lies between so many lines of cells."""
    before = math.floor(at)
    share = 1.0 - (at - before)
    low, high = min(max(before, 0), count - 1), min(max(before + 1, 0), count - 1)
    return Part(low, high, share, 1.0 - share)


@inner()
def surface_at(values: Singles, row: Part, col: Part) -> float:
    """A surface between the centres of four cells, in single precision."""
    found = float(values[row.low, col.low]) * row.low_share * col.low_share
    found += float(values[row.low, col.high]) * row.low_share * col.high_share
    found += float(values[row.high, col.low]) * row.high_share * col.low_share
    found += float(values[row.high, col.high]) * row.high_share * col.high_share
    return float(np.float32(found))


@njit(cache=True, nogil=True)
def mark_mist(
    first: int,
    end: int,
    row: Singles,
    col: Singles,
    lid: Singles,
    ground: Singles,
    is_mist: Flags,
) -> None:
    """Mark where the lid stands over the ground, in the lines first..end-1 of a picture.

    row, col: (lines, places) on the raster, NaN where there is sky. is_mist: alike, False before.
    """
    rows, cols = ground.shape
    for line in range(first, end):
        for place in range(row.shape[1]):
            at_row, at_col = float(row[line, place]), float(col[line, place])
            if math.isnan(at_row):
                continue
            by_row, by_col = part_of(at_row, rows), part_of(at_col, cols)
            # beyond the shore the top is not a number, and more than nothing
            over = surface_at(lid, by_row, by_col) > surface_at(ground, by_row, by_col)
            is_mist[line, place] = over
