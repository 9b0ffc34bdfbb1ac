"""Walks along rays for the highest ground in view.

Most of a long ray is walked in vain: ground that could not stand higher in view than what is known
to be seen farther on. A few crossings are looked at first; a small block of cells whose top would
not come up to the highest of these is passed over whole, and so is all beyond the last that could::

                                     _x_   seen at a glimpse
             x          ___-----   /     \
        ___--|--  -----            |      \\    a block all of which is lower in view
     eye      \\  [ passed over ]__/        \\   than that cannot make the skyline
"""

from __future__ import annotations

import math

from terrain.arrays import Floats
from terrain.compiling import inner, njit
from terrain.sight._ahead_kernels import (
    LONGER,
    SLACK_M,
    all_known,
    block_ahead,
    line_before,
    line_from,
    reaches_to,
    rises_to,
)
from terrain.sight._kernels import (
    LEAST_SPAN_M,
    Rays,
    bilinear,
    crest,
    first_line,
    on_col_line,
    on_row_line,
    way_out,
)

GLIMPSE_LINES = 12  # from one crossing that is looked at first to the next


@inner(error_model="numpy", _nrt=False)
def glimpse(rays: Rays, ray: int, to_m: float) -> float:
    """The highest slope of a few crossings nearer than a distance; -inf where none is known."""
    row, col, row_step, col_step = (
        rays.row[ray],
        rays.col[ray],
        rays.row_step[ray],
        rays.col_step[ray],
    )
    down, steepest = abs(row_step) >= abs(col_step), -math.inf
    start, step, count = row, row_step, rays.heights.shape[0]
    if not down:
        start, step, count = col, col_step, rays.heights.shape[1]
    line = first_line(start, step, count)
    while 0 <= line < count:
        at = (line - start) / step
        if at >= to_m:
            break
        if at > rays.from_m:
            if down:
                z = on_row_line(rays.heights, line, col + at * col_step)
            else:
                z = on_col_line(rays.heights, row + at * row_step, line)
            slope = (z - rays.eye[ray]) / at - rays.bend * at
            if slope > steepest:
                steepest = slope
        line += GLIMPSE_LINES if step > 0.0 else -GLIMPSE_LINES
    return steepest


