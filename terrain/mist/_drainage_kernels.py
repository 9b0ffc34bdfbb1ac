"""What drains where along the ways down, channels and their fall, the run of what spills.

Every raster here has a rim of unknown cells, so that a known cell always has eight neighbours;
cells are named by their flat index in it.
"""

from __future__ import annotations

import heapq
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from terrain.arrays import Flags, Labels, Singles
from terrain.compiling import inner, njit

Marks = NDArray[np.uint8]

OFF = -1


class Ways(NamedTuple):
    """Ways along the channels, marked 1: the next cell down and up from each, -1 none."""

    down: Labels
    donor: Labels
    channel: Marks
    cols: int
    cell_m: float


@njit(cache=True, nogil=True, error_model="numpy")
def level_cells(
    first: int, end: int, floor: Singles, known: Flags, step_m: np.float32, flat: Flags
) -> None:
    """Known cells whose four neighbours are all as high, to less than a step; first, end: rows.

    floor, known, flat: (rows, cols) with the rim, which is passed over.
    """
    for row in range(first, end):
        for col in range(1, floor.shape[1] - 1):
            z = floor[row, col]
            across = (abs(z - floor[row, col - 1]) < step_m) & (
                abs(floor[row, col + 1] - z) < step_m
            )
            down = (abs(z - floor[row - 1, col]) < step_m) & (abs(floor[row + 1, col] - z) < step_m)
            flat[row, col] = across & down & known[row, col]


@njit(cache=True, nogil=True, error_model="numpy", _nrt=False)
def catchments(down: Labels, cells: Singles, waits: Labels) -> None:
    """Count how many known cells drain to each, itself among them; the ways down have no loops.

    cells: 1 for what is known, else 0, to be added up; waits: all 0, and all OFF afterwards.
    """
    for cell in range(down.size):
        if down[cell] != OFF:
            waits[down[cell]] += 1
    for cell in range(down.size):
        at = cell
        while at != OFF and waits[at] == 0:
            waits[at] = OFF
            to = down[at]
            if to != OFF:
                cells[to] += cells[at]
                waits[to] -= 1
            at = to


@njit(cache=True, nogil=True, error_model="numpy", _nrt=False)
def main_donors(down: Labels, catchment: Singles, donor: Labels) -> None:
    """Of the neighbours whose way leads through each cell, that with most ground above it; OFF.

    donor: to be filled, all OFF.
    """
    for cell in range(down.size):
        to = down[cell]
        if to != OFF and (donor[to] == OFF or catchment[cell] > catchment[donor[to]]):
            donor[to] = cell


@njit(cache=True, nogil=True)
def trace_channels(
    down: Labels, donor: Labels, catchment: Singles, known: Flags, least: float, cols: int
) -> Marks:
    """1 on every channel: where enough ground drains, all the way down from there.

    A channel also goes on upstream where its stem comes in over the raster's edge, since the
    ground that feeds it from beyond is not counted.
    """
    channel = np.zeros(down.size, dtype=np.uint8)
    for cell in range(down.size):
        if known[cell] and catchment[cell] >= least:
            at = cell
            while at != OFF and channel[at] == 0:
                channel[at] = 1
                at = down[at]
    for cell in range(down.size):
        if channel[cell] == 1 and (donor[cell] == OFF or channel[donor[cell]] == 0):
            source = cell
            while donor[source] != OFF and not _at_edge(known, source, cols):
                source = donor[source]
            if _at_edge(known, source, cols):
                at = source
                while channel[at] == 0:
                    channel[at] = 1
                    at = down[at]
    return channel


@inner()
def _at_edge(known: Flags, cell: int, cols: int) -> bool:
    edge = False
    for row_step in (-cols, 0, cols):
        for col_step in (-1, 0, 1):
            edge |= not known[cell + row_step + col_step]
    return edge


@njit(cache=True, nogil=True)
def channel_slopes(
    first: int, end: int, ways: Ways, cells: Labels, floor: Singles, reach_m: float, slope: Singles
) -> None:
    """Fall of the floor along the channel over a reach centred on each of the cells, rise over run.

    first, end: of the cells; slope: to be filled.

    Where the channel ends within half the reach, the rest of it is taken on the other side.
    """
    for index in range(first, end):
        low, below_m = _follow(cells[index], ways.down, ways, reach_m / 2)
        high, above_m = _follow(cells[index], ways.donor, ways, reach_m - below_m)
        if above_m < reach_m / 2:
            low, below_m = _follow(cells[index], ways.down, ways, reach_m - above_m)
        slope[index] = 0.0
        if above_m + below_m > 0:
            slope[index] = (floor[high] - floor[low]) / (above_m + below_m)


@inner()
def _follow(cell: int, onward: Labels, ways: Ways, reach_m: float) -> tuple[int, float]:
    gone_m = 0.0
    while gone_m < reach_m and onward[cell] != OFF and ways.channel[onward[cell]]:
        step = abs(onward[cell] - cell)
        aslant = step != 1 and step != ways.cols
        gone_m += ways.cell_m * np.sqrt(2.0) if aslant else ways.cell_m
        cell = onward[cell]
    return cell, gone_m


@njit(cache=True, nogil=True)
def run_down(
    heights: Singles, known: Flags, start: int, below: float, floor: Flags, cols: int
) -> Labels:
    """The way water runs from a cell to the first that is `floor`, or off the edge of the known.

    It falls as steeply as it can, and fills each hollow till it spills, but rises nowhere to
    `below`; if it cannot go on without, the way ends at the lowest place it filled. The pools
    are crossed by the way they were filled.
    """
    came_from = {start: start}
    heap = [(heights[start], start)]
    lowest = start
    end = OFF
    while len(heap) > 0 and end == OFF:
        _, cell = heapq.heappop(heap)
        if heights[cell] < heights[lowest]:
            lowest = cell
        if floor[cell] or _at_edge(known, cell, cols):
            end = cell
        for row_step in (-cols, 0, cols):
            for col_step in (-1, 0, 1):
                near = cell + row_step + col_step
                if known[near] and heights[near] < below and near not in came_from:
                    came_from[near] = cell
                    way = np.sqrt(2.0) if row_step != 0 and col_step != 0 else 1.0
                    # downhill the steepest way is gone first, uphill the lowest
                    fall = (heights[cell] - heights[near]) / way
                    rank = heights[cell] - fall if fall > 0 else heights[near]
                    heapq.heappush(heap, (np.float32(rank), near))
    if end == OFF:
        end = lowest
    way_back = [end]
    while way_back[-1] != start:
        way_back.append(came_from[way_back[-1]])
    return np.array(way_back[::-1], dtype=np.int32)


@njit(cache=True, nogil=True)
def stem_end(cell: int, down: Labels, donor: Labels, pit_of: Labels) -> int:
    """Where the stream through a cell ends: its mouth into a greater one, or a closed hollow."""
    while pit_of[cell] == OFF and down[cell] != OFF and donor[down[cell]] == cell:
        cell = down[cell]
    return cell
