"""Rays over a raster of heights, crossing by crossing.

A ray is straight on the grid. The ground under it is the bilinear surface through the cell
centres, looked at wherever the ray crosses a line of centres, of rows (o) or of columns (x)::

        .---------.---------.---------.      altitude of a crossing at distance s:
        |         |         |     _x--|
        |         |     __o-|---  |   |        tan a = (z - eye) / s - c s,   c = (1 - k) / 2R
        |     __--|x----    |     |   |
        eye---    |         |         |      the earth falls away by c s², refraction included
        .---------.---------.---------.

Within `fine_m` of the eye the highest point of the surface between two crossings counts too: it
is a parabola there, so its highest altitude has a closed form. Beyond the outermost centres the
surface goes on level to the edge of the cells. Unknown ground (NaN) hides nothing.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from terrain.arrays import Flags, Floats, Numbers, Singles
from terrain.compiling import njit
from terrain.sight._ahead_kernels import LONGER, SLACK_M, all_known, reaches_to

LEAST_SPAN_M = 0.01  # crossings nearer to each other than this leave no room for a crest


class Rays(NamedTuple):
    """Rays from eyes over some ground.

    heights: (rows, cols) of the ground. row, col: (rays,) of the eyes, fractional; row_step,
    col_step: (rays,) cells a metre; eye: (rays,) heights, metres. bend: the drop at a distance over
    its square. fine_m: as far as this the surface between two crossings counts too. from_m: what
    is nearer to the eye than this hides nothing. rim: how far, in cells, the ground goes on level
    beyond the outermost centres. highest: no ground is higher. unknown: sums of unknown cells, as
    `Dem.unknown_sums` has them.
    """

    heights: Singles
    row: Floats
    col: Floats
    row_step: Floats
    col_step: Floats
    eye: Floats
    bend: float
    fine_m: float
    highest: float
    unknown: Numbers
    from_m: float = 0.0
    rim: float = 0.5


@njit(cache=True, nogil=True)
def between(first: float, second: float, share: float) -> float:
    """Height between two centres; one without a share does not spread its NaN."""
    if share == 0.0:
        return first
    if share == 1.0:
        return second
    return first + share * (second - first)


@njit(cache=True, nogil=True)
def on_row_line(heights: Singles, line: int, col: float) -> float:
    """Height where a ray crosses the line of centres of a row."""
    cols = heights.shape[1]
    col = min(max(col, 0.0), cols - 1.0)
    left = min(int(col), max(cols - 2, 0))
    right = min(left + 1, cols - 1)
    return between(float(heights[line, left]), float(heights[line, right]), col - left)


@njit(cache=True, nogil=True)
def on_col_line(heights: Singles, row: float, line: int) -> float:
    """Height where a ray crosses the line of centres of a column."""
    rows = heights.shape[0]
    row = min(max(row, 0.0), rows - 1.0)
    top = min(int(row), max(rows - 2, 0))
    below = min(top + 1, rows - 1)
    return between(float(heights[top, line]), float(heights[below, line]), row - top)


@njit(cache=True, nogil=True)
def bilinear(heights: Singles, row: float, col: float) -> float:
    """Height of the surface at a fractional row and column."""
    rows = heights.shape[0]
    row = min(max(row, 0.0), rows - 1.0)
    top = min(int(row), max(rows - 2, 0))
    below = min(top + 1, rows - 1)
    share = row - top
    if share == 0.0:
        return on_row_line(heights, top, col)
    if share == 1.0:
        return on_row_line(heights, below, col)
    return between(on_row_line(heights, top, col), on_row_line(heights, below, col), share)


@njit(cache=True, nogil=True)
def heights_along(heights: Singles, row: Floats, col: Floats) -> Floats:
    """Singles of the surface at many fractional rows and columns, (n,) each."""
    found = np.empty(row.size)
    for index in range(row.size):
        found[index] = bilinear(heights, row[index], col[index])
    return found


@njit(cache=True, nogil=True)
def first_line(start: float, step: float, count: int) -> int:
    """The first line of centres ahead of a start; -1 or `count` where there is none."""
    if step > 0.0:
        return max(math.floor(start) + 1, 0)
    if step < 0.0:
        return min(math.ceil(start) - 1, count - 1)
    return count


@njit(cache=True, nogil=True)
def way_out(start: float, step: float, count: int, rim: float = 0.5) -> float:
    """Distance to where the ground ends, so many cells beyond the outermost centres."""
    if step > 0.0:
        return max((count - 1.0 + rim - start) / step, 0.0)
    if step < 0.0:
        return max((-rim - start) / step, 0.0)
    return math.inf


@njit(cache=True, nogil=True)
def crest(
    from_m: float, from_z: float, mid_z: float, to_m: float, to_z: float, eye: float, bend: float
) -> tuple[float, float]:
    """Highest slope, and its distance, strictly between two crossings; (-inf, 0) if at an end.

    The surface is the parabola through both ends and the middle. As z = p + q s + r s², the slope
    (z - eye) / s - bend s has its maximum at s² = (p - eye) / (r - bend), both negative.
    """
    span = to_m - from_m
    square = 2.0 * (from_z - 2.0 * mid_z + to_z) / (span * span)
    along = (to_z - from_z) / span - square * span
    level = from_z - along * from_m + square * from_m * from_m
    lift, fall = level - eye, square - bend
    if not (lift < 0.0 and fall < 0.0):
        return -math.inf, 0.0
    at = math.sqrt(lift / fall)
    if not from_m < at < to_m:
        return -math.inf, 0.0
    return along - 2.0 * square * from_m - 2.0 * math.sqrt(lift * fall), at


@njit(cache=True, nogil=True)
def scan_ray(
    rays: Rays, ray: int, edges_m: Floats, altitudes: Floats, distances_m: Floats
) -> float:
    """Walk one ray; fill the highest altitude (radians) short of each ascending edge, and where.

    Both results stay NaN where no known ground lies nearer than the edge. Returns how far the
    ground is known without a gap, metres. The walk ends where nothing could stand higher in view
    and no ground is unknown.
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
    band, bands = 0, edges_m.size
    end_m, asked, until_m = known_m, -math.inf, math.inf
    while band < bands:
        if steepest > asked:
            asked = steepest
            until_m = reaches_to(steepest, rays.highest - eye + SLACK_M, bend)
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


