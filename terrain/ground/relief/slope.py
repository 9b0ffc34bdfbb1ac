"""How steep the ground is."""

from __future__ import annotations

from itertools import product
from typing import Final

import numpy as np

from terrain.arrays import Singles
from terrain.cores import share_out
from terrain.ground.dem import Dem

_NEIGHBOURS: Final = [way for way in product((-1, 0, 1), repeat=2) if any(way)]


def slope_deg(dem: Dem) -> Singles:
    """Slope of every cell, degrees from level, (rows, cols); NaN where the ground is unknown.

    With the weights of Horn (1981), Hill shading and the reflectance map, Proceedings of the IEEE
    69, over the eight neighbours. At the raster's edge the ground is carried on as it falls; an
    unknown neighbour counts as level with the cell, so that beside unknown ground the slope is too
    small rather than too great.
    """
    return _slopes(dem.heights_m, dem.cell_m)


def slope_at(dem: Dem, lon_deg: float, lat_deg: float) -> float:
    """Slope of the cell that holds a place, degrees; NoGround off the raster."""
    row, col = dem.grid.cell_of(lon_deg, lat_deg)
    top, left = max(row - 1, 0), max(col - 1, 0)
    near = dem.heights_m[top : row + 2, left : col + 2]
    return float(_slopes(near, dem.cell_m)[row - top, col - left])


def _slopes(heights_m: Singles, cell_m: float) -> Singles:
    ground = _carried_on(heights_m)
    rows = heights_m.shape[0]
    return np.concatenate(
        share_out(rows, lambda first, end: _inner_slopes(ground[first : end + 2], cell_m))
    )


def _inner_slopes(ground: Singles, cell_m: float) -> Singles:
    """Slopes of all cells but the outermost; neighbours beside a cell count twice."""
    centre = ground[1:-1, 1:-1]
    rows, cols = centre.shape
    southward, eastward = np.zeros((2, rows, cols), dtype=np.float32)
    for down, along in _NEIGHBOURS:
        rise = ground[1 + down :, 1 + along :][:rows, :cols] - centre
        np.copyto(rise, 0.0, where=np.isnan(rise))
        southward += np.float32(down * (2 - abs(along))) * rise
        eastward += np.float32(along * (2 - abs(down))) * rise
    slope = np.degrees(np.arctan(np.hypot(southward, eastward) / np.float32(8.0 * cell_m)))
    return np.where(np.isnan(centre), np.float32(np.nan), slope)


def _carried_on(heights_m: Singles) -> Singles:
    """The heights with a cell more on every side, on the line through the two outermost."""
    if min(heights_m.shape) < 2:
        return np.pad(heights_m, 1, mode="edge")
    return np.pad(heights_m, 1, mode="reflect", reflect_type="odd")
