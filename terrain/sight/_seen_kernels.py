"""Which ground fills each cell of a picture; see `_kernels` for the geometry of a ray.

A ray is walked outward, and each stretch of ground that rises above all before it fills the rows
of the picture between the old highest altitude and the new one::

      row 5                      __B__       a stretch of ground runs from A, below the highest
      row 4  - - - - - - - - - -/- - - -     so far, up to B: rows 3 to 5 are ground seen on it,
      row 3  - - - - - - - - - / - - - -     each where its own line of sight meets the stretch
             ___highest so far/________
                            A

A lid, such as the top of a mist, may lie over the ground; what is seen is the higher of the two.
Where one rises through the other between two crossings, the stretch is parted there, so that a
shore is where the ground comes out of the lid and not where the cells happen to end. Where there
is no lid it is NaN.
"""

from __future__ import annotations

import math

from terrain.arrays import ZERO, Floats, Singles
from terrain.compiling import inner, njit
from terrain.sight._ahead_kernels import (
    SLACK_M,
    block_ahead,
    line_before,
    line_from,
    reaches_to,
    rises_to,
)
from terrain.sight._kernels import (
    Rays,
    bilinear,
    first_line,
    on_col_line,
    on_row_line,
    way_out,
)

NEAR_PARTS = 4  # a stretch near the eye is looked at in this many parts, for its surface is curved


@inner(error_model="numpy", _nrt=False)
def meeting(slope: float, from_m: float, from_z: float, to_m: float, to_z: float) -> float:
    """Distance at which a line of this slope from the eye meets straight ground; z from the eye."""
    grade = (to_z - from_z) / (to_m - from_m)
    if slope == grade:
        return to_m
    at = (from_z - grade * from_m) / (slope - grade)
    return min(max(at, from_m), to_m)


@inner(error_model="numpy", _nrt=False)
def fill(
    slopes: Floats,
    filled: int,
    from_m: float,
    from_z: float,
    to_m: float,
    to_z: float,
    distances_m: Singles,
) -> int:
    """Fill the rows that a stretch of ground reaches; how many rows are filled then.

    slopes: of the rows, ascending; from_z, to_z: heights above the eye of the bent ground.
    """
    steepest = to_z / to_m
    while filled < slopes.size and slopes[filled] <= steepest:
        distances_m[filled] = meeting(slopes[filled], from_m, from_z, to_m, to_z)
        filled += 1
    return filled


@inner(error_model="numpy", _nrt=False)
def fill_parted(
    slopes: Floats,
    filled: int,
    from_m: float,
    from_z: float,
    from_lid: float,
    to_m: float,
    to_z: float,
    to_lid: float,
    distances_m: Singles,
) -> int:
    """Fill the rows of a stretch over which a lid may lie, above the eye like the ground."""
    start, end = from_z - from_lid, to_z - to_lid
    top, to_top = from_z, to_z
    if start < 0.0:
        top = from_lid
    if end < 0.0:
        to_top = to_lid
    if start * end < 0.0:
        share = start / (start - end)
        shore_m = from_m + share * (to_m - from_m)
        shore_z = from_z + share * (to_z - from_z)
        if from_m < shore_m < to_m:
            filled = fill(slopes, filled, from_m, top, shore_m, shore_z, distances_m)
            return fill(slopes, filled, shore_m, shore_z, to_m, to_top, distances_m)
    return fill(slopes, filled, from_m, top, to_m, to_top, distances_m)


