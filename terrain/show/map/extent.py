"""What a map shows: where it is cut, and which cells of the raster lie there, how finely."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final, NamedTuple

import geopandas as gpd
import numpy as np
from numpy.typing import ArrayLike, NDArray
from shapely import LineString, get_coordinates

from terrain.arrays import Flags, Floats
from terrain.errors import TerrainError
from terrain.ground.dem import Dem
from terrain.ground.grid import Grid
from terrain.ground.places import Spot

_LEAST_SIDE_M: Final = 3000.0

_MOST_CELLS = 1500


class Extent(NamedTuple):
    """The edges of a map, in the coordinates of its grid, metres."""

    west: float
    east: float
    south: float
    north: float

    @property
    def aspect(self) -> float:
        """Width over height."""
        return (self.east - self.west) / (self.north - self.south)

    def shaped(self, aspect: float) -> Extent:
        """The least extent about this one of another width over height."""
        width, height = self.east - self.west, self.north - self.south
        more_x, more_y = max(height * aspect - width, 0) / 2, max(width / aspect - height, 0) / 2
        return Extent(
            self.west - more_x, self.east + more_x, self.south - more_y, self.north + more_y
        )


@dataclass(frozen=True, kw_only=True)
class MapCells:
    """The cells of a raster that a map shows, at the fineness of the picture.

    extent: of these cells; rows, cols: slices of the raster; step: cells of the raster to one of
    the picture.
    """

    extent: Extent
    rows: slice
    cols: slice
    step: int

    def blocks(self, values: NDArray[Any]) -> Floats:
        """Values of the raster (rows, cols) by cell of the picture: (rows, step, cols, step)."""
        block = np.asarray(values[self.rows, self.cols], dtype=float)
        rows, cols = (size // self.step for size in block.shape)
        return block.reshape(rows, self.step, cols, self.step)

    def thinned(self, values: NDArray[Any]) -> Floats:
        """Values of the raster (rows, cols) at the cells of the picture, averaged where thinned.

        Of a mask, the share of each cell.
        """
        return np.asarray(self.blocks(values).mean(axis=(1, 3)))

    def mask(self, shape: tuple[int, int]) -> Flags:
        """Which cells of a raster of that shape they are, (rows, cols)."""
        inside = np.zeros(shape, dtype=bool)
        inside[self.rows, self.cols] = True
        return inside

    def centres(self) -> tuple[Floats, Floats]:
        """Easting of the columns and northing of the rows of the picture."""
        west, east, south, north = self.extent
        cols = (self.cols.stop - self.cols.start) // self.step
        rows = (self.rows.stop - self.rows.start) // self.step
        return (
            west + (np.arange(cols) + 0.5) * (east - west) / cols,
            north - (np.arange(rows) + 0.5) * (north - south) / rows,
        )


def map_places(grid: Grid, lon_deg: ArrayLike, lat_deg: ArrayLike) -> Floats:
    """Easting and northing (n, 2) of places, in the coordinates of a grid's map."""
    return cell_places(grid, *grid.rowcol(np.atleast_1d(lon_deg), np.atleast_1d(lat_deg)))


def shape_places(grid: Grid, shapes: gpd.GeoSeries | LineString) -> Floats:
    """Easting and northing (n, 2) of points, or along a line, in EPSG:4326."""
    return map_places(grid, *get_coordinates(shapes).T)


def cell_places(grid: Grid, row: ArrayLike, col: ArrayLike) -> Floats:
    """Easting and northing (n, 2) of the middles of cells; rows and columns may be fractions.

    (2,) of a single cell.
    """
    turn, row, col = grid.transform, np.asarray(row), np.asarray(col)
    return np.stack([turn.c + turn.a * (col + 0.5), turn.f + turn.e * (row + 0.5)], axis=-1)


def whole_extent(grid: Grid) -> Extent:
    """All of a raster."""
    (rows, cols), turn = grid.shape, grid.transform
    return Extent(turn.c, turn.c + turn.a * cols, turn.f + turn.e * rows, turn.f)


def extent_about(grid: Grid, places_m: Floats, *, aspect: float) -> Extent:
    """The extent of a map about places (n, 2); without any, of the whole raster.

    aspect: width over height. The places keep a margin; the extent is moved, not cut, where it
    would reach beyond the raster, and is no wider than that if the places allow it.
    """
    whole = whole_extent(grid)
    if not len(places_m):
        return whole.shaped(aspect)
    low, high = places_m.min(axis=0), places_m.max(axis=0)
    side = max(float((high - low).max()), _LEAST_SIDE_M)
    middle, half = (low + high) / 2.0, np.maximum((high - low) / 2.0 + 0.13 * side, 0.25 * side)
    (west, south), (east, north) = middle - half, middle + half
    about = Extent(west, east, south, north).shaped(aspect)
    across = _within(about.west, about.east, whole.west, whole.east)
    return Extent(*across, *_within(about.south, about.north, whole.south, whole.north))


def extent_round(grid: Grid, place: Spot, reach_m: float) -> Extent:
    """The extent that reaches so far round a place, cut where the raster ends.

    TerrainError where it would reach nowhere.
    """
    if not reach_m > 0.0:
        raise TerrainError(f"a map that reaches {reach_m / 1000.0:g} km is none")
    whole = whole_extent(grid)
    east, north = map_places(grid, place.lon_deg, place.lat_deg)[0].tolist()
    return Extent(
        west=max(east - reach_m, whole.west),
        east=min(east + reach_m, whole.east),
        south=max(north - reach_m, whole.south),
        north=min(north + reach_m, whole.north),
    )


def map_cells(dem: Dem, extent: Extent) -> MapCells:
    """The cells of a raster that fill an extent as far as it reaches."""
    west, east, south, north = extent
    cell, left, top = dem.cell_m, dem.transform.c, dem.transform.f
    rows, cols = dem.shape
    first_row, last_row = _ends((top - north) / cell, (top - south) / cell, rows)
    first_col, last_col = _ends((west - left) / cell, (east - left) / cell, cols)
    step = max(1, -(-max(last_row - first_row, last_col - first_col) // _MOST_CELLS))
    last_row -= (last_row - first_row) % step
    last_col -= (last_col - first_col) % step
    across = left + first_col * cell, left + last_col * cell
    return MapCells(
        extent=Extent(*across, top - last_row * cell, top - first_row * cell),
        rows=slice(first_row, last_row),
        cols=slice(first_col, last_col),
        step=step,
    )


def _ends(first: float, last: float, count: int) -> tuple[int, int]:
    start = min(max(int(np.floor(first)), 0), count - 1)
    return start, max(min(int(np.ceil(last)), count), start + 1)


def _within(low: float, high: float, least: float, most: float) -> tuple[float, float]:
    if high - low >= most - least:
        return low, high
    move = max(least - low, 0.0) + min(most - high, 0.0)
    return low + move, high + move
