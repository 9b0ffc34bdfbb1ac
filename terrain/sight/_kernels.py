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
from terrain.compiling import inner, njit

LEAST_SPAN_M = 0.01  # crossings nearer to each other than this leave no room for a crest


class Rays(NamedTuple):
    """Rays from eyes over some ground.

    heights: (rows, cols) of the ground. row, col: (rays,) of the eyes, fractional; row_step,
    col_step: (rays,) cells a metre; eye: (rays,) heights, metres. bend: the drop at a distance over
    its square. fine_m: as far as this the surface between two crossings counts too. from_m: what
    is nearer to the eye than this hides nothing. rim: how far, in cells, the ground goes on level
    beyond the outermost centres. highest: no ground is higher. unknown: sums of unknown cells, as
    `Dem.unknown_sums` has them. tops: of small blocks, as `Dem.block_tops_m` has them.
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
    tops: Singles
    from_m: float = 0.0
    rim: float = 0.5


@inner(error_model="numpy", _nrt=False)
def between(first: float, second: float, share: float) -> float:
    """Height between two centres; one without a share does not spread its NaN."""
    if share == 0.0:
        return first
    if share == 1.0:
        return second
    return first + share * (second - first)


@inner(error_model="numpy", _nrt=False)
def on_row_line(heights: Singles, line: int, col: float) -> float:
    """Height where a ray crosses the line of centres of a row."""
    cols = heights.shape[1]
    col = min(max(col, 0.0), cols - 1.0)
    left = min(int(col), max(cols - 2, 0))
    right = min(left + 1, cols - 1)
    return between(float(heights[line, left]), float(heights[line, right]), col - left)


@inner(error_model="numpy", _nrt=False)
def on_col_line(heights: Singles, row: float, line: int) -> float:
    """Height where a ray crosses the line of centres of a column."""
    rows = heights.shape[0]
    row = min(max(row, 0.0), rows - 1.0)
    top = min(int(row), max(rows - 2, 0))
    below = min(top + 1, rows - 1)
    return between(float(heights[top, line]), float(heights[below, line]), row - top)


@inner(error_model="numpy", _nrt=False)
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


@njit(cache=True, nogil=True, error_model="numpy")
def heights_along(heights: Singles, row: Floats, col: Floats) -> Floats:
    """Singles of the surface at many fractional rows and columns, (n,) each."""
    found = np.empty(row.size)
    for index in range(row.size):
        found[index] = bilinear(heights, row[index], col[index])
    return found


@inner(error_model="numpy", _nrt=False)
def first_line(start: float, step: float, count: int) -> int:
    """The first line of centres ahead of a start; -1 or `count` where there is none."""
    if step > 0.0:
        return max(math.floor(start) + 1, 0)
    if step < 0.0:
        return min(math.ceil(start) - 1, count - 1)
    return count


@inner(error_model="numpy", _nrt=False)
def way_out(start: float, step: float, count: int, rim: float) -> float:
    """Distance to where the ground ends, so many cells beyond the outermost centres."""
    if step > 0.0:
        return max((count - 1.0 + rim - start) / step, 0.0)
    if step < 0.0:
        return max((-rim - start) / step, 0.0)
    return math.inf


@inner(error_model="numpy", _nrt=False)
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


@njit(cache=True, nogil=True, error_model="numpy", _nrt=False)
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
