"""Summits by the cells of a raster, and the table of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import geopandas as gpd
import numpy as np

from terrain.arrays import Flags, Floats, Numbers, Singles, frozen_arrays
from terrain.errors import TerrainError
from terrain.ground.features import Features
from terrain.ground.grid import Grid
from terrain.ground.matched import match_names
from terrain.ground.relief.tops import Tops, level_cells

_MOST_SUMMITS: Final = 100_000


@dataclass(frozen=True, kw_only=True, eq=False)
@frozen_arrays(copy=False)
class SummitCells:
    """Summits by flat indices of cells, (summits,) each.

    cell: the first of the flat that the summit is. middle: that nearest to the middle of the flat.
    low_cell: of the key col, or of the lowest point of the way out where it is bounded. height_m,
    low_m: heights of the two, metres. bounded: as `find_summits` has it.
    """

    cell: Numbers
    height_m: Floats
    low_cell: Numbers
    low_m: Floats
    bounded: Flags
    middle: Numbers


def summit_cells(tops: Tops, heights_m: Singles, min_prominence_m: float) -> SummitCells:
    """The summits of a raster among its tops, highest first."""
    bounded = tops.is_bounded
    low_m = np.where(bounded, tops.touch_height_m, tops.col_height_m)
    kept = np.flatnonzero(tops.height_m - low_m >= min_prominence_m)
    check_count(kept.size, min_prominence_m)
    flats = (level_cells(heights_m, cell) for cell in tops.cell[kept].tolist())
    return SummitCells(
        cell=tops.cell[kept],
        height_m=tops.height_m[kept],
        low_cell=np.where(bounded, tops.touch_cell, tops.col_cell)[kept],
        low_m=low_m[kept],
        bounded=bounded[kept],
        middle=np.array([middle_of(flat, heights_m.shape[1]) for flat in flats], dtype=np.int64),
    )


def summit_table(
    grid: Grid, found: SummitCells, *, min_prominence_m: float, names: Features | None
) -> gpd.GeoDataFrame:
    """The table of some summits on a grid, as `find_summits` has it."""
    lon, lat = _lonlat(grid, found.middle)
    col_lon, col_lat = _lonlat(grid, found.low_cell)
    matched = match_names(lon, lat, names)
    listed = {} if np.isnan(matched.heights_m).all() else {"listed_m": matched.heights_m}
    summits = gpd.GeoDataFrame(
        {
            "name": matched.names,
            "height_m": found.height_m,
            "prominence_m": found.height_m - found.low_m,
            "col_height_m": found.low_m,
            "bounded": found.bounded,
            "col_lon_deg": col_lon,
            "col_lat_deg": col_lat,
            **listed,
        },
        geometry=gpd.points_from_xy(lon, lat),
        crs="EPSG:4326",
    )
    summits["name"] = summits["name"].astype(object)
    summits.attrs["min_prominence_m"] = float(min_prominence_m)
    return summits


def check_prominence(min_prominence_m: float) -> None:
    """Stop at a prominence that makes no summit."""
    if not 0 < min_prominence_m < np.inf:
        raise TerrainError(
            f"a prominence of {min_prominence_m} m makes no summit: give more than 0 m"
        )


def check_count(count: int, min_prominence_m: float) -> None:
    """Stop at more summits of one raster than can be meant."""
    if count > _MOST_SUMMITS:
        raise TerrainError(
            f"{count} tops have a prominence of {min_prominence_m:g} m or more, too many to be "
            "summits: ask for more prominence, or is this raster noise?"
        )


def middle_of(cells: Numbers, cols: int) -> int:
    """Of some cells of a raster of so many columns that which lies nearest to their middle."""
    # times their number all are whole, so that of two as near the first is taken in any raster
    off = [(at * cells.size - at.sum()).astype(float) for at in np.divmod(cells, cols)]
    return int(cells[np.argmin(off[0] ** 2 + off[1] ** 2)])


def _lonlat(grid: Grid, cells: Numbers) -> tuple[Floats, Floats]:
    return grid.lonlat(*np.divmod(cells, grid.shape[1]))
