"""What a camera sees of the ground, and how far the rest would have to rise."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from terrain.arrays import Flags, Singles
from terrain.constants import TERRESTRIAL_REFRACTION
from terrain.cores import share_out
from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.sight._octant_kernels import Answer
from terrain.sight._viewshed_kernels import PARTS, Fan, room_for, sweep_part
from terrain.sight.bend import bend_per_m
from terrain.sight.rays import eye_at

RAYS_PER_CELL: Final = 3.0
"""Rays a cell at the far end of an octant: 3 puts the visible cells of real ground within 0.2 %
(intersection over union) of a walk to every cell; 1 takes two thirds of the time for 0.8 %."""

EYE_STEP: Final = 1.0 / 4096.0
"""The camera is placed to this part of a cell, so that sums of rows and columns are exact."""


def viewshed(
    dem: Dem,
    spot: Spot,
    *,
    target_m: float = 0.0,
    refraction: float = TERRESTRIAL_REFRACTION,
    reach_m: float | None = None,
) -> Flags:
    """Which cells a camera sees.

    Rays fan out from the camera and keep the steepest slope so far, over every line of cell
    centres that they cross; a cell is decided between the two rays that enclose it.

    Parameters
    ----------
    dem : Dem
        The ground.
    spot : Spot
        Where the camera stands, and its height over the ground.
    target_m : float, optional
        Height above the ground of the thing to be seen at the centre of each cell, metres.
    refraction : float, optional
        Coefficient k of terrestrial refraction, dimensionless; 0.13 unless given.
    reach_m : float, optional
        Cells farther off than this, metres, count as not seen; none unless given.

    Returns
    -------
    (rows, cols) bool array
        Unknown ground hides nothing and is itself not seen; cells on the way to which there is
        some, which may hide them after all, are flagged by `known_between`.

    Raises
    ------
    NoGround
        Where the spot has no known ground.

    Examples
    --------
    >>> from affine import Affine
    >>> from terrain.ground.geodesy import local_transverse_mercator
    >>> from terrain.ground.grid import Grid
    >>> crs, shape = local_transverse_mercator(-24.0, 54.4), (1, 7)
    >>> grid = Grid(crs=crs, transform=Affine(50, 0, -25, 0, -50, 25), shape=shape)
    >>> dem = Dem(np.array([[0, 0, 0, 30, 0, 0, 90]]), grid)
    >>> viewshed(dem, Spot(lon_deg=-24.0, lat_deg=54.4))
    array([[ True,  True,  True,  True, False, False,  True]])
    """
    seen = np.zeros(dem.shape, dtype=np.bool_)
    marks = seen.reshape(-1).view(np.uint8)
    answer = Answer(np.float32(target_m), seen=marks, rise=np.empty(0, dtype=np.float32))
    _sweep(dem, spot, answer, refraction, reach_m)
    row, col = dem.grid.cell_of(spot.lon_deg, spot.lat_deg)
    seen[row, col] = seen[row, col] or _stands_in_middle(dem, spot)
    return seen


def margin(
    dem: Dem,
    spot: Spot,
    *,
    refraction: float = TERRESTRIAL_REFRACTION,
    reach_m: float | None = None,
) -> Singles:
    """How far a thing must rise above the ground of each cell to be seen, metres (rows, cols).

    0 where the ground itself is seen; NaN where it is unknown or beyond `reach_m`. Where unknown
    ground lies on the way, as `known_between` tells, it may have to rise more. A cell is in
    the viewshed of targets of a height exactly where its margin is not above that height.

    >>> from affine import Affine
    >>> from terrain.ground.geodesy import local_transverse_mercator
    >>> from terrain.ground.grid import Grid
    >>> crs, shape = local_transverse_mercator(-24.0, 54.4), (1, 7)
    >>> grid = Grid(crs=crs, transform=Affine(50, 0, -25, 0, -50, 25), shape=shape)
    >>> dem = Dem(np.array([[0, 0, 0, 30, 0, 0, 90]]), grid)
    >>> margin(dem, Spot(lon_deg=-24.0, lat_deg=54.4)).round(1)
    array([[ 0. ,  0. ,  0. ,  0. , 39.4, 48.9,  0. ]], dtype=float32)
    """
    rise = np.full(dem.shape, np.nan, dtype=np.float32)
    no_marks = np.empty(0, dtype=np.uint8)
    answer = Answer(np.float32(0.0), seen=no_marks, rise=rise.reshape(-1))
    _sweep(dem, spot, answer, refraction, reach_m)
    row, col = dem.grid.cell_of(spot.lon_deg, spot.lat_deg)
    if _stands_in_middle(dem, spot):
        rise[row, col] = 0.0
    return rise


def _sweep(dem: Dem, spot: Spot, answer: Answer, refraction: float, reach_m: float | None) -> None:
    eye = eye_at(dem, spot)
    row, col = _rounded(eye.row), _rounded(eye.col)
    bend = bend_per_m(refraction) * dem.cell_m**2
    reach = math.inf if reach_m is None else reach_m / dem.cell_m
    fan = Fan(row, col, eye.height_m, bend, float(reach), RAYS_PER_CELL)

    def sweep(first: int, end: int) -> None:
        room = room_for(dem.shape, RAYS_PER_CELL)
        for part in range(first, end):
            sweep_part(part, dem.heights_m, fan, answer, room)

    share_out(PARTS, sweep)


def _rounded(place: float) -> float:
    return round(place / EYE_STEP) * EYE_STEP


def _stands_in_middle(dem: Dem, spot: Spot) -> bool:
    row, col = dem.grid.rowcol(spot.lon_deg, spot.lat_deg)
    return _rounded(float(row)) % 1.0 == 0.0 and _rounded(float(col)) % 1.0 == 0.0
