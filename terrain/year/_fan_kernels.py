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

import numpy as np
from numpy.typing import NDArray

from terrain.compiling import njit

__all__ = ["PARTS", "fan_part"]

CHUNKS = 32  # parts of an octant that are walked on their own
PARTS = 8 * CHUNKS
LEAST_RAYS = 4  # to a part, where the raster is small

Floats = NDArray[np.float64]
Heights = NDArray[np.float32]
Flags = NDArray[np.bool_]
Counts = NDArray[np.int64]
Hulls = tuple[Floats, Floats, Counts, Floats, Floats, Counts, Floats, Floats, Counts]


@njit(cache=True, nogil=True)
def laid_over(
    rows: int, cols: int, by_rows: bool, step: int, side: int
) -> tuple[int, int, int, int, int]:
    """Lines and cells of an octant; flat index of its first cell, and what a line and a cell add.

    The cell v of line u is at `first + u * to_line + v * to_cell` of the flat raster.
    """
    if by_rows:
        first = (0 if step > 0 else rows - 1) * cols + (0 if side > 0 else cols - 1)
        return rows, cols, first, step * cols, side
    first = (0 if step > 0 else cols - 1) + (0 if side > 0 else rows - 1) * cols
    return cols, rows, first, step, side * cols


@njit(cache=True, nogil=True, error_model="numpy")
def push(us: Floats, zs: Floats, ray: int, size: int, u: float, z: float) -> int:
    """Put a point on the upper hull of a ray, whose points recede; returns its new size."""
    while size > 1:
        u_last, z_last = us[size - 1, ray], zs[size - 1, ray]
        rise = (z - z_last) * (u_last - us[size - 2, ray])
        if rise < (z_last - zs[size - 2, ray]) * (u - u_last):
            break
        size -= 1
    us[size, ray], zs[size, ray] = u, z
    return size + 1


@njit(cache=True, nogil=True, error_model="numpy")
def steepest(
    us: Floats, zs: Floats, ray: int, size: int, eye_u: float, eye_z: float, way: float
) -> float:
    """Slope, per line, from an eye to the point of a hull that stands highest in view.

    way: 1 where the hull lies on the far side of the summit, -1 where it lies before it. Along a
    hull the slope rises to one maximum and falls again. -inf for an empty hull.
    """
    if size == 0:
        return -math.inf
    low, high = 0, size - 1
    while low < high:
        middle = (low + high) // 2
        # second > first, as slopes, without dividing by the distances from the eye
        first = (zs[middle, ray] - eye_z) * (eye_u + way * us[middle + 1, ray])
        second = (zs[middle + 1, ray] - eye_z) * (eye_u + way * us[middle, ray])
        if second > first:
            low = middle + 1
        else:
            high = middle
    slope: float = (zs[low, ray] - eye_z) / (eye_u + way * us[low, ray])
    return slope


@njit(cache=True, nogil=True, error_model="numpy")
def seen_along(
    hulls: Hulls, ray: int, tangent: float, u: float, eye: float, bend: float, cell_m: float
) -> tuple[float, float, float]:
    """True slopes from an eye over a ray: of other ground before and behind, of own ground behind.

    The last includes the summit; -inf where there is no such ground.
    """
    front_u, front_z, fronts, other_u, other_z, others, own_u, own_z, owns = hulls
    line_m = math.sqrt(1.0 + tangent * tangent) * cell_m
    distance = u * line_m
    sunk = eye - bend * distance * distance
    shift = 2.0 * bend * distance
    front = steepest(front_u, front_z, ray, fronts[ray], u, sunk, -1.0)
    other = steepest(other_u, other_z, ray, others[ray], u, sunk, 1.0)
    mine = steepest(own_u, own_z, ray, owns[ray], u, sunk, 1.0)
    return front / line_m - shift, other / line_m - shift, mine / line_m - shift


@njit(cache=True, nogil=True)
def between(first: float, second: float, share: float) -> float:
    """A value between two; where one of them is -inf (no ground) the other."""
    if first == -math.inf:
        return second
    if second == -math.inf:
        return first
    return first + share * (second - first)


