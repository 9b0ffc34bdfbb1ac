"""Water that a raster shows by lying level: lakes, reservoirs and the sea."""

from __future__ import annotations

from typing import Final

import numpy as np
from scipy import ndimage

from terrain.arrays import Flags
from terrain.errors import TerrainError
from terrain.ground.dem import Dem
from terrain.ground.raster.warp import as_warped

LEAST_WATER_M2: Final = 50_000.0
"""Least area taken for water, square metres: five hectares."""

_BLOCK: Final = np.ones((3, 3), dtype=bool)


def level_water(dem: Dem, *, least_m2: float = LEAST_WATER_M2) -> Flags:
    """Where the ground as delivered lies exactly level over a large area.

    Parameters
    ----------
    dem : Dem
        The ground.
    least_m2 : float, optional
        Area of each such place, square metres.

    Returns
    -------
    (rows, cols) bool array
        On the grid of `dem`.

    Raises
    ------
    TerrainError
        For an area that is not above 0.

    Notes
    -----
    Makers of rasters lay lakes and the sea level, and no ground is so to the last decimal; but a
    raster in whole metres has level ground too, so there ask for a larger area, and look at the
    result. A strip less than three cells wide is not found.

    Examples
    --------
    >>> from affine import Affine
    >>> from terrain.ground.geodesy import local_transverse_mercator
    >>> from terrain.ground.grid import Grid
    >>> placing = Affine(50.0, 0.0, 0.0, 0.0, -50.0, 0.0)
    >>> grid = Grid(crs=local_transverse_mercator(-24, 54), transform=placing, shape=(5, 6))
    >>> ground = np.arange(30.0).reshape(5, 6)
    >>> ground[1:4, 1:5] = 7.25
    >>> int(level_water(Dem(ground, grid), least_m2=10_000.0).sum())
    12
    """
    if not 0.0 < least_m2 < np.inf:
        raise TerrainError(f"{least_m2} square metres are no area for water: give more than 0")
    ground = dem.as_delivered
    heights = ground.heights_m
    highest = ndimage.maximum_filter(np.where(np.isnan(heights), np.inf, heights), size=3)
    lowest = ndimage.minimum_filter(np.where(np.isnan(heights), -np.inf, heights), size=3)
    # a level cell with level neighbours all about; with those neighbours it is the whole of it
    level = ndimage.binary_dilation(highest == lowest, _BLOCK)
    areas, count = ndimage.label(level, _BLOCK)
    width_m, depth_m = ground.grid.cell_sizes_m()
    cell_m2 = np.broadcast_to((width_m * depth_m)[:, np.newaxis], ground.shape)
    area_m2 = ndimage.sum_labels(cell_m2, areas, np.arange(count + 1))
    large = np.append(False, np.asarray(area_m2)[1:] >= least_m2)
    return np.asarray(as_warped(large[areas].astype(np.int32), dem) == 1)
