"""The ground itself: heights on a grid."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Final

import numpy as np
from affine import Affine
from numpy.typing import ArrayLike
from pyproj import CRS

from terrain.arrays import Floats, Numbers, Singles, frozen_arrays, sealed
from terrain.constants import BLOCK_CELLS, SMALL_BLOCK_CELLS
from terrain.errors import NoGround
from terrain.ground.far import FarGround
from terrain.ground.glance import figure_of, picture_of
from terrain.ground.grid import Grid, corner_shares

if TYPE_CHECKING:
    from xarray import DataArray

# the way to degrees and back by another datum loses up to a millimetre
_LEAST_SHARE = 1e-3
ORDINARY_SHARE: Final = 0.84
"""Hidden ground is taken to stand no higher than this share of the known ground.

That is one standard deviation up, as a normal spread has it; see `tests/benchmarks/hidden_half.py`
for how often the truth is held with it."""

_LOWEST_LAND_M = 500.0
"""The shore of the Dead Sea, 430 m below the sea, is the lowest land there is."""


@dataclass(frozen=True, eq=False)
@frozen_arrays()
class Dem:
    """Heights of the ground.

    Parameters
    ----------
    heights_m : (rows, cols) array, metres
        Above the raster's vertical datum, row 0 north, NaN where the ground is unknown; kept as
        float32, read-only.
    grid : Grid
        Where the cells lie.
    delivered : Dem, optional
        The same ground before it was warped to square cells, or None where it was not; heights of
        summits are reported from it.
    vertical_datum : str, optional
        Name of the level that heights are counted from, "" where the files do not say.
    sea_m : float, optional
        Height of the sea above that level, metres. Unknown ground is never taken to lie lower,
        unless the known ground does.
    doubts : tuple of str, optional
        What is to be said of the ground to whoever is told an answer about it, a line each.
    far : FarGround, optional
        What lies beyond, for what it hides (`with_far_ground`); none unless given.
    credit : str, optional
        Whom to name where the ground is shown, "" for nobody.

    Raises
    ------
    ValueError
        For heights of another shape than the grid, and for a height that is infinite.

    Examples
    --------
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(50, 0, 5e5, 0, -50, 6e6), shape=(2, 3))
    >>> dem = terrain.Dem([[0, 10, 20], [0, 10, 20]], grid)
    >>> round(dem.height_at(*map(float, grid.lonlat(0.5, 1.5))), 1), dem.cell_m
    (15.0, 50.0)
    """

    heights_m: Singles
    grid: Grid
    delivered: Dem | None = None
    vertical_datum: str = ""
    sea_m: float = 0.0
    doubts: tuple[str, ...] = ()
    far: FarGround | None = None
    credit: str = ""

    def __post_init__(self) -> None:
        heights = np.asarray(self.heights_m, dtype=np.float32, order="C")
        if heights.shape != self.grid.shape:
            raise ValueError(f"heights of shape {heights.shape} on a grid of {self.grid.shape}")
        if np.isinf(heights).any():
            raise ValueError("a height is infinite: ground is unknown where it is NaN")
        if not np.isfinite(self.sea_m):
            raise ValueError(f"the sea must have a height in metres, got {self.sea_m}")
        object.__setattr__(self, "heights_m", heights)

    def __repr__(self) -> str:
        rows, cols = self.heights_m.shape
        known = self.heights_m[np.isfinite(self.heights_m)]
        span = f"{known.min():.0f} to {known.max():.0f} m" if known.size else "no ground known"
        return (
            f"<Dem {rows} x {cols} cells of {self.grid.cell_m:g} m, {span}, "
            f"{self.grid.coverage().removeprefix('the raster covers ')}, {self.grid.crs.name}>"
        )

    def _repr_html_(self) -> str:
        return figure_of(repr(self)[1:-1], picture_of(self.heights_m))

    def to_xarray(self) -> DataArray:
        """The heights for xarray, with their reference system as rioxarray has it.

        Needs xarray, which `pip install 'terrain[xarray]'` brings.

        Returns
        -------
        xarray.DataArray
            (y, x) float32 metres, NaN where the ground is unknown, named `height`.

        Examples
        --------
        >>> import terrain
        >>> grid = terrain.Grid(crs=32628, transform=(50, 0, 5e5, 0, -50, 6e6), shape=(2, 3))
        >>> heights = terrain.Dem([[0, 10, 20], [0, 10, 20]], grid).to_xarray()
        >>> heights.dims, float(heights.x[0]), heights.spatial_ref.crs_wkt[:7]
        (('y', 'x'), 500025.0, 'PROJCRS')
        """
        from terrain.ground.exchange import to_xarray

        return to_xarray(self)

    @staticmethod
    def from_xarray(heights: DataArray) -> Dem:
        """The ground of heights from xarray, whose reference system is as rioxarray has it.

        Parameters
        ----------
        heights : xarray.DataArray
            (y, x) metres on square cells of metres, NaN where unknown, or a stack of one of them.

        Returns
        -------
        Dem
            The same ground.

        Raises
        ------
        TerrainError
            Where it has no reference system, other dimensions, or uneven cells.

        Examples
        --------
        >>> import terrain
        >>> grid = terrain.Grid(crs=32628, transform=(50, 0, 5e5, 0, -50, 6e6), shape=(2, 3))
        >>> dem = terrain.Dem([[0, 10, 20], [0, 10, 20]], grid)
        >>> terrain.Dem.from_xarray(dem.to_xarray()).grid == grid
        True
        """
        from terrain.ground.exchange import from_xarray

        return from_xarray(heights)

    @cached_property
    def floor_m(self) -> float:
        """The lowest that unknown ground can be, metres: the sea, or known land lower yet.

        No land lies 500 m below the sea, so what does is its bed, and under water.
        """
        land = self.heights_m >= self.sea_m - _LOWEST_LAND_M
        return float(np.min(self.heights_m, initial=self.sea_m, where=land))

    @cached_property
    def highest_m(self) -> float:
        """The highest known ground, metres; -inf where none is known."""
        return float(np.fmax.reduce(self.heights_m, axis=None, initial=-np.inf))

    @cached_property
    def unknown_sums(self) -> Numbers:
        """How many unknown cells lie north and west of the corners of blocks, a row and column more
        than there are blocks; read-only. A block is `BLOCK_CELLS` wide.
        """
        rows, cols = (range(0, count, BLOCK_CELLS) for count in self.shape)
        sums = np.zeros((len(rows) + 1, len(cols) + 1), dtype=np.int64)
        for number, first in enumerate(rows, start=1):
            unknown = np.isnan(self.heights_m[first : first + BLOCK_CELLS])
            sums[number, 1:] = np.add.reduceat(np.count_nonzero(unknown, axis=0), cols)
        return sealed(sums.cumsum(axis=0).cumsum(axis=1))

    @cached_property
    def block_tops_m(self) -> Singles:
        """The highest of each block of cells and of the row and the column beyond it, metres.

        Infinite where any of it is unknown; read-only. A block is `SMALL_BLOCK_CELLS` wide.
        """
        rows, cols = (range(0, count, SMALL_BLOCK_CELLS) for count in self.shape)
        tops = np.empty((len(rows), len(cols)), dtype=np.float32)
        for number, first in enumerate(rows):
            strip = self.heights_m[first : first + SMALL_BLOCK_CELLS + 1].max(axis=0)
            beyond = np.append(strip[1:], strip[-1:])
            tops[number] = np.maximum.reduceat(np.maximum(strip, beyond), cols)
        tops[np.isnan(tops)] = np.inf
        return sealed(tops)

    @cached_property
    def ordinary_m(self) -> float:
        """The height that most of the known ground does not exceed, metres."""
        return float(np.nanquantile(self.heights_m, ORDINARY_SHARE))

    @property
    def as_delivered(self) -> Dem:
        """The ground as the files gave it, warped or not."""
        return self.delivered if self.delivered is not None else self

    @property
    def cell_m(self) -> float:
        """Side of the square cells, metres."""
        return self.grid.cell_m

    @property
    def shape(self) -> tuple[int, int]:
        """(rows, cols)."""
        return self.grid.shape

    @property
    def crs(self) -> CRS:
        """Coordinate reference system of the grid."""
        return self.grid.crs

    @property
    def transform(self) -> Affine:
        """Affine map from (column, row) of cell corners to map coordinates."""
        return self.grid.transform

    def heights_at(self, lon_deg: ArrayLike, lat_deg: ArrayLike) -> Floats:
        """Heights of places (any shape), metres, bilinear between cell centres.

        NaN off the raster and where a cell with a share in the height is unknown. In the outer
        half of an edge cell the height is that of the nearest line of centres.
        """
        return self.heights_between(*self.grid.rowcol(lon_deg, lat_deg))

    def heights_between(self, row: Floats, col: Floats) -> Floats:
        """As `heights_at`, of fractional rows and columns (any shape)."""
        inside = self.grid.contains(row, col)
        if np.ndim(row) == 0:
            at = float(row), float(col)
            return np.asarray(_height_between(self.heights_m, *at) if inside else np.nan)
        heights = _bilinear(self.heights_m, np.where(inside, row, 0), np.where(inside, col, 0))
        return np.where(inside, heights, np.nan)

    def height_at(self, lon_deg: float, lat_deg: float) -> float:
        """Height of one place, metres; NoGround off the raster or where it is unknown."""
        height = float(self.heights_at(lon_deg, lat_deg))
        if np.isnan(height):
            self.grid.cell_of(lon_deg, lat_deg)
            raise NoGround(
                f"the ground at {lat_deg:.4f}, {lon_deg:.4f} is unknown: "
                "the raster has a void there; choose another place or another raster"
            )
        return height


def _height_between(values: Singles, row: float, col: float) -> float:
    """As `_bilinear` of one place, to the last digit."""
    rows, cols = values.shape
    row, col = min(max(row, 0.0), rows - 1.0), min(max(col, 0.0), cols - 1.0)
    top, left = math.floor(row), math.floor(col)
    down, along = row - top, col - left
    total = shares = 0.0
    for at_row, row_share in ((top, 1.0 - down), (min(top + 1, rows - 1), down)):
        for at_col, col_share in ((left, 1.0 - along), (min(left + 1, cols - 1), along)):
            share, value = row_share * col_share, float(values[at_row, at_col])
            if share > _LEAST_SHARE or (share > 0.0 and not math.isnan(value)):
                total += share * value
                shares += share
    return total / shares


def _bilinear(values: Singles, row: Floats, col: Floats) -> Floats:
    total, shares = np.zeros(row.shape), np.zeros(row.shape)
    for share, *cell in corner_shares(row, col, values.shape):
        value = values[tuple(cell)]
        # an unknown cell must not spread by a share that rounding gave it
        counts = (share > _LEAST_SHARE) | ((share > 0) & ~np.isnan(value))
        total += np.where(counts, share * value, 0.0)
        shares += np.where(counts, share, 0.0)
    return total / shares
