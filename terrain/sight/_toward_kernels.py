"""One ray from each of many eyes; see `_kernels` for the geometry of a ray."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from terrain.compiling import njit
from terrain.sight._kernels import scan_ray

__all__ = ["parted_rays", "walk_rays"]

Floats = NDArray[np.float64]
Heights = NDArray[np.float32]


@njit(cache=True, nogil=True)
def walk_rays(
    first: int,
    end: int,
    heights: Heights,
    row: Floats,
    col: Floats,
    row_step: Floats,
    col_step: Floats,
    eye: Floats,
    bend: float,
    fine_m: float,
    reach_m: Floats,
    altitude: Floats,
    distance_m: Floats,
) -> None:
    """Altitude (radians) and distance of the highest ground along one ray from each eye.

    first, end: of the rays. reach_m: (1,). altitude, distance_m: (n, 1), NaN before, to be filled.
    """
    for ray in range(first, end):
        scan_ray(
            heights,
            row[ray],
            col[ray],
            row_step[ray],
            col_step[ray],
            eye[ray],
            bend,
            fine_m,
            reach_m,
            altitude[ray],
            distance_m[ray],
        )


@njit(cache=True, nogil=True)
def parted_rays(
    first: int,
    end: int,
    heights: Heights,
    own: NDArray[np.bool_],
    row: Floats,
    col: Floats,
    row_step: Floats,
    col_step: Floats,
    eye: Floats,
    bend: float,
    target_m: Floats,
    before: Floats,
    behind: Floats,
) -> None:
    """Altitudes (radians) of the highest ground before a hill and behind it, (n,) to be filled.

    The hill's own ground counts for neither; the ground is that of the nearest cell, one cell's
    length after another. first, end: of the rays. target_m: distance of the summit along each ray.
    """
    rows, cols = heights.shape
    for ray in range(first, end):
        cell_m = 1.0 / math.hypot(row_step[ray], col_step[ray])
        front, back = -math.inf, -math.inf
        at = cell_m
        while True:
            r = math.floor(row[ray] + at * row_step[ray] + 0.5)
            c = math.floor(col[ray] + at * col_step[ray] + 0.5)
            if r < 0 or c < 0 or r >= rows or c >= cols:
                break
            slope = (heights[r, c] - eye[ray]) / at - bend * at
            if not own[r, c] and not math.isnan(slope):
                if at < target_m[ray]:
                    front = max(front, slope)
                else:
                    back = max(back, slope)
            at += cell_m
        before[ray], behind[ray] = math.atan(front), math.atan(back)
