"""First light of the cells that still wait when the sun has climbed, along single rays.

Each looks along its own rays to points of the disc::

      o        clear: three or five of these
     o o
    o   o     .^.
    ---------'   '--

Most looks are at cells in the shade of what is near, and find them still there: what hid a point
a moment ago is looked at first.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from terrain.arrays import ONE, ZERO, Floats, Numbers, Singles
from terrain.compiling import inner, njit
from terrain.light._ray_kernels import (
    ROUNDING_M,
    Lines,
    Ray,
    all_over,
    first_over,
    highest_over,
    ray_of,
    still_over,
)
from terrain.light._sweep_kernels import FirstLight, Relief, among, node_share

HALVINGS = 6
ASIDE = np.array([0.0, -0.5, 0.5, -0.87, 0.87])  # points of the rim, in semi-diameters aside
UPON = np.sqrt(1.0 - ASIDE**2)  # and over the centre
STRIDE = math.tan(math.radians(2.5))  # for each so much over the limb, one moment is passed over
MOST_PASSED = 5
STEEP = math.tan(math.radians(1.2))  # ground this far over the limb hides all but the outermost
OUTERMOST = 3  # of the points of the rim, the first that is
NARROW = 0.02  # half the width of a disc, radians


class SunAt(NamedTuple):
    """The sun over a cell: its direction on the grid, tangents of the altitudes of its parts."""

    north: float
    east: float
    centre: float
    limb: float


class Disc(NamedTuple):
    """The sun over a cell with half the width of its disc, radians."""

    sun: SunAt
    wide: float


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


@inner(error_model="numpy", _nrt=False)
def ray_to(relief: Relief, row: int, col: int, disc: Disc, point: int) -> tuple[Ray, Lines]:
    """The ray from a cell to a point of the rim."""
    north, east, centre, limb = disc.sun
    # the disc is so small that an arc is its sine and its tangent
    turn, shrunk = disc.wide * ASIDE[point], 1.0 - 0.5 * (disc.wide * ASIDE[point]) ** 2
    part_north, part_east = north * shrunk - east * turn, east * shrunk + north * turn
    tangent = centre + (limb - centre) * UPON[point]
    return ray_of(relief, row, col, part_north, part_east, tangent)


@inner(error_model="numpy", _nrt=False)
def over_point(
    relief: Relief, flat: Singles, row: int, col: int, disc: Disc, point: int, met: Numbers
) -> float:
    """What stands over a point of the rim, as `first_over` has it; its line is kept in `met`."""
    ray, lines = ray_to(relief, row, col, disc, point)
    over, met[point] = first_over(relief, flat, ray, lines)
    return over


@inner(error_model="numpy", _nrt=False)
def is_hidden_still(
    relief: Relief, flat: Singles, row: int, col: int, disc: Disc, point: int, met: Numbers
) -> bool:
    """Whether what hid a point, or the one before it, a moment ago hides this one now.

    True is certain; False leaves open whether something else does.
    """
    ray, lines = ray_to(relief, row, col, disc, point)
    if still_over(flat, ray, lines, met[point]):
        return True
    other = met[max(point - 1, 0)]
    if other == met[point] or not still_over(flat, ray, lines, other):
        return False
    met[point] = other
    return True


@inner(error_model="numpy", _nrt=False)
def all_hidden_still(
    relief: Relief, flat: Singles, row: int, col: int, disc: Disc, met: Numbers
) -> bool:
    """Whether the line that hid all points but the last a moment ago hides the whole disc now.

    True is certain: all of the line that their rays can cross stands over the steepest of them.
    """
    k = met[0]
    for point in range(1, ASIDE.size - 1):
        if met[point] != k:
            return False
    ray, lines = ray_of(relief, row, col, disc.sun.north, disc.sun.east, disc.sun.limb)
    swing = disc.wide * ray.stretch**2  # by more than this no ray of a narrow disc goes aside
    if k == 0 or disc.wide > NARROW or abs(ray.slant) + swing > 1.0:
        return False
    longest = ray.stretch + swing
    rise = max(disc.sun.limb * longest, disc.sun.limb) * relief.cell_m
    highest = ray.eye + k * (rise + relief.bend * (longest * relief.cell_m) ** 2 * k) + ROUNDING_M
    return all_over(flat, ray, lines, k, swing, highest)


@inner(error_model="numpy", _nrt=False)
def any_shows(
    relief: Relief, flat: Singles, row: int, col: int, disc: Disc, met: Numbers
) -> tuple[float, float]:
    """`touched` for a disc of which any clear point will do.

    How far a point is hidden counts for the last alone, and where what hid one a moment ago hides
    it no longer.
    """
    last, first, second = ASIDE.size - 1, math.nan, math.nan
    hidden = all_hidden_still(relief, flat, row, col, disc, met)
    for point in range(last if hidden else 0, last):
        if is_hidden_still(relief, flat, row, col, disc, point, met):
            continue
        if 0 < point < OUTERMOST:
            if math.isnan(first):
                first = over_point(relief, flat, row, col, disc, ZERO, met)
            before = first
            if point > 1 and not first > STEEP:
                if math.isnan(second):
                    second = over_point(relief, flat, row, col, disc, ONE, met)
                before = second
            if before > STEEP:
                continue  # but beyond an upright edge the rim may be clear
        over = over_point(relief, flat, row, col, disc, point, met)
        if over <= 0.0:
            return over, ASIDE[point]
        first, second = over if point == 0 else first, over if point == 1 else second
    return over_point(relief, flat, row, col, disc, last, met), ASIDE[last]


@inner(error_model="numpy", _nrt=False)
def touched(
    relief: Relief, flat: Singles, row: int, col: int, sun: SunAt, half: float, met: Numbers
) -> tuple[float, float]:
    """What stands over the part of the rim that decides, and that part, in semi-diameters aside.

    half: of the disc, radians. The tangent over the ray there is 0 or less where the disc is
    clear: one clear point will do for a limb above the centre, and all must be clear for one
    below. met: (points,) the line on which each was hidden when it was last looked at, 0 for none.
    """
    disc = Disc(sun, half * math.sqrt(1.0 + sun.centre * sun.centre))
    if sun.limb > sun.centre:
        return any_shows(relief, flat, row, col, disc, met)
    over, aside = 0.0, 0.0
    for point in range(ASIDE.size if sun.limb != sun.centre else 1):
        over, aside = over_point(relief, flat, row, col, disc, point, met), ASIDE[point]
        if over > 0.0:
            break
    return over, aside


@inner(error_model="numpy", _nrt=False)
def sun_from(sky: Floats, row: int, down: float, col: int, along: float, share: float) -> SunAt:
    """The sun over a cell from its tables at the nodes at one moment; share: of the highest."""
    north, east = among(sky[0], row, down, col, along), among(sky[1], row, down, col, along)
    low, high = among(sky[2], row, down, col, along), among(sky[3], row, down, col, along)
    centre = low + share * (high - low)
    low, high = among(sky[4], row, down, col, along), among(sky[5], row, down, col, along)
    return SunAt(north, east, centre, low + share * (high - low))


@inner(error_model="numpy", _nrt=False)
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
    flat, met = heights.ravel(), np.zeros(ASIDE.size, dtype=np.int64)
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
        met[:] = 0
        while moment < times.size:
            before, sun = sun, sun_from(sky.tables[moment], at_row, down, at_col, along, share)
            over = STEEP
            if sun.limb > dip:
                over, aside = touched(relief, flat, row, col, sun, radius, met)
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
            over, at = touched(relief, flat, row, col, middle, radius, met)
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
        if distance.size > 0:
            highest, far = highest_over(relief, flat, row, col, north, east, tangent)
        else:
            ray, lines = ray_of(relief, row, col, north, east, tangent)
            highest, far = first_over(relief, flat, ray, lines)[0], math.nan
        if highest == -math.inf:
            arrives[row, col] = math.inf
            continue
        arrives[row, col] = times[last] + shown * span
        altitude[row, col] = math.degrees(math.atan(tangent))
        if distance.size > 0:
            distance[row, col] = far * relief.cell_m
