"""First light of every cell: between two horizons in the sun's order, and along single rays.

While the sun is low nearly every cell waits and one sweep of horizons serves them all; the sun's
height over the horizon is then a line between two sweeps. When it has climbed, the few cells that
still wait each look along their own rays to points of the disc::

      o  clear: three or five of these           .  blocks of 32 cells whose highest ground the
     o o                                 ray _.-'   ray passes over are crossed in one stride
    o   o     .^.                        _.-'______
    ---------'   '--                  .-'  |      |    <- their tops
                                     o     |_/\\__|
"""

from __future__ import annotations

import math

import numpy as np
from numba import prange
from numpy.typing import NDArray

from terrain.compiling import njit

__all__ = ["SIDE", "block_tops", "by_rays", "by_sweeps", "hills_behind", "summit_offsets"]

Heights = NDArray[np.float32]
Floats = NDArray[np.float64]
Wholes = NDArray[np.int64]

SHIFT = 5
SIDE = 1 << SHIFT  # cells a block
CLOSE = 24  # lines within which the lines across count too
PLAIN = 8  # lines before blocks are looked at
HALVINGS = 6
ASIDE = np.array([0.0, -0.5, 0.5, -0.87, 0.87])  # points of the rim, in semi-diameters aside
UPON = np.sqrt(1.0 - ASIDE**2)  # and over the centre
STRIDE = math.tan(math.radians(2.5))  # for each so much over the limb, one moment is passed over
MOST_PASSED = 5
STEEP = math.tan(math.radians(1.2))  # ground this far over the limb hides its sides as well


@njit(cache=True, nogil=True, error_model="numpy")
def node_share(cell: int, cells: int, nodes: int) -> tuple[int, float]:
    """The node before a cell and the share of the next one; nodes go from edge to edge."""
    place = (cell + 0.5) * (nodes - 1) / cells
    node = min(int(place), nodes - 2)
    return node, place - node


@njit(cache=True, nogil=True, error_model="numpy")
def among(table: Floats, row: int, down: float, col: int, along: float) -> float:
    """A table at the nodes, bilinear."""
    top = table[row, col] + along * (table[row, col + 1] - table[row, col])
    low = table[row + 1, col] + along * (table[row + 1, col + 1] - table[row + 1, col])
    return float(top + down * (low - top))


@njit(cache=True, nogil=True, error_model="numpy")
def along_row(table: Floats, row: int, down: float, node: int, cols: int) -> tuple[float, float]:
    """A table along a row between two nodes: its value at column 0 and its change a column."""
    west = table[row, node] + down * (table[row + 1, node] - table[row, node])
    east = table[row, node + 1] + down * (table[row + 1, node + 1] - table[row, node + 1])
    step = (east - west) * (table.shape[1] - 1) / cols
    return west + step * (0.5 - node * cols / (table.shape[1] - 1)), step


@njit(cache=True, nogil=True, error_model="numpy")
def lifted(rise: float, swell: float, half: float, aslant: float) -> float:
    """How much nearer the disc is to ground that slants than the limb over the same azimuth.

    rise: of the ground between the two sweeps, degrees; aslant: the same over the way aside. A
    line of slope s touches a disc of radius r at r sqrt(1 + s²) over or under its middle, but no
    part of the disc reaches beyond the lower of the two horizons.
    """
    longer = math.sqrt(1.0 + aslant * aslant) - 1.0
    return swell * min(longer, abs(rise) / half)


