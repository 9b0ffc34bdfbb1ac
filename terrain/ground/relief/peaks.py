"""Where the islands of all peaks join as a sea sinks past them.

The cells of a raster come up one by one, the highest first and equals in order of index. With no
two cells at once, whatever is found hangs on these cells alone, not on the raster they are read in:
what two rasters that share a line of cells find is what one of both does.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain.arrays import Labels, Numbers, Singles, frozen_arrays
from terrain.cores import share_out
from terrain.ground.relief._island_kernels import Ends, Islands, join_islands, meeting_cells
from terrain.ground.relief._kernels import NOTHING, lead_to_peaks


@dataclass(frozen=True, kw_only=True, eq=False)
@frozen_arrays(copy=False)
class Peaks:
    """The cells of a raster that come before all about them, numbered as they come.

    cell: (peaks,) flat index.
    col_cell: (peaks,) where its island joins that of a peak before it; -1 if it never does.
    touch_cell: (peaks,) where until then it first touches an end of the ground or unknown ground,
        by itself or through ground it has joined; -1 if it does not.
    joined: (peaks,) the peak whose island it joins; -1.
    far_cell, far_peak: (peaks,) the highest cell in that island beside the col, and the peak to
        which that leads; -1.
    """

    cell: Numbers
    col_cell: Numbers
    touch_cell: Numbers
    joined: Labels
    far_cell: Numbers
    far_peak: Labels


def join_peaks(heights_m: Singles, way: Labels, ends: Ends) -> tuple[Peaks, Labels]:
    """The peaks of heights (rows, cols), and the number of that which each cell leads to, flat.

    way: of each cell a neighbour that is higher, flat; -1 where none is. ends: where the ground
    ends. Unknown ground leads to -1.
    """
    flat, lead = heights_m.reshape(-1), way.copy()
    is_peak = np.empty(way.size, dtype=np.bool_)
    lead_to_peaks(flat, heights_m.shape[1], lead, is_peak)
    cell = highest_first(flat, np.flatnonzero(is_peak))
    del is_peak
    peak_of = numbered(lead, cell)
    del lead
    meets = np.empty(way.size, dtype=np.bool_)

    def meet(first: int, end: int) -> None:
        room = np.empty(heights_m.shape[1], dtype=np.bool_)
        meeting_cells(first, end, heights_m, peak_of, ends, meets, room)

    share_out(heights_m.shape[0], meet)
    order = highest_first(flat, np.flatnonzero(meets))
    col_cell, touch_cell, far_cell = np.full((3, cell.size), NOTHING, dtype=np.int64)
    joined = np.full(cell.size, NOTHING, dtype=np.int32)
    islands = Islands(col_cell, touch_cell, far_cell, joined)
    parent, meeting = np.arange(cell.size, dtype=np.int32), np.empty(9, dtype=np.int64)
    join_islands(heights_m, order, peak_of, ends, islands, parent, meeting)
    far_peak = np.where(far_cell == NOTHING, np.int32(NOTHING), peak_of[far_cell])
    peaks = Peaks(
        cell=cell,
        col_cell=col_cell,
        touch_cell=touch_cell,
        joined=joined,
        far_cell=far_cell,
        far_peak=far_peak,
    )
    return peaks, peak_of


def highest_first(flat: Singles, cells: Numbers) -> Numbers:
    """The cells from high to low, those of equal height in order of index.

    By one sort of whole numbers, the height's bits before the index: four times as fast as a
    stable sort of the heights.
    """
    bits = (np.float32(0.0) - flat[cells]).view(np.int32).astype(np.int64)
    # the bits of a negative number grow as it falls
    rising = np.where(bits < 0, bits ^ 0x7FFFFFFF, bits)
    return np.sort((rising << 32) | cells) & 0xFFFFFFFF


def numbered(lead: Labels, cells: Numbers) -> Labels:
    """The number of the cell that each leads to, of some cells in their order; -1 for none."""
    # unknown ground leads to -1 and so takes the last entry
    number = np.full(lead.size + 1, NOTHING, dtype=np.int32)
    number[cells] = np.arange(cells.size, dtype=np.int32)
    return number[lead]