@njit(cache=True, nogil=True, error_model="numpy")
def take_line(
    ground: Heights,
    own: Flags,
    by_rows: bool,
    step: int,
    side: int,
    line: int,
    u: float,
    v0: float,
    low: float,
    spread: float,
    bend: float,
    rays: int,
    other_u: Floats,
    other_z: Floats,
    others: Counts,
    own_u: Floats,
    own_z: Floats,
    owns: Counts,
) -> None:
    """Let every ray take in what it crosses from the line before to this one, that included.

    Ground between two cells belongs to the nearer one; unknown ground (NaN) is passed over. The
    hill's own ground is left out where its hull has no room.
    """
    rows, cols = ground.shape
    heights, mine = ground.reshape(-1), own.reshape(-1)
    _, along, origin, to_line, to_cell = laid_over(rows, cols, by_rows, step, side)
    here = origin + line * to_line
    there = here - (to_line if line > 0 else 0)
    wants_own = own_u.size > 0
    u_before = max(u - 1.0, 0.0)
    for ray in range(rays):
        t = low + ray * spread
        v = v0 + t * u
        cell = math.floor(v)
        fall = bend * (1.0 + t * t)
        inside = min(max(cell, 0), along - 1) * to_cell
        near = here + inside
        if cell > v0 + t * u_before and cell < v:
            u_cross = (cell - v0) / t
            back = there + inside
            share = u - u_cross
            z = heights[near] + share * (heights[back] - heights[near]) - fall * u_cross * u_cross
            if not math.isnan(z):
                if not mine[back if share > 0.5 else near]:
                    others[ray] = push(other_u, other_z, ray, others[ray], u_cross, z)
                elif wants_own:
                    owns[ray] = push(own_u, own_z, ray, owns[ray], u_cross, z)
        far = here + min(max(cell + 1, 0), along - 1) * to_cell
        share = v - cell
        z = float(heights[near])
        if share > 0.0:
            z += share * (heights[far] - heights[near])
        z -= fall * u * u
        if not math.isnan(z):
            if not mine[far if share > 0.5 else near]:
                others[ray] = push(other_u, other_z, ray, others[ray], u, z)
            elif wants_own:
                owns[ray] = push(own_u, own_z, ray, owns[ray], u, z)


@njit(cache=True, nogil=True)
def cells_of(
    u: float, v0: float, along: int, by_rows: bool, side: int, chunk: int
) -> tuple[int, int]:
    """First cell and end of those of a line that a part decides; together each exactly once."""
    first = math.ceil(v0 + chunk / CHUNKS * u)
    last = math.ceil(v0 + (chunk + 1) / CHUNKS * u)
    if chunk == 0 and side < 0:  # the axis belongs to the other octant
        first = math.floor(v0) + 1
    if chunk == CHUNKS - 1 and not by_rows:  # the diagonal belongs to this one
        last = math.floor(v0 + u) + 1
    first = max(first, 0)
    return first, max(first, min(last, along))


@njit(cache=True, nogil=True)
def last_wanted(
    wanted: Flags, by_rows: bool, step: int, side: int, u0: float, v0: float, chunk: int
) -> int:
    """The farthest line of a part on which a cell is wanted; -1 where none is."""
    rows, cols = wanted.shape
    ahead, along, origin, to_line, to_cell = laid_over(rows, cols, by_rows, step, side)
    flat = wanted.reshape(-1)
    for line in range(ahead - 1, math.floor(u0), -1):
        first, last = cells_of(line - u0, v0, along, by_rows, side, chunk)
        for v in range(first, last):
            if flat[origin + line * to_line + v * to_cell]:
                return line
    return -1


@njit(cache=True, nogil=True)
def rays_within(u: float, room: float, low: float, spread: float, rays: int) -> int:
    """How many rays, of those that fan out, still run inside the raster at a line."""
    if low * u > room:
        return 0
    return min(rays, int((room / u - low) / spread) + 2)


