"""The ground of a raster along the parallel lines on which it is looked at from afar.

The lines climb over the cells, in the picture of `_horizon_kernels`, so that most nodes lie
between two cells; where these lie in the heights is worked out once for all lines.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from terrain.arrays import Numbers, Singles
from terrain.compiling import inner
from terrain.sight._vector_kernels import pick, put


class Laid(NamedTuple):
    """A raster laid over: its heights, and where in them the nodes of a line lie.

    start: the cell at which u and v begin; v_stride: from a cell to the next one aside. whole,
    part: (nodes,) cells aside at each line ahead, and the share of the next. low, over: (nodes,)
    from where a line starts in the heights to the lower cell at each node, and to the cell between
    this line and the next. curve: the fall of the ground at a line over its square, metres.
    """

    flat: Singles
    start: int
    v_stride: int
    whole: Numbers
    part: Singles
    low: Numbers
    over: Numbers
    curve: np.float32


@inner(error_model="numpy", fastmath={"contract", "nsz"}, _nrt=False)
def _node(
    low: np.float32, high: np.float32, share: np.float32, fall: np.float32
) -> tuple[np.float32, np.float32]:
    """Heights at a node between two cells, bent down: of the ground, and of an eye upon it.

    Where one of the two cells at a node is unknown there is no known ground; an eye stands there
    at the height of the other.
    """
    z = low if share == np.float32(0.0) else low + share * (high - low)
    eye = low if low == low else high
    return z - fall, (z if z == z else eye) - fall


@inner(error_model="numpy", fastmath={"contract", "nsz"}, _nrt=False)
def _at_edge(
    laid: Laid, along: int, start: int, line: int, u: int
) -> tuple[np.float32, np.float32, np.float32]:
    """A node between the outermost cells and the edge, to which the ground goes on level.

    As `_node` has it, and the lower cell.
    """
    cell, share = line + pick(laid.whole, u), pick(laid.part, u)
    at = start + pick(laid.low, u)
    low = pick(laid.flat, at if cell >= 0 else at + laid.v_stride)
    high = pick(laid.flat, at + laid.v_stride if cell + 1 < along else at)
    fall = laid.curve * np.float32(u) * np.float32(u)
    ground, eye = _node(low, high, share, fall)
    v, half = np.float32(cell) + share, np.float32(0.5)
    inside = (v >= -half) & (v <= np.float32(along) - half)
    return ground if inside else np.float32(np.nan), eye, low


@inner(error_model="numpy", fastmath={"contract", "nsz"}, _nrt=False)
def _ground_at_edge(laid: Laid, along: int, start: int, line: int, u: int) -> np.float32:
    """The ground there alone, where no eye is."""
    return _at_edge(laid, along, start, line, u)[0]


@inner(error_model="numpy", fastmath={"contract", "nsz"}, _nrt=False)
def _lay_between(
    laid: Laid, start: int, first: int, last: int, bent: Singles, stand: Singles, cells: Singles
) -> None:
    """Lay out the nodes first..last of a line between cells, as `lay_line` does.

    start: of the line in the heights.
    """
    flat, _, v_stride, _, part, offset, _, curve = laid
    for u in range(first, last + 1):
        at = start + pick(offset, u)
        low, high = pick(flat, at), pick(flat, at + v_stride)
        fall = curve * np.float32(u) * np.float32(u)
        ground, eye = _node(low, high, pick(part, u), fall)
        put(bent, u, ground)
        put(stand, u, eye)
        put(cells, u, low)


@inner(error_model="numpy", fastmath={"contract", "nsz"}, _nrt=False)
def _lay_ground(laid: Laid, start: int, first: int, last: int, bent: Singles) -> None:
    """Lay out the ground alone, where no eye is."""
    flat, _, v_stride, _, part, offset, _, curve = laid
    for u in range(first, last + 1):
        at = start + pick(offset, u)
        low, high = pick(flat, at), pick(flat, at + v_stride)
        fall = curve * np.float32(u) * np.float32(u)
        put(bent, u, _node(low, high, pick(part, u), fall)[0])


@inner(error_model="numpy", _nrt=False)
def first_from(ascending: Numbers, value: int) -> int:
    """Where the first number that is not below a value stands among some that do not fall.

    As `numpy.searchsorted` has it, which takes numba half a second to compile.
    """
    low, high = 0, ascending.size
    while low < high:
        middle = (low + high) // 2
        if ascending[middle] < value:
            low = middle + 1
        else:
            high = middle
    return low


@inner(error_model="numpy", _nrt=False)
def lay_line(
    laid: Laid,
    along: int,
    line: int,
    nodes: tuple[int, int, int],
    bent: Singles,
    stand: Singles,
    cells: Singles,
) -> None:
    """Lay out a line: the ground at its nodes, the eyes upon it, and the cells below these.

    along: how many cells there are aside. nodes: the first and the last that look, and the last
    of the line, all between -1 and `along` cells aside.
    """
    first, last_eye, last = nodes
    start = laid.start + line * laid.v_stride
    # between two cells, and not between one and the edge
    inner = max(first, first_from(laid.whole, -line))
    outer = first_from(laid.whole, along - 1 - line) - 1
    _lay_between(laid, start, inner, min(outer, last_eye), bent, stand, cells)
    _lay_ground(laid, start, max(inner, last_eye + 1), outer, bent)
    for u in range(first, min(inner, last_eye + 1, last + 1)):
        bent[u], stand[u], cells[u] = _at_edge(laid, along, start, line, u)
    for u in range(max(outer + 1, inner), min(last_eye, last) + 1):
        bent[u], stand[u], cells[u] = _at_edge(laid, along, start, line, u)
    for u in range(max(first, last_eye + 1), min(inner, last + 1)):
        bent[u] = _ground_at_edge(laid, along, start, line, u)
    for u in range(max(outer + 1, inner, last_eye + 1), last + 1):
        bent[u] = _ground_at_edge(laid, along, start, line, u)
