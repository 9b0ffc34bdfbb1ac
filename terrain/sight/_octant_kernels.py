"""How an octant lies in a raster, and the blocks of lines by which it is read and written.

Its lines are read in blocks, so that memory is met in whole cache lines whichever way it runs.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from terrain.arrays import Bytes, Numbers, Singles
from terrain.compiling import inner
from terrain.sight._line_hull_kernels import Lay
from terrain.sight._vector_kernels import pick, put

BLOCK = 16  # lines read together: 16 float32 heights fill a cache line


class Answer(NamedTuple):
    """What is asked of a fan, to be filled, flat: `rise` if it has room, else `seen`.

    seen: cells seen at `target` metres above their ground, 1 or 0; rise: metres above it to be
    seen.
    """

    target: np.float32
    seen: Bytes
    rise: Singles


class Laid(NamedTuple):
    """A raster turned so that u and v ascend: u lines of v cells, and where they lie in it."""

    ahead: int
    along: int
    start: int
    u_stride: int
    v_stride: int


@inner(_nrt=False, error_model="numpy")
def laid_out(shape: tuple[int, int], lay: Lay) -> Laid:
    """How an octant lies in the cells of a raster."""
    by_rows, step, side, _ = lay
    rows, cols = shape
    ahead, along = (rows, cols) if by_rows else (cols, rows)
    u_stride, v_stride = (step * cols, side) if by_rows else (step, side * cols)
    start = (0 if step > 0 else -u_stride * (ahead - 1)) + (
        0 if side > 0 else -v_stride * (along - 1)
    )
    return Laid(ahead, along, start, u_stride, v_stride)


@inner(_nrt=False, error_model="numpy")
def read_block(
    flat: Singles, laid: Laid, first_line: int, first_cell: int, cells: int, lines: Singles
) -> None:
    """Copy lines of an octant, turned so that u and v ascend; edge cells go on outwards."""
    for tile in range(0, cells, BLOCK):
        end = min(tile + BLOCK, cells)
        inner, outer = (
            max(tile, min(-first_cell, end)),
            max(tile, min(laid.along - first_cell, end)),
        )
        for line in range(lines.shape[0]):
            u = min(max(first_line + line, 0), laid.ahead - 1)
            at, to = laid.start + u * laid.u_stride, lines[line]
            for cell in range(tile, inner):
                put(to, cell, pick(flat, at))
            for cell in range(inner, outer):
                put(to, cell, pick(flat, at + (first_cell + cell) * laid.v_stride))
            for cell in range(max(inner, outer), end):
                put(to, cell, pick(flat, at + (laid.along - 1) * laid.v_stride))


@inner(_nrt=False, error_model="numpy")
def put_down(
    margins: Singles,
    first: int,
    last: int,
    at: int,
    stride: int,
    answer: Answer,
) -> None:
    """Put the decided cells first..last-1 of a line where they belong."""
    target, seen, rise = answer
    if rise.size > 0:
        for cell in range(first, last):
            put(rise, at + cell * stride, pick(margins, cell))
    else:
        for cell in range(first, last):
            put(seen, at + cell * stride, np.uint8(pick(margins, cell) <= target))


@inner(_nrt=False, error_model="numpy")
def write_block(
    margins: Singles,
    firsts: Numbers,
    lasts: Numbers,
    laid: Laid,
    first_line: int,
    first_cell: int,
    answer: Answer,
) -> None:
    """Put decided cells where they belong in the answer."""
    start, end = firsts[0], lasts[0]
    for line in range(1, firsts.size):
        start, end = min(start, firsts[line]), max(end, lasts[line])
    for tile in range(start, end, BLOCK):
        for line in range(firsts.size):
            at = laid.start + (first_line + line) * laid.u_stride + first_cell * laid.v_stride
            first, last = max(firsts[line], tile), min(lasts[line], tile + BLOCK)
            put_down(margins[line], first, last, at, laid.v_stride, answer)
