"""The mist carried along the ways down, its spill over a rim, its smoothing: loops over cells.

Every raster here has a rim of unknown cells, so that a known cell always has eight neighbours;
cells are named by their flat index in it.
"""

from __future__ import annotations

import heapq
from typing import NamedTuple

import numpy as np

from terrain.arrays import Flags, Floats, Labels, Singles
from terrain.compiling import inner, njit
from terrain.mist._drainage_kernels import OFF

BESIDE = 64  # columns smoothed side by side
NOT_YET = -2


@njit(cache=True, nogil=True)
def carry_levels(own_m: Singles, joined: Labels, pass_m: Floats) -> Singles:
    """The least, over all ways from pit to pit, of the highest pass on the way, or of the source.

    own_m: the top at which each pit is reached from its own source, infinite without one.
    joined: the lower pit that each joins, of a lower number than its own, -1 for none; pass_m:
    the height of the pass between them.
    """
    level_m = own_m.copy()
    for pit in range(joined.size - 1, -1, -1):
        if joined[pit] != OFF:
            over_m = max(level_m[pit], np.float32(pass_m[pit]))
            level_m[joined[pit]] = min(level_m[joined[pit]], over_m)
    for pit in range(joined.size):
        if joined[pit] != OFF:
            over_m = max(level_m[joined[pit]], np.float32(pass_m[pit]))
            level_m[pit] = min(level_m[pit], over_m)
    return level_m


@njit(cache=True, nogil=True, error_model="numpy", _nrt=False)
def carry_tops(down: Labels, top: Singles, floors: Flags, source: Labels, way: Labels) -> None:
    """The top of the mist over each cell's channel, and the first valley floor on the way down.

    top: that which each channel cell would have by itself, NaN off the channels, to be carried on;
    floors: the cells that mist may lie on by itself; source: to be filled, all NOT_YET; way: room
    for all cells. Upstream the top never falls: mist that fills a channel backs up, level, into
    those that lead to it::

            own top ______                 own top, above a steep reach
                          \\
        backed up, level   \\_______ /
        ____________________\\_____/ steep: own top = floor, so there is no mist
        own top              \\___/
                    floor ____/
    """
    for cell in range(down.size):
        length = 0
        at = cell
        while at != OFF and source[at] == NOT_YET:
            way[length] = at
            length += 1
            at = down[at]
        for back in range(length - 1, -1, -1):
            here = way[back]
            to = down[here]
            source[here] = OFF if to == OFF else source[to]
            if floors[here]:
                source[here] = here
            if to != OFF and (np.isnan(top[here]) or top[here] <= top[to]):
                top[here] = top[to]


class Onward(NamedTuple):
    """The ground that mist runs on over, and how.

    unclaimed: known ground that drains to no channel. thinning, aslant: loss of depth over one
    cell, straight on and over its corner; thinnest, deepest: depths of mist; metres.
    """

    ground: Singles
    known: Flags
    unclaimed: Flags
    cols: int
    thinning: np.float32
    aslant: np.float32
    thinnest: np.float32
    deepest: np.float32


@njit(cache=True, nogil=True)
def hand_on(top: Singles, lies: Flags, over: Onward, hands_on: Flags) -> None:
    """Let each cell take the highest top that comes to it from those where mist lies.

    top, lies: flat, added to, and where mist was at first; hands_on: of `may_hand_on`.

    What comes to a cell grows with the top it comes from and is never higher than that: so the
    highest goes first, and from higher tops, or more of them, no cell takes a lower one.
    """
    heap = [(np.float32(0.0), 0)]
    heap.pop()
    for cell in range(top.size):
        if hands_on[cell]:
            _hand_on(cell, top, lies, over, heap)
    while len(heap) > 0:
        height, cell = heapq.heappop(heap)
        if -height == top[cell]:
            _hand_on(cell, top, lies, over, heap)