@njit(cache=True, nogil=True, parallel=True, error_model="numpy")
def by_sweeps(
    heights: Heights,
    before: Heights,
    after: Heights,
    distance_before: Heights,
    distance_after: Heights,
    limb_before: Floats,
    limb_after: Floats,
    time_before: Floats,
    time_after: Floats,
    turn: Floats,
    sun: Floats,
    low_m: float,
    span_m: float,
    bend: float,
    is_first: bool,
    arrives: Heights,
    azimuth: Heights,
    altitude: Heights,
    distance: Heights,
) -> int:
    """Mark the cells that the limb reaches between two sweeps; how many still wait.

    before, after: horizons, degrees. limb_before, limb_after: (2, nodes, nodes), altitude of the
    limb at the lowest ground and `span_m` higher. time_*: (nodes, nodes) seconds. turn: true
    azimuth at the nodes less that of the sweep. sun: azimuths of both sweeps, cosine of the
    altitude, limb less centre, semi-diameter. A cell waits while `arrives` is NaN; +inf stands
    for light over unknown ground, -inf for cells that are lit when the first sweep is made.
    """
    rows, cols = heights.shape
    nodes = turn.shape[0]
    start, end, level, swell, half = sun[0], sun[1], sun[2], sun[3], sun[4]
    wide = (end - start) * level
    most = abs(swell) / half
    waiting = np.zeros(rows, dtype=np.int64)
    for row in prange(rows):
        at_row, down = node_share(row, rows, nodes)
        count = 0
        for at_col in range(nodes - 1):
            west = (2 * cols * at_col + nodes - 2) // (2 * (nodes - 1))
            east = (2 * cols * (at_col + 1) + nodes - 2) // (2 * (nodes - 1))
            low_0, low_0_step = along_row(limb_before[0], at_row, down, at_col, cols)
            high_0, high_0_step = along_row(limb_before[1], at_row, down, at_col, cols)
            low_1, low_1_step = along_row(limb_after[0], at_row, down, at_col, cols)
            high_1, high_1_step = along_row(limb_after[1], at_row, down, at_col, cols)
            for col in range(west, east):
                if not math.isnan(arrives[row, col]) or math.isnan(heights[row, col]):
                    continue
                share = max(0.0, heights[row, col] - low_m) / span_m
                limb_0, limb_1 = low_0 + col * low_0_step, low_1 + col * low_1_step
                limb_0 += share * (high_0 + col * high_0_step - limb_0)
                limb_1 += share * (high_1 + col * high_1_step - limb_1)
                ground_0, ground_1 = float(before[row, col]), float(after[row, col])
                if limb_1 + most * abs(ground_1 - ground_0) < ground_1:
                    count += 1
                    continue
                dip = -math.degrees(2.0 * math.sqrt(share * span_m * bend))
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
                    start
                    + part * (end - start)
                    + among(turn, at_row, down, node, along)
                    - touch / level
                )
                if not known:
                    arrives[row, col] = math.inf
                    continue
                altitude[row, col] = ground_0 + part * rise
                if is_first and limb_0 > ground_0:
                    arrives[row, col] = -math.inf
                else:
                    time = among(time_before, at_row, down, node, along)
                    later = among(time_after, at_row, down, node, along)
                    arrives[row, col] = time + part * (later - time)
                if distance.size > 0:
                    nearer = distance_after if part > 0.5 else distance_before
                    distance[row, col] = nearer[row, col]
        waiting[row] = count
    return int(waiting.sum())


@njit(cache=True, nogil=True, parallel=True, error_model="numpy")
def block_tops(heights: Heights) -> Heights:
    """Highest known ground of each block, with a row and a column of the next ones."""
    rows, cols = heights.shape
    tops = np.full(
        ((rows + SIDE - 1) >> SHIFT, (cols + SIDE - 1) >> SHIFT), -np.inf, dtype=np.float32
    )
    for down in prange(tops.shape[0]):
        for along in range(tops.shape[1]):
            top = np.float32(-np.inf)
            for row in range(down << SHIFT, min(((down + 1) << SHIFT) + 1, rows)):
                for col in range(along << SHIFT, min(((along + 1) << SHIFT) + 1, cols)):
                    if heights[row, col] > top:
                        top = heights[row, col]
            tops[down, along] = top
    return tops


@njit(cache=True, nogil=True, error_model="numpy")
def between(low: float, high: float, share: float) -> float:
    """Linear between two heights; a share of nothing counts for nothing, known or not."""
    return float(low) if share <= 0.0 else float(low + share * (high - low))


