"""Which valley floor each cell belongs to, and how high that lies: loops over cells.

Every raster here has a rim of unknown cells, so that a known cell always has eight neighbours.
"""

from __future__ import annotations

import numpy as np

from terrain.arrays import Labels, Numbers, Singles
from terrain.compiling import inner, njit
from terrain.mist._drainage_kernels import OFF

_FAR = 1 << 29  # as many rows off is a cell's floor while it has none


@njit(cache=True, nogil=True, error_model="numpy", _nrt=False)
def nearest_floors(
    source: Labels, floor: Singles, off: Labels, lines: Numbers, rounds: int
) -> None:
    """Give each cell a nearer valley floor, of those from which a way only rises to it.

    Water runs down a valley's sides aslant, so the floor it comes to lies downstream of the one
    abreast, and its top is too low. Ways that only rise end on the ridges that part valleys. Which
    floor a cell belongs to hangs on the ground alone, and on no mist, so no deeper mist comes to
    belong to a lower floor.

    source: (rows, cols), the flat index of that on the way down, at first; -1 none. floor: (rows,
    cols), metres. off, lines: room for (2, rows, cols) and (2, cols).

    A cell takes the nearest of its own floor and those of the cell beside it, then of the three in
    the row before, that lie lower; of equals the first. Only the one beside it must wait. So those
    of the row before are taken for all its cells at once, with a bar for each, which the floor of
    the one beside, that would have come first, must be nearer than.
    """
    rows, cols = source.shape
    rows_off, cols_off = off[0], off[1]
    _measure(source, rows_off, cols_off)
    for turn in range(2 * rounds):
        sign = 1 - 2 * (turn % 2)
        for step in range(1, rows - 1):
            row = step if sign > 0 else rows - 1 - step
            away, bar, level = lines[0, 1:], lines[1, 1:], floor[row, 1:]
            own_rows, own_cols, beside = (
                rows_off[row, 1:],
                cols_off[row, 1:],
                floor[row, 1 - sign :],
            )
            for at in range(cols - 2):
                away[at] = np.int64(own_rows[at]) ** 2 + np.int64(own_cols[at]) ** 2
                bar[at] = away[at]
            for shift in (sign, 0, -sign):
                lower, near_rows = floor[row - sign, 1 + shift :], rows_off[row - sign, 1 + shift :]
                near_cols = cols_off[row - sign, 1 + shift :]
                for at in range(cols - 2):
                    down, right = np.int64(near_rows[at]) - sign, np.int64(near_cols[at]) + shift
                    far = down * down + right * right
                    takes = (lower[at] < level[at]) & (far < away[at])
                    away[at] = far if takes else away[at]
                    bar[at] = far + 1 if takes else bar[at]
                    own_rows[at] = down if takes else own_rows[at]
                    own_cols[at] = right if takes else own_cols[at]
            for at in range(cols - 2):
                bar[at] = bar[at] if beside[at] < level[at] else -1
            _take_along(rows_off[row], cols_off[row], lines[0], lines[1], sign)
    for row in range(rows):
        for col in range(cols):
            at = (row + rows_off[row, col]) * cols + col + cols_off[row, col]
            source[row, col] = at if rows_off[row, col] < _FAR // 2 else OFF


@inner(error_model="numpy", _nrt=False)
def _measure(source: Labels, rows_off: Labels, cols_off: Labels) -> None:
    """How many rows and columns off the floor of each cell lies."""
    rows, cols = source.shape
    for row in range(rows):
        for col in range(cols):
            at = source[row, col]
            # exact, and done for several cells at once, which a division of whole numbers is not
            in_row = np.int64(np.float64(at) / np.float64(cols))
            rows_off[row, col] = in_row - row if at != OFF else _FAR
            cols_off[row, col] = at - in_row * cols - col if at != OFF else 0


@inner(error_model="numpy", _nrt=False)
def _take_along(own_rows: Labels, own_cols: Labels, away: Numbers, bar: Numbers, sign: int) -> None:
    """Let each cell of a row take the floor of the one beside it, one after another.

    sign: 1 from the west, -1 from the east. away: squared distance of their own floors.
    """
    last = own_rows.size - 1
    first = 0 if sign > 0 else last
    down, right = np.int64(own_rows[first]), np.int64(own_cols[first])
    far = down * down + right * right
    for step in range(1, last):
        at = step if sign > 0 else last - step
        far += 1 - 2 * sign * right
        takes = far < bar[at]
        far = far if takes else away[at]
        right = right - sign if takes else np.int64(own_cols[at])
        down = down if takes else np.int64(own_rows[at])
        own_rows[at], own_cols[at] = down, right


@njit(cache=True, nogil=True)
def of_sources(
    first: int,
    end: int,
    source: Labels,
    floor: Singles,
    top: Singles,
    floor_of: Singles,
    top_of: Singles,
) -> None:
    """The height and the top of the floor that each cell belongs to; NaN and 0 where to none.

    first, end: of the cells; floor_of, top_of: to be filled.
    """
    for cell in range(first, end):
        at, belongs = source[cell], source[cell] != OFF
        floor_of[cell] = floor[at] if belongs else np.float32(np.nan)
        top_of[cell] = top[at] if belongs else np.float32(0.0)