@njit(cache=True, nogil=True, error_model="numpy")
def may_hand_on(
    first: int, end: int, top: Singles, lies: Flags, over: Onward, hands_on: Flags
) -> None:
    """Where mist lies beside lower ground, or beside mist whose top is lower by what it loses.

    first, end: rows within the rim; hands_on: flat, to be filled.
    """
    cols, less = over.cols, over.thinning - np.float32(0.01)  # no rounding may pass over a cell
    bar = np.empty((3, cols), dtype=np.float32)
    for row in range(first - 1, end + 1):
        here = bar[row % 3]
        for col in range(cols):
            cell = row * cols + col
            level = top[cell] + less if lies[cell] else over.ground[cell]
            here[col] = level if over.known[cell] else np.float32(np.inf)
        # the row before has both beside it now
        for col in range(1, cols - 1 if row > first else 0):
            low = here[col]
            for line in range(3):
                for near in (col - 1, col, col + 1):
                    low = bar[line, near] if bar[line, near] < low else low
            cell = (row - 1) * cols + col
            hands_on[cell] = lies[cell] & (low < top[cell])


@inner()
def _hand_on(
    cell: int, top: Singles, lies: Flags, over: Onward, heap: list[tuple[np.float32, int]]
) -> None:
    """Raise the tops beside a cell to what comes from it."""
    ground, from_m = over.ground, top[cell]
    depth = from_m - ground[cell]
    for row_step in (-over.cols, 0, over.cols):
        for col_step in (-1, 0, 1):
            near = cell + row_step + col_step
            if over.known[near]:
                loss = over.aslant if row_step != 0 and col_step != 0 else over.thinning
                comes = min(from_m, ground[near] + depth) - loss
                if lies[near]:
                    comes = max(comes, from_m - loss - loss)
                elif over.unclaimed[near]:
                    comes = max(comes, min(from_m, ground[near] + over.deepest))
                elif comes - ground[near] < over.thinnest:
                    comes = ground[near]
                if comes > ground[near] and not comes <= top[near]:
                    top[near] = comes
                    heapq.heappush(heap, (-comes, near))


class Links(NamedTuple):
    """What a line of cells is smoothed over: the valley floors' heights, NaN off them, and how far.

    jump: floors that differ by as much from cell to cell are not joined, metres; time: cells
    squared.
    """

    floor: Singles
    known: Flags
    jump: float
    time: float


@njit(cache=True, nogil=True, error_model="numpy")
def smooth_lines(first: int, end: int, surface: Singles, links: Links) -> None:
    """One implicit step of diffusion along each column, in place; first, end: within the rim.

    Solved by elimination: (1 + a + b) after - a north - b south = before, where a and b tell how
    well a cell is joined to those beside it. Beside what is unknown the surface is kept as it is,
    so that it goes on as it slopes. A column waits at each cell for the one before it, so a few
    are solved side by side.

    The links hang on the ground alone and none is below 0, and so no share of what was before in
    what comes after is: a surface that is nowhere lower is nowhere lower afterwards.
    """
    rows = surface.shape[0]
    of_south, solved = np.zeros((2, rows, BESIDE), dtype=np.float64)
    link = np.empty(BESIDE, dtype=np.float64)
    for begin in range(first + 1, end + 1, BESIDE):
        stop = min(begin + BESIDE, end + 1)
        link[:] = 0.0
        for row in range(1, rows - 1):
            floor, below = links.floor[row, begin:stop], links.floor[row + 1, begin:stop]
            known_0, known_1 = links.known[row - 1, begin:stop], links.known[row + 1, begin:stop]
            line, own, onward = surface[row, begin:stop], solved[row], of_south[row]
            before, onward_before = solved[row - 1], of_south[row - 1]
            for at in range(stop - begin):
                north, south = link[at], _link(floor[at], below[at], links)
                link[at] = south
                inside = known_0[at] & known_1[at]
                a, b = north if inside else 0.0, south if inside else 0.0
                part = 1.0 / (1.0 + a * (1.0 - onward_before[at]) + b)
                onward[at] = b * part
                own[at] = (line[at] + a * before[at]) * part
        for row in range(rows - 2, 0, -1):
            line, own = surface[row, begin:stop], solved[row]
            onward, after = of_south[row], solved[row + 1]
            for at in range(stop - begin):
                own[at] += onward[at] * after[at]
                line[at] = own[at]


@inner()
def _link(one: float, other: float, links: Links) -> float:
    return links.time * max(0.0, 1.0 - abs(one - other) / links.jump)
