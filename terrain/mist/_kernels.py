"""The mist carried along the ways down, its spill over a rim, its smoothing: loops over cells.

Every raster here has a rim of unknown cells, so that a known cell always has eight neighbours;
cells are named by their flat index in it.
"""

from __future__ import annotations

import heapq

import numpy as np

from terrain.arrays import Flags, Floats, Labels, Singles
from terrain.compiling import njit
from terrain.mist._drainage_kernels import OFF, Marks

OUT, SHORE, IN = 0, 1, 2


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


@njit(cache=True, nogil=True)
def carry_tops(down: Labels, floor: Singles, own: Singles) -> tuple[Singles, Flags]:
    """The top of the mist over each cell's channel, and whether there is mist in that channel.

    own: the top that each channel cell would have by itself, NaN off the channels. Upstream the
    top never falls: mist that fills a channel backs up, level, into those that lead to it::

            own top ______                 own top, above a steep reach
                          \\
        backed up, level   \\_______ /
        ____________________\\_____/ steep: own top = floor, so there is no mist
        own top              \\___/
                    floor ____/
    """
    top = np.full(down.size, np.nan, dtype=np.float32)
    misty = np.zeros(down.size, dtype=np.bool_)
    done = np.zeros(down.size, dtype=np.bool_)
    way = np.empty(down.size, dtype=np.int32)
    for cell in range(down.size):
        length = 0
        at = cell
        while at != OFF and not done[at]:
            way[length] = at
            length += 1
            at = down[at]
        for back in range(length - 1, -1, -1):
            here = way[back]
            done[here] = True
            to = down[here]
            if to != OFF:
                top[here] = top[to]
                misty[here] = misty[to]
            if not np.isnan(own[here]):
                if np.isnan(top[here]) or own[here] > top[here]:
                    top[here] = own[here]
                misty[here] = top[here] > floor[here]
    return top, misty


@njit(cache=True, nogil=True)
def spread_across(top: Singles, within: Flags, own: Singles, ground: Singles, cols: int) -> None:
    """Give each cell of the mist the top over the nearest channel, by way of the mist.

    Water runs down a valley's sides aslant, so the channel it comes to lies downstream of the
    one abreast, and its top is too low. Ground that stands out of the mist takes a top from
    the mist beside it, but hands none on: ridges part valleys.
    """
    source = np.full(top.size, OFF, dtype=np.int32)
    waiting = np.zeros(top.size, dtype=np.bool_)
    queue = np.empty(top.size, dtype=np.int32)
    head = 0
    count = 0
    for cell in range(top.size):
        if within[cell] and not np.isnan(own[cell]):
            source[cell] = cell
            waiting[cell] = True
            queue[count] = cell
            count += 1
    while count > 0:
        cell = queue[head]
        head = (head + 1) % queue.size
        count -= 1
        waiting[cell] = False
        if top[cell] > ground[cell]:
            for row_step in (-cols, 0, cols):
                for col_step in (-1, 0, 1):
                    near = cell + row_step + col_step
                    if within[near] and _is_nearer(source[cell], source[near], near, cols):
                        source[near] = source[cell]
                        top[near] = top[source[cell]]
                        if not waiting[near]:
                            waiting[near] = True
                            queue[(head + count) % queue.size] = near
                            count += 1


@njit(cache=True, nogil=True)
def _is_nearer(one: int, other: int, cell: int, cols: int) -> bool:
    if other == OFF:
        return True
    row, col = cell // cols, cell % cols
    one_row, one_col = one // cols - row, one % cols - col
    other_row, other_col = other // cols - row, other % cols - col
    return one_row * one_row + one_col * one_col < other_row * other_row + other_col * other_col


