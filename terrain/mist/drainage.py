"""Where water, and cold air, runs: ways down the ground, catchments, channels."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from typing import Final

import numpy as np
import richdem as rd
from numpy.typing import ArrayLike, NDArray
from scipy import ndimage

from terrain.arrays import Flags, Floats, Labels, Singles, frozen_arrays
from terrain.cores import share_out
from terrain.errors import NoGround
from terrain.ground.dem import Dem
from terrain.ground.grid import Grid
from terrain.ground.places import Hill, Spot
from terrain.ground.relief.tops import ways_up_from
from terrain.mist._drainage_kernels import catchments, level_cells, main_donors, trace_channels

CHANNEL_KM2: Final = 1.0
"""Least ground that a channel drains to count as the floor of a valley, km² (common practice)."""

_UNIT_CELLS: Final = (0.0, 1.0, 0.0, 0.0, 0.0, -1.0)
_NO_DATA: Final = -1e9
_FAR_BELOW_M: Final = np.float32(-1e5)
_FLAT_M: Final = np.float32(1e-3)
_ERASE_LINE: Final = b"\r\x1b[2K"
_TOUCHING: Final = np.ones((3, 3), dtype=bool)


@dataclass(frozen=True, kw_only=True, eq=False)
@frozen_arrays(copy=False)
class Drainage:
    """Ways down the ground of a raster with a rim of unknown cells around it.

    grid: that of the raster, without the rim. All arrays are flat, the rim's cells among them.
    ground_m, floor_m: heights, and the same with hollows filled. known: whether the cell is on
    the raster; unknown ground that reaches the edge is not, and water leaves there. That amid
    the raster is bridged at the height of the lowest ground beside it.
    down: the cell to which each falls most steeply, -1 at an outlet; donor: of those that lead
    to a cell the one with the greatest catchment, -1 none. catchment_km2: ground above it.
    """

    grid: Grid
    ground_m: Singles
    floor_m: Singles
    known: Flags
    down: Labels
    donor: Labels
    catchment_km2: Singles

    @property
    def shape(self) -> tuple[int, int]:
        """(rows, cols) with the rim."""
        return self.grid.shape[0] + 2, self.grid.shape[1] + 2

    @property
    def cell_m(self) -> float:
        """Side of a cell, metres."""
        return self.grid.cell_m

    def channels(self, channel_km2: float) -> NDArray[np.uint8]:
        """1 on the cells of all streams that drain at least so much ground, in km²; else 0."""
        return trace_channels(
            self.down, self.donor, self.catchment_km2, self.known, channel_km2, self.shape[1]
        )

    def level_floors(self, least_km2: float) -> Flags:
        """Whether each cell is of a lake, sea or other flat at least so large, in km²; flat."""
        floor, known = self.floor_m.reshape(self.shape), self.known.reshape(self.shape)
        flat = np.zeros(self.shape, dtype=bool)
        # level with all four neighbours: along a contour any slope is level with two
        share_out(
            self.grid.shape[0],
            lambda first, end: level_cells(first + 1, end + 1, floor, known, _FLAT_M, flat),
        )
        # in the kind of number that is counted and looked up without a copy
        number = np.empty(self.shape, dtype=np.intp)
        ndimage.label(flat, output=number)
        is_wide = np.bincount(number.reshape(-1)) * self.cell_m**2 / 1e6 >= least_km2
        is_wide[0] = False
        return np.asarray(is_wide[number]).reshape(-1)

    def cell_of(self, place: Spot | Hill) -> int:
        """The cell that holds a place; NoGround off the raster."""
        return rim_cell(self.grid, place.lon_deg, place.lat_deg)

    def first_on(self, cell: int, wanted: Flags) -> int:
        """The first cell that is wanted on the way down from one (itself too), or else the last."""
        while not wanted[cell] and self.down[cell] >= 0:
            cell = int(self.down[cell])
        return cell


def with_rim(values: Singles) -> Singles:
    """The values of a raster's cells, (rows, cols), with a rim of unknown ones around them."""
    return np.pad(values, 1, constant_values=np.nan)


