"""The upper hull of the ground along a line, and what eyes on that line see of it.

Bent ground lies in the picture of `_horizon_kernels`; a hull is a stack, whose topmost point is
the nearest to the eye::

        rough: every so-many-th node         what stands over it        the hull
                  _o_                              .
             _.-''   ''-._                    _.-'' x''-._                _.x._
           o'             'o                o'             'o           o'     'o
"""

from __future__ import annotations

import math
from typing import NamedTuple, cast

import numpy as np

from terrain.arrays import Singles
from terrain.compiling import inner
from terrain.sight._far_kernels import Blocks
from terrain.sight._vector_kernels import pick, put

NEAR = 24
NO_POINT = cast(int, np.int64(-1))  # a plain -1 is a type of its own to numba
_SPARSE = 16
_AT_ONCE = 128  # nodes looked over without a branch


class Lay(NamedTuple):
    """How a raster is turned for a direction.

    by_rows: lines run across rows; step, side: 1 or -1, the way rows and columns are counted;
    tangent: cells aside for each line ahead, 0 to 1.
    """

    by_rows: bool
    step: int
    side: int
    tangent: float


class HullPoints(NamedTuple):
    """Points along a line, the farthest first, with room for more: places and bent heights."""

    u: Singles
    w: Singles


@inner(error_model="numpy", _nrt=False)
def push_hull(hull: HullPoints, top: int, x: np.float32, w: np.float32) -> int:
    """Put a point nearer to the eye on a hull whose topmost is at `top`; the new topmost."""
    hull_u, hull_w = hull
    if top >= 0:
        last_u, last_w = pick(hull_u, top), pick(hull_w, top)
        while top > 0:
            u, before = pick(hull_u, top - 1), pick(hull_w, top - 1)
            if not (last_w - w) * (u - x) <= (before - w) * (last_u - x):
                break
            last_u, last_w = u, before
            top -= 1
    top += 1
    hull_u[top], hull_w[top] = x, w
    return top


@inner(error_model="numpy", _nrt=False)
def begin_hull(
    beyond: Blocks,
    lay: Lay,
    shape: tuple[int, int],
    line: int,
    nodes: tuple[int, int],
    curve: np.float32,
    hull: HullPoints,
) -> int:
    """Begin the hull of a line with the blocks beyond the raster; its topmost, or -1.

    nodes: the last on the raster, and how many lines there are beyond. Two points a block are
    taken, the farthest first.
    """
    by_rows, step, side, tangent = lay
    gap, top = max(int(beyond.side) // 2, 1), NO_POINT
    for u in range(nodes[0] + 1 + nodes[1] // gap * gap, nodes[0], -gap):
        ahead, along = float(u), line + tangent * u
        row, col = (ahead, along) if by_rows else (along, ahead)
        if (step if by_rows else side) < 0:
            row = shape[0] - 1 - row
        if (side if by_rows else step) < 0:
            col = shape[1] - 1 - col
        down = math.floor((row - beyond.row) / beyond.side)
        over = math.floor((col - beyond.col) / beyond.side)
        if not (0 <= down < beyond.tops.shape[0] and 0 <= over < beyond.tops.shape[1]):
            continue
        z = beyond.tops[down, over]
        if z > -np.inf:
            x = np.float32(u)
            top = push_hull(hull, top, x, z - curve * x * x)
    return top


@inner(error_model="numpy", _nrt=False)
def _how_many_over(bent: Singles, first: int, end: int, x: int, w: float, slope: float) -> int:
    """How many of the nodes first..end-1 stand over a line."""
    count = 0
    at_x, rise = np.float32(w), np.float32(slope)
    for u in range(first, end):
        count += bent[u] > at_x + rise * np.float32(u - x)
    return count


@inner(error_model="numpy", _nrt=False)
def hull_over(
    bent: Singles, first: int, last: int, rough: HullPoints, hull: HullPoints, top: int
) -> int:
    """Put the nodes first..last on a hull, the farthest first; its topmost.

    What lies under the hull of a few nodes is on no hull: hardly any of the others is put
    there at all. rough: room for that hull.
    """
    topmost = NO_POINT
    for u in range(last, first - 1, -_SPARSE):
        if not math.isnan(bent[u]):
            topmost = push_hull(rough, topmost, np.float32(u), bent[u])
    end = last + 1
    for item in range(topmost + 2):
        begin, x, w, slope = first, 0, -np.inf, 0.0
        if item <= topmost:
            begin = int(rough.u[item]) + 1
        if 0 < item <= topmost:
            x, w = int(rough.u[item - 1]), rough.w[item - 1]
            slope = (rough.w[item] - w) / (rough.u[item] - rough.u[item - 1])
        for part_end in range(end, begin, -_AT_ONCE):
            part = max(part_end - _AT_ONCE, begin)
            if _how_many_over(bent, part, part_end, x, w, slope) == 0:
                continue
            for u in range(part_end - 1, part - 1, -1):
                if bent[u] > w + slope * (u - x):
                    top = push_hull(hull, top, np.float32(u), bent[u])
        if item <= topmost:
            top = push_hull(hull, top, rough.u[item], rough.w[item])
        end = begin - 1
    return top


@inner(error_model="numpy", _nrt=False)
def sweep_line(
    bent: Singles,
    stand: Singles,
    nodes: tuple[int, int, int],
    hull: HullPoints,
    nearness: Singles,
    heights_ahead: Singles,
    top: int,
) -> None:
    """From nodes of a line the highest ground NEAR or more nodes ahead of each: 1 / d and w' / d.

    bent: heights of the ground, NaN where it must not hide anything; stand: of the eyes. nodes:
    the first and the last that look, and the last of the line. top: of the hull that is there
    already, of what is more than NEAR ahead of all that look.
    """
    first, last_eye, last = nodes
    hull_u, hull_w = hull
    at = max(top, 0)
    for u in range(min(last_eye, last), first - 1, -1):
        ahead = u + NEAR
        if ahead <= last and not math.isnan(pick(bent, ahead)):
            top = push_hull(hull, top, np.float32(ahead), pick(bent, ahead))
        x, w = np.float32(u), pick(stand, u)
        if top < 0 or math.isnan(w):
            continue
        at = min(at, top)
        at_u, at_w = pick(hull_u, at), pick(hull_w, at)
        while at < top:
            next_u, next_w = pick(hull_u, at + 1), pick(hull_w, at + 1)
            if not (next_w - w) * (at_u - x) > (at_w - w) * (next_u - x):
                break
            at, at_u, at_w = at + 1, next_u, next_w
        while at > 0:
            next_u, next_w = pick(hull_u, at - 1), pick(hull_w, at - 1)
            if not (next_w - w) * (at_u - x) > (at_w - w) * (next_u - x):
                break
            at, at_u, at_w = at - 1, next_u, next_w
        near = np.float32(1.0) / (at_u - x)
        put(nearness, u, near)
        put(heights_ahead, u, at_w * near)