@inner(error_model="numpy", _nrt=False)
def seen_ray(
    rays: Rays, ray: int, lid: Singles, lid_top: float, slopes: Floats, distances_m: Singles
) -> None:
    """Walk one ray; fill the distance of the ground seen at each ascending slope, NaN for sky.

    lid: as the heights, or of no rows where nothing lies over them. lid_top: the highest of it. Of
    a block that cannot be seen over what is nearer only the last crossing is looked at, with which
    the next stretch begins; the walk ends where nothing more could be seen.
    """
    heights, bend, fine_m = rays.heights, rays.bend, rays.fine_m
    rows, cols = heights.shape
    lidded = lid.shape[0] > 0
    row, col, eye = rays.row[ray], rays.col[ray], rays.eye[ray]
    row_step, col_step = rays.row_step[ray], rays.col_step[ray]
    row_line, col_line = first_line(row, row_step, rows), first_line(col, col_step, cols)
    edge_m = min(way_out(row, row_step, rows, 0.5), way_out(col, col_step, cols, 0.5))
    last_m, last_z, last_lid = 0.0, bilinear(heights, row, col) - eye, math.nan
    filled, asked, until_m, block_m = ZERO, -1, math.inf, 0.0
    while filled < slopes.size:
        if filled != asked:
            asked, over_eye = filled, max(rays.highest, lid_top) - eye + SLACK_M
            until_m = reaches_to(slopes[filled], over_eye, bend)
        row_m, col_m = math.inf, math.inf
        if 0 <= row_line < rows:
            row_m = (row_line - row) / row_step
        if 0 <= col_line < cols:
            col_m = (col_line - col) / col_step
        at = min(row_m, col_m)
        if at == math.inf or at > edge_m or last_m > until_m:
            return
        if at >= block_m and last_m >= fine_m:
            top, block_m = block_ahead(rays.tops, row, col, row_step, col_step, at)
            if rises_to(max(top, lid_top) - eye + SLACK_M, at, block_m, bend) < slopes[filled]:
                to_m = min(block_m, edge_m)
                to_row = line_from(row, row_step, row_line, rows, to_m)
                to_col = line_from(col, col_step, col_line, cols, to_m)
                row_before_m = line_before(row, row_step, to_row)
                col_before_m = line_before(col, col_step, to_col)
                if max(row_before_m, col_before_m) > at:
                    row_line, col_line = to_row, to_col
                    if row_before_m >= col_before_m:
                        row_line -= 1 if row_step > 0.0 else -1
                    else:
                        col_line -= 1 if col_step > 0.0 else -1
                    continue
        over = math.nan
        if row_m <= col_m:
            ground = on_row_line(heights, row_line, col + at * col_step)
            if lidded:
                over = on_row_line(lid, row_line, col + at * col_step)
            row_line += 1 if row_step > 0.0 else -1
        else:
            ground = on_col_line(heights, row + at * row_step, col_line)
            if lidded:
                over = on_col_line(lid, row + at * row_step, col_line)
            col_line += 1 if col_step > 0.0 else -1
        if at <= last_m:
            continue
        parts = NEAR_PARTS if last_m < fine_m else 1
        start_m, span_m = last_m, at - last_m
        for part in range(1, parts + 1):
            to_m, to_ground, to_over = at, ground, over
            if part < parts:
                to_m = start_m + span_m * part / parts
                to_row, to_col = row + to_m * row_step, col + to_m * col_step
                to_ground = bilinear(heights, to_row, to_col)
                if lidded:
                    to_over = bilinear(lid, to_row, to_col)
            sunk = eye + bend * to_m * to_m
            to_z, to_lid = to_ground - sunk, to_over - sunk
            if math.isnan(last_z):
                # beyond a gap in what is known, the ground is seen where it begins
                last_m, last_z, last_lid = to_m * (1.0 - 1e-9), to_z, to_lid
            filled = fill_parted(
                slopes, filled, last_m, last_z, last_lid, to_m, to_z, to_lid, distances_m
            )
            last_m, last_z, last_lid = to_m, to_z, to_lid


@njit(cache=True, nogil=True, error_model="numpy", _nrt=False)
def seen_rays(
    first: int,
    end: int,
    rays: Rays,
    lid: Singles,
    lid_top: float,
    slopes: Floats,
    distances_m: Singles,
) -> None:
    """Walk the rays first..end-1; fill distances (rays, slopes), NaN before."""
    for ray in range(first, end):
        seen_ray(rays, ray, lid, lid_top, slopes, distances_m[ray])
