"""What stands over single rays, of a cell that looks for the sun.

Blocks of cells whose highest ground the ray passes over are crossed in one stride::

                          ray _.-'
                          _.-'______
                       .-'  |      |    <- the top of a block
                      o     |_/\\__|
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from terrain.arrays import ONE, Singles
from terrain.compiling import inner, njit
from terrain.light._sweep_kernels import Relief
from terrain.sight._vector_kernels import pick

SHIFT = 5
SIDE = 1 << SHIFT  # cells a block
CLOSE = 24  # lines within which the lines across count too
PLAIN = 8  # lines before blocks are looked at
ROUNDING_M = 0.01  # by which a height between two cells is rounded, and more


class Ray(NamedTuple):
    """A ray from an eye over the lines that it crosses, rows or columns, counted from the eye.

    step: 1 or -1, the way they are counted in the raster; slant: cells aside a line; stretch:
    lengths of a cell a line. eye: metres; at line k it is rise k + curve k² over that.
    """

    step: int
    slant: float
    stretch: float
    eye: float
    rise: float
    curve: float


class Lines(NamedTuple):
    """The lines that a ray crosses: rows or not, how many, how many cells each, and the eye's.

    line_stride, cell_stride: from one line, and from one cell of it, to the next in the raster.
    """

    by_rows: bool
    length: int
    across: int
    from_line: int
    from_cell: int
    line_stride: int
    cell_stride: int


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


@inner(error_model="numpy", _nrt=False)
def between(low: float, high: float, share: float) -> float:
    """Linear between two heights; a share of nothing counts for nothing, known or not."""
    return float(low) if share <= 0.0 else float(low + share * (high - low))


@inner(error_model="numpy", _nrt=False)
def ray_of(
    relief: Relief, row: int, col: int, north: float, east: float, tangent: float
) -> tuple[Ray, Lines]:
    """A ray from a cell's centre: north, east: its direction on the grid, of length 1."""
    rows, cols = relief.heights.shape
    ahead, aside = -north, east
    by_rows = abs(ahead) >= abs(aside)
    if not by_rows:
        ahead, aside = aside, ahead
    length, across = (rows, cols) if by_rows else (cols, rows)
    from_line, from_cell = (row, col) if by_rows else (col, row)
    stretch = 1.0 / abs(ahead)
    rise, curve = tangent * stretch * relief.cell_m, relief.bend * (stretch * relief.cell_m) ** 2
    eye = float(relief.heights[row, col])
    ray = Ray(1 if ahead > 0.0 else -1, aside * stretch, stretch, eye, rise, curve)
    strides = (cols, 1) if by_rows else (1, cols)
    return ray, Lines(by_rows, length, across, from_line, from_cell, *strides)


@inner(error_model="numpy", _nrt=False)
def on_line(flat: Singles, ray: Ray, lines: Lines, k: int) -> float:
    """The ground where a ray crosses the line k lines ahead, between the two cells there."""
    line, cell = lines.from_line + ray.step * k, lines.from_cell + ray.slant * k
    floor = math.floor(cell)
    at = line * lines.line_stride
    z_low = pick(flat, at + max(floor, 0) * lines.cell_stride)
    z_high = pick(flat, at + min(floor + 1, lines.across - 1) * lines.cell_stride)
    return between(z_low, z_high, cell - floor)


@inner(error_model="numpy", _nrt=False)
def all_over(flat: Singles, ray: Ray, lines: Lines, k: int, swing: float, height: float) -> bool:
    """Whether all of line k stands over a height where a ray can cross it that goes aside.

    swing: how far it does, cells a line. What is unknown or off the ground does not.
    """
    line, cell = lines.from_line + ray.step * k, lines.from_cell + ray.slant * k
    left, right = cell - swing * k, cell + swing * k
    first, last = math.floor(left), math.floor(right)
    if line < 0 or line >= lines.length or first < 0 or last + 1 >= lines.across:
        return False
    at = line * lines.line_stride + first * lines.cell_stride
    z, after = float(pick(flat, at)), float(pick(flat, at + lines.cell_stride))
    if not z + (left - first) * (after - z) > height:
        return False
    for _ in range(first, last):
        at += lines.cell_stride
        z, after = after, float(pick(flat, at + lines.cell_stride))
        if not z > height:
            return False
    return z + (right - last) * (after - z) > height