@inner(error_model="numpy", _nrt=False)
def scan_ray(
    rays: Rays, ray: int, least: float, edges_m: Floats, altitudes: Floats, distances_m: Floats
) -> float:
    """Walk one ray; fill the highest altitude (radians) short of each ascending edge, and where.

    Both results stay NaN where no known ground lies nearer than the edge. Returns how far the
    ground is known without a gap, metres. The walk ends where nothing could stand higher in view,
    nor higher than the slope `least`, and no ground is unknown; what is lower than that may come
    out lower yet.
    """
    heights, bend, fine_m, from_m = rays.heights, rays.bend, rays.fine_m, rays.from_m
    rows, cols = heights.shape
    row, col, eye = rays.row[ray], rays.col[ray], rays.eye[ray]
    row_step, col_step = rays.row_step[ray], rays.col_step[ray]
    row_line, col_line = first_line(row, row_step, rows), first_line(col, col_step, cols)
    rim = rays.rim
    edge_m = min(way_out(row, row_step, rows, rim), way_out(col, col_step, cols, rim))
    known_m: float = min(edge_m, edges_m[edges_m.size - 1])
    steepest, steepest_at = -math.inf, math.nan
    last_m, last_z = from_m, bilinear(heights, row + from_m * row_step, col + from_m * col_step)
    band, bands, asked_m = 0, edges_m.size, 0.0
    end_m, asked, until_m = known_m, -math.inf, math.inf
    matters_m = reaches_to(least, rays.highest - eye + SLACK_M, bend)
    least = max(least, glimpse(rays, ray, min(known_m, edges_m[0], matters_m)))
    while band < bands:
        if steepest > asked:
            asked = max(steepest, least)
            until_m = reaches_to(asked, rays.highest - eye + SLACK_M, bend)
        if last_m > until_m and last_m > fine_m:
            here, there = row + last_m * row_step, col + last_m * col_step
            end_row, end_col = row + end_m * row_step, col + end_m * col_step
            if all_known(rays.unknown, here, there, end_row, end_col):
                for rest in range(band, bands):
                    altitudes[rest], distances_m[rest] = math.atan(steepest), steepest_at
                break
            until_m = last_m + LONGER * (end_m - last_m)
        row_m, col_m = math.inf, math.inf
        if 0 <= row_line < rows:
            row_m = (row_line - row) / row_step
        if 0 <= col_line < cols:
            col_m = (col_line - col) / col_step
        at = min(row_m, col_m)
        beyond = at == math.inf or at > edge_m
        if at >= asked_m and last_m >= fine_m and steepest > -math.inf and not beyond:
            top, asked_m = block_ahead(rays.tops, row, col, row_step, col_step, at)
            if rises_to(top - eye + SLACK_M, at, asked_m, bend) < max(steepest, least):
                to_row = line_from(row, row_step, row_line, rows, min(asked_m, edge_m))
                to_col = line_from(col, col_step, col_line, cols, min(asked_m, edge_m))
                if to_row != row_line or to_col != col_line:
                    row_line, col_line = to_row, to_col
                    last_m = max(last_m, line_before(row, row_step, row_line))
                    last_m = max(last_m, line_before(col, col_step, col_line))
                    continue
        while band < bands and (beyond or at >= edges_m[band]):
            band_m = edges_m[band]
            if band_m <= edge_m and last_m < fine_m and band_m - last_m > LEAST_SPAN_M:
                mid_m = 0.5 * (last_m + band_m)
                mid_z = bilinear(heights, row + mid_m * row_step, col + mid_m * col_step)
                z = bilinear(heights, row + band_m * row_step, col + band_m * col_step)
                slope, slope_at = crest(last_m, last_z, mid_z, band_m, z, eye, bend)
                if slope > steepest:
                    steepest, steepest_at = slope, slope_at
            if steepest > -math.inf:
                altitudes[band], distances_m[band] = math.atan(steepest), steepest_at
            band += 1
        if band == bands:
            break
        if row_m <= col_m:
            z = on_row_line(heights, row_line, col + at * col_step)
            row_line += 1 if row_step > 0.0 else -1
        else:
            z = on_col_line(heights, row + at * row_step, col_line)
            col_line += 1 if col_step > 0.0 else -1
        if math.isnan(z):
            known_m = min(known_m, last_m, at)
        if at <= from_m:
            continue
        if last_m < fine_m and at - last_m > LEAST_SPAN_M:
            mid_m = 0.5 * (last_m + at)
            mid_z = bilinear(heights, row + mid_m * row_step, col + mid_m * col_step)
            slope, slope_at = crest(last_m, last_z, mid_z, at, z, eye, bend)
            if slope > steepest:
                steepest, steepest_at = slope, slope_at
        slope = (z - eye) / at - bend * at
        if slope > steepest:
            steepest, steepest_at = slope, at
        last_m, last_z = at, z
    return known_m


@njit(cache=True, nogil=True, error_model="numpy", _nrt=False)
def scan_rays(
    first: int,
    end: int,
    rays: Rays,
    least: Floats,
    edges_m: Floats,
    altitudes: Floats,
    distances_m: Floats,
    known_m: Floats,
) -> None:
    """Walk the rays first..end-1 and fill their part of the results.

    least: (rays,) slopes, as `scan_ray` takes one. altitudes: radians, (rays, edges), NaN before;
    distances_m: the same; known_m: (rays,).
    """
    for ray in range(first, end):
        known_m[ray] = scan_ray(rays, ray, least[ray], edges_m, altitudes[ray], distances_m[ray])