@njit(cache=True, nogil=True, error_model="numpy")
def look(
    heights: Heights,
    tops: Heights,
    row: int,
    col: int,
    north: float,
    east: float,
    tangent: float,
    cell_m: float,
    bend: float,
    highest: float,
    whole: bool,
) -> tuple[float, float, bool]:
    """What stands over a ray from a cell's centre: tangent over the ray, and cells to it.

    north, east: the direction on the grid, of length 1. tangent: of the ray's altitude. Unless
    `whole`, what is met first is returned, and -inf where nothing is; with `whole` what stands
    highest, over the ray or under it. The flag says whether the raster goes on in that direction
    at all.
    """
    rows, cols = heights.shape
    ahead, aside = -north, east
    by_rows = abs(ahead) >= abs(aside)
    if not by_rows:
        ahead, aside = aside, ahead
    length, across = (rows, cols) if by_rows else (cols, rows)
    from_line, from_cell = (row, col) if by_rows else (col, row)
    step = 1 if ahead > 0.0 else -1
    stretch = 1.0 / abs(ahead)
    slant = aside * stretch
    side = 1 if slant > 0.0 else -1
    eye = float(heights[row, col])
    rise, curve = tangent * stretch * cell_m, bend * (stretch * cell_m) ** 2
    best, best_at, goes_on = -math.inf, math.nan, False
    k = 1
    while True:
        line, cell = from_line + step * k, from_cell + slant * k
        if line < 0 or line >= length or cell < -0.5 or cell > across - 0.5:
            break
        goes_on = True
        ray = eye + k * (rise + curve * k)
        rises = rise + 2.0 * curve * k >= 0.0
        if rises and ray > highest and (best > -math.inf or not whole):
            break
        floor = math.floor(cell)
        low, high = max(floor, 0), min(floor + 1, across - 1)
        if rises and k >= PLAIN and not whole:
            block_line, block_cell = line >> SHIFT, low >> SHIFT
            top = tops[block_line, block_cell] if by_rows else tops[block_cell, block_line]
            if top < ray:
                out = (
                    (((block_line + 1) << SHIFT) - line)
                    if step > 0
                    else (line - (block_line << SHIFT) + 1)
                )
                if slant > 0.0:
                    out = min(out, math.ceil((((block_cell + 1) << SHIFT) - cell) / slant))
                elif slant < 0.0:
                    out = min(out, math.floor((cell - (block_cell << SHIFT)) / -slant) + 1)
                k += max(out, 1)
                continue
        if by_rows:
            ground = between(heights[line, low], heights[line, high], cell - floor)
        else:
            ground = between(heights[low, line], heights[high, line], cell - floor)
        over = (ground - ray) / (k * stretch * cell_m)
        if over > best:
            best, best_at = over, k * stretch
        if k < CLOSE and slant != 0.0:
            # the one line of the other family that may be crossed before this line
            steps = math.floor(abs(slant) * k)
            at = steps / abs(slant)
            if at > k - 1 and at < k and at > 0.0:
                line_0, cell_0 = from_line + step * (k - 1), from_cell + side * steps
                if 0 <= cell_0 < across:
                    if by_rows:
                        ground = between(
                            heights[line_0, cell_0], heights[line, cell_0], at - (k - 1)
                        )
                    else:
                        ground = between(
                            heights[cell_0, line_0], heights[cell_0, line], at - (k - 1)
                        )
                    ray = eye + at * (rise + curve * at)
                    over = (ground - ray) / (at * stretch * cell_m)
                    if over > best:
                        best, best_at = over, at * stretch
        if best > 0.0 and not whole:
            break
        k += 1
    return best, best_at, goes_on


