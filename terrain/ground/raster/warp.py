"""Ground brought to square metric cells, once, and values and areas laid on the cells of a grid."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import shapely
from affine import Affine
from pyproj import CRS
from rasterio.enums import Resampling
from rasterio.features import geometry_mask
from shapely.geometry.base import BaseGeometry

from terrain.arrays import Flags, Floats, Labels, Singles, sealed
from terrain.errors import TerrainError
from terrain.ground.dem import Dem
from terrain.ground.geodesy import azimuth_and_distance, local_transverse_mercator, wrap_deg
from terrain.ground.grid import Grid
from terrain.ground.raster.strips import carried

MOST_CELLS = 400_000_000
"""More cells than this are not read at once: their heights and the warped copy take over 3 GB."""

# the scale of a transverse Mercator projection, 1 + d²/2R², reaches 1.005 at half of this
_WIDEST_M = 1_274_000.0
_SIDE_POINTS = 33
# cells on each side of a cell that its resampled height may draw on
_MARGIN_CELLS = 3
# and beyond a part of another grid, whose edges are not straight
_AROUND_CELLS = 4
# cells; what the way from degrees to cells and back may lose
_ROUNDING = 1e-4

Square = tuple[float, float, float]
Box = tuple[int, int, int, int]
"""The first row and column of a part of a raster, and those after the last."""


def to_square_cells(dem: Dem, *, cell_m: float | None = None, square: Square | None = None) -> Dem:
    """The ground on square metric cells: itself where it has them, else warped to them.

    cell_m: side of the cells, metres; unless given, the ground's own (the finer side).
    square: (lon_deg, lat_deg, reach_m) of the square wanted, or None for all of it.
    TerrainError where the ground is too wide for a plane.
    """
    grid = square_grid(dem.grid, cell_m=cell_m, square=square)
    if grid is dem.grid:
        return dem
    check_count(grid.shape)
    heights_m = resampled(dem, grid, drawn_on(dem.grid, grid))
    return replace(dem, heights_m=heights_m, grid=grid, delivered=dem)


def square_grid(grid: Grid, *, cell_m: float | None = None, square: Square | None = None) -> Grid:
    """The grid of square metric cells that ground on another is brought to; as `to_square_cells`.

    The same grid where it has such cells.
    """
    if not grid.is_metric:
        return _local_grid(grid, cell_m or _finer_side_m(grid), square)
    return grid if cell_m in (None, grid.cell_m) else _with_cells(grid, cell_m)


def to_grid(values: Labels, grid: Grid, onto: Grid) -> Labels:
    """Whole numbers (rows, cols) of one grid on the cells of another, from the nearest; 0 off it.

    >>> from affine import Affine
    >>> fine = Grid(crs=CRS(32630), transform=Affine(10, 0, 5e5, 0, -10, 6e6), shape=(4, 4))
    >>> coarse = Grid(crs=CRS(32630), transform=Affine(20, 0, 5e5, 0, -20, 6e6), shape=(2, 2))
    >>> to_grid(np.array([[1, 2], [3, 4]], dtype=np.int32), coarse, fine)[0].tolist()
    [1, 1, 2, 2]
    """
    return carried(values, grid.transform, onto, Resampling.nearest, 0, crs=grid.crs)


def as_warped(values: Labels, dem: Dem) -> Labels:
    """Whole numbers of the ground as delivered on the cells of a Dem; 0 where it is unknown."""
    if dem.delivered is None:
        return values
    onto = to_grid(values, dem.delivered.grid, dem.grid)
    return np.where(np.isnan(dem.heights_m), np.int32(0), onto)


def cells_within(grid: Grid, area: BaseGeometry) -> Flags:
    """The cells, (rows, cols), whose centres lie in an area; area: a polygon in EPSG:4326."""

    def edges(lonlat: Floats) -> Floats:
        row, col = grid.rowcol(lonlat[:, 0], lonlat[:, 1])
        return np.column_stack([col + 0.5, row + 0.5])

    flat = shapely.transform(area, edges)
    if not np.isfinite(flat.bounds).all():
        return np.zeros(grid.shape, dtype=bool)  # it goes where the grid's projection does not
    return np.asarray(geometry_mask([flat], grid.shape, Affine.identity(), invert=True))


def square_about(
    grid: Grid, lon_deg: float, lat_deg: float, reach_m: float
) -> tuple[Floats, Floats]:
    """Rows and columns around the square of half side `reach_m` metres about a place.

    On a metric grid the square lies along the grid; elsewhere along true north at the place,
    with a margin for resampling.
    """
    if grid.is_metric:
        row, col = grid.rowcol(lon_deg, lat_deg)
        half = reach_m / grid.cell_m
        return row + np.array([-half, half]), col + np.array([-half, half])
    local = _plane(local_transverse_mercator(lon_deg, lat_deg))
    side = np.linspace(-reach_m, reach_m, _SIDE_POINTS)
    end = np.full(_SIDE_POINTS, reach_m)
    east, north = np.concatenate([side, side, end, -end]), np.concatenate([end, -end, side, side])
    row, col = grid.rowcol(*local.lonlat(-north - 0.5, east - 0.5))
    if grid.crs.is_geographic:
        # a square across the edges of a world map goes on beyond the one that is nearer
        middle = float(grid.rowcol(lon_deg, lat_deg)[1])
        col = middle + wrap_deg((col - middle) * grid.transform.a) / grid.transform.a
        pole_deg = float(np.copysign(90.0, lat_deg))
        if azimuth_and_distance(lon_deg, lat_deg, lon_deg, pole_deg)[1] < reach_m:
            # all ways round lead through it
            row = np.append(row, grid.rowcol(lon_deg, pole_deg)[0])
            half = abs(180.0 / grid.transform.a)
            col = np.append(col, [middle - half, middle + half])
    margin = np.array([-_MARGIN_CELLS, _MARGIN_CELLS])
    return np.array([row.min(), row.max()]) + margin, np.array([col.min(), col.max()]) + margin


def _plane(crs: CRS) -> Grid:
    """A grid of metres: column - 0.5 is the easting, row - 0.5 the northing southwards."""
    return Grid(crs=crs, transform=Affine(1, 0, 0, 0, -1, 0), shape=(1, 1))


def _with_cells(grid: Grid, cell_m: float) -> Grid:
    rows, cols = (max(round(n * grid.cell_m / cell_m), 1) for n in grid.shape)
    transform = Affine(cell_m, 0, grid.transform.c, 0, -cell_m, grid.transform.f)
    return replace(grid, transform=transform, shape=(rows, cols))


def check_count(shape: tuple[int, int]) -> None:
    """Stop at more cells than are read at once."""
    if math.prod(shape) > MOST_CELLS:
        raise TerrainError(
            f"{shape[0]} x {shape[1]} cells are too many to read at once: "
            "read a part of them, around a place and with a reach"
        )


def _finer_side_m(grid: Grid) -> float:
    width_m, depth_m = grid.cell_sizes_m()
    middle = grid.shape[0] // 2
    return float(min(width_m[middle], depth_m[middle]))


def _local_grid(grid: Grid, cell_m: float, square: Square | None) -> Grid:
    """The grid of square cells on a plane that touches the earth in the middle of the ground."""
    _check_width(grid)
    crs = local_transverse_mercator(*grid.centre_lonlat)
    plane = _plane(crs)
    rows, cols = grid.shape
    down, along = (np.linspace(-0.5, count - 0.5, _SIDE_POINTS) for count in grid.shape)
    row = np.concatenate([down, down, np.full_like(along, -0.5), np.full_like(along, rows - 0.5)])
    col = np.concatenate([np.full_like(down, -0.5), np.full_like(down, cols - 0.5), along, along])
    border = np.stack(plane.rowcol(*grid.lonlat(row, col))) + 0.5
    first, last = border.min(axis=1), border.max(axis=1)
    if square is not None:
        middle = np.array(plane.rowcol(square[0], square[1])) + 0.5
        first, last = np.maximum(first, middle - square[2]), np.minimum(last, middle + square[2])
    top, left = (int(n) for n in np.floor(first / cell_m + 1e-6))
    bottom, right = (int(n) for n in np.ceil(last / cell_m - 1e-6))
    transform = Affine(cell_m, 0, left * cell_m, 0, -cell_m, -top * cell_m)
    return Grid(crs=crs, transform=transform, shape=(max(bottom - top, 1), max(right - left, 1)))


def off_the_earth(grid: Grid) -> TerrainError:
    """What is said of a raster whose cells have no place, or no extent, on the earth."""
    return TerrainError(
        f"the raster does not lie on the earth in {grid.crs.name}: give the coordinate "
        "reference system that its coordinates are in"
    )


def _check_width(grid: Grid) -> None:
    width_m = grid.shape[1] * float(grid.cell_sizes_m()[0].max())
    if not np.isfinite(width_m):
        raise off_the_earth(grid)
    if not width_m < _WIDEST_M:
        raise TerrainError(
            f"{width_m / 1000:.0f} km from west to east are too wide to be laid on a plane: "
            "read a part of it, around a place and with a reach"
        )


class Drawn(NamedTuple):
    """How much of a raster a cell of another grid is made from.

    about: how many cells across the range is of that its height keeps to. scales: how many cells of
    the grid there are along one of the raster's, across and down, 1 at most.
    """

    about: int
    scales: tuple[float, float] = (1.0, 1.0)


def drawn_on(delivered: Grid, grid: Grid, *, blocks: int = 1) -> Drawn:
    """What the cells of a grid are made from, the same wherever on it they lie.

    blocks: of how many cells of the files along each side a delivered cell is made.
    """
    middle = delivered.shape[0] // 2
    width, depth = (float(sizes[middle]) / grid.cell_m for sizes in delivered.cell_sizes_m())
    # coarser cells are means over several of the delivered
    about = 2 * math.ceil(1.0 / min(width, depth) - 1e-6)
    return Drawn(about * blocks + 1, (min(width / blocks, 1.0), min(depth / blocks, 1.0)))


def resampled(dem: Dem, grid: Grid, drawn: Drawn) -> Singles:
    """Heights on another grid: cubic, within the range of the delivered cells about each.

    Cubic lowers summits half as much as bilinear (1.3 m against
    2.7 m in the median on 3 second cells of the Fichtelgebirge), but swings over at cliffs; the
    range stops that. Unknown where the nearest delivered cell is.
    """
    heights = carried(
        dem.heights_m,
        dem.grid.transform,
        grid,
        Resampling.cubic,
        np.nan,
        crs=dem.grid.crs,
        scales=drawn.scales,
    )
    np.minimum(heights, highest_about(dem, grid, drawn), out=heights)
    from scipy.ndimage import minimum_filter

    lowest = _limit(dem, grid, drawn.about, np.inf, minimum_filter)
    return sealed(np.maximum(heights, lowest, out=heights))


def highest_about(dem: Dem, grid: Grid, drawn: Drawn) -> Singles:
    """The most that `resampled` gives to the cells of another grid."""
    from scipy.ndimage import maximum_filter

    return _limit(dem, grid, drawn.about, -np.inf, maximum_filter)


def cells_under(delivered: Grid, grid: Grid) -> Box | None:
    """The part of a raster from which heights on another grid are resampled, None without any."""
    row, col = delivered.rowcol(*grid.lonlat(*edge_of(grid.shape)))
    around = np.array([-_AROUND_CELLS, _AROUND_CELLS])
    (top, bottom), (left, right) = (
        span(np.array([at.min(), at.max()]) + around, count)
        for at, count in zip((row, col), delivered.shape, strict=True)
    )
    return (top, left, bottom, right) if top < bottom and left < right else None


def edge_of(shape: tuple[int, int]) -> tuple[Floats, Floats]:
    """Fractional rows and columns about the outer edge of a raster."""
    down, along = (np.linspace(-0.5, count - 0.5, _SIDE_POINTS) for count in shape)
    ends = [np.full(_SIDE_POINTS, at) for at in (-0.5, shape[0] - 0.5, shape[1] - 0.5)]
    row = np.concatenate([down, down, ends[0], ends[1]])
    return row, np.concatenate([ends[0], ends[2], along, along])


def span(cells: Floats, count: int) -> tuple[int, int]:
    """The first of so many rows or columns that reach as far as these, and that after the last."""
    first, last = np.floor(cells.min() + _ROUNDING), np.ceil(cells.max() - _ROUNDING)
    return max(int(first), 0), min(int(last) + 1, count)


def _limit(
    dem: Dem, grid: Grid, about: int, nothing: float, reach: Callable[..., Singles]
) -> Singles:
    """The highest or the lowest of the delivered cells about each cell of another grid."""
    known = np.where(np.isnan(dem.heights_m), np.float32(nothing), dem.heights_m)
    limit = reach(known, size=about)
    return carried(limit, dem.grid.transform, grid, Resampling.nearest, np.nan, crs=dem.grid.crs)
