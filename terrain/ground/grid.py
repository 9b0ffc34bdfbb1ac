"""The grid under a raster: all arithmetic between cells, map coordinates and true north.

Row 0 is the northern row. Row and column are fractional; whole numbers are cell centres::

              col 0     col 1
            +---------+---------+
    row 0   |  (0,0)  |  (0,1)  |        true north      grid north
            |    .    |    .    |                 \\  c  /
            +---------+---------+                  \\---/     c = convergence, positive where
    row 1   |    .    |    .    |                   \\ /      grid north lies east of true north:
            +---------+---------+                    .       true azimuth = grid azimuth + c
"""

from __future__ import annotations

import operator
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property, lru_cache
from threading import get_ident
from typing import Any, Final

import numpy as np
from affine import Affine
from numpy.typing import ArrayLike
from pyproj import CRS, Proj

from terrain.arrays import Flags, Floats, Numbers, sealed
from terrain.errors import NoGround
from terrain.ground.geodesy import azimuth_and_distance, crs_of_places, horizontal, wrap_deg
from terrain.ground.placing import Placing, from_places, wrapped

_SQUARE_TOLERANCE = 1e-6
_LEAST_SCALE, _MOST_SCALE = 0.995, 1.005


NEARLY_CELLS: Final = 2.0


