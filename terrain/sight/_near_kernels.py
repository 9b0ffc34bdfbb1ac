"""Near ground in the horizon of every cell, crossing by crossing.

The rays of all cells in one direction are alike, so a crossing lies at the same steps from every
cell: one pass over a row for each few crossings, in the picture of `_horizon_kernels`.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from terrain.arrays import Numbers, Singles
from terrain.compiling import inner, njit
from terrain.sight._vector_kernels import pick, put, take

NOTHING = np.float32(-1e30)  # slope of a horizon that nothing known makes
TOGETHER = 4  # crossings taken in one pass over a row, the slopes in registers


class Crossing(NamedTuple):
    """Where a ray crosses a line of centres: the two cells there, the share of the second, how far.

    row_1, row_2: of the raster; col_1, col_2: from the cell whose ray it is; length: in lines.
    """

    row_1: int
    col_1: int
    row_2: int
    col_2: int
    share: np.float32
    length: np.float32


class Crossings(NamedTuple):
    """All crossings of the ray of a cell that are near, in the order of their distance.

    cells: (n, 4) rows and columns, from the cell, of the two cells at each; shares: (n,) of the
    second one; lengths: (n,) lines.
    """

    cells: Numbers
    shares: Singles
    lengths: Singles


@inner(error_model="numpy", fastmath={"contract", "nsz"}, _nrt=False)
def raise_row(
    ground: Singles,
    first: Singles,
    second: Singles,
    share: np.float32,
    inverse: np.float32,
    drop: np.float32,
    slopes: Singles,
    distances: Singles,
) -> None:
    """Take one crossing into account for every cell of a row; distances: if there is room."""
    keep = distances.size > 0
    for col in range(ground.size):
        z = first[col] + share * (second[col] - first[col])
        slope = (z - ground[col]) * inverse - drop
        if keep and slope > slopes[col]:
            distances[col] = np.float32(1.0) / inverse
        slopes[col] = slope if slope > slopes[col] else slopes[col]


Step = tuple[int, int, np.float32, np.float32, np.float32]


@inner(error_model="numpy", _nrt=False)
def _step(crossings: Crossings, item: int, cols: int, bend: float) -> Step:
    """A crossing for `_raised`: from a cell of the flat raster to the two there, and its figures.

    The share of the second one, the inverse of the length, and the drop by then.
    """
    cells, shares, lengths = crossings
    first = cells[item, 0] * cols + cells[item, 1]
    second = cells[item, 2] * cols + cells[item, 3]
    length = lengths[item]
    return first, second, shares[item], np.float32(1.0) / length, np.float32(bend) * length


@inner(error_model="numpy", fastmath={"contract", "nsz"}, _nrt=False)
def _raised(
    flat: Singles, cell: int, step: Step, ground: np.float32, best: np.float32, away: np.float32
) -> tuple[np.float32, np.float32]:
    """The slope seen from a cell, and how far off that is, with one crossing more."""
    first, second, share, inverse, drop = step
    low, high = pick(flat, cell + first), pick(flat, cell + second)
    slope = (low + share * (high - low) - ground) * inverse - drop
    is_more = slope > best
    return slope if is_more else best, np.float32(1.0) / inverse if is_more else away


@inner(error_model="numpy", fastmath={"contract", "nsz"}, _nrt=False)
def raise_together(
    flat: Singles,
    first: int,
    end: int,
    steps: tuple[Step, Step, Step, Step],
    slopes: Singles,
    distances: Singles,
) -> None:
    """Take some crossings, one after another, into account for the cells first..end-1.

    All arrays are flat rasters; distances: if there is room.
    """
    one, two, three, four = steps
    if distances.size == 0:
        for cell in range(first, end):
            ground, best = pick(flat, cell), take(slopes, cell)
            best, _ = _raised(flat, cell, one, ground, best, best)
            best, _ = _raised(flat, cell, two, ground, best, best)
            best, _ = _raised(flat, cell, three, ground, best, best)
            best, _ = _raised(flat, cell, four, ground, best, best)
            put(slopes, cell, best)
        return
    for cell in range(first, end):
        ground, best, away = pick(flat, cell), take(slopes, cell), take(distances, cell)
        best, away = _raised(flat, cell, one, ground, best, away)
        best, away = _raised(flat, cell, two, ground, best, away)
        best, away = _raised(flat, cell, three, ground, best, away)
        best, away = _raised(flat, cell, four, ground, best, away)
        put(slopes, cell, best)
        put(distances, cell, away)


@inner(error_model="numpy", fastmath={"contract", "nsz"}, _nrt=False)
def to_degrees(ground: Singles, slopes: Singles, scale: np.float32) -> None:
    """Slopes to altitudes in degrees, NaN where there is neither eye nor horizon.

    atan by a polynomial in s², fitted at Chebyshev nodes; off by less than 2e-7 radians.
    """
    for col in range(slopes.size):
        s = slopes[col] * scale
        size = abs(s)
        steep = size > np.float32(1.0)
        x = np.float32(1.0) / size if steep else size
        y = x * x
        p = np.float32(0.02416618913412094) + y * np.float32(-0.004668773151934147)
        p = np.float32(-0.0593671016395092) + y * p
        p = np.float32(0.09906096756458282) + y * p
        p = np.float32(-0.14016585052013397) + y * p
        p = np.float32(0.19969235360622406) + y * p
        p = np.float32(-0.33331960439682007) + y * p
        p = x * (np.float32(0.9999998807907104) + y * p)
        angle = np.float32(math.pi / 2) - p if steep else p
        angle = angle if s >= np.float32(0.0) else -angle
        known = (slopes[col] > NOTHING) & (ground[col] == ground[col])
        slopes[col] = angle * np.float32(180.0 / math.pi) if known else np.float32(np.nan)


@inner(error_model="numpy", _nrt=False)
def to_metres(slopes: Singles, distances: Singles, line_m: np.float32) -> None:
    """Distances in lines to metres, NaN where there is no horizon."""
    for col in range(distances.size):
        known = slopes[col] == slopes[col]
        distances[col] = distances[col] * line_m if known else np.float32(np.nan)


@inner(error_model="numpy", _nrt=False)
def raise_to_sea(
    ground: Singles, floor: np.float32, bend: np.float32, slopes: Singles, distances: Singles
) -> None:
    """Raise slopes to that of the horizon of the lowest surface that can be; see `sight.beyond`."""
    for col in range(slopes.size):
        over = max(ground[col] - floor, np.float32(0.0))
        away = max(np.sqrt(over / bend), np.float32(1.0))
        sea = -over / away - bend * away
        lower = (slopes[col] > NOTHING) & (slopes[col] < sea)
        slopes[col] = sea if lower else slopes[col]
        if lower and distances.size > 0:
            distances[col] = away


@inner(error_model="numpy", _nrt=False)
def raise_part(
    heights: Singles,
    row: int,
    crossing: Crossing,
    west: int,
    east: int,
    bend: float,
    slopes: Singles,
    distances: Singles,
) -> None:
    """Take one crossing into account for the cells west..east-1 of a row."""
    if west >= east:
        return
    row_1, col_1, row_2, col_2, share, length = crossing
    inverse, drop = np.float32(1.0) / length, np.float32(bend) * length
    ground, best = heights[row, west:east], slopes[west:east]
    first = heights[row_1, west + col_1 : east + col_1]
    second = heights[row_2, west + col_2 : east + col_2]
    far = distances[row, west:east] if distances.size > 0 else best[:0]
    raise_row(ground, first, second, share, inverse, drop, best, far)


@inner(error_model="numpy", _nrt=False)
def raise_by_one(
    heights: Singles,
    row: int,
    crossings: Crossings,
    item: int,
    columns: tuple[int, int],
    done: tuple[int, int],
    bend: float,
    slopes: Singles,
    distances: Singles,
) -> None:
    """Take one crossing into account for the cells of a row but those that have been done.

    columns, done: the first, and that after the last; none are done where these are one.
    """
    rows, cols = heights.shape
    cells, share, length = crossings.cells, crossings.shares[item], crossings.lengths[item]
    row_1, col_1 = row + cells[item, 0], cells[item, 1]
    row_2, col_2 = row + cells[item, 2], cells[item, 3]
    if not 0 <= row_1 < rows:
        return
    if not 0 <= row_2 < rows:  # the ground goes on level to the edge of the cells
        if share > 0.5:
            return
        row_2, col_2 = row_1, col_1
    west, east = max(columns[0], -col_1), min(columns[1], cols - col_1)
    low, high = max(west, -col_2), min(east, cols - col_2)
    crossing = Crossing(row_1, col_1, row_2, col_2, share, length)
    stop, onward = done if done[0] < done[1] else (high, high)
    raise_part(heights, row, crossing, low, stop, bend, slopes, distances)
    raise_part(heights, row, crossing, onward, high, bend, slopes, distances)
    if share <= 0.5 and west < east and (low > west or high < east):
        low, high = (west, min(low, east)) if low > west else (max(high, west), east)
        crossing = Crossing(row_1, col_1, row_1, col_1, share, length)
        raise_part(heights, row, crossing, low, high, bend, slopes, distances)


@inner(error_model="numpy", _nrt=False)
def on_raster(
    cells: Numbers, item: int, row: int, shape: tuple[int, int], columns: tuple[int, int]
) -> tuple[int, int]:
    """The columns of a row from whose cells some crossings all lie between cells of the raster."""
    first, end = columns
    for each in range(item, item + TOGETHER):
        for cell in (0, 2):
            if not 0 <= row + cells[each, cell] < shape[0]:
                return first, first
            first = max(first, -cells[each, cell + 1])
            end = min(end, shape[1] - cells[each, cell + 1])
    return first, end


@njit(cache=True, nogil=True, error_model="numpy")
def near_horizon(
    first: int,
    end: int,
    heights: Singles,
    columns: tuple[int, int],
    crossings: Crossings,
    bend: float,
    slopes: Singles,
    distances: Singles,
    line_m: float,
    floor: float,
) -> None:
    """Raise the slopes of far ground to those of near ground, and turn them into degrees.

    Distances in lines, if there is room for them, into metres. first, end: rows. columns: the
    first, and that after the last. line_m: length of a line, floor: height of the lowest ground
    that can be, metres.
    """
    count, cols = crossings.shares.size, heights.shape[1]
    left, right = columns
    flat, flat_slopes, flat_distances = heights.ravel(), slopes.ravel(), distances.ravel()
    for row in range(first, end):
        best, start = slopes[row], row * cols
        for col in range(left, right):
            if math.isnan(best[col]):
                best[col] = NOTHING
        for item in range(0, count, TOGETHER):
            done = left, left
            if item + TOGETHER <= count:
                done = on_raster(crossings.cells, item, row, heights.shape, columns)
            if done[0] < done[1]:
                steps = (
                    _step(crossings, item, cols, bend),
                    _step(crossings, item + 1, cols, bend),
                    _step(crossings, item + 2, cols, bend),
                    _step(crossings, item + 3, cols, bend),
                )
                begin, stop = start + done[0], start + done[1]
                raise_together(flat, begin, stop, steps, flat_slopes, flat_distances)
            for each in range(item, min(item + TOGETHER, count)):
                raise_by_one(heights, row, crossings, each, columns, done, bend, best, distances)
        ground, best = heights[row, left:right], best[left:right]
        far = distances[row, left:right] if distances.size > 0 else best[:0]
        raise_to_sea(ground, np.float32(floor), np.float32(bend), best, far)
        to_degrees(ground, best, np.float32(1.0 / line_m))
        to_metres(best, far, np.float32(line_m))