def rim_cell(grid: Grid, lon_deg: float, lat_deg: float) -> int:
    """Flat index, in the raster with its rim, of the cell that holds a place; NoGround off it."""
    row, col = grid.cell_of(lon_deg, lat_deg)
    return (row + 1) * (grid.shape[1] + 2) + col + 1


def rim_lonlat(grid: Grid, cells: ArrayLike) -> tuple[Floats, Floats]:
    """Longitudes and latitudes of the middles of cells by their flat index with the rim."""
    row, col = np.divmod(np.asarray(cells), grid.shape[1] + 2)
    return grid.lonlat(row - 1, col - 1)


def drain(dem: Dem) -> Drainage:
    """The drainage of some ground, hollows filled; water leaves by the raster's edge.

    Raises NoGround where no ground is known. Source: steepest of eight neighbours (O'Callaghan
    & Mark 1984). richdem's own catchments take other ways over filled flats and along the edge,
    so they are counted along these.
    """
    heights = with_rim(dem.heights_m)
    if np.isnan(heights).all():
        raise NoGround("the raster holds no known ground: choose another place or another raster")
    heights = _bridged(heights)
    known = ~np.isnan(heights)
    # unknown ground lies so far below that everything runs off there
    ground = np.where(known, heights, _FAR_BELOW_M)
    floor = _filled(ground)
    upside_down = np.negative(floor, where=known, out=heights)
    # along the raster's edge the way goes on as long as that falls, so that a slope cut by the edge
    # still leads to its valley
    size = np.ones(floor.shape[0])
    down = ways_up_from(upside_down, size, size)
    catchment, donor = known.reshape(-1).astype(np.float32), np.zeros(down.size, dtype=np.int32)
    catchments(down, catchment, donor)
    catchment *= np.float32(dem.cell_m**2 / 1e6)
    main_donors(down, catchment, donor)
    return Drainage(
        grid=dem.grid,
        ground_m=ground.reshape(-1),
        floor_m=floor.reshape(-1),
        known=known.reshape(-1),
        down=down,
        donor=donor,
        catchment_km2=catchment,
    )


def _filled(ground_m: Singles) -> Singles:
    """The ground with every closed hollow filled to its spill, (rows, cols), no NaN.

    The fill falls towards the spill by the least step a number can take, so that water finds its
    way over it. Source: Barnes, Lehman & Mulla (2014), Priority-flood, as richdem has it.
    """
    ground = rd.rdarray(ground_m.copy(), no_data=_NO_DATA, geotransform=_UNIT_CELLS)
    with _without_progress_bars():
        rd.FillDepressions(ground, epsilon=True, in_place=True, topology="D8")
    return np.asarray(ground)


def _bridged(heights_m: Singles) -> Singles:
    """The heights with voids amid them filled, each level with the lowest ground beside it."""
    void = np.isnan(heights_m)
    if not void[1:-1, 1:-1].any():
        return heights_m
    void, _ = ndimage.label(void, _TOUCHING)
    bridged = heights_m.copy()
    for number, (rows, cols) in enumerate(ndimage.find_objects(void), start=1):
        if rows.start > 0:
            window = np.s_[rows.start - 1 : rows.stop + 1, cols.start - 1 : cols.stop + 1]
            inside = void[window] == number
            beside = ndimage.binary_dilation(inside, _TOUCHING) & ~inside
            bridged[window][inside] = heights_m[window][beside].min()
    return bridged


@contextmanager
def _without_progress_bars() -> Iterator[None]:
    """Keep the cursor codes of richdem's progress bars off stderr, and nothing else.

    richdem has no way to leave them out. They are written by compiled code, so the file descriptor
    itself is set aside for the while; where it is closed, nothing can come through.
    """
    try:
        terminal = os.dup(2)
    except OSError:
        yield
        return
    with tempfile.TemporaryFile() as said:
        os.dup2(said.fileno(), 2)
        try:
            yield
        finally:
            os.dup2(terminal, 2)
            os.close(terminal)
            said.seek(0)
            # a closed descriptor may have become that of a file opened since, to be read alone
            with suppress(OSError):
                os.write(2, said.read().replace(_ERASE_LINE, b""))