@njit(cache=True, nogil=True)
def scan_rays(
    first: int,
    end: int,
    rays: Rays,
    edges_m: Floats,
    altitudes: Floats,
    distances_m: Floats,
    known_m: Floats,
) -> None:
    """Walk the rays first..end-1 and fill their part of the results.

    altitudes: radians, (rays, edges), NaN before; distances_m: the same; known_m: (rays,).
    """
    for ray in range(first, end):
        known_m[ray] = scan_ray(rays, ray, edges_m, altitudes[ray], distances_m[ray])


@njit(cache=True, nogil=True)
def parted_rays(
    first: int, end: int, rays: Rays, own: Flags, target_m: Floats, before: Floats, behind: Floats
) -> None:
    """Altitudes (radians) of the highest ground before a hill and behind it, (n,) to be filled.

    The hill's own ground counts for neither; the ground is that of the nearest cell, one cell's
    length after another. Where some of it before the summit is unknown, so is the highest: NaN.
    first, end: of the rays. target_m: distance of the summit along each ray.
    """
    heights = rays.heights
    rows, cols = heights.shape
    for ray in range(first, end):
        row_step, col_step = rays.row_step[ray], rays.col_step[ray]
        cell_m = 1.0 / math.hypot(row_step, col_step)
        front, back = -math.inf, -math.inf
        at = cell_m
        while True:
            r = math.floor(rays.row[ray] + at * row_step + 0.5)
            c = math.floor(rays.col[ray] + at * col_step + 0.5)
            if r < 0 or c < 0 or r >= rows or c >= cols:
                break
            slope = (heights[r, c] - rays.eye[ray]) / at - rays.bend * at
            if at < target_m[ray]:
                if math.isnan(slope):
                    front = math.nan
                elif not own[r, c] and slope > front:
                    front = slope
            elif not own[r, c] and slope > back:
                back = slope
            at += cell_m
        before[ray], behind[ray] = math.atan(front), math.atan(back)
