"""The fan of rays that answers a whole raster from one eye.

Every octant is laid over so that it looks the same: `u` counts lines of cell centres ahead of
the eye, `v` counts cells along such a line, and a ray climbs by its tangent `t` from 0 to 1::

      v                                 ray j+1
      |        |        |        |   .--'   |
      +--------+--------+------.-o-'-+------C--   C, a cell, is decided on its own azimuth,
      |        |       .|--'  '  |   _.-' - |     between the two rays that enclose it, before
      |        | _.--'  |   _.-'-+--'       |     these take in anything of the line C lies on.
      +------.-x---_.-'-x--------x----------x--   Each ray keeps the steepest slope so far, of
     eye - - - +- '- - -|- - - - | - - - - -|--   column crossings (x) and row crossings (o).
                   line k-2   line k-1    line k             --> u

Lengths are cells, heights metres above the eye; the slope of ground h metres up at u lines is
h / u - c (1 + t²) u, its tangent times the length of the ray per line, which is the same for
all ground on a ray. Unknown ground (NaN) hides nothing.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from terrain.arrays import Numbers, Singles
from terrain.compiling import inner, njit
from terrain.sight._line_hull_kernels import Lay
from terrain.sight._octant_kernels import BLOCK, Answer, laid_out, read_block, write_block
from terrain.sight._vector_kernels import pick, put, take

CHUNKS = 8  # parts of an octant that are swept on their own
PARTS = 8 * CHUNKS
PAD = 2  # cells read beyond the outermost ray of a block, on either side
HAIR = np.float32(1e-3)  # of the way from a ray to the next: no more than rounding
NOTHING = np.float32(-1e30)  # steepest slope of a ray that has met no known ground


class Line(NamedTuple):
    """A line of cell centres as the rays of a part come to it, metres and cells.

    eye: height of the eye; u: how far ahead the line is; v0: where the eye is along it, from the
    block's first cell; tangent: of the first ray; spread: from a ray to the next; bend: as in Fan.
    """

    eye: np.float32
    u: np.float32
    v0: np.float32
    tangent: np.float32
    spread: np.float32
    bend: np.float32


class Fan(NamedTuple):
    """The rays from one eye: its place and height, and how far and how densely they go.

    eye_row, eye_col: in multiples of 1/4096, so that no cell falls between two octants; bend:
    metres a square cell; reach: cells, or infinite; density: rays a cell at the far end.
    """

    eye_row: float
    eye_col: float
    eye: float
    bend: float
    reach: float
    density: float


class Room(NamedTuple):
    """What a part of a fan is worked out in, and whoever works one out brings: see `room_for`.

    steepest: slope of each ray so far; lines, margins: of a block, by line and cell; firsts, lasts:
    the cells of each of its lines that are decided.
    """

    steepest: Singles
    lines: Singles
    margins: Singles
    firsts: Numbers
    lasts: Numbers


def room_for(shape: tuple[int, int], density: float) -> Room:
    """Room for any part of a fan of so many rays a cell over so many rows and columns."""
    across = max(*shape, 8) / CHUNKS
    width = math.ceil(across) + BLOCK + 2 * PAD + 2
    return Room(
        np.empty(math.ceil(across * density) + 2, dtype=np.float32),
        np.empty((BLOCK + 1, width), dtype=np.float32),
        np.empty((BLOCK, width), dtype=np.float32),
        np.empty(BLOCK, dtype=np.int64),
        np.empty(BLOCK, dtype=np.int64),
    )


@inner(error_model="numpy", fastmath={"contract", "nsz"}, _nrt=False)
def decide(
    line: Line, ground: Singles, first: int, last: int, steepest: Singles, margins: Singles
) -> None:
    """Margins of the cells first..last-1 of a line, counted from the block's first cell."""
    eye, u, v0, tangent, spread, bend = line
    inverse = np.float32(1.0) / u
    density, one = np.float32(1.0) / spread, np.float32(1.0)
    last_ray = np.float32(steepest.size - 2)
    for cell in range(first, last):
        t = (np.float32(cell) - v0) * inverse
        at = min(max((t - tangent) * density, np.float32(0.0)), last_ray)
        ray = np.int32(at)
        share = at - np.float32(ray)
        lower, upper = pick(steepest, ray), pick(steepest, np.int32(ray + 1))
        above = lower + share * (upper - lower)
        # a cell that lies on a ray but for rounding is that ray's, though the next has met nothing
        above = upper if (lower == NOTHING) & (share > one - HAIR) else above
        above = lower if (upper == NOTHING) & (share < HAIR) else above
        rise = pick(ground, cell) - eye
        margin = above * u + bend * (np.float32(1.0) + t * t) * u * u - rise
        put(margins, cell, np.float32(0.0) if margin <= np.float32(0.0) else margin)


