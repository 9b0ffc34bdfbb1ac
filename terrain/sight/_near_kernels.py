"""Near ground in the horizon of every cell, crossing by crossing.

The rays of all cells in one direction are alike, so a crossing lies at the same steps from every
cell: one pass over a row for each crossing, in the picture of `_horizon_kernels`.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from terrain.arrays import Numbers, Singles
from terrain.compiling import njit

NOTHING = np.float32(-1e30)  # slope of a horizon that nothing known makes


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


@njit(cache=True, nogil=True, error_model="numpy", fastmath={"contract", "nsz"}, _nrt=False)
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


@njit(cache=True, nogil=True, error_model="numpy", fastmath={"contract", "nsz"}, _nrt=False)
def to_degrees(ground: Singles, slopes: Singles, scale: np.float32) -> None:
    """Slopes to altitudes in degrees, NaN where there is neither eye nor horizon.

    atan by a polynomial in s², fitted at Chebyshev nodes; off by less than 2e-7 radians.
    """
    right = np.float32(math.pi / 2)
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
        angle = right - p if steep else p
        angle = angle if s >= np.float32(0.0) else -angle
        known = (slopes[col] > NOTHING) & (ground[col] == ground[col])
        slopes[col] = angle * np.float32(180.0 / math.pi) if known else np.float32(np.nan)


@njit(cache=True, nogil=True, error_model="numpy", _nrt=False)
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


@njit(cache=True, nogil=True, error_model="numpy", _nrt=False)
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


@njit(cache=True, nogil=True, error_model="numpy", _nrt=False)
def near_horizon(
    first: int,
    end: int,
    heights: Singles,
    columns: tuple[int, int],
    crossings: Crossings,
    bend: float,
    slopes: Singles,
    distances: Singles,
    scale: float,
    floor: float,
) -> None:
    """Raise the slopes of far ground to those of near ground, and turn them into degrees.

    first, end: rows. columns: the first, and that after the last. scale: lines a length of one
    cell. floor: height of the lowest ground that can be, metres.
    """
    cells, shares, lengths = crossings
    rows, cols = heights.shape
    left, right = columns
    for row in range(first, end):
        best = slopes[row]
        for col in range(left, right):
            if math.isnan(best[col]):
                best[col] = NOTHING
        for item in range(shares.size):
            row_1, col_1 = row + cells[item, 0], cells[item, 1]
            row_2, col_2 = row + cells[item, 2], cells[item, 3]
            share = shares[item]
            if not 0 <= row_1 < rows:
                continue
            if not 0 <= row_2 < rows:  # the ground goes on level to the edge of the cells
                if share > 0.5:
                    continue
                row_2, col_2 = row_1, col_1
            west, east = max(left, -col_1), min(right, cols - col_1)
            low, high = max(west, -col_2), min(east, cols - col_2)
            crossing = Crossing(row_1, col_1, row_2, col_2, share, lengths[item])
            raise_part(heights, row, crossing, low, high, bend, best, distances)
            if share <= 0.5 and west < east and (low > west or high < east):
                low, high = (west, min(low, east)) if low > west else (max(high, west), east)
                crossing = Crossing(row_1, col_1, row_1, col_1, share, lengths[item])
                raise_part(heights, row, crossing, low, high, bend, best, distances)
        ground, best = heights[row, left:right], best[left:right]
        far = distances[row, left:right] if distances.size > 0 else best[:0]
        raise_to_sea(ground, np.float32(floor), np.float32(bend), best, far)
        to_degrees(ground, best, np.float32(scale))
