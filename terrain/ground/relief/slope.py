"""How steep the ground is."""

from __future__ import annotations

from typing import Final

import numpy as np
import richdem
from numpy.typing import NDArray

from terrain.ground.dem import Dem
from terrain.ground.relief.quiet import without_progress_bars

__all__ = ["slope_at", "slope_deg"]

_NO_DATA: Final = -9999.0


def slope_deg(dem: Dem) -> NDArray[np.float32]:
    """Slope of every cell, degrees from level, (rows, cols); NaN where the ground is unknown.

    By richdem, with the weights of Horn (1981) over the eight neighbours. At the raster's edge
    the ground is carried on as it falls; an unknown neighbour counts as level with the cell, so
    that beside unknown ground the slope is too small rather than too great.
    """
    return _slopes(dem.heights_m, dem.cell_m)


def slope_at(dem: Dem, lon_deg: float, lat_deg: float) -> float:
    """Slope of the cell that holds a place, degrees; NoGround off the raster."""
    row, col = dem.grid.cell_of(lon_deg, lat_deg)
    top, left = max(row - 1, 0), max(col - 1, 0)
    near = dem.heights_m[top : row + 2, left : col + 2]
    return float(_slopes(near, dem.cell_m)[row - top, col - left])


def _slopes(heights_m: NDArray[np.float32], cell_m: float) -> NDArray[np.float32]:
    heights = _carried_on(heights_m)
    known = np.where(np.isnan(heights), np.float32(_NO_DATA), heights)
    ground = richdem.rdarray(
        known, no_data=_NO_DATA, geotransform=(0.0, cell_m, 0.0, 0.0, 0.0, -cell_m)
    )
    with without_progress_bars():
        slope = richdem.TerrainAttribute(ground, attrib="slope_degrees")
    inner = np.array(slope, dtype=np.float32)[1:-1, 1:-1]
    return np.where(np.isnan(heights_m), np.float32(np.nan), inner)


def _carried_on(heights_m: NDArray[np.float32]) -> NDArray[np.float32]:
    """The heights with a cell more on every side, on the line through the two outermost."""
    if min(heights_m.shape) < 2:
        return np.pad(heights_m, 1, mode="edge")
    return np.pad(heights_m, 1, mode="reflect", reflect_type="odd")
