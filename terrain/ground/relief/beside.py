"""The top that a place lies beside, as the cells of the raster have it.

A summit's place in a list is tens of metres beside the cell that is highest, so that who stands on
the place stands a little down the slope of that cell, with its top for a wall before the eyes::

        given   _.-o  the raster's own top, within two cells
            x.-'    '-._
         .-'            '-.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

import numpy as np

from terrain.ground.dem import Dem
from terrain.ground.grid import nearest_cells
from terrain.ground.places import Spot
from terrain.ground.relief.tops import cells_about, tops_of

_BESIDE_CELLS: Final = 2.0
_ABOUT_CELLS: Final = 20
_ON_IT_CELLS: Final = 0.1  # too little for its own cell to stand in the way


def top_beside(
    dem: Dem, spot: Spot, *, least_drop_m: float = 0.0, most_rise_m: float = math.inf
) -> Spot:
    """The spot moved onto the top that it lies beside, or as it is where it lies beside none.

    A top is a cell with no higher one about it, and a spot lies beside it within two cells. Of
    several, the highest.

    Parameters
    ----------
    dem : Dem
        The ground.
    spot : Spot
        A place on it, such as a summit's of a list of names.
    least_drop_m : float, optional
        Only onto a top that stands so high over its key col, or as much of that as lies within 20
        cells, metres; onto any unless given.
    most_rise_m : float, optional
        Only onto a top that stands no higher than this over the ground of the spot, metres.

    Returns
    -------
    Spot
        At the middle of the top's cell, with the same name and height of the eye.

    Raises
    ------
    NoGround
        Where the spot has no known ground.

    Examples
    --------
    >>> import numpy as np
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(50, 0, 5e5, 0, -50, 6e6), shape=(41, 41))
    >>> row, col = np.mgrid[-20:21, -20:21]
    >>> cone = terrain.Dem(300.0 - 8.0 * np.hypot(row, col), grid)
    >>> lon, lat = (float(part) for part in grid.lonlat(20.5, 19.4))
    >>> moved = terrain.top_beside(cone, terrain.Spot(lon_deg=lon, lat_deg=lat))
    >>> row, col = grid.rowcol(moved.lon_deg, moved.lat_deg)
    >>> round(float(row), 2), round(float(col), 2)
    (20.0, 20.0)
    """
    ground_m = dem.height_at(spot.lon_deg, spot.lat_deg)
    row, col = (float(part) for part in dem.grid.rowcol(spot.lon_deg, spot.lat_deg))
    middle = (int(part) for part in nearest_cells(row, col, dem.shape))
    rows, cols = (
        cells_about(at, _ABOUT_CELLS, count) for at, count in zip(middle, dem.shape, strict=True)
    )
    part = np.ascontiguousarray(dem.heights_m[rows, cols])
    tops = tops_of(part, *np.full((2, part.shape[0]), dem.cell_m))
    top_row, top_col = np.divmod(tops.cell, part.shape[1]) + np.array([[rows.start], [cols.start]])
    low_m = np.where(tops.is_bounded, tops.touch_height_m, tops.col_height_m)
    is_it = (
        (np.maximum(np.abs(top_row - row), np.abs(top_col - col)) <= _BESIDE_CELLS)
        & (tops.height_m - low_m >= least_drop_m)
        & (tops.height_m - ground_m <= most_rise_m)
    )
    if not is_it.any():
        return spot
    best = np.flatnonzero(is_it)[0]  # tops are numbered from the highest down
    if math.hypot(top_row[best] - row, top_col[best] - col) < _ON_IT_CELLS:
        return spot
    lon, lat = dem.grid.lonlat(top_row[best], top_col[best])
    return replace(spot, lon_deg=float(lon), lat_deg=float(lat))
