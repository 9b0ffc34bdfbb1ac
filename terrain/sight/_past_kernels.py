"""Lines past the tops of hills, cell by cell, and the ground that they meet behind them.

::

    eye o-----_____     ,-. rim                 0  the line over the rim, and one a little under
              -----____/# #\\-----_____   _0       it and over it: what each meets first behind
                      /  #  \\         -----_ 1    the hill's own ground (#) that goes on in view
"""

from __future__ import annotations

import math

from terrain.arrays import Floats, Labels, Numbers
from terrain.compiling import njit
from terrain.sight._kernels import Rays


@njit(cache=True, nogil=True, error_model="numpy", _nrt=False)
def past_rays(
    first: int,
    end: int,
    rays: Rays,
    owner: Labels,
    label: Labels,
    target_m: Floats,
    over: Floats,
    gap_cells: float,
    rims: Floats,
    met: Numbers,
) -> None:
    """Rims of the tops as slopes, and cells that lines over them meet, (rays,) and (rays, k).

    first, end: of the rays. owner: (rows, cols) whose the ground is; label, target_m: (rays,) the
    hill's, and how far off its summit is. over: (k,) rising, how much steeper than the rim each
    line is. gap_cells: what stands in view no farther behind the last of the top belongs to it.
    rims: the slopes of the summits, to be raised to those of the rims. met: row times columns plus
    column, -1 where a line meets nothing; the hill's own ground is met by no line under the rim.
    """
    rows, cols = rays.heights.shape
    for ray in range(first, end):
        row_step, col_step = rays.row_step[ray], rays.col_step[ray]
        cell_m = 1.0 / math.hypot(row_step, col_step)
        rim, on_top, last_m = rims[ray], True, target_m[ray]
        met[ray] = -1
        at = cell_m * math.floor(target_m[ray] / cell_m + 1.0)
        while met[ray, over.size - 1] < 0:
            row = math.floor(rays.row[ray] + at * row_step + 0.5)
            col = math.floor(rays.col[ray] + at * col_step + 0.5)
            if row < 0 or col < 0 or row >= rows or col >= cols:
                break
            slope = (rays.heights[row, col] - rays.eye[ray]) / at - rays.bend * at
            is_own = owner[row, col] == label[ray]
            on_top = on_top and at - last_m <= gap_cells * cell_m
            if on_top and is_own and slope >= rim:
                rim, last_m = slope, at
            elif not math.isnan(slope):
                on_top = on_top and slope < rim
                for line in range(over.size):
                    if slope < rim + over[line]:
                        break
                    if met[ray, line] < 0 and not (is_own and over[line] < 0.0):
                        met[ray, line] = row * cols + col
            at += cell_m
        rims[ray] = rim
