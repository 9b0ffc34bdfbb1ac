"""Far ground in the horizon of every cell in one direction.

The raster is laid over so that the eye looks along `u` and the direction climbs `v` by a tangent
t from 0 to 1. Near ground is looked at from each cell on its own ray, far ground along parallel
lines one cell apart, whose horizons are carried over to the cells between them::

      v    near: every line crossed         far: one hull along each line
      |    (the same steps from any cell)
      |        |      _.-x----o--x-       -   _.-'      line m+1
      |    C-'-x--o-'-   |    |           C-'  _.-'     C lies between two lines; it looks at
      |        |         |    |           _.-'          the ground that each of these found
      +------- u                       -'               highest, from its own height

Along a line, ground bent down by c u² has on a flat earth the slopes it has on the round one, but
for a term of the observer alone: (z' - z) / d - c d = (w' - w) / d + 2 c u, with w = z - c u² and
d = u' - u. So one upper hull (a stack, swept towards the eye) serves every cell of the line. The
hull holds only ground at least `NEAR` lines ahead: nearer ground differs too much between lines.
It begins with what lies beyond the raster, where that is known by the highest of blocks of cells.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from terrain.arrays import Numbers, Singles, sealed
from terrain.compiling import inner, njit
from terrain.sight._far_kernels import Blocks, lines_beyond
from terrain.sight._lay_kernels import Laid, first_from, lay_line
from terrain.sight._line_hull_kernels import (
    NEAR,
    NO_POINT,
    HullPoints,
    Lay,
    begin_hull,
    hull_over,
    sweep_line,
)
from terrain.sight._vector_kernels import pick, put

BAND = 16  # lines swept one after another over the same cache lines; one line is swept twice
TILE = 64  # nodes of them that are set down line after line, while their cache lines are at hand


class Window(NamedTuple):
    """The part of a raster whose cells look: first row and column, and those after the last."""

    top: int
    left: int
    end_row: int
    end_col: int


class Lines(NamedTuple):
    """Parallel lines over a raster, one cell apart, and the part of it whose cells look.

    over: (nodes,) cells aside at each line ahead, the next where a node lies between two. u, v:
    where they begin and end over the part, v before the first cell whose own ray leaves the raster
    at once. lines: where they begin and end. along: how many cells there are aside. beyond: how
    many lines ahead of the raster the blocks go on.
    """

    laid: Laid
    over: Numbers
    u: tuple[int, int]
    v: tuple[int, int]
    lines: tuple[int, int]
    along: int
    beyond: int

    @property
    def bands(self) -> int:
        """How many bands of lines there are to sweep."""
        first, end = self.lines
        return math.ceil((end - first) / BAND)


class Room(NamedTuple):
    """What bands of lines are swept in, and whoever sweeps them brings: see `room_for`.

    found: of the line before and of this one, in turn, how near the ground is that is found
    highest, and how high. nodes: likewise the cells below; then the ground and the eyes. hulls:
    places and heights of two. ends, band: of the cells between the lines of a band.
    """

    found: Singles
    nodes: Singles
    hulls: Singles
    ends: Numbers
    band: Singles


@inner(error_model="numpy", fastmath={"contract", "nsz"}, _nrt=False)
def carry_over(
    part: Singles,
    curve: np.float32,
    first: int,
    last: int,
    cells: tuple[Singles, Singles],
    found: tuple[tuple[Singles, Singles], tuple[Singles, Singles]],
    slopes: Singles,
    nearest: Singles,
) -> None:
    """Slopes and 1 / d, from the cells between two lines, of what the lines found highest.

    part, curve: as in `Laid`. cells: heights on or over the lower line, and on or under the upper,
    where a cell on the lower has nothing to do with the upper. found: 1 / d and w' / d, each of
    the lower and of the upper line.
    """
    on_low_line, under_high_line = cells
    zero, one, two = np.float32(0.0), np.float32(1.0), np.float32(2.0)
    (below, above), (low_summits, high_summits) = found
    for u in range(first, last + 1):
        over = pick(part, u)
        down = over > zero
        share = one - over if down else zero
        distance = np.float32(u)
        own, other = pick(on_low_line, u), pick(under_high_line, u)
        z = (other if down else own) - curve * distance * distance
        near_low, near_high = pick(below, u), pick(above, u)
        low = pick(low_summits, u) - z * near_low
        high = pick(high_summits, u) - z * near_high
        on_low, on_high = low == low, (high == high) & down
        mixed = low + share * (high - low) if on_low & on_high else low
        slope = mixed if on_low | (not down) else high
        put(slopes, u, slope + two * curve * distance)
        upper = on_high & ((not on_low) | (share > np.float32(0.5)))
        put(nearest, u, near_high if upper else near_low)


@inner(error_model="numpy", _nrt=False)
def set_down(offset: Numbers, lines: Numbers, found: Singles, flat: Singles) -> None:
    """Put what was found at the nodes of some lines where it belongs in the raster.

    lines: (n, 3), the first and the last node of each that count, and where it starts. found:
    (n, nodes).
    """
    count, nodes = found.shape
    for begin in range(0, nodes, TILE):
        for item in range(count):
            first, last, start = lines[item]
            line = found[item]
            for u in range(max(first, begin), min(last + 1, begin + TILE)):
                put(flat, start + pick(offset, u), pick(line, u))


def lines_over(heights: Singles, window: Window, lay: Lay, bend: float, beyond: Blocks) -> Lines:
    """The parallel lines of one direction, for a part of a raster.

    bend: metres a square cell. beyond: blocks of the ground about the raster, or none.
    """
    by_rows, step, side, tangent = lay
    rows, cols = heights.shape
    ahead, along = (rows, cols) if by_rows else (cols, rows)
    u_stride, v_stride = (step * cols, side) if by_rows else (step, side * cols)
    start = (0 if step > 0 else -u_stride * (ahead - 1)) + (
        0 if side > 0 else -v_stride * (along - 1)
    )
    u = np.arange(ahead, dtype=np.int64)
    whole = np.floor(tangent * u).astype(np.int64)
    part = (tangent * u - whole).astype(np.float32)
    over = whole + (part > 0.0)
    laid = Laid(
        flat=sealed(heights.reshape(-1)),
        start=start,
        v_stride=v_stride,
        whole=whole,
        part=part,
        low=u * u_stride + whole * v_stride,
        over=u * u_stride + over * v_stride,
        curve=np.float32(bend * (1.0 + tangent * tangent)),
    )
    first_u, end_u, first_v, end_v = _laid_over(window, heights.shape, lay)
    # its own ray will have left the raster, unless the ground is known to go on
    highest = along - 1 if beyond.tops.size else math.floor(along - 0.5 - tangent * NEAR)
    return Lines(
        laid=laid,
        over=over,
        u=(first_u, end_u),
        v=(first_v, min(highest + 1, end_v)),
        lines=(first_v - math.ceil(tangent * (end_u - 1)) - 1, end_v),
        along=along,
        beyond=lines_beyond(beyond, rows, cols, by_rows, step),
    )


def _laid_over(window: Window, shape: tuple[int, ...], lay: Lay) -> tuple[int, int, int, int]:
    """Where u and v begin and end over a part of a raster."""
    rows, cols = shape
    row_way, col_way = (lay.step, lay.side) if lay.by_rows else (lay.side, lay.step)
    down = (window.top, window.end_row)
    if row_way < 0:
        down = (rows - window.end_row, rows - window.top)
    over = (window.left, window.end_col)
    if col_way < 0:
        over = (cols - window.end_col, cols - window.left)
    return (*down, *over) if lay.by_rows else (*over, *down)


def room_for(lines: Lines) -> Room:
    """Room for any bands of some lines."""
    ahead = lines.over.size
    longest = ahead + lines.beyond + NEAR
    return Room(
        np.full((4, ahead), np.nan, dtype=np.float32),
        np.empty((4, ahead), dtype=np.float32),
        np.empty((4, longest), dtype=np.float32),
        np.empty((BAND, 3), dtype=np.int64),
        np.empty((2, BAND, ahead), dtype=np.float32),
    )


@njit(cache=True, nogil=True, error_model="numpy", _nrt=False)
def far_horizon(
    first_band: int,
    end_band: int,
    across: Lines,
    shape: tuple[int, int],
    lay: Lay,
    beyond: Blocks,
    slopes: Singles,
    distances: Singles,
    room: Room,
) -> None:
    """Steepest slope of ground NEAR or more lines ahead of the cells of a part of a raster.

    NaN is left where none is. first_band, end_band: of the bands of lines. shape: of the raster.
    slopes: (cells,), metres a line, to be filled; distances, lines, are filled too if the array
    has room. room: overwritten.
    """
    laid, over, (first_u, end_u), (first_v, end_v), lines, along, beyond_lines = across
    whole, part, ahead = laid.whole, laid.part, over.size
    nearness, summits = room.found[:2], room.found[2:]
    lows, bent, stand = room.nodes[:2], room.nodes[2], room.nodes[3]
    hull = HullPoints(room.hulls[0], room.hulls[1])
    rough = HullPoints(room.hulls[2], room.hulls[3])
    # of the lines between which cells lie, until a band of them is set down
    found, found_near = room.band
    begin, end = lines[0] + first_band * BAND, lines[0] + end_band * BAND
    for line in range(begin, end + 1):
        this = (line - begin) % 2
        near, far = nearness[this], summits[this]
        near[first_u:end_u] = np.nan
        far[first_u:end_u] = np.nan
        first = max(first_u, first_from(whole, -1 - line))
        last = first_from(whole, along - line) - 1
        if first <= last:
            lay_line(laid, along, line, (first, end_u - 1, last), bent, stand, lows[this])
            top = NO_POINT
            if beyond.tops.size > 0:
                nodes = last, ahead - 1 - last + beyond_lines
                top = begin_hull(beyond, lay, shape, line, nodes, laid.curve, hull)
            if last >= end_u + NEAR:
                top = hull_over(bent, end_u + NEAR, last, rough, hull, top)
            sweep_line(bent, stand, (first, end_u - 1, last), hull, near, far, top)
        if line == begin:
            continue
        # the cells between the line before and this one
        first = max(first_u, first_from(over, first_v - line + 1))
        last = min(end_u, first_from(over, end_v - line + 1)) - 1
        item = (line - begin - 1) % BAND
        ends = room.ends[item]
        ends[0], ends[1], ends[2] = first, last, laid.start + (line - 1) * laid.v_stride
        if first <= last:
            seen = (nearness[1 - this], near), (summits[1 - this], far)
            cells = lows[1 - this], lows[this]
            carry_over(part, laid.curve, first, last, cells, seen, found[item], found_near[item])
            if distances.size > 0:
                for u in range(first, last + 1):
                    found_near[item, u] = np.float32(1.0) / found_near[item, u]
        if item < BAND - 1:
            continue
        set_down(laid.over, room.ends, found, slopes)
        if distances.size > 0:
            set_down(laid.over, room.ends, found_near, distances)