@njit(cache=True, nogil=True, error_model="numpy")
def fan_part(
    part: int,
    ground: Heights,
    bare: Heights,
    own: Flags,
    wanted: Flags,
    row: float,
    col: float,
    height: float,
    cell_m: float,
    bend: float,
    eye_m: float,
    density: float,
    on_skyline: Flags,
    stature: Heights,
    isolation: Heights,
) -> None:
    """Decide the wanted cells of one part of one octant: on the skyline or not, and degrees.

    First the part opposite is walked for what lies behind, then this one outwards. part: 0 to
    PARTS - 1. ground: the surface that hides; bare: the ground that eyes stand on. row, col: of
    the summit, in multiples of 1/4096, so that no cell falls between two octants; height: of it,
    metres. bend: c, per metre; density: rays a cell at the far end. `stature` and `isolation`,
    degrees over other ground before and behind, are left as they are where there is none.
    """
    octant, turn = part % 8, part // 8
    # near and far tangents shared out between the two halves of the range
    chunk = 2 * turn if turn < CHUNKS // 2 else 2 * turn - CHUNKS + 1
    rows, cols = ground.shape
    by_rows, step, side = octant & 1 == 1, 1 - (octant & 2), 1 - (octant & 4) // 2
    ahead, along, origin, to_line, to_cell = laid_over(rows, cols, by_rows, step, side)
    u0, v0 = (row, col) if by_rows else (col, row)
    u0, v0 = u0 if step > 0 else ahead - 1 - u0, v0 if side > 0 else along - 1 - v0
    end = last_wanted(wanted, by_rows, step, side, u0, v0, chunk)
    if end < 0:
        return
    low, high = chunk / CHUNKS, (chunk + 1) / CHUNKS
    back_u0, back_v0 = ahead - 1 - u0, along - 1 - v0
    farthest = max(end - u0, ahead - 1 - back_u0)
    rays = max(math.ceil((high - low) * farthest * density), LEAST_RAYS) + 1
    spread = (high - low) / (rays - 1)
    room = max(back_v0, 0.0)

    # a ray crosses at most one line of either kind with each step; hulls are short, and those of
    # neighbouring rays lie side by side so that all their heads stay in the cache
    behind = 2 * (ahead - math.floor(back_u0)) + 2
    other_u, other_z = np.empty((behind, rays)), np.empty((behind, rays))
    own_u, own_z = np.empty((behind, rays)), np.empty((behind, rays))
    others, owns = np.zeros(rays, dtype=np.int64), np.ones(rays, dtype=np.int64)
    own_u[0, :], own_z[0, :] = 0.0, height
    curve = bend * cell_m * cell_m
    for line in range(max(math.floor(back_u0) + 1, 0), ahead):
        u = line - back_u0
        active = rays_within(u, max(v0, 0.0), low, spread, rays)
        if active == 0:
            break
        take_line(
            ground, own, by_rows, -step, -side, line, u, back_v0, low, spread, curve, active,
            other_u, other_z, others, own_u, own_z, owns,
        )  # fmt: skip

    before = 2 * (end - math.floor(u0)) + 2
    front_u, front_z = np.empty((before, rays)), np.empty((before, rays))
    fronts = np.zeros(rays, dtype=np.int64)
    flat_bare, flat_wanted, flat_on_skyline = (
        bare.reshape(-1),
        wanted.reshape(-1),
        on_skyline.reshape(-1),
    )
    flat_stature, flat_isolation = stature.reshape(-1), isolation.reshape(-1)
    nothing, none = np.empty((0, 0)), np.empty(0, dtype=np.int64)
    for line in range(max(math.floor(u0) + 1, 0), end + 1):
        u = line - u0
        first, last = cells_of(u, v0, along, by_rows, side, chunk)
        for v in range(first, last):
            at = origin + line * to_line + v * to_cell
            if not flat_wanted[at]:
                continue
            eye = float(flat_bare[at]) + eye_m
            t = (v - v0) / u
            place = min(max((t - low) / spread, 0.0), rays - 1.0)
            ray = min(int(place), rays - 2)
            share = place - ray
            hulls = (front_u, front_z, fronts, other_u, other_z, others, own_u, own_z, owns)
            first_ray = seen_along(hulls, ray, low + ray * spread, u, eye, bend, cell_m)
            second_ray = seen_along(hulls, ray + 1, low + (ray + 1) * spread, u, eye, bend, cell_m)
            distance = u * math.sqrt(1.0 + t * t) * cell_m
            top = (height - eye) / distance - bend * distance
            front = between(first_ray[0], second_ray[0], share)
            back = between(first_ray[1], second_ray[1], share)
            mine = between(first_ray[2], second_ray[2], share)
            flat_on_skyline[at] = back <= max(top, mine)
            if front > -math.inf:
                flat_stature[at] = math.degrees(math.atan(top) - math.atan(front))
            if back > -math.inf:
                flat_isolation[at] = math.degrees(math.atan(top) - math.atan(back))
        active = rays_within(u, room, low, spread, rays)
        if active == 0:
            break
        take_line(
            ground, own, by_rows, step, side, line, u, v0, low, spread, curve, active,
            front_u, front_z, fronts, nothing, nothing, none,
        )  # fmt: skip