@njit(cache=True, nogil=True, error_model="numpy")
def touched(
    heights: Heights,
    tops: Heights,
    row: int,
    col: int,
    sun: tuple[float, float, float, float],
    half: float,
    cell_m: float,
    bend: float,
    highest: float,
) -> tuple[float, float, bool]:
    """What stands over the part of the rim that decides, that part, and the flag of `look`.

    sun: north and east on the grid, tangents of the altitudes of centre and limb; half: radians.
    The tangent over the ray there is 0 or less where the disc is clear: one clear point will do
    for a limb above the centre, and all must be clear for one below. The part is given in
    semi-diameters aside.
    """
    north, east, centre, limb = sun
    any_will_do = limb >= centre
    wide = half * math.sqrt(1.0 + centre * centre)
    over, aside, goes_on = 0.0, 0.0, True
    for point in range(ASIDE.size if limb != centre else 1):
        aside = ASIDE[point]
        # the disc is so small that an arc is its sine and its tangent
        turn, shrunk = wide * aside, 1.0 - 0.5 * (wide * aside) ** 2
        over, _, goes_on = look(
            heights,
            tops,
            row,
            col,
            north * shrunk - east * turn,
            east * shrunk + north * turn,
            centre + (limb - centre) * UPON[point],
            cell_m,
            bend,
            highest,
            False,
        )
        if (over <= 0.0) == any_will_do or over > STEEP:
            break
    return over, aside, goes_on


@njit(cache=True, nogil=True, error_model="numpy")
def sun_from(
    sky: Floats, row: int, down: float, col: int, along: float, share: float
) -> tuple[float, float, float, float]:
    """The sun over a cell, as `touched` takes it, from its tables at the nodes.

    sky: (6, nodes, nodes), north, east, and the tangents of the centre and of the limb, each at
    the lowest height and at the highest; share: of the highest.
    """
    north, east = among(sky[0], row, down, col, along), among(sky[1], row, down, col, along)
    low, high = among(sky[2], row, down, col, along), among(sky[3], row, down, col, along)
    centre = low + share * (high - low)
    low, high = among(sky[4], row, down, col, along), among(sky[5], row, down, col, along)
    return north, east, centre, low + share * (high - low)


@njit(cache=True, nogil=True, error_model="numpy")
def mixed(
    first: tuple[float, float, float, float], second: tuple[float, float, float, float], part: float
) -> tuple[float, float, float, float]:
    """The sun between two moments."""
    return (
        first[0] + part * (second[0] - first[0]),
        first[1] + part * (second[1] - first[1]),
        first[2] + part * (second[2] - first[2]),
        first[3] + part * (second[3] - first[3]),
    )


