"""The ground on wider cells, for a first answer that is soon there."""

from __future__ import annotations

import numpy as np
from affine import Affine

from terrain.arrays import Singles
from terrain.ground.dem import Dem
from terrain.ground.grid import Grid


def coarser(dem: Dem, by: int) -> Dem:
    """The ground on cells of `by` times the side, each as high as those in it are on average.

    The last row and column may reach beyond the ground; unknown cells do not count, and where all
    are unknown the ground is. What lies beyond the ground is left out.

    >>> from pyproj import CRS
    >>> grid = Grid(crs=CRS(32628), transform=Affine(50, 0, 5e5, 0, -50, 6e6), shape=(2, 3))
    >>> coarser(Dem([[0, 10, 20], [0, 10, 30]], grid), 2).heights_m.tolist()
    [[5.0, 25.0]]
    """
    a, _, west, _, e, north = tuple(dem.grid.transform)[:6]
    heights = _means(dem.heights_m, by)
    transform = Affine(a * by, 0, west, 0, e * by, north)
    grid = Grid(crs=dem.grid.crs, transform=transform, shape=heights.shape)
    return Dem(heights, grid, sea_m=dem.sea_m)


def _means(values: Singles, by: int) -> Singles:
    """Means of blocks, NaN where none of a block is known."""
    rows, cols = (-(-count // by) for count in values.shape)
    wide = np.full((rows * by, cols * by), np.nan, dtype=np.float32)
    wide[: values.shape[0], : values.shape[1]] = values
    known = ~np.isnan(wide)
    blocks = np.where(known, wide, np.float32(0)).reshape(rows, by, cols, by).sum(axis=(1, 3))
    counts = known.reshape(rows, by, cols, by).sum(axis=(1, 3), dtype=np.float32)
    # a block without a known cell is 0 / 0, which is the NaN that is wanted
    with np.errstate(invalid="ignore"):
        return np.asarray(blocks / counts, dtype=np.float32)