@njit(cache=True, nogil=True)
def carry_over_the_rest(
    top: Singles, misty: Flags, ground: Singles, known: Flags, cols: int, deepest: float
) -> None:
    """Let mist spread, level, over ground that drains to no channel, as far as that lies below it.

    Nowhere deeper than `deepest`, since such ground may fall away beyond the raster's edge.
    """
    queue = np.empty(top.size, dtype=np.int32)
    tail = 0
    for cell in range(top.size):
        if misty[cell] and top[cell] > ground[cell]:
            queue[tail] = cell
            tail += 1
    head = 0
    while head < tail:
        cell = queue[head]
        head += 1
        for row_step in (-cols, 0, cols):
            for col_step in (-1, 0, 1):
                near = cell + row_step + col_step
                if known[near] and np.isnan(top[near]) and ground[near] < top[cell]:
                    top[near] = min(top[cell], ground[near] + np.float32(deepest))
                    misty[near] = True
                    queue[tail] = near
                    tail += 1


@njit(cache=True, nogil=True)
def spill(
    top: Singles, ground: Singles, known: Flags, cols: int, thinning: float, least: float
) -> None:
    """Let mist that stands over its rim run down the far side, thinner with every cell it goes.

    top: flat, NaN where there is no mist yet; it is added to. thinning: loss of depth over one
    cell, least: depth of the thinnest mist, metres. The deepest goes first.
    """
    heap = [(np.float32(0.0), 0)]
    heap.pop()
    for cell in range(top.size):
        if not np.isnan(top[cell]):
            depth = top[cell] - ground[cell]
            if depth > least and _stands_open(cell, top, ground, known, cols):
                heap.append((-depth, cell))
    heapq.heapify(heap)
    while len(heap) > 0:
        thickness, cell = heapq.heappop(heap)
        for row_step in (-cols, 0, cols):
            for col_step in (-1, 0, 1):
                near = cell + row_step + col_step
                if known[near] and np.isnan(top[near]):
                    way = np.sqrt(2.0) if row_step != 0 and col_step != 0 else 1.0
                    depth = min(-thickness - np.float32(thinning * way), top[cell] - ground[near])
                    if depth > least:
                        top[near] = ground[near] + depth
                        heapq.heappush(heap, (-depth, near))


@njit(cache=True, nogil=True)
def _stands_open(cell: int, top: Singles, ground: Singles, known: Flags, cols: int) -> bool:
    for row_step in (-cols, 0, cols):
        for col_step in (-1, 0, 1):
            near = cell + row_step + col_step
            if known[near] and np.isnan(top[near]) and ground[near] < top[cell]:
                return True
    return False


@njit(cache=True, nogil=True)
def diffuse(
    first: int,
    end: int,
    surface: Singles,
    before: Singles,
    at: Singles,
    state: Marks,
    weights: tuple[float, float, float],
) -> None:
    """One stage of smoothing in place: weights of `at`, of `before`, and of the Laplacian of `at`.

    first, end: rows, of those between the rim's. `surface` is overwritten where state is IN.
    Nothing flows through a SHORE; on the side of what is unknown (OUT) the surface goes on as it
    slopes.
    """
    cols = surface.shape[1]
    of_at, of_before, of_bend = weights
    for row in range(first + 1, end + 1):
        for col in range(1, cols - 1):
            if state[row, col] == IN:
                here = at[row, col]
                west, east = at[row, col - 1], at[row, col + 1]
                bend = _bend(here, west, east, state[row, col - 1], state[row, col + 1])
                north, south = at[row - 1, col], at[row + 1, col]
                bend += _bend(here, north, south, state[row - 1, col], state[row + 1, col])
                surface[row, col] = of_at * here + of_before * before[row, col] + of_bend * bend


@njit(cache=True, nogil=True)
def _bend(here: float, one: float, other: float, one_state: int, other_state: int) -> float:
    if (one_state == OUT) or (other_state == OUT):
        return 0.0
    bend = 0.0
    if one_state == IN:
        bend += one - here
    if other_state == IN:
        bend += other - here
    return bend
