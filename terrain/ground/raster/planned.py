"""A part of a large raster: which cells are its own, and its ground with the country about it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from terrain.arrays import Flags, Singles, frozen_arrays
from terrain.errors import NoGround
from terrain.ground.dem import Dem
from terrain.ground.grid import Grid
from terrain.ground.raster.cuts import Cells
from terrain.ground.raster.read import LaidOut, delivered_as, ground_on, quietly
from terrain.ground.raster.sheet import Sheet
from terrain.ground.raster.warp import (
    cells_under,
    check_count,
    drawn_on,
    resampled,
    span,
    square_about,
    to_grid,
    to_square_cells,
)


@dataclass(frozen=True, kw_only=True, eq=False)
@frozen_arrays(copy=False)
class GroundPart:
    """A part of a large raster, with the country about it.

    Parameters
    ----------
    number : int
        Which part it is, from 1.
    count : int
        Of how many.
    dem : Dem
        The ground of the part and of its margin.
    is_own : (rows, cols) bool array
        Whether a cell is this part's and no other's; read-only.

    Raises
    ------
    ValueError
        For flags of another shape than the ground.

    Examples
    --------
    >>> import numpy as np
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(50, 0, 5e5, 0, -50, 6e6), shape=(2, 3))
    >>> west = np.array([[True, True, False], [True, True, False]])
    >>> plain = terrain.Dem(np.zeros(grid.shape), grid)
    >>> part = terrain.GroundPart(number=1, count=2, dem=plain, is_own=west)
    >>> int(part.is_own.sum())
    4
    """

    number: int
    count: int
    dem: Dem
    is_own: Flags

    def __post_init__(self) -> None:
        if self.is_own.shape != self.dem.shape:
            raise ValueError(f"flags of shape {self.is_own.shape} for ground of {self.dem.shape}")


@dataclass(frozen=True, kw_only=True)
class PlannedPart:
    """A part of a plan: which cells are its own, and what it takes to read them.

    Parameters
    ----------
    number : int
        Which part it is, from 1.
    count : int
        Of how many.
    whole : Grid
        The cells of all files, as they are delivered.
    grid : Grid or None
        That on which all parts lie: `whole` where its cells are square metres. None where each
        part is brought to a plane of its own, as `read_parts` does.
    own : Cells
        Its own cells, on `grid`, or on `whole` where that is None.
    delivered : Cells
        The cells of `whole` that are its own: the same as `own` but for ground that is warped.
    margin_m : float
        How far beyond its own cells it is read, metres.
    sheets : tuple
        The files that know something of it.

    Examples
    --------
    >>> import terrain
    >>> plan = terrain.plan_parts("no/such.tif", side_m=6e4, margin_m=4e4)
    Traceback (most recent call last):
    terrain.errors.TerrainError: there is no file no/such.tif
    """

    number: int
    count: int
    whole: Grid
    grid: Grid | None
    own: Cells
    delivered: Cells
    margin_m: float
    sheets: tuple[Sheet, ...]

    @property
    def window(self) -> Cells:
        """Its own cells and those of its margin, on `grid`; ValueError where there is none."""
        if self.grid is None:
            raise ValueError("each part of this plan lies on a plane of its own")
        return self.own.widened(math.ceil(self.margin_m / self.grid.cell_m - 1e-6), self.grid)

    def read(self) -> GroundPart:
        """Its ground with the margin.

        Returns
        -------
        GroundPart
            Its own cells are those of `own`.

        Raises
        ------
        NoGround
            Where none of its own ground is known.
        TerrainError
            As in `read_dem`.
        """
        dem = self._ground()
        is_own = self._own_of(dem)
        if np.isnan(dem.heights_m[is_own]).all():
            lon, lat = self.own.of(self.grid or self.whole).centre_lonlat
            raise NoGround(
                f"no ground is known in part {self.number} of {self.count}, "
                f"about {lat:.4f}, {lon:.4f}"
            )
        return GroundPart(number=self.number, count=self.count, dem=dem, is_own=is_own)

    def heights_m(self, cells: Cells) -> Singles:
        """Heights of some cells of `whole` in or about it, as delivered, metres; NaN unknown."""
        return delivered_cells(self.whole, self.sheets, cells).heights_m

    @property
    def shared(self) -> Cells:
        """Its cells as delivered with the first row and column of the parts south and east of it.

        So each step from a cell to one of its eight neighbours is in some part.
        """
        top, left, bottom, right = self.delivered
        rows, cols = self.whole.shape
        return Cells(top, left, min(bottom + 1, rows), min(right + 1, cols))

    @cached_property
    def area(self) -> Cells:
        """The cells of `whole` from which its ground is made."""
        if self.grid is None:
            row, col = square_about(self.whole, *self._square)
            (top, bottom), (left, right) = (
                span(ends, count) for ends, count in zip((row, col), self.whole.shape, strict=True)
            )
            return Cells(top, left, bottom, right)
        if self.whole.is_metric:
            return self.window
        return Cells(*(cells_under(self.whole, self.window.of(self.grid)) or self.delivered))

    @property
    def _square(self) -> tuple[float, float, float]:
        """Middle, degrees, and half side, metres, of the square that is read, where it is one."""
        block = self.own.of(self.whole)
        return (*block.centre_lonlat, _half_m(block) + self.margin_m)

    def _ground(self) -> Dem:
        if self.grid is None:
            return to_square_cells(
                delivered_cells(self.whole, self.sheets, self.area), square=self._square
            )
        window = self.window.of(self.grid)
        check_count(window.shape)
        dem = delivered_cells(self.whole, self.sheets, self.area)
        if self.whole.is_metric:
            return dem
        heights_m = resampled(dem, window, drawn_on(self.whole, self.grid))
        return replace(dem, heights_m=heights_m, grid=window, delivered=dem)

    def _own_of(self, dem: Dem) -> Flags:
        if self.grid is None:
            block = self.own.of(self.whole)
            return np.asarray(to_grid(np.ones(block.shape, dtype=np.int32), block, dem.grid) == 1)
        is_own = np.zeros(dem.shape, dtype=bool)
        is_own[self.own.inside(self.window)] = True
        return is_own


def delivered_cells(whole: Grid, sheets: Sequence[Sheet], cells: Cells) -> Dem:
    """Some cells of files as they are delivered; all of them may be unknown."""
    check_count(cells.shape)
    laid = LaidOut(sheets=list(sheets), whole=whole, grid=cells.of(whole), reach_m=math.inf)
    with quietly():
        heights, doubts = ground_on(laid.grid, laid.sheets)
    return delivered_as(heights, laid.grid, laid, doubts)


def _half_m(block: Grid) -> float:
    """Half side of a square about the middle of a block, upright there, that holds the block."""
    rows, cols = block.shape
    if block.is_metric:
        return max(rows, cols) * block.cell_m / 2.0
    width_m, depth_m = block.cell_sizes_m()
    return math.hypot(rows * float(depth_m.max()), cols * float(width_m.max())) / 2.0