@inner(error_model="numpy", fastmath={"contract", "nsz"}, _nrt=False)
def advance(line: Line, before: Singles, ground: Singles, rays: int, steepest: Singles) -> None:
    """Let every ray take in what it crosses from the line before to this one, that included."""
    eye, u, v0, tangent, spread, bend = line
    one, zero = np.float32(1.0), np.float32(0.0)
    inverse = one / u
    u_before = max(u - one, zero)
    for ray in range(rays):
        t = tangent + np.float32(np.int32(ray)) * spread
        fall = bend * (one + t * t)
        v, v_before = v0 + t * u, v0 + t * u_before
        cell = np.int32(v)
        share = v - np.float32(cell)
        near, far = pick(ground, cell), pick(ground, np.int32(cell + 1))
        z = near if share == zero else near + share * (far - near)
        slope = (z - eye) * inverse - fall * u
        climbed = np.float32(cell) - v0
        u_cross = climbed / t
        back = pick(before, cell)
        across = u - u_cross
        z_cross = near if across == zero else near + across * (back - near)
        slope_cross = (z_cross - eye) * (t / climbed) - fall * u_cross
        best = take(steepest, ray)
        crosses = cell > np.int32(v_before)
        best = slope_cross if crosses and slope_cross > best else best
        put(steepest, ray, slope if slope > best else best)


@inner(_nrt=False, error_model="numpy")
def take_line(
    at: Line,
    line: int,
    ends: tuple[int, int],
    rays: int,
    lines: Singles,
    steepest: Singles,
    margins: Singles,
) -> None:
    """Decide the cells of a line of a block, from the first to the last, and let rays go on."""
    decide(at, lines[line + 1], *ends, steepest, margins[line])
    advance(at, lines[line], lines[line + 1], rays, steepest)


@njit(cache=True, nogil=True, _nrt=False, error_model="numpy")
def sweep_part(part: int, heights: Singles, fan: Fan, answer: Answer, room: Room) -> None:
    """Sweep one part of one octant from the eye to the edge of the raster or the reach.

    part: 0 to PARTS - 1, those that follow each other in different octants. room: overwritten.
    """
    eye_row, eye_col, eye, bend, reach, density = fan
    octant, turn = part % 8, part // 8
    # near and far tangents shared out evenly: the near ones cost more
    chunk = 2 * turn if turn < CHUNKS // 2 else 2 * turn - CHUNKS + 1
    rows, cols = heights.shape
    by_rows, step, side = octant & 1 == 1, 1 - (octant & 2), 1 - (octant & 4) // 2
    ahead, along = (rows, cols) if by_rows else (cols, rows)
    u0, v0 = (eye_row, eye_col) if by_rows else (eye_col, eye_row)
    u0, v0 = u0 if step > 0 else ahead - 1 - u0, v0 if side > 0 else along - 1 - v0
    low, high = chunk / CHUNKS, (chunk + 1) / CHUNKS
    aside = along - 1 - v0
    farthest = min(ahead - 1 - u0, reach)
    if low > 0.0:
        farthest = min(farthest, max(aside, 0.0) / low)
    start = max(math.floor(u0) + 1, 0)
    stop = math.floor(u0 + farthest) + 1
    if stop <= start:
        return
    rays = math.ceil((high - low) * max(farthest, 8.0) * density) + 1
    spread = (high - low) / (rays - 1)
    steepest, lines, margins, firsts, lasts = room
    steepest = steepest[: rays + 1]
    steepest[:] = NOTHING
    flat, laid = heights.reshape(-1), laid_out((rows, cols), Lay(by_rows, step, side, low))
    for block in range(start, stop, BLOCK):
        count = min(BLOCK, stop - block)
        first_cell = math.floor(v0 + low * max(block - 1 - u0, 0.0)) - PAD
        last_u = block + count - 1 - u0
        last_cell = math.floor(v0 + min(high * last_u, max(aside, 0.0) + 2.0)) + PAD + 1
        cells = min(last_cell - first_cell + 1, lines.shape[1])
        read_block(flat, laid, block - 1, first_cell, cells, lines)
        local_v0 = np.float32(v0 - first_cell)
        for line in range(count):
            u = block + line - u0
            first = math.ceil(v0 + low * u)
            last = math.ceil(v0 + high * u)
            if chunk == 0 and side < 0:  # the axis belongs to the other octant
                first = math.floor(v0) + 1
            if chunk == CHUNKS - 1 and not by_rows:  # the diagonal belongs to this one
                last = math.floor(v0 + u) + 1
            if reach < math.inf:
                last = min(last, math.floor(v0 + math.sqrt(max(reach * reach - u * u, 0.0))) + 1)
            first, last = max(first, 0), min(last, along)
            firsts[line], lasts[line] = first - first_cell, max(last, first) - first_cell
            at = Line(
                np.float32(eye),
                np.float32(u),
                local_v0,
                np.float32(low),
                np.float32(spread),
                np.float32(bend),
            )
            active = min(rays, int((max(aside, 0.0) / u - low) / spread) + 3) if u > 0 else rays
            ends = firsts[line], lasts[line]
            take_line(at, line, ends, active, lines, steepest, margins)
        write_block(margins, firsts[:count], lasts[:count], laid, block, first_cell, answer)
