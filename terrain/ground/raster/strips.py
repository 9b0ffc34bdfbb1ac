"""The warper, strip by strip: values of a raster on the cells of another grid."""

from __future__ import annotations

from typing import Final, TypeVar

import numpy as np
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS
from rasterio.enums import Resampling
from rasterio.warp import reproject

from terrain.ground.grid import Grid

_STRIP_CELLS: Final = 64

Number = TypeVar("Number", np.float32, np.int32)


def carried(
    values: NDArray[Number],
    transform: Affine,
    onto: Grid,
    resampling: Resampling,
    nothing: float,
    *,
    crs: CRS | None = None,
    scales: tuple[float, float] = (1.0, 1.0),
) -> NDArray[Number]:
    """Values of a raster of any placing on the cells of a grid; `nothing` marks what is unknown.

    crs: of the raster, that of the grid unless given. scales: how many cells of the grid there are
    along one of the raster's, as in `Drawn`.
    """
    found = np.full(onto.shape, nothing, dtype=values.dtype)
    for first in _strips(onto):
        strip = onto.window(0, first, (onto.shape[0], _STRIP_CELLS))
        part = np.full(strip.shape, nothing, dtype=values.dtype)
        reproject(
            source=values,
            destination=part,
            src_transform=transform,
            src_crs=(crs or onto.crs).to_wkt(),
            src_nodata=nothing,
            dst_transform=strip.transform,
            dst_crs=onto.crs.to_wkt(),
            dst_nodata=nothing,
            resampling=resampling,
            num_threads=2,
            # else GDAL guesses them from the parts it works on, and answers by how it is cut
            XSCALE=scales[0],
            YSCALE=scales[1],
        )
        left, right = max(first, 0), min(first + _STRIP_CELLS, onto.shape[1])
        found[:, left:right] = part[:, left - first : right - first]
    return found


def _strips(grid: Grid) -> range:
    """The first columns of strips that hold a grid, the same for all parts of one plane.

    The warper works out the places of some cells of a row and lays the others on lines between
    them: an eighth of a cell off at most, and elsewhere in a longer row. Over a strip it is 0.004
    cells for one degree at 50 N, and the same whatever part of a raster is asked for.
    """
    lead = round(grid.transform.c / grid.transform.a) % _STRIP_CELLS
    return range(-lead, grid.shape[1], _STRIP_CELLS)
