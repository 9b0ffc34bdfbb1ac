"""One look from each of many places: what a whole tile needs to know about one direction."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from terrain.constants import EYE_HEIGHT_M, TERRESTRIAL_REFRACTION
from terrain.cores import share_out
from terrain.ground.dem import Dem
from terrain.sight._toward_kernels import parted_rays, walk_rays
from terrain.sight.eye import bend_per_m, kernel_heights
from terrain.sight.skyline import FINE_CELLS

__all__ = ["altitudes_from", "altitudes_toward", "before_and_behind"]

Floats = NDArray[np.float64]


def altitudes_toward(
    dem: Dem,
    row: ArrayLike,
    col: ArrayLike,
    grid_azimuth_deg: ArrayLike,
    *,
    eye_m: float = EYE_HEIGHT_M,
    refraction: float = TERRESTRIAL_REFRACTION,
    reach_m: float = np.inf,
) -> tuple[Floats, Floats]:
    """Altitude (degrees) and distance (metres) of the skyline in one direction from each cell.

    row, col: (n,) whole rows and columns of the eyes' cells. grid_azimuth_deg: (n,) or one, from
    the grid's north (`Grid.grid_azimuth_deg`). eye_m: height above the ground. reach_m: ground
    farther off does not count. Both results are (n,), NaN where no ground is known in that
    direction or at the cell.
    """
    eye_height_m = dem.heights_m[np.atleast_1d(row), np.atleast_1d(col)].astype(float) + eye_m
    return altitudes_from(
        dem, row, col, grid_azimuth_deg, eye_height_m, refraction=refraction, reach_m=reach_m
    )


def altitudes_from(
    dem: Dem,
    row: ArrayLike,
    col: ArrayLike,
    grid_azimuth_deg: ArrayLike,
    eye_height_m: ArrayLike,
    *,
    refraction: float = TERRESTRIAL_REFRACTION,
    reach_m: float = np.inf,
) -> tuple[Floats, Floats]:
    """As `altitudes_toward`, from eyes at any height anywhere between the cells.

    row, col: (n,) fractional. eye_height_m: (n,), above the same zero as the ground.
    """
    rays = _rays(dem, row, col, grid_azimuth_deg, eye_height_m)
    heights, bend = kernel_heights(dem), bend_per_m(refraction)
    altitude, distance_m = np.full((2, rays[0].size, 1), np.nan)
    reach = np.array([reach_m], dtype=float)
    share_out(
        rays[0].size,
        lambda first, end: walk_rays(
            first, end, heights, *rays, bend, FINE_CELLS * dem.cell_m, reach, altitude, distance_m
        ),
    )
    return np.degrees(altitude[:, 0]), distance_m[:, 0]


def before_and_behind(
    dem: Dem,
    own_ground: NDArray[np.bool_],
    row: ArrayLike,
    col: ArrayLike,
    grid_azimuth_deg: ArrayLike,
    target_m: ArrayLike,
    *,
    eye_m: float = EYE_HEIGHT_M,
    refraction: float = TERRESTRIAL_REFRACTION,
) -> tuple[Floats, Floats]:
    """Altitudes (degrees) of the highest ground before a hill and of the highest behind it, (n,).

    own_ground: (rows, cols), the hill's own ground, which counts for neither. target_m: (n,)
    distance to its summit; the other arguments as in `altitudes_toward`. Cell by cell, so a
    measure to rank by rather than a line of sight; -90 where there is no such ground.
    """
    eye_height_m = dem.heights_m[np.atleast_1d(row), np.atleast_1d(col)].astype(float) + eye_m
    rays = _rays(dem, row, col, grid_azimuth_deg, eye_height_m)
    target = np.broadcast_to(np.asarray(target_m, dtype=float), rays[0].shape).copy()
    heights, bend, own = kernel_heights(dem), bend_per_m(refraction), own_ground.copy()
    before, behind = np.empty((2, rays[0].size))
    share_out(
        rays[0].size,
        lambda first, end: parted_rays(
            first, end, heights, own, *rays, bend, target, before, behind
        ),
    )
    return np.degrees(before), np.degrees(behind)


def _rays(
    dem: Dem,
    row: ArrayLike,
    col: ArrayLike,
    grid_azimuth_deg: ArrayLike,
    eye_height_m: ArrayLike,
) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """Rows, columns, steps a metre, and heights of the eyes, as the kernels take them."""
    at_row, at_col, azimuth, eye = (
        np.ascontiguousarray(part, dtype=float)
        for part in np.broadcast_arrays(
            np.atleast_1d(row), np.atleast_1d(col), grid_azimuth_deg, eye_height_m
        )
    )
    turned = np.radians(azimuth)
    return at_row, at_col, -np.cos(turned) / dem.cell_m, np.sin(turned) / dem.cell_m, eye
