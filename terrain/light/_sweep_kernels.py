"""First light of every cell between two horizons in the sun's order, and what it comes over.

While the sun is low nearly every cell waits, and one sweep of horizons serves them all; the sun's
height over the horizon is then a line between two sweeps. What changes slowly over the raster is
in tables, (nodes, nodes) spread evenly over it.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from terrain.arrays import Bytes, Floats, Labels, Singles
from terrain.compiling import inner, njit
from terrain.sight._vector_kernels import pick, put

MOST_CELLS_OFF = 2  # ground of the edge may seem to lie so far beyond it


class Relief(NamedTuple):
    """Ground as light falls on it: heights, the highest of blocks of them, and what they span.

    low_m: of the lowest; span_m: how far the highest stands over it. bend: of a line of sight,
    its drop over the square of the distance.
    """

    heights: Singles
    tops: Singles
    cell_m: float
    bend: float
    low_m: float
    span_m: float


class FirstLight(NamedTuple):
    """The first sun on every cell, (rows, cols) float32, NaN where there is none or no answer.

    arrives_s: seconds of the search; -inf where the disc is up when the lowest sun of the day is.
    azimuth_deg: from true north, of the point where it comes over; known as well where only
    unknown ground lies that way. altitude_deg: of that point. distance_m: to it, or no cells.
    """

    arrives_s: Singles
    azimuth_deg: Singles
    altitude_deg: Singles
    distance_m: Singles


class Sweep(NamedTuple):
    """A sweep of horizons along one azimuth, and the sun when it stands there.

    azimuth, horizon: degrees; distance_m: of the horizon, or no cells. limb: (2, nodes, nodes),
    its altitude at the lowest ground and `span_m` higher. time_s: (nodes, nodes).
    """

    azimuth: float
    horizon: Singles
    distance_m: Singles
    limb: Floats
    time_s: Floats


class SunBetween(NamedTuple):
    """The sun between two sweeps.

    level: cosine of its altitude; swell: limb less centre, half: semi-diameter, degrees. turn:
    (nodes, nodes), true azimuth less that of the sweep. up_at_start: the first of the two sweeps
    is where the day's search begins, and the limb can be up there already.
    """

    level: float
    swell: float
    half: float
    turn: Floats
    up_at_start: bool


@inner(error_model="numpy", _nrt=False)
def node_share(cell: int, cells: int, nodes: int) -> tuple[int, float]:
    """The node before a cell and the share of the next one; nodes go from edge to edge."""
    place = (cell + 0.5) * (nodes - 1) / cells
    node = min(int(place), nodes - 2)
    return node, place - node


@inner(error_model="numpy", _nrt=False)
def among(table: Floats, row: int, down: float, col: int, along: float) -> float:
    """A table at the nodes, bilinear."""
    top = table[row, col] + along * (table[row, col + 1] - table[row, col])
    low = table[row + 1, col] + along * (table[row + 1, col + 1] - table[row + 1, col])
    return float(top + down * (low - top))


@inner(error_model="numpy", _nrt=False)
def along_row(table: Floats, row: int, down: float, node: int, cols: int) -> tuple[float, float]:
    """A table along a row between two nodes: its value at column 0 and its change a column."""
    west = table[row, node] + down * (table[row + 1, node] - table[row, node])
    east = table[row, node + 1] + down * (table[row + 1, node + 1] - table[row, node + 1])
    step = (east - west) * (table.shape[1] - 1) / cols
    return west + step * (0.5 - node * cols / (table.shape[1] - 1)), step


@inner(error_model="numpy", _nrt=False)
def lifted(rise: float, swell: float, half: float, aslant: float) -> float:
    """How much nearer the disc is to ground that slants than the limb over the same azimuth.

    rise: of the ground between the two sweeps, degrees; aslant: the same over the way aside. A
    line of slope s touches a disc of radius r at r sqrt(1 + s²) over or under its middle, but no
    part of the disc reaches beyond the lower of the two horizons.
    """
    longer = math.sqrt(1.0 + aslant * aslant) - 1.0
    return swell * min(longer, abs(rise) / half)


@inner(error_model="numpy", _nrt=False)
def look_over(
    west: int,
    east: int,
    relief: Relief,
    limb: tuple[float, float, float, float],
    most: float,
    own: tuple[Singles, Singles, Singles, Singles],
    reached: Bytes,
) -> int:
    """Tell the cells of a row that the limb may have reached; how many surely wait on.

    limb: its altitude over the lowest ground in column 0, its change a column, and both over the
    highest. own: of the row, `arrives_s`, heights and both horizons. reached: 1 where it may.
    """
    low, low_step, high, high_step = limb
    arrives, heights, before, after = own
    waiting = 0
    for col in range(west, east):
        height, light = pick(heights, col), pick(arrives, col)
        share = max(0.0, height - relief.low_m) / relief.span_m
        at_low = low + col * low_step
        at_limb = at_low + share * (high + col * high_step - at_low)
        ground_0, ground_1 = float(pick(before, col)), float(pick(after, col))
        waits = (light != light) & (height == height)
        dark = at_limb + most * abs(ground_1 - ground_0) < ground_1
        waiting += waits & dark
        put(reached, col, np.uint8(waits & (not dark)))
    return waiting


@njit(cache=True, nogil=True, error_model="numpy")
def by_sweeps(
    first_row: int,
    end_row: int,
    relief: Relief,
    earlier: Sweep,
    later: Sweep,
    sun: SunBetween,
    light: FirstLight,
) -> int:
    """Mark the cells of some rows that the limb reaches between two sweeps; how many still wait.

    A cell waits while `arrives_s` is NaN; +inf stands for light over unknown ground, -inf for
    cells that are lit when the first sweep is made.
    """
    heights, before, after = relief.heights, earlier.horizon, later.horizon
    arrives, azimuth, altitude, distance = light
    level, swell, half, turn, up_at_start = sun
    rows, cols = heights.shape
    nodes = turn.shape[0]
    wide = (later.azimuth - earlier.azimuth) * level
    most = abs(swell) / half
    count, reached = 0, np.empty(cols, dtype=np.uint8)
    for row in range(first_row, end_row):
        at_row, down = node_share(row, rows, nodes)
        own = arrives[row], heights[row], before[row], after[row]
        for at_col in range(nodes - 1):
            west = (2 * cols * at_col + nodes - 2) // (2 * (nodes - 1))
            east = (2 * cols * (at_col + 1) + nodes - 2) // (2 * (nodes - 1))
            low_1, low_1_step = along_row(later.limb[0], at_row, down, at_col, cols)
            high_1, high_1_step = along_row(later.limb[1], at_row, down, at_col, cols)
            limb = low_1, low_1_step, high_1, high_1_step
            count += look_over(west, east, relief, limb, most, own, reached)
            low_0, low_0_step = along_row(earlier.limb[0], at_row, down, at_col, cols)
            high_0, high_0_step = along_row(earlier.limb[1], at_row, down, at_col, cols)
            for col in range(west, east):
                if reached[col] == 0:
                    continue
                share = max(0.0, heights[row, col] - relief.low_m) / relief.span_m
                limb_0, limb_1 = low_0 + col * low_0_step, low_1 + col * low_1_step
                limb_0 += share * (high_0 + col * high_0_step - limb_0)
                limb_1 += share * (high_1 + col * high_1_step - limb_1)
                ground_0, ground_1 = float(before[row, col]), float(after[row, col])
                dip = -math.degrees(2.0 * math.sqrt(share * relief.span_m * relief.bend))
                known = not (math.isnan(ground_0) or math.isnan(ground_1))
                # as over a skyline, the horizontal stands in for what is not known
                ground_0 = 0.0 if math.isnan(ground_0) else max(ground_0, dip)
                ground_1 = 0.0 if math.isnan(ground_1) else max(ground_1, dip)
                rise = ground_1 - ground_0
                aslant = rise / wide if wide != 0.0 else 0.0
                gain = lifted(rise, swell, half, aslant)
                over_0, over_1 = limb_0 + gain - ground_0, limb_1 + gain - ground_1
                if over_1 < 0.0:
                    count += 1
                    continue
                part = over_0 / (over_0 - over_1) if over_0 < 0.0 else 0.0
                touch = math.copysign(half, swell) * aslant / math.sqrt(1.0 + aslant * aslant)
                node, along = node_share(col, cols, nodes)
                azimuth[row, col] = (
                    earlier.azimuth
                    + part * (later.azimuth - earlier.azimuth)
                    + among(turn, at_row, down, node, along)
                    - touch / level
                )
                if not known:
                    arrives[row, col] = math.inf
                    continue
                altitude[row, col] = ground_0 + part * rise
                if up_at_start and limb_0 > ground_0:
                    arrives[row, col] = -math.inf
                else:
                    time_0 = among(earlier.time_s, at_row, down, node, along)
                    time_1 = among(later.time_s, at_row, down, node, along)
                    arrives[row, col] = time_0 + part * (time_1 - time_0)
                if distance.size > 0:
                    nearer = later if part > 0.5 else earlier
                    distance[row, col] = nearer.distance_m[row, col]
    return count


@njit(cache=True, nogil=True, error_model="numpy")
def hills_behind(
    first: int,
    end: int,
    labels: Labels,
    light: FirstLight,
    turn: Floats,
    cell_m: float,
    behind: Labels,
) -> None:
    """The label at the point of each cell's horizon where the sun comes; left where there is none.

    first, end: rows.
    """
    rows, cols = labels.shape
    nodes = turn.shape[0]
    for row in range(first, end):
        at_row, down = node_share(row, rows, nodes)
        for col in range(cols):
            cells = light.distance_m[row, col] / cell_m
            if math.isnan(cells):
                continue
            at_col, along = node_share(col, cols, nodes)
            own_turn = among(turn, at_row, down, at_col, along)
            turned = math.radians(light.azimuth_deg[row, col] - own_turn)
            to_row = math.floor(row - cells * math.cos(turned) + 0.5)
            to_col = math.floor(col + cells * math.sin(turned) + 0.5)
            # the last ground before the raster's edge reaches half a cell beyond its centre, and
            # nobody knows whose the horizon of the sea is
            off_rows, off_cols = max(-to_row, to_row - rows + 1), max(-to_col, to_col - cols + 1)
            if max(off_rows, off_cols) > MOST_CELLS_OFF:
                continue
            to_row, to_col = min(max(to_row, 0), rows - 1), min(max(to_col, 0), cols - 1)
            behind[row, col] = labels[to_row, to_col]


@njit(cache=True, nogil=True, error_model="numpy")
def summit_offsets(
    first: int,
    end: int,
    behind: Labels,
    summit_row: Floats,
    summit_col: Floats,
    azimuth: Singles,
    altitude: Singles,
    turn: Floats,
    cell_m: float,
    offset: Singles,
    away: Singles,
) -> None:
    """From the summit of the hill that the sun rises behind to where it does, and how far it is.

    Degrees along the circle of equal altitude, positive to the right, and metres; left without a
    hill. first, end: rows. summit_row, summit_col: of label i + 1 at i.
    """
    rows, cols = behind.shape
    nodes = turn.shape[0]
    for row in range(first, end):
        at_row, down = node_share(row, rows, nodes)
        for col in range(cols):
            hill = behind[row, col] - 1
            if hill < 0:
                continue
            at_col, along = node_share(col, cols, nodes)
            north, east = row - summit_row[hill], summit_col[hill] - col
            bearing = math.degrees(math.atan2(east, north))
            bearing += among(turn, at_row, down, at_col, along)
            aside = (azimuth[row, col] - bearing + 180.0) % 360.0 - 180.0
            offset[row, col] = aside * math.cos(math.radians(altitude[row, col]))
            away[row, col] = math.hypot(north, east) * cell_m
