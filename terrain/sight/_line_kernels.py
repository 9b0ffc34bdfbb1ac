"""The ground between an eye and what it looks at, but for what is their own.

Half a cell about either end is its own, so that the cell that the end lies in has it; about an end
beside a top a whole one, so that the top's cell has it, whichever of the four about the end that
is. What is their own hides nothing::

                     _.-.             top of the cells
              _.--'-'  | '-.  ·  ·  ·  ·  ·  ·  line of sight   _.-'|
         eye x         |    '--.____.-'-.________________.--'-'-    x target
             |- own ---|- between ---------------------------|- own -|
"""

from __future__ import annotations

import math

from terrain.arrays import ZERO, Floats, Singles
from terrain.compiling import inner, njit
from terrain.sight._kernels import LEAST_SPAN_M, Rays, bilinear
from terrain.sight._scan_kernels import scan_ray


@inner(error_model="numpy", _nrt=False)
def is_beside_top(heights: Singles, row: float, col: float) -> bool:
    """Whether one of the cells with a share in the height of a place has no higher one about it."""
    rows, cols = heights.shape
    row, col = min(max(row, 0.0), rows - 1.0), min(max(col, 0.0), cols - 1.0)
    for r in range(math.floor(row), math.ceil(row) + 1):
        for c in range(math.floor(col), math.ceil(col) + 1):
            is_top = heights[r, c] == heights[r, c]
            for at in range(max(r - 1, 0), min(r + 2, rows)):
                for beside in range(max(c - 1, 0), min(c + 2, cols)):
                    is_top = is_top and not heights[at, beside] > heights[r, c]
            if is_top:
                return True
    return False


@njit(cache=True, nogil=True, error_model="numpy", _nrt=False)
def ground_between(
    rays: Rays, row: float, col: float, distance_m: float, room: Floats
) -> tuple[float, float, bool]:
    """The steepest ground on the one ray to a target, and is all of it known.

    row, col, distance_m: of the target. room: (3, 2), NaN, for its own use. Results in its slope
    and its distance, both NaN where there is none; whether the ground is known all the way and at
    the target.
    """
    row_step, col_step = rays.row_step[0], rays.col_step[0]
    cell_m = 1.0 / max(abs(row_step), abs(col_step))
    own_m = cell_m if is_beside_top(rays.heights, rays.row[0], rays.col[0]) else 0.5 * cell_m
    theirs_m = cell_m if is_beside_top(rays.heights, row, col) else 0.5 * cell_m
    to_m, short_m = distance_m - theirs_m, distance_m * (1.0 - 1e-9)
    edges_m, angles, found_m = room[0], room[1], room[2]
    edges_m[0], edges_m[1] = min(max(to_m, 0.0), short_m), short_m
    way = Rays(
        rays.heights,
        rays.row,
        rays.col,
        rays.row_step,
        rays.col_step,
        rays.eye,
        rays.bend,
        distance_m,
        rays.highest,
        rays.unknown,
        rays.tops,
        own_m,
        0.5,
    )
    known_m = scan_ray(way, ZERO, -math.inf, edges_m, angles, found_m)
    known = known_m >= short_m and not math.isnan(bilinear(rays.heights, row, col))
    steepest, steepest_at = math.tan(angles[0]), found_m[0]
    if own_m > to_m + LEAST_SPAN_M:
        return steepest, steepest_at, known
    # what is at an end of it counts from either side, or one would see what does not see it
    for at in (own_m, to_m):
        z = bilinear(rays.heights, rays.row[0] + at * row_step, rays.col[0] + at * col_step)
        slope = (z - rays.eye[0]) / at - rays.bend * at
        if not math.isnan(slope) and not slope <= steepest:
            steepest, steepest_at = slope, at
    return steepest, steepest_at, known
