"""Rays over ground that is known by the highest of each block, and over the cells of a part of it.

Over a block the line of sight may meet its highest ground anywhere, so the place counts from
which that stands highest in view::

              top of the block                the slope of ground at height z, (z - eye) / s - c s,
            .-----------.                     is highest at s = √((eye - z) / c) where z is lower
    eye ----|-----------|----                 than the eye, and as near as can be where it is not
            s from ... to
"""

from __future__ import annotations

import math
from typing import NamedTuple

from terrain.arrays import Flags, Floats, Singles
from terrain.compiling import inner, njit
from terrain.sight._kernels import Rays, first_line, on_col_line, on_row_line


class Blocks(NamedTuple):
    """Blocks of cells beyond some ground, each by its highest.

    tops: (rows, cols), NaN where nothing is known. row, col: where the first block begins, in rows
    and columns of the ground. side: of a block, cells. a_tile: blocks along the side of a tile.
    """

    tops: Singles
    row: float
    col: float
    side: float
    a_tile: int


def lines_beyond(blocks: Blocks, rows: int, cols: int, by_rows: bool, step: int) -> int:
    """How many lines beyond the ground, across rows or columns and ahead, the blocks go on."""
    first, count, size = blocks.row, blocks.tops.shape[0], rows
    if not by_rows:
        first, count, size = blocks.col, blocks.tops.shape[1], cols
    end = first + count * blocks.side + 0.5 - size if step > 0 else -0.5 - first
    return max(int(end), 0) if blocks.tops.size > 0 else 0


@inner(error_model="numpy", _nrt=False)
def steepest_over(
    top: float, eye: float, bend: float, from_m: float, to_m: float
) -> tuple[float, float]:
    """Highest slope of level ground between two distances, and where."""
    if not top > -math.inf:
        return -math.inf, from_m
    at = from_m
    if top < eye:
        at = to_m if bend == 0.0 else min(max(math.sqrt((eye - top) / bend), from_m), to_m)
    return (top - eye) / at - bend * at, at


@njit(cache=True, nogil=True, error_model="numpy", _nrt=False)
def scan_blocks(
    first: int,
    end: int,
    rays: Rays,
    blocks: Blocks,
    from_m: Floats,
    limits: Floats,
    marks: Flags,
    slopes: Floats,
    distances_m: Floats,
    known_m: Floats,
) -> None:
    """Highest slope over the blocks along the rays first..end-1, where, and how far is known.

    from_m: (rays,), what is nearer counts for nothing. marks: (tiles, tiles) to be set where a
    block stands over a ray's limit, a slope; or none.
    """
    rows, cols = blocks.tops.shape
    for ray in range(first, end):
        row = (rays.row[ray] - blocks.row) / blocks.side
        col = (rays.col[ray] - blocks.col) / blocks.side
        row_step, col_step = rays.row_step[ray] / blocks.side, rays.col_step[ray] / blocks.side
        at = from_m[ray]
        # lines between blocks are half a block off the lines of their centres
        row_line = first_line(row + at * row_step, row_step, rows + 1)
        col_line = first_line(col + at * col_step, col_step, cols + 1)
        slopes[ray], distances_m[ray], known_m[ray] = -math.inf, math.nan, math.inf
        while True:
            row_m = (row_line - row) / row_step if row_step != 0.0 else math.inf
            col_m = (col_line - col) / col_step if col_step != 0.0 else math.inf
            to_m = max(min(row_m, col_m), at)
            middle = 0.5 * (at + to_m)
            down, along = math.floor(row + middle * row_step), math.floor(col + middle * col_step)
            if not (0 <= down < rows and 0 <= along < cols):
                known_m[ray] = min(known_m[ray], at)
                break
            top = float(blocks.tops[down, along])
            if math.isnan(top):
                known_m[ray] = min(known_m[ray], at)
            slope, slope_at = steepest_over(top, rays.eye[ray], rays.bend, at, to_m)
            if slope > slopes[ray]:
                slopes[ray], distances_m[ray] = slope, slope_at
            if marks.size > 0 and slope > limits[ray]:
                marks[down // blocks.a_tile, along // blocks.a_tile] = True
            if row_m <= col_m:
                row_line += 1 if row_step > 0.0 else -1
            else:
                col_line += 1 if col_step > 0.0 else -1
            at = to_m


@njit(cache=True, nogil=True, error_model="numpy", _nrt=False)
def scan_cells(
    first: int,
    end: int,
    rays: Rays,
    from_m: Floats,
    to_m: Floats,
    slopes: Floats,
    distances_m: Floats,
) -> None:
    """Raise slopes (rays,) to those of the lines of cell centres that a part of each ray crosses.

    from_m, to_m: (rays,) ends of the parts, within the ground.
    """
    rows, cols = rays.heights.shape
    for ray in range(first, end):
        row, col = rays.row[ray], rays.col[ray]
        row_step, col_step = rays.row_step[ray], rays.col_step[ray]
        for by_rows in (True, False):
            start, step = (row, row_step) if by_rows else (col, col_step)
            count = rows if by_rows else cols
            line = first_line(start + from_m[ray] * step, step, count)
            while 0 <= line < count:
                at = (line - start) / step
                if at > to_m[ray]:
                    break
                if by_rows:
                    z = on_row_line(rays.heights, line, col + at * col_step)
                else:
                    z = on_col_line(rays.heights, row + at * row_step, line)
                slope = (z - rays.eye[ray]) / at - rays.bend * at
                if slope > slopes[ray]:
                    slopes[ray], distances_m[ray] = slope, at
                line += 1 if step > 0.0 else -1