@dataclass(frozen=True, kw_only=True)
class Grid:
    """The placing of a raster on the earth.

    Parameters
    ----------
    crs : pyproj.CRS
        Coordinate reference system of the raster, or whatever pyproj makes one from; of one that
        counts heights too, the part that places are counted in.
    transform : affine.Affine
        From (column, row) of cell corners to map coordinates, north up; or its first six figures.
    shape : tuple of int
        (rows, cols).

    Raises
    ------
    ValueError
        For a grid without cells, and for one that has not its north up.

    Examples
    --------
    >>> import terrain
    >>> grid = terrain.Grid(crs="EPSG:32628", transform=(50, 0, 5e5, 0, -50, 6e6), shape=(40, 60))
    >>> grid.cell_m, grid.cell_of(*map(float, grid.lonlat(3, 7)))
    (50.0, (3, 7))
    """

    crs: CRS
    transform: Affine
    shape: tuple[int, int]

    def __post_init__(self) -> None:
        rows, cols = (operator.index(count) for count in self.shape)
        if rows < 1 or cols < 1:
            raise ValueError(f"a grid needs at least one row and one column, got {self.shape}")
        a, b, _, d, e, _ = values = tuple(self.transform)[:6]
        if b or d or not a > 0 > e or not np.isfinite(values).all():
            raise ValueError(f"a grid must have north up, got the transform {values}")
        object.__setattr__(self, "crs", horizontal(crs_of_places(self.crs)))
        object.__setattr__(self, "transform", Affine(*values))
        object.__setattr__(self, "shape", (rows, cols))

    def __getstate__(self) -> dict[str, Any]:
        """What another process needs; a transformation takes it longer to read than to find."""
        return {name: vars(self)[name] for name in ("crs", "transform", "shape")}

    @cached_property
    def is_metric(self) -> bool:
        """Whether the cells are square metres on the ground, true to scale within half a percent.

        False for degrees, for feet, for oblong cells, and for map projections that stretch the
        ground (web maps do, by 1/cos latitude).
        """
        if not self.crs.is_projected or self.crs.axis_info[0].unit_conversion_factor != 1.0:
            return False
        if abs(self.transform.a + self.transform.e) > _SQUARE_TOLERANCE * self.transform.a:
            return False
        return all(_LEAST_SCALE < scale < _MOST_SCALE for scale in self._centre_scales)

    @property
    def cell_m(self) -> float:
        """Side of the square cells, metres; ValueError where the grid has no such cells."""
        if not self.is_metric:
            raise ValueError(f"the grid in {self.crs.name} has no square cells in metres")
        return float(self.transform.a)

    @cached_property
    def centre_lonlat(self) -> tuple[float, float]:
        """Longitude and latitude of the middle of the raster."""
        rows, cols = self.shape
        lon, lat = self.lonlat((rows - 1) / 2, (cols - 1) / 2)
        return float(lon), float(lat)

    @cached_property
    def latitudes_deg(self) -> tuple[float, float]:
        """The south and the north of the raster, by its corners."""
        _, lat = self._corners
        return float(lat.min()), float(lat.max())

    def lonlat(self, row: ArrayLike, col: ArrayLike) -> tuple[Floats, Floats]:
        """WGS 84 longitude and latitude, degrees, of fractional rows and columns (any shape)."""
        col_edge, row_edge = np.asarray(col, dtype=float) + 0.5, np.asarray(row, dtype=float) + 0.5
        easting = self.transform.c + self.transform.a * col_edge
        northing = self.transform.f + self.transform.e * row_edge
        lon, lat = self._placing.to_map.transform(easting, northing, direction="INVERSE")
        return self._wrapped(lon, 0.0), np.asarray(lat)

    def rowcol(self, lon_deg: ArrayLike, lat_deg: ArrayLike) -> tuple[Floats, Floats]:
        """Fractional row and column of WGS 84 places (any shape); may lie off the raster."""
        if isinstance(lon_deg, float) and isinstance(lat_deg, float):
            return self._place_of(lon_deg, lat_deg)
        return self._placing.rowcol(lon_deg, lat_deg)

    @cached_property
    def _place_of(self) -> Callable[[float, float], tuple[Floats, Floats]]:
        # all that is asked of a spot asks where it lies, and one place takes as long as a hundred
        return lru_cache(maxsize=16)(self._placing.rowcol)

    def cell_sizes_m(self) -> tuple[Floats, Floats]:
        """Width and depth of the cells of each row on the ground, metres, in the middle column.

        Read-only.
        """
        return self._cell_sizes_m

    @cached_property
    def _cell_sizes_m(self) -> tuple[Floats, Floats]:
        rows, cols = self.shape
        row, col = np.arange(rows, dtype=float), np.full(rows, (cols - 1) / 2)
        east, west = self.lonlat(row, col + 0.5), self.lonlat(row, col - 0.5)
        north, south = self.lonlat(row - 0.5, col), self.lonlat(row + 0.5, col)
        width_m, depth_m = (
            azimuth_and_distance(*west, *east)[1],
            azimuth_and_distance(*south, *north)[1],
        )
        return sealed(width_m), sealed(depth_m)

    def contains(self, row: ArrayLike, col: ArrayLike, *, beyond: float = 0.0) -> Flags:
        """Whether fractional rows and columns lie within the outermost cells, or so far beyond."""
        (rows, cols), off = self.shape, 0.5 + beyond
        row, col = np.asarray(row), np.asarray(col)
        return (row >= -off) & (row <= rows - 1 + off) & (col >= -off) & (col <= cols - 1 + off)

    def cell_of(self, lon_deg: float, lat_deg: float) -> tuple[int, int]:
        """Row and column of the cell that holds a place; NoGround where the raster has none."""
        row, col = self.rowcol(lon_deg, lat_deg)
        if not self.contains(row, col):
            raise NoGround(f"no ground at {lat_deg:.4f}, {lon_deg:.4f}: {self.coverage()}")
        at_row, at_col = nearest_cells(row, col, self.shape)
        return int(at_row), int(at_col)

    def cells_at(self, lon_deg: ArrayLike, lat_deg: ArrayLike) -> tuple[Numbers, Numbers]:
        """Rows and columns of the cells that hold places (any shape), or lie nearest to them."""
        return nearest_cells(*self.rowcol(lon_deg, lat_deg), self.shape)

    def holds_nearly(self, lon_deg: ArrayLike, lat_deg: ArrayLike) -> Flags:
        """Whether places (any shape) lie on the grid, or off it by two cells at most."""
        return self.contains(*self.rowcol(lon_deg, lat_deg), beyond=NEARLY_CELLS)

    def convergence_deg(self, lon_deg: ArrayLike, lat_deg: ArrayLike) -> Floats:
        """Angle from true north to grid north, degrees, clockwise; 0 on a geographic grid."""
        lon, lat = np.asarray(lon_deg, dtype=float), np.asarray(lat_deg, dtype=float)
        if self.crs.is_geographic:
            return np.zeros(np.broadcast(lon, lat).shape)
        factors = self._projection.get_factors(lon, lat)
        return np.asarray(factors.meridian_convergence)

    def grid_azimuth_deg(
        self, azimuth_deg: ArrayLike, lon_deg: ArrayLike, lat_deg: ArrayLike
    ) -> Floats:
        """The azimuth counted from the grid's north for an azimuth from true north at a place."""
        turned = np.asarray(azimuth_deg, dtype=float) - self.convergence_deg(lon_deg, lat_deg)
        return np.asarray(np.mod(turned, 360.0))

    def true_azimuth_deg(
        self, grid_azimuth_deg: ArrayLike, lon_deg: ArrayLike, lat_deg: ArrayLike
    ) -> Floats:
        """The azimuth from true north for one counted from the grid's north at a place."""
        turned = np.asarray(grid_azimuth_deg, dtype=float) + self.convergence_deg(lon_deg, lat_deg)
        return np.asarray(np.mod(turned, 360.0))

    def window(self, row: int, col: int, shape: tuple[int, int]) -> Grid:
        """The grid of a part of the raster whose first cell is (row, col)."""
        return Grid(crs=self.crs, transform=shifted(self.transform, row, col), shape=shape)

    def coverage(self) -> str:
        """What the raster covers, in words for a message."""
        lon, lat = self._corners
        lon = lon[0] + wrap_deg(lon - lon[0])
        return f"the raster covers {_span(lat, 'NS')}, {_span(lon, 'EW')}"

    def _wrapped(self, lon_deg: ArrayLike, middle_deg: float) -> Floats:
        """Degrees of a geographic grid brought within half a turn of its middle; else no change.

        Without it a grid across 180 degrees would not find the places on its far side.
        """
        return wrapped(lon_deg, middle_deg) if self.crs.is_geographic else np.asarray(lon_deg)

    @cached_property
    def _corners(self) -> tuple[Floats, Floats]:
        """Longitudes and latitudes of the four outer corners."""
        rows, cols = self.shape
        return self.lonlat([-0.5, -0.5, rows - 0.5, rows - 0.5], [-0.5, cols - 0.5] * 2)

    @cached_property
    def _placing(self) -> Placing:
        middle_deg = self.transform.c + self.transform.a * self.shape[1] / 2
        wraps_at = middle_deg if self.crs.is_geographic else None
        return Placing(from_places(self.crs), self.transform, wraps_at)

    @property
    def _projection(self) -> Proj:
        """That of this thread: PROJ asks that no two threads use one at once."""
        thread = get_ident()
        if thread not in self._projections:
            self._projections[thread] = Proj(self.crs)
        return self._projections[thread]

    @cached_property
    def _projections(self) -> dict[int, Proj]:
        return {}

    @cached_property
    def _centre_scales(self) -> tuple[float, float]:
        factors = self._projection.get_factors(*self.centre_lonlat)
        # along and across the greatest stretch, whichever way that lies
        return float(factors.tissot_semimajor), float(factors.tissot_semiminor)