@inner(error_model="numpy", _nrt=False)
def on_crossing(flat: Singles, ray: Ray, lines: Lines, k: int) -> tuple[float, float]:
    """The ground on the one line of the other family that is crossed before line k, and where.

    NaN where none is crossed.
    """
    steps = math.floor(abs(ray.slant) * k)
    at = steps / abs(ray.slant)
    if at > k - 1 and at < k and at > 0.0:
        line = lines.from_line + ray.step * (k - 1)
        cell = lines.from_cell + (1 if ray.slant > 0.0 else -1) * steps
        if 0 <= cell < lines.across:
            start = line * lines.line_stride + cell * lines.cell_stride
            z_low = pick(flat, start)
            z_high = pick(flat, start + ray.step * lines.line_stride)
            return between(z_low, z_high, at - (k - 1)), at
    return math.nan, at


@inner(error_model="numpy", _nrt=False)
def is_off(ray: Ray, lines: Lines, k: int) -> bool:
    """Whether a ray has left the ground where it crosses line k."""
    line, cell = lines.from_line + ray.step * k, lines.from_cell + ray.slant * k
    return line < 0 or line >= lines.length or cell < -0.5 or cell > lines.across - 0.5


@inner(error_model="numpy", _nrt=False)
def highest_over(
    relief: Relief, flat: Singles, row: int, col: int, north: float, east: float, tangent: float
) -> tuple[float, float]:
    """What stands highest over a ray, or under it: tangent over the ray, and cells to it.

    tangent: of the ray's altitude. -inf where no known ground lies that way.
    """
    ray, lines = ray_of(relief, row, col, north, east, tangent)
    highest = relief.low_m + relief.span_m
    best, best_at, k = -math.inf, math.nan, ONE
    while not is_off(ray, lines, k):
        over_sea = ray.eye + k * (ray.rise + ray.curve * k)
        rises = ray.rise + 2.0 * ray.curve * k >= 0.0
        if rises and over_sea > highest and best > -math.inf:
            break
        over = (on_line(flat, ray, lines, k) - over_sea) / (k * ray.stretch * relief.cell_m)
        if over > best:
            best, best_at = over, k * ray.stretch
        if k < CLOSE and ray.slant != 0.0:
            ground, at = on_crossing(flat, ray, lines, k)
            if ground == ground:
                over_sea = ray.eye + at * (ray.rise + ray.curve * at)
                over = (ground - over_sea) / (at * ray.stretch * relief.cell_m)
                if over > best:
                    best, best_at = over, at * ray.stretch
        k += 1
    return best, best_at


@inner(error_model="numpy", _nrt=False)
def first_over(relief: Relief, flat: Singles, ray: Ray, lines: Lines) -> tuple[float, int]:
    """What a ray meets first: tangent over the ray, and the line there.

    Nothing or less where nothing stands over it; -inf where no known ground lies that way.
    """
    tops, highest = relief.tops, relief.low_m + relief.span_m
    step, slant = ray.step, ray.slant
    any_known, k = False, ONE
    while not is_off(ray, lines, k):
        over_sea = ray.eye + k * (ray.rise + ray.curve * k)
        rises = ray.rise + 2.0 * ray.curve * k >= 0.0
        if rises and over_sea > highest and any_known:
            break
        if rises and k >= PLAIN and any_known:
            line, cell = lines.from_line + step * k, lines.from_cell + slant * k
            block_line, block_cell = line >> SHIFT, max(math.floor(cell), 0) >> SHIFT
            block = (block_line, block_cell) if lines.by_rows else (block_cell, block_line)
            if tops[block] < over_sea:
                ahead_0 = (block_line << SHIFT) - line
                out = ahead_0 + SIDE if step > 0 else 1 - ahead_0
                if slant > 0.0:
                    out = min(out, math.ceil((((block_cell + 1) << SHIFT) - cell) / slant))
                elif slant < 0.0:
                    out = min(out, math.floor((cell - (block_cell << SHIFT)) / -slant) + 1)
                k += max(out, 1)
                continue
        over = on_line(flat, ray, lines, k) - over_sea
        any_known |= over == over
        best = over / (k * ray.stretch * relief.cell_m) if over > 0.0 else 0.0
        if k < CLOSE and slant != 0.0:
            ground, at = on_crossing(flat, ray, lines, k)
            over = ground - (ray.eye + at * (ray.rise + ray.curve * at))
            any_known |= over == over
            if over > 0.0:
                best = max(best, over / (at * ray.stretch * relief.cell_m))
        if best > 0.0:
            return best, k
        k += 1
    return 0.0 if any_known else -math.inf, 0


@inner(error_model="numpy", _nrt=False)
def still_over(flat: Singles, ray: Ray, lines: Lines, k: int) -> bool:
    """Whether the ground on line k stands over a ray; no, for line 0."""
    if k == 0 or is_off(ray, lines, k):
        return False
    return on_line(flat, ray, lines, k) > ray.eye + k * (ray.rise + ray.curve * k)
