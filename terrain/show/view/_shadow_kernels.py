"""Where the sun reaches the air over the ground, and how much of a way through it.

A hill with the sun behind it shades the air before it, which is why it stands dark in a bright sky.
"""

from __future__ import annotations

import math

from terrain.arrays import Floats, Singles
from terrain.compiling import inner, njit


@njit(cache=True, nogil=True, error_model="numpy", _nrt=False)
def shadow_heights(
    heights: Singles, row_step: float, col_step: float, fall_m: float, shadow_m: Singles
) -> None:
    """Height above which the sun reaches the air over each cell, line by line away from it.

    row_step, col_step: from a cell toward the sun, one of them 1 or -1 and the other no longer.
    fall_m: how much lower its rays pass over the cell than at that step's end.
    """
    rows, cols = heights.shape
    by_row = abs(row_step) == 1.0
    lines, across = (rows, cols) if by_row else (cols, rows)
    aside = col_step if by_row else row_step
    onward = row_step if by_row else col_step
    for line in range(lines):
        at = line if onward < 0.0 else lines - 1 - line
        before = at + int(onward)
        for place in range(across):
            row, col = (at, place) if by_row else (place, at)
            height = heights[row, col]
            if math.isnan(height):
                height = -1e4
            if 0 <= before < lines:
                along = min(max(place + aside, 0.0), across - 1.0)
                low = min(int(along), across - 2)
                share = along - low
                if by_row:
                    first, second = shadow_m[before, low], shadow_m[before, low + 1]
                else:
                    first, second = shadow_m[low, before], shadow_m[low + 1, before]
                height = max(height, (1.0 - share) * first + share * second - fall_m)
            shadow_m[row, col] = height


@inner(error_model="numpy", _nrt=False)
def air_lit(distance: float, slope: float, far_m: float, over_m: Floats) -> float:
    """Share of a way from the eye on which the sun reaches the air; see `shadows_along`."""
    last = over_m.size - 1.0
    lit = from_m = 0.0
    before = -over_m[0]
    for part in range(1, over_m.size):
        to_m = far_m * (part / last) ** 2
        over = slope * to_m - over_m[part]
        if to_m >= distance:
            over = before + (over - before) * (distance - from_m) / (to_m - from_m)
            to_m = distance
        if over * before < 0.0:
            lit += (to_m - from_m) * max(over, before) / abs(over - before)
        elif over + before > 0.0:
            lit += to_m - from_m
        if to_m == distance:
            break
        before, from_m = over, to_m
    return lit / distance
