"""The fan of lines through a summit: what stands in front of it and behind it, for every cell.

On a line through the summit, distances are counted from the summit and every height is bent down
by c x² there; a straight line of sight is then straight, and its slope is the true one but for a
term 2cd that depends on the cell alone::

      behind            summit                     in front           eye, d from the summit
                     .-'''-.  _ _ _ _ _ _ _ _ _ _                     e
       .-.  _ _ - '          '-.                  _ _ - -o _ _ _ _ _-'
     .'   '.                    '-..-'''''-._  .-' '-.         _.-'
    '                                        ''       '-.__.-''
      <---- x ----|---------------------- d ----------------------|

The hill's own ground is kept apart from other ground. Of all that lies on the far side, and of
all that lies between the summit and a line of cells, only the upper hull can matter to an eye;
the highest of a hull in view is found by halving. So every cell of the raster costs about the
same, however far the view. As in the viewshed, an octant is laid over so that `u` counts lines of
cell centres away from the summit and `v` counts cells along a line; a cell is decided between the
two rays that enclose it, with its own eye, before these take in the line it lies on.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from terrain.arrays import ZERO, Flags, Singles
from terrain.compiling import inner, njit
from terrain.year._hull_kernels import Hulls, no_hulls, push, steepest

CHUNKS = 32  # parts of an octant that are walked on their own
PARTS = 8 * CHUNKS
LEAST_RAYS = 4  # to a part, where the raster is small


class Ground(NamedTuple):
    """What lies about a summit, (rows, cols) each.

    surface: that hides; bare: the ground that eyes stand on, eye_m over it; own: whether it is
    the hill's own; wanted: which cells are asked. bend: c, per metre.
    """

    surface: Singles
    bare: Singles
    own: Flags
    wanted: Flags
    cell_m: float
    bend: float
    eye_m: float


class Summit(NamedTuple):
    """Where a summit is, in multiples of 1/4096 so that no cell falls between two octants."""

    row: float
    col: float
    height_m: float


class Octant(NamedTuple):
    """How an octant is laid over a raster.

    The cell v of line u, of `ahead` lines of `along` cells, is at
    `first + u * to_line + v * to_cell` of the flat raster; the summit at u0, v0.
    """

    by_rows: bool
    side: int
    ahead: int
    along: int
    first: int
    to_line: int
    to_cell: int
    u0: float
    v0: float


class Rays(NamedTuple):
    """Rays that fan out: so many, the tangent of the first, and from each to the next."""

    number: int
    low: float
    spread: float


@inner()
def laid_over(
    shape: tuple[int, int], row: float, col: float, by_rows: bool, step: int, side: int
) -> Octant:
    """The octant in which lines are rows or columns, and both count up (1) or down (-1)."""
    rows, cols = shape
    down, right = (step, side) if by_rows else (side, step)
    first = (0 if down > 0 else rows - 1) * cols + (0 if right > 0 else cols - 1)
    y, x = row if down > 0 else rows - 1 - row, col if right > 0 else cols - 1 - col
    if by_rows:
        return Octant(True, side, rows, cols, first, step * cols, side, y, x)
    return Octant(False, side, cols, rows, first, step, side * cols, x, y)


@inner(error_model="numpy")
def seen_along(
    hulls: tuple[Hulls, Hulls, Hulls],
    ray: int,
    tangent: float,
    u: float,
    eye: float,
    ground: Ground,
) -> tuple[float, float, float]:
    """True slopes from an eye over a ray: of other ground before and behind, of own ground behind.

    The last includes the summit; -inf where there is no such ground.
    """
    front, other, own = hulls
    line_m = math.sqrt(1.0 + tangent * tangent) * ground.cell_m
    distance = u * line_m
    sunk = eye - ground.bend * distance * distance
    shift = 2.0 * ground.bend * distance
    return (
        steepest(front, ray, u, sunk, -1.0) / line_m - shift,
        steepest(other, ray, u, sunk, 1.0) / line_m - shift,
        steepest(own, ray, u, sunk, 1.0) / line_m - shift,
    )


@inner()
def between(first: float, second: float, share: float) -> float:
    """A value between two; where one of them is -inf (no ground) the other."""
    if first == -math.inf:
        return second
    if second == -math.inf:
        return first
    return first + share * (second - first)


@inner(error_model="numpy")
def take_line(
    ground: Ground, octant: Octant, line: int, rays: Rays, active: int, other: Hulls, mine: Hulls
) -> None:
    """Let rays take in what they cross from the line before to this one, that included.

    active: how many rays, from the first. Ground between two cells belongs to the nearer one;
    unknown ground (NaN) is passed over. The hill's own ground is left out where its hulls have no
    room.
    """
    heights, own = ground.surface.reshape(-1), ground.own.reshape(-1)
    v0, last, to_cell = octant.v0, octant.along - 1, octant.to_cell
    here = octant.first + line * octant.to_line
    there = here - (octant.to_line if line > 0 else 0)
    wants_own = mine.us.size > 0
    bend = ground.bend * ground.cell_m * ground.cell_m
    u = line - octant.u0
    u_before = max(u - 1.0, 0.0)
    for ray in range(active):
        t = rays.low + ray * rays.spread
        v = v0 + t * u
        cell = math.floor(v)
        fall = bend * (1.0 + t * t)
        inside = min(max(cell, 0), last) * to_cell
        near = here + inside
        if cell > v0 + t * u_before and cell < v:
            u_cross = (cell - v0) / t
            back = there + inside
            share = u - u_cross
            z = heights[near] + share * (heights[back] - heights[near]) - fall * u_cross * u_cross
            if not math.isnan(z):
                if not own[back if share > 0.5 else near]:
                    push(other, ray, u_cross, z)
                elif wants_own:
                    push(mine, ray, u_cross, z)
        far = here + min(max(cell + 1, 0), last) * to_cell
        share = v - cell
        z = float(heights[near])
        if share > 0.0:
            z += share * (heights[far] - heights[near])
        z -= fall * u * u
        if not math.isnan(z):
            if not own[far if share > 0.5 else near]:
                push(other, ray, u, z)
            elif wants_own:
                push(mine, ray, u, z)


@inner()
def cells_of(octant: Octant, u: float, chunk: int) -> tuple[int, int]:
    """First cell and end of those of a line that a part decides; together each exactly once."""
    v0 = octant.v0
    first = math.ceil(v0 + chunk / CHUNKS * u)
    last = math.ceil(v0 + (chunk + 1) / CHUNKS * u)
    if chunk == 0 and octant.side < 0:  # the axis belongs to the other octant
        first = math.floor(v0) + 1
    if chunk == CHUNKS - 1 and not octant.by_rows:  # the diagonal belongs to this one
        last = math.floor(v0 + u) + 1
    first = max(first, 0)
    return first, max(first, min(last, octant.along))


@inner()
def last_wanted(wanted: Flags, octant: Octant, chunk: int) -> int:
    """The farthest line of a part on which a cell is wanted; -1 where none is."""
    flat = wanted.reshape(-1)
    for line in range(octant.ahead - 1, math.floor(octant.u0), -1):
        first, last = cells_of(octant, line - octant.u0, chunk)
        for v in range(first, last):
            if flat[octant.first + line * octant.to_line + v * octant.to_cell]:
                return line
    return -1


@inner()
def rays_within(u: float, room: float, rays: Rays) -> int:
    """How many rays, of those that fan out, still run inside the raster at a line."""
    if rays.low * u > room:
        return 0
    return min(rays.number, int((room / u - rays.low) / rays.spread) + 2)


@njit(cache=True, nogil=True, error_model="numpy")
def fan_part(
    part: int,
    ground: Ground,
    summit: Summit,
    density: float,
    on_skyline: Flags,
    stature: Singles,
    isolation: Singles,
) -> None:
    """Decide the wanted cells of one part of one octant: on the skyline or not, and degrees.

    First the part opposite is walked for what lies behind, then this one outwards. part: 0 to
    PARTS - 1. density: rays a cell at the far end. `stature` and `isolation`, degrees over other
    ground before and behind, are left as they are where there is none.
    """
    octant, turn = part % 8, part // 8
    # near and far tangents shared out between the two halves of the range
    chunk = 2 * turn if turn < CHUNKS // 2 else 2 * turn - CHUNKS + 1
    shape, row, col, height = ground.surface.shape, summit.row, summit.col, summit.height_m
    by_rows, step, side = octant & 1 == 1, 1 - (octant & 2), 1 - (octant & 4) // 2
    ahead = laid_over(shape, row, col, by_rows, step, side)
    back = laid_over(shape, row, col, by_rows, -step, -side)
    end = last_wanted(ground.wanted, ahead, chunk)
    if end < 0:
        return
    low, high = chunk / CHUNKS, (chunk + 1) / CHUNKS
    farthest = max(end - ahead.u0, ahead.ahead - 1 - back.u0)
    count = max(math.ceil((high - low) * farthest * density), LEAST_RAYS) + 1
    rays = Rays(count, low, (high - low) / (count - 1))

    # a ray crosses at most one line of either kind with each step
    points = 2 * (ahead.ahead - math.floor(back.u0)) + 2
    other, own = no_hulls(points, count), no_hulls(points, count)
    own.us[0, :], own.zs[0, :], own.sizes[:] = 0.0, height, 1
    for line in range(max(math.floor(back.u0) + 1, 0), ahead.ahead):
        active = rays_within(line - back.u0, max(ahead.v0, 0.0), rays)
        if active == 0:
            break
        take_line(ground, back, line, rays, active, other, own)

    front = no_hulls(2 * (end - math.floor(ahead.u0)) + 2, count)
    nothing = no_hulls(ZERO, ZERO)
    bare, wanted = ground.bare.reshape(-1), ground.wanted.reshape(-1)
    flat_on_skyline = on_skyline.reshape(-1)
    flat_stature, flat_isolation = stature.reshape(-1), isolation.reshape(-1)
    for line in range(max(math.floor(ahead.u0) + 1, 0), end + 1):
        u = line - ahead.u0
        first, last = cells_of(ahead, u, chunk)
        for v in range(first, last):
            at = ahead.first + line * ahead.to_line + v * ahead.to_cell
            if not wanted[at]:
                continue
            eye = float(bare[at]) + ground.eye_m
            t = (v - ahead.v0) / u
            place = min(max((t - low) / rays.spread, 0.0), count - 1.0)
            ray = min(int(place), count - 2)
            share = place - ray
            hulls = front, other, own
            first_ray = seen_along(hulls, ray, low + ray * rays.spread, u, eye, ground)
            second_ray = seen_along(hulls, ray + 1, low + (ray + 1) * rays.spread, u, eye, ground)
            distance = u * math.sqrt(1.0 + t * t) * ground.cell_m
            top = (height - eye) / distance - ground.bend * distance
            before = between(first_ray[0], second_ray[0], share)
            behind = between(first_ray[1], second_ray[1], share)
            mine = between(first_ray[2], second_ray[2], share)
            flat_on_skyline[at] = behind <= max(top, mine)
            if before > -math.inf:
                flat_stature[at] = math.degrees(math.atan(top) - math.atan(before))
            if behind > -math.inf:
                flat_isolation[at] = math.degrees(math.atan(top) - math.atan(behind))
        active = rays_within(u, max(back.v0, 0.0), rays)
        if active == 0:
            break
        take_line(ground, ahead, line, rays, active, front, nothing)
