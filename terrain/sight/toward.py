"""One look from each of many places: what a whole tile needs to know about one direction."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from terrain.arrays import Flags, Floats
from terrain.constants import EYE_HEIGHT_M, TERRESTRIAL_REFRACTION
from terrain.cores import share_out
from terrain.ground.dem import Dem
from terrain.sight._kernels import parted_rays
from terrain.sight.eye import kernel_heights, rays_from
from terrain.sight.line import scan
from terrain.sight.skyline import FINE_CELLS

__all__ = ["altitudes_from", "altitudes_toward", "before_and_behind"]


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
    steps = _steps(dem, grid_azimuth_deg)
    rays, reach = rays_from(row, col, steps, eye_height_m, refraction), np.array([float(reach_m)])
    altitude, distance_m, _ = scan(dem, rays, reach, fine_m=FINE_CELLS * dem.cell_m)
    return np.degrees(altitude[:, 0]), distance_m[:, 0]


def before_and_behind(
    dem: Dem,
    own_ground: Flags,
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
    rays = rays_from(row, col, _steps(dem, grid_azimuth_deg), eye_height_m, refraction)
    target = np.broadcast_to(np.asarray(target_m, dtype=float), rays.row.shape).copy()
    heights, own = kernel_heights(dem), own_ground.copy()
    before, behind = np.empty((2, rays.row.size))
    share_out(
        rays.row.size,
        lambda first, end: parted_rays(first, end, heights, own, rays, target, before, behind),
    )
    return np.degrees(before), np.degrees(behind)


def _steps(dem: Dem, grid_azimuth_deg: ArrayLike) -> tuple[Floats, Floats]:
    """Rows and columns for each metre in directions from the grid's north."""
    turned = np.radians(np.asarray(grid_azimuth_deg, dtype=float))
    return -np.cos(turned) / dem.cell_m, np.sin(turned) / dem.cell_m
