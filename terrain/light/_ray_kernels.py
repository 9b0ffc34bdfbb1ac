"""First light of the cells that still wait when the sun has climbed, along single rays.

Each looks along its own rays to points of the disc::

      o  clear: three or five of these           .  blocks of 32 cells whose highest ground the
     o o                                 ray _.-'   ray passes over are crossed in one stride
    o   o     .^.                        _.-'______
    ---------'   '--                  .-'  |      |    <- their tops
                                     o     |_/\\__|
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from terrain.arrays import Floats, Numbers, Singles
from terrain.compiling import njit
from terrain.light._sweep_kernels import FirstLight, Relief, among, node_share

SHIFT = 5
SIDE = 1 << SHIFT  # cells a block
CLOSE = 24  # lines within which the lines across count too
PLAIN = 8  # lines before blocks are looked at
HALVINGS = 6
ASIDE = np.array([0.0, -0.5, 0.5, -0.87, 0.87])  # points of the rim, in semi-diameters aside
UPON = np.sqrt(1.0 - ASIDE**2)  # and over the centre
STRIDE = math.tan(math.radians(2.5))  # for each so much over the limb, one moment is passed over
MOST_PASSED = 5
STEEP = math.tan(math.radians(1.2))  # ground this far over the limb hides all but the outermost
OUTERMOST = 3  # of the points of the rim, the first that is


class SunAt(NamedTuple):
    """The sun over a cell: its direction on the grid, tangents of the altitudes of its parts."""

    north: float
    east: float
    centre: float
    limb: float


class SkyAtNodes(NamedTuple):
    """The sun at nodes that are spread evenly over the raster.

    times: (moments,) seconds. since: (nodes, nodes), up to when each is known to be in the shade.
    tables: (moments, 6, nodes, nodes), north, east, and the tangents of the centre and of the
    limb, each at the lowest height and at the highest. turn: convergence, degrees. half: degrees
    from the centre of the disc to its limb.
    """

    times: Floats
    since: Floats
    tables: Floats
    turn: Floats
    half: float


@njit(cache=True, nogil=True, error_model="numpy")
def block_tops(heights: Singles) -> Singles:
    """Highest known ground of each block, with a row and a column of the next ones."""
    rows, cols = heights.shape
    tops = np.full(
        ((rows + SIDE - 1) >> SHIFT, (cols + SIDE - 1) >> SHIFT), -np.inf, dtype=np.float32
    )
    for down in range(tops.shape[0]):
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
def laid_over(values: Singles, by_rows: bool, line: int, cell: int) -> float:
    """What is in a cell of a line, lines being rows or columns; of the same precision."""
    value: float = values[line, cell] if by_rows else values[cell, line]
    return value


@njit(cache=True, nogil=True, error_model="numpy")
def look(
    relief: Relief, row: int, col: int, north: float, east: float, tangent: float, whole: bool
) -> tuple[float, float]:
    """What stands over a ray from a cell's centre: tangent over the ray, and cells to it.

    north, east: the direction on the grid, of length 1. tangent: of the ray's altitude. Unless
    `whole`, what is met first is returned; with `whole` what stands highest, over the ray or under
    it. -inf where no known ground lies that way.
    """
    heights, tops, cell_m, bend = relief.heights, relief.tops, relief.cell_m, relief.bend
    highest = relief.low_m + relief.span_m
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
    best, best_at = -math.inf, math.nan
    k = 1
    while True:
        line, cell = from_line + step * k, from_cell + slant * k
        if line < 0 or line >= length or cell < -0.5 or cell > across - 0.5:
            break
        ray = eye + k * (rise + curve * k)
        rises = rise + 2.0 * curve * k >= 0.0
        if rises and ray > highest and best > -math.inf:
            break
        floor = math.floor(cell)
        low, high = max(floor, 0), min(floor + 1, across - 1)
        if rises and k >= PLAIN and best > -math.inf and not whole:
            block_line, block_cell = line >> SHIFT, low >> SHIFT
            if laid_over(tops, by_rows, block_line, block_cell) < ray:
                ahead_0 = (block_line << SHIFT) - line
                out = ahead_0 + SIDE if step > 0 else 1 - ahead_0
                if slant > 0.0:
                    out = min(out, math.ceil((((block_cell + 1) << SHIFT) - cell) / slant))
                elif slant < 0.0:
                    out = min(out, math.floor((cell - (block_cell << SHIFT)) / -slant) + 1)
                k += max(out, 1)
                continue
        z_low = laid_over(heights, by_rows, line, low)
        z_high = laid_over(heights, by_rows, line, high)
        ground = between(z_low, z_high, cell - floor)
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
                    z_low = laid_over(heights, by_rows, line_0, cell_0)
                    z_high = laid_over(heights, by_rows, line, cell_0)
                    ground = between(z_low, z_high, at - (k - 1))
                    ray = eye + at * (rise + curve * at)
                    over = (ground - ray) / (at * stretch * cell_m)
                    if over > best:
                        best, best_at = over, at * stretch
        if best > 0.0 and not whole:
            break
        k += 1
    return best, best_at


@njit(cache=True, nogil=True, error_model="numpy")
def touched(relief: Relief, row: int, col: int, sun: SunAt, half: float) -> tuple[float, float]:
    """What stands over the part of the rim that decides, and that part, in semi-diameters aside.

    half: of the disc, radians. The tangent over the ray there is 0 or less where the disc is
    clear: one clear point will do for a limb above the centre, and all must be clear for one
    below.
    """
    north, east, centre, limb = sun
    any_will_do = limb >= centre
    wide = half * math.sqrt(1.0 + centre * centre)
    over, aside = 0.0, 0.0
    for point in range(ASIDE.size if limb != centre else 1):
        if over > STEEP and point < OUTERMOST:
            continue  # but beyond an upright edge the rim may be clear
        aside = ASIDE[point]
        # the disc is so small that an arc is its sine and its tangent
        turn, shrunk = wide * aside, 1.0 - 0.5 * (wide * aside) ** 2
        part_north, part_east = north * shrunk - east * turn, east * shrunk + north * turn
        tangent = centre + (limb - centre) * UPON[point]
        over, _ = look(relief, row, col, part_north, part_east, tangent, False)
        if (over <= 0.0) == any_will_do:
            break
    return over, aside


@njit(cache=True, nogil=True, error_model="numpy")
def sun_from(sky: Floats, row: int, down: float, col: int, along: float, share: float) -> SunAt:
    """The sun over a cell from its tables at the nodes at one moment; share: of the highest."""
    north, east = among(sky[0], row, down, col, along), among(sky[1], row, down, col, along)
    low, high = among(sky[2], row, down, col, along), among(sky[3], row, down, col, along)
    centre = low + share * (high - low)
    low, high = among(sky[4], row, down, col, along), among(sky[5], row, down, col, along)
    return SunAt(north, east, centre, low + share * (high - low))


@njit(cache=True, nogil=True, error_model="numpy")
def mixed(first: SunAt, second: SunAt, part: float) -> SunAt:
    """The sun between two moments."""
    return SunAt(
        first.north + part * (second.north - first.north),
        first.east + part * (second.east - first.east),
        first.centre + part * (second.centre - first.centre),
        first.limb + part * (second.limb - first.limb),
    )


@njit(cache=True, nogil=True, error_model="numpy")
def by_rays(
    first_cell: int,
    end_cell: int,
    relief: Relief,
    cells: Numbers,
    sky: SkyAtNodes,
    light: FirstLight,
) -> None:
    """First light of the cells (flat indices) that wait, by rays to points of the disc.

    first_cell, end_cell: of the cells, those that are looked at. The sun is looked for at every
    moment, and from the moment before on by halving.
    """
    heights, times = relief.heights, sky.times
    arrives, azimuth, altitude, distance = light
    rows, cols = heights.shape
    nodes = sky.turn.shape[0]
    radius = math.radians(sky.half)
    for index in range(first_cell, end_cell):
        row, col = cells[index] // cols, cells[index] % cols
        at_row, down = node_share(row, rows, nodes)
        at_col, along = node_share(col, cols, nodes)
        high = max(0.0, heights[row, col] - relief.low_m)
        share, dip = high / relief.span_m, -2.0 * math.sqrt(high * relief.bend)
        shaded = among(sky.since, at_row, down, at_col, along)
        first = 1
        while first < times.size and times[first] <= shaded:
            first += 1
        if first >= times.size:
            continue
        last, moment = first - 1, first
        sun = sun_from(sky.tables[last], at_row, down, at_col, along, share)
        before, is_lit, aside = sun, False, 0.0
        while moment < times.size:
            before, sun = sun, sun_from(sky.tables[moment], at_row, down, at_col, along, share)
            over = STEEP
            if sun.limb > dip:
                over, aside = touched(relief, row, col, sun, radius)
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
            over, at = touched(relief, row, col, middle, radius)
            if over <= 0.0 and middle.limb > dip:
                shown = part
            else:
                hidden = part
            if (over <= 0.0) == (sun.limb >= sun.centre):
                aside = at
        shown = 0.5 * (hidden + shown)
        north, east, centre, limb = mixed(before, sun, shown)
        wide = radius * math.sqrt(1.0 + centre * centre) * aside
        turned = math.atan2(east, north) + wide
        own_turn = among(sky.turn, at_row, down, at_col, along)
        azimuth[row, col] = math.degrees(turned) % 360.0 + own_turn
        tangent = centre + (limb - centre) * math.sqrt(1.0 - aside * aside)
        north, east = math.cos(turned), math.sin(turned)
        highest, far = look(relief, row, col, north, east, tangent, distance.size > 0)
        if highest == -math.inf:
            arrives[row, col] = math.inf
            continue
        arrives[row, col] = times[last] + shown * span
        altitude[row, col] = math.degrees(math.atan(tangent))
        if distance.size > 0:
            distance[row, col] = far * relief.cell_m