@njit(cache=True, nogil=True, parallel=True, error_model="numpy")
def by_rays(
    heights: Heights,
    tops: Heights,
    cells: Wholes,
    times: Floats,
    since: Floats,
    sky: Floats,
    turn: Floats,
    half: float,
    cell_m: float,
    bend: float,
    low_m: float,
    span_m: float,
    arrives: Heights,
    azimuth: Heights,
    altitude: Heights,
    distance: Heights,
) -> None:
    """First light of the cells (flat indices) that wait, by rays to points of the disc.

    times: (moments,). since: (nodes, nodes), up to when each is known to be in the shade. sky:
    (moments, 6, nodes, nodes), see `sun_from`. turn: convergence at the nodes, degrees. half:
    degrees from the centre of the disc to its limb. The sun is looked for at every moment, and
    from the moment before on by halving.
    """
    rows, cols = heights.shape
    nodes = turn.shape[0]
    highest, radius = low_m + span_m, math.radians(half)
    for index in prange(cells.size):
        row, col = cells[index] // cols, cells[index] % cols
        at_row, down = node_share(row, rows, nodes)
        at_col, along = node_share(col, cols, nodes)
        high = max(0.0, heights[row, col] - low_m)
        share, dip = high / span_m, -2.0 * math.sqrt(high * bend)
        shaded = among(since, at_row, down, at_col, along)
        first = 1
        while first < times.size and times[first] <= shaded:
            first += 1
        if first >= times.size:
            continue
        last, moment = first - 1, first
        sun = sun_from(sky[last], at_row, down, at_col, along, share)
        before, is_lit, aside, goes_on = sun, False, 0.0, True
        while moment < times.size:
            before, sun = sun, sun_from(sky[moment], at_row, down, at_col, along, share)
            over = STEEP
            if sun[3] > dip:
                over, aside, goes_on = touched(
                    heights, tops, row, col, sun, radius, cell_m, bend, highest
                )
            if over <= 0.0:
                is_lit = True
                break
            last = moment
            moment += 1 + min(int(over / STRIDE), MOST_PASSED)
        if not is_lit:
            continue
        span = times[moment] - times[last]
        hidden, shown = max(0.0, (shaded - times[last]) / span), 1.0
        for _ in range(HALVINGS):
            part = 0.5 * (hidden + shown)
            middle = mixed(before, sun, part)
            over, at, on = touched(heights, tops, row, col, middle, radius, cell_m, bend, highest)
            if over <= 0.0 and middle[3] > dip:
                shown = part
            else:
                hidden = part
            if (over <= 0.0) == (sun[3] >= sun[2]):
                aside, goes_on = at, on
        shown = 0.5 * (hidden + shown)
        north, east, centre, limb = mixed(before, sun, shown)
        wide = radius * math.sqrt(1.0 + centre * centre) * aside
        turned = math.atan2(east, north) + wide
        azimuth[row, col] = math.degrees(turned) % 360.0 + among(turn, at_row, down, at_col, along)
        if not goes_on:
            arrives[row, col] = math.inf
            continue
        arrives[row, col] = times[last] + shown * span
        tangent = centre + (limb - centre) * math.sqrt(1.0 - aside * aside)
        altitude[row, col] = math.degrees(math.atan(tangent))
        if distance.size > 0:
            north, east = math.cos(turned), math.sin(turned)
            _, far, _ = look(
                heights, tops, row, col, north, east, tangent, cell_m, bend, highest, True
            )
            distance[row, col] = far * cell_m


@njit(cache=True, nogil=True, parallel=True, error_model="numpy")
def hills_behind(
    labels: NDArray[np.int32],
    azimuth: Heights,
    distance: Heights,
    turn: Floats,
    cell_m: float,
) -> NDArray[np.int32]:
    """The label at the point of each cell's horizon where the sun comes; 0 where there is none."""
    rows, cols = labels.shape
    nodes = turn.shape[0]
    behind = np.zeros((rows, cols), dtype=np.int32)
    for row in prange(rows):
        at_row, down = node_share(row, rows, nodes)
        for col in range(cols):
            cells = distance[row, col] / cell_m
            if math.isnan(cells):
                continue
            at_col, along = node_share(col, cols, nodes)
            turned = math.radians(azimuth[row, col] - among(turn, at_row, down, at_col, along))
            to_row = math.floor(row - cells * math.cos(turned) + 0.5)
            to_col = math.floor(col + cells * math.sin(turned) + 0.5)
            # the last ground before the raster's edge reaches half a cell beyond its centre
            to_row, to_col = min(max(to_row, 0), rows - 1), min(max(to_col, 0), cols - 1)
            behind[row, col] = labels[to_row, to_col]
    return behind


@njit(cache=True, nogil=True, parallel=True, error_model="numpy")
def summit_offsets(
    behind: NDArray[np.int32],
    summit_row: Floats,
    summit_col: Floats,
    azimuth: Heights,
    altitude: Heights,
    turn: Floats,
    cell_m: float,
) -> tuple[Heights, Heights]:
    """From the summit of the hill that the sun rises behind to where it does, and how far it is.

    Degrees along the circle of equal altitude, positive to the right, and metres; NaN without a
    hill. summit_row, summit_col: of label i + 1 at i.
    """
    rows, cols = behind.shape
    nodes = turn.shape[0]
    offset = np.full((rows, cols), np.nan, dtype=np.float32)
    away = np.full((rows, cols), np.nan, dtype=np.float32)
    for row in prange(rows):
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
    return offset, away
