"""Where water, and cold air, runs: ways down the ground, catchments, channels."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from terrain.arrays import frozen_arrays
from terrain.errors import NoGround
from terrain.ground.dem import Dem
from terrain.ground.relief.tops import ways_up_from
from terrain.mist._drainage_kernels import catchments, main_donors, trace_channels
from terrain.mist.basins import filled

__all__ = ["CHANNEL_KM2", "Drainage", "drain"]

CHANNEL_KM2: Final = 1.0
"""Least ground that a channel drains to count as the floor of a valley, km² (common practice)."""

_FAR_BELOW_M: Final = np.float32(-1e5)
_FLAT_M: Final = 1e-3
_TOUCHING: Final = np.ones((3, 3), dtype=bool)


@dataclass(frozen=True, kw_only=True, eq=False)
@frozen_arrays(copy=False)
class Drainage:
    """Ways down the ground of a raster with a rim of unknown cells around it.

    shape: (rows, cols) with the rim; all arrays are flat. cell_m: side of a cell, metres.
    ground_m, floor_m: heights, and the same with hollows filled. known: whether the cell is on
    the raster; unknown ground that reaches the edge is not, and water leaves there. That amid
    the raster is bridged at the height of the lowest ground beside it.
    down: the cell to which each falls most steeply, -1 at an outlet; donor: of those that lead
    to a cell the one with the greatest catchment, -1 none. catchment_km2: ground above it.
    """

    shape: tuple[int, int]
    cell_m: float
    ground_m: NDArray[np.float32]
    floor_m: NDArray[np.float32]
    known: NDArray[np.bool_]
    down: NDArray[np.int32]
    donor: NDArray[np.int32]
    catchment_km2: NDArray[np.float32]

    def channels(self, channel_km2: float) -> NDArray[np.uint8]:
        """1 on the cells of all streams that drain at least so much ground, in km²; else 0."""
        return trace_channels(
            self.down, self.donor, self.catchment_km2, self.known, channel_km2, self.shape[1]
        )

    def level_floors(self, least_km2: float) -> NDArray[np.int32]:
        """The cells of lakes, sea and other flats at least so large, in square kilometres."""
        floor, known = (part.reshape(self.shape) for part in (self.floor_m, self.known))
        across = np.abs(np.diff(floor, axis=1)) < _FLAT_M
        down = np.abs(np.diff(floor, axis=0)) < _FLAT_M
        flat = np.zeros(self.shape, dtype=bool)
        # level with all four neighbours: along a contour any slope is level with two
        flat[1:-1, 1:-1] = across[1:-1, :-1] & across[1:-1, 1:] & down[:-1, 1:-1] & down[1:, 1:-1]
        number, _ = ndimage.label(flat & known)
        area_km2 = np.bincount(number.ravel()) * self.cell_m**2 / 1e6
        area_km2[0] = 0
        return np.flatnonzero(area_km2[number] >= least_km2).astype(np.int32)

    def cell_at(self, row: int, col: int) -> int:
        """Flat index, in the raster with its rim, of a row and column of the raster without."""
        return (row + 1) * self.shape[1] + col + 1

    def first_on(self, cell: int, wanted: NDArray[np.bool_]) -> int:
        """The first cell that is wanted on the way down from one (itself too), or else the last."""
        while not wanted[cell] and self.down[cell] >= 0:
            cell = int(self.down[cell])
        return cell


def drain(dem: Dem) -> Drainage:
    """The drainage of some ground, hollows filled; water leaves by the raster's edge.

    Raises NoGround where no ground is known. Source: steepest of eight neighbours (O'Callaghan
    & Mark 1984). richdem's own catchments take other ways over filled flats and along the edge,
    so they are counted along these.
    """
    heights = np.pad(dem.heights_m, 1, constant_values=np.nan)
    if np.isnan(heights).all():
        raise NoGround("the raster holds no known ground: choose another place or another raster")
    heights = _bridged(heights)
    known = ~np.isnan(heights)
    # unknown ground lies so far below that everything runs off there
    ground = np.where(known, heights, _FAR_BELOW_M)
    floor = filled(ground, sloping=True)
    down = _ways_down(floor, known)
    catchment = catchments(down, known.reshape(-1)) * np.float32(dem.cell_m**2 / 1e6)
    return Drainage(
        shape=(heights.shape[0], heights.shape[1]),
        cell_m=dem.cell_m,
        ground_m=ground.reshape(-1),
        floor_m=floor.reshape(-1),
        known=known.reshape(-1),
        down=down,
        donor=main_donors(down, catchment),
        catchment_km2=catchment,
    )


def _bridged(heights_m: NDArray[np.float32]) -> NDArray[np.float32]:
    """The heights with voids amid them filled, each level with the lowest ground beside it."""
    void, count = ndimage.label(np.isnan(heights_m), _TOUCHING)
    if count == 1:
        return heights_m
    bridged = heights_m.copy()
    for number, (rows, cols) in enumerate(ndimage.find_objects(void), start=1):
        if rows.start > 0:
            window = np.s_[rows.start - 1 : rows.stop + 1, cols.start - 1 : cols.stop + 1]
            inside = void[window] == number
            beside = ndimage.binary_dilation(inside, _TOUCHING) & ~inside
            bridged[window][inside] = heights_m[window][beside].min()
    return bridged


def _ways_down(floor_m: NDArray[np.float32], known: NDArray[np.bool_]) -> NDArray[np.int32]:
    """The known neighbour to which each cell falls most steeply, flat; -1 where none is lower.

    At the raster's edge the way goes on along the edge as long as that falls, so that a slope
    cut by the edge still leads to its valley.
    """
    size = np.ones(floor_m.shape[0])
    return ways_up_from(np.where(known, -floor_m, np.float32(np.nan)), size, size)
