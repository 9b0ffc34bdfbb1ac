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

import numpy as np
from numpy.typing import NDArray

from terrain.compiling import njit
from terrain.light._sweep_kernels import among, node_share

__all__ = ["SIDE", "block_tops", "by_rays"]

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
def block_tops(heights: Heights) -> Heights:
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


@njit(cache=True, nogil=True, error_model="numpy")
def by_rays(
    first_cell: int,
    end_cell: int,
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

    first_cell, end_cell: of the cells, those that are looked at.
    times: (moments,). since: (nodes, nodes), up to when each is known to be in the shade. sky:
    (moments, 6, nodes, nodes), see `sun_from`. turn: convergence at the nodes, degrees. half:
    degrees from the centre of the disc to its limb. The sun is looked for at every moment, and
    from the moment before on by halving.
    """
    rows, cols = heights.shape
    nodes = turn.shape[0]
    highest, radius = low_m + span_m, math.radians(half)
    for index in range(first_cell, end_cell):
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
