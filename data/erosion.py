"""The weather of the invented upland: rivers that cut, slopes that creep and slump.

Stream-power incision is solved implicitly from the sea upwards (Braun and Willett 2013,
Geomorphology 180-181, 170-179), here with the water shared among all lower neighbours so
that valleys do not follow the eight directions of the grid.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import richdem
from numba import njit
from numpy.typing import NDArray
from scipy.ndimage import convolve, distance_transform_edt, gaussian_filter, maximum_filter

Field = NDArray[np.float64]
Mask = NDArray[np.bool_]

ROW_STEPS = np.array([-1, -1, -1, 0, 0, 1, 1, 1])
COL_STEPS = np.array([-1, 0, 1, -1, 1, -1, 0, 1])
SPANS = np.hypot(ROW_STEPS, COL_STEPS)
ROUND_LAPLACIAN = np.array([[1.0, 4.0, 1.0], [4.0, -20.0, 4.0], [1.0, 4.0, 1.0]]) / 6.0
LOWEST_LAND_M = 0.25


@dataclass(frozen=True, kw_only=True)
class Climate:
    """How fast the ground rises and wears in one step of model time.

    `uplift_m` is the rise of each cell; `steepest` the tangent of the slope its rock can hold;
    `cutting` the stream-power coefficient, m^(1 - 2 * area_power) a step; `creep_m` the distance
    over which loose ground spreads in a step.
    """

    uplift_m: Field
    steepest: Field
    cutting: float
    creep_m: float
    area_power: float = 0.45


def without_hollows(height_m: Field, *, by: str = "filling", tilt: bool = False) -> Field:
    """Give every hollow a way out, by filling it or by cutting its rim ("breaching").

    With `tilt`, each filled flat keeps an imperceptible fall towards its outlet.
    """
    raster = richdem.rdarray(height_m.copy(), no_data=-9999.0)
    raster.geotransform = (0.0, 1.0, 0.0, 0.0, 0.0, -1.0)
    if by == "breaching":
        richdem.BreachDepressions(raster, in_place=True)
    else:
        richdem.FillDepressions(raster, epsilon=tilt, in_place=True)
    return np.array(raster, dtype=np.float64)


def wear(height_m: Field, sea: Mask, climate: Climate, *, cell_m: float, steps: int) -> Field:
    """Let the ground rise and wear for a number of steps; the sea stays at zero."""
    ground = height_m
    spread = 0.5 * (climate.creep_m / cell_m) ** 2
    for _ in range(steps):
        ground = np.where(sea, 0.0, ground + climate.uplift_m)
        routed = without_hollows(ground, tilt=True)
        order = np.argsort(routed, axis=None, kind="stable")
        basin_m2, share = drained(routed, order, sea, cell_m)
        pull = climate.cutting * basin_m2**climate.area_power / cell_m
        ground = incised(ground, pull, share, order)
        ground = ground + spread * convolve(ground, ROUND_LAPLACIAN, mode="nearest")
        ground = slumped(ground, climate.steepest, cell_m)
        ground = np.where(sea, 0.0, np.maximum(ground, LOWEST_LAND_M))
    return ground


def scoured(height_m: Field, sea: Mask, *, cell_m: float, least_basin_m2: float) -> Field:
    """Widen the valleys of the larger streams to troughs, as ice would; nothing is raised.

    A floor rises gently away from its stream to a half-width that grows with the square root of
    the stream's basin, then steepens into the valley's walls.
    """
    routed = without_hollows(height_m, tilt=True)
    order = np.argsort(routed, axis=None, kind="stable")
    basin_m2, _ = drained(routed, order, sea, cell_m)
    stream = (basin_m2 >= least_basin_m2) & ~sea
    away, nearest = distance_transform_edt(~stream, return_indices=True)
    away = away * cell_m
    bed_m = routed[tuple(nearest)]
    widest_m2 = maximum_filter(basin_m2 * stream, 5)[tuple(nearest)]
    half_m = 0.07 * np.sqrt(gaussian_filter(widest_m2, 4.0))
    beyond = np.maximum(away - half_m, 0.0)
    trough = bed_m + 0.012 * away + 160.0 * (beyond / 350.0) ** 2
    trough = np.where(away < 1200.0, trough, 5000.0)
    blend = np.clip(0.5 + 0.5 * (trough - height_m) / 30.0, 0.0, 1.0)
    carved = trough + (height_m - trough) * blend - 30.0 * blend * (1.0 - blend)
    return np.where(sea | stream, height_m, np.minimum(height_m, np.maximum(carved, bed_m)))


def slumped(height_m: Field, steepest: Field, cell_m: float) -> Field:
    """Soften what is steeper than its rock can hold, alike in every direction."""
    north, east = np.gradient(height_m, cell_m)
    excess = np.clip((np.hypot(north, east) - steepest) / 0.25, 0.0, 1.0)
    return height_m + excess * (gaussian_filter(height_m, 0.8) - height_m)


@njit
def drained(
    routed: Field, order: NDArray[np.int64], sea: Mask, cell_m: float
) -> tuple[Field, NDArray[np.float32]]:  # pragma: no cover
    """Send water from the highest cell to the lowest, shared by slope among lower neighbours.

    `routed` is the ground without hollows, `order` its cells from lowest to highest. Returns the
    basin of each cell in m2 and the share of its water each of its eight neighbours takes.
    """
    rows, cols = routed.shape
    basin_m2 = np.full((rows, cols), cell_m * cell_m)
    share = np.zeros((rows, cols, 8), dtype=np.float32)
    for index in order[::-1]:
        row, col = index // cols, index % cols
        if sea[row, col]:
            continue
        total = 0.0
        for k in range(8):
            r, c = row + ROW_STEPS[k], col + COL_STEPS[k]
            if 0 <= r < rows and 0 <= c < cols and routed[r, c] < routed[row, col]:
                fall = (routed[row, col] - routed[r, c]) / SPANS[k]
                share[row, col, k] = fall**1.5 / SPANS[k]
                total += share[row, col, k]
        for k in range(8):
            if share[row, col, k] > 0.0:
                share[row, col, k] /= total
                basin_m2[row + ROW_STEPS[k], col + COL_STEPS[k]] += (
                    basin_m2[row, col] * share[row, col, k]
                )
    return basin_m2, share


@njit
def incised(
    ground: Field, pull: Field, share: NDArray[np.float32], order: NDArray[np.int64]
) -> Field:  # pragma: no cover
    """Cut the ground down towards its lower neighbours, one implicit step from the sea upwards.

    With pull p and shares s over spans d, each height h becomes
    (h + sum(p s / d * lower)) / (1 + sum(p s / d)), the lower neighbours already cut.
    """
    cols = ground.shape[1]
    cut = ground.copy()
    for index in order:
        row, col = index // cols, index % cols
        above, below = ground[row, col], 1.0
        for k in range(8):
            weight = pull[row, col] * share[row, col, k] / SPANS[k]
            if weight > 0.0:
                above += weight * cut[row + ROW_STEPS[k], col + COL_STEPS[k]]
                below += weight
        cut[row, col] = above / below
    return cut