def shifted(transform: Affine, row: int, col: int) -> Affine:
    """An upright transform counted from another cell."""
    a, _, west, _, e, north = transform[:6]
    return Affine(a, 0, west + a * col, 0, e, north + e * row)


def nearest_cells(
    row: ArrayLike, col: ArrayLike, shape: tuple[int, int]
) -> tuple[Numbers, Numbers]:
    """The cells of a raster of a shape that lie nearest to fractional rows and columns.

    Beyond the raster that is a cell at its edge; NaN is taken for 0.

    >>> nearest_cells([0.4, 7.0], [1.6, -3.0], (5, 5))
    (array([0, 4]), array([2, 0]))
    """
    places = zip((row, col), shape, strict=True)
    # of NaN and a number fmax gives the number
    at_row, at_col = (np.minimum(np.fmax(np.rint(at), 0.0), count - 1) for at, count in places)
    return at_row.astype(np.int64), at_col.astype(np.int64)


def corner_shares(
    row: Floats, col: Floats, shape: tuple[int, ...]
) -> Iterator[tuple[Floats, Numbers, Numbers]]:
    """The four cells about each of some fractional places on a raster, bilinear: shares and cells.

    Each time a share, a row and a column for every place; beyond the outermost centres those of the
    nearest place between them.
    """
    row, col = np.clip(row, 0, shape[0] - 1), np.clip(col, 0, shape[1] - 1)
    top, left = np.floor(row).astype(int), np.floor(col).astype(int)
    down, along = row - top, col - left
    below, right = np.minimum(top + 1, shape[0] - 1), np.minimum(left + 1, shape[1] - 1)
    for at_row, row_share in ((top, 1 - down), (below, down)):
        for at_col, col_share in ((left, 1 - along), (right, along)):
            yield row_share * col_share, at_row, at_col


def _span(degrees: Floats, letters: str) -> str:
    ends = (float(degrees.min()), float(degrees.max()))
    return "..".join(f"{abs(end):.4f} {letters[0] if end >= 0 else letters[1]}" for end in ends)
