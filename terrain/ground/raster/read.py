"""The one door through which elevation rasters come in: files to a `Dem`."""

from __future__ import annotations

import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np
import rasterio
from pyproj import CRS
from rasterio.errors import NotGeoreferencedWarning

from terrain.arrays import Singles, sealed
from terrain.errors import NoGround, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.grid import Grid
from terrain.ground.places import Hill, Spot
from terrain.ground.raster.blocks import Coarse, coarse_enough, grid_of_blocks, read_blocks
from terrain.ground.raster.depths import without_pits
from terrain.ground.raster.doubts import doubts_of
from terrain.ground.raster.files import RasterFiles, addresses
from terrain.ground.raster.leaps import Looked
from terrain.ground.raster.mosaic import coarseness, joint_grid, paste
from terrain.ground.raster.sheet import (
    NOTHING_SAID,
    Said,
    Sheet,
    common_crs,
    common_datum,
    credit_of,
    sheet_of,
)
from terrain.ground.raster.warp import MOST_CELLS, span, square_about, to_square_cells

DEFAULT_REACH_M = 40_000.0
"""Half side of the square read around a place, metres: farther ground seldom makes a skyline."""

# what GDAL keeps of the blocks of files, megabytes; by itself it takes a share of the machine
_GDAL_KEEPS_MB = 64

# of smaller ones there are soon more than numbers tell
_LEAST_SIDE_M = 0.001


def read_dem(
    paths: RasterFiles,
    *,
    around: Spot | Hill | None = None,
    reach_m: float | None = None,
    crs: CRS | str | None = None,
    cell_m: float | None = None,
    height_unit: str | None = None,
    band: int | None = None,
    variable: str | None = None,
    trust: bool = False,
    most_cells: int | None = None,
    progress: Callable[[float], None] = lambda share: None,
) -> Dem:
    """Read elevation from raster files as heights in metres on square metric cells.

    A raster whose cells are square metres is used as it is. Any other is warped once to a
    transverse Mercator projection centred on the area; the ground before that is the result's
    `delivered`. Nodata, masked cells, voids, impossible heights, pits below all land
    that are no bed of a sea, gaps between the sources of a virtual raster and missing blocks become
    NaN. The name of the vertical datum is
    kept where files say theirs.

    Parameters
    ----------
    paths : path, or sequence of them
        One file or several that are joined into one (GeoTIFF, ESRI ASCII grid, SRTM ``.hgt``, VRT,
        NetCDF, GRIB, anything GDAL reads; also zipped). Where files overlap, the first
        that knows the ground wins; those that do not lie on the cells of the finest are resampled
        to them.
    around : Spot or Hill, optional
        Read only the ground about this place.
    reach_m : float, optional
        Half the side of the square that is read about it, metres, as far as the raster goes; 40 km
        unless given.
    crs : pyproj.CRS or str, optional
        The coordinate reference system of files that do not say theirs.
    cell_m : float, optional
        Side of the cells wanted, metres; unless given, the raster's own (the finer side of oblong
        cells).
    height_unit : str, optional
        "metre", "foot" or "us-survey-foot"; unless given, what each file says, and metres where it
        says none.
    band : int, optional
        Which band of each file holds the heights, from 1, where there are several.
    variable : str, optional
        Which variable of each file (of NetCDF, HDF5; a page or layer by its name), where there are
        several.
    trust : bool, optional
        Whether a file may name other files wherever they are, and fetch from a network. Unless
        said, virtual rasters keep to their own folder, and only what `paths` itself names by an
        address is fetched.
    most_cells : int, optional
        How many cells may be held. A raster of more is read part by part at larger cells, the
        smallest of which there are no more (or of `cell_m`): each the mean of a square block of
        its own. `delivered` then has the highest of each block, so that summits keep their heights.
        Unless given, a raster of more than 400 million is refused.
    progress : callable, optional
        Called with the share that is read, from 0 to 1.

    Returns
    -------
    Dem
        Heights in metres, (rows, cols); its `doubts` say where files do not fit one another, and
        where heights leap as no ground does.

    Raises
    ------
    NoGround
        Where `around` lies off the raster, or nothing is known within reach.
    TerrainError
        For files that cannot be used, among them those whose heights cannot be metres where
        nothing says their unit; several bands or variables are listed.

    Examples
    --------
    >>> read_dem("no/such/file.tif")
    Traceback (most recent call last):
    terrain.errors.TerrainError: there is no file no/such/file.tif
    """
    said = Said(crs=crs, height_unit=height_unit, band=band, variable=variable, trust=trust)
    with quietly():
        laid = lay_out(paths, said, around=around, reach_m=reach_m)
        coarse = coarse_enough(laid.grid, cell_m=_checked_side(cell_m), most_cells=most_cells)
        if coarse.cells > (most_cells or MOST_CELLS):
            raise TerrainError(
                f"{coarse.cells} cells are too many to read at once: read a part of them, around a "
                "place and with a reach, or larger cells"
            )
        read = _by_blocks if coarse.side > 1 else _by_cells
        delivered, highest_m = read(laid, coarse, progress)
    if np.isnan(delivered.heights_m).all():
        if around is None:
            name = laid.sheets[0].name
            raise TerrainError(f"{name} holds no known height: every cell is nodata")
        raise NoGround(
            f"no ground is known within reach of {around.lat_deg:.4f}, {around.lon_deg:.4f}: "
            "the raster is void there"
        )
    square = None if around is None else (around.lon_deg, around.lat_deg, laid.reach_m)
    ground = to_square_cells(delivered, cell_m=cell_m, square=square)
    if highest_m is None:
        return ground
    return replace(ground, delivered=replace(delivered, heights_m=highest_m))


@dataclass(frozen=True, kw_only=True)
class LaidOut:
    """Files laid beside one another, and what of them is to be read.

    whole: the grid of all files; grid: the part that is read. reach_m: half side of the square.
    """

    sheets: list[Sheet]
    whole: Grid
    grid: Grid
    reach_m: float


def lay_out(
    paths: RasterFiles,
    said: Said,
    *,
    around: Spot | Hill | None = None,
    reach_m: float | None = None,
) -> LaidOut:
    """Files laid beside one another as `read_dem` reads them; no height is read."""
    reach_m = _checked_reach(around, reach_m)
    sheets, whole = laid_out(paths, said)
    grid = whole if around is None else _about(whole, around, reach_m)
    return LaidOut(sheets=sheets, whole=whole, grid=grid, reach_m=reach_m)


def _by_cells(
    laid: LaidOut, coarse: Coarse, progress: Callable[[float], None]
) -> tuple[Dem, Singles | None]:
    heights, doubts = ground_on(laid.grid, laid.sheets)
    progress(1.0)
    return delivered_as(heights, laid.grid, laid, doubts), None


def _by_blocks(
    laid: LaidOut, coarse: Coarse, progress: Callable[[float], None]
) -> tuple[Dem, Singles | None]:
    grid = grid_of_blocks(laid.whole, laid.grid, coarse.side)
    found = read_blocks(
        laid.whole,
        grid,
        coarse.side,
        partial(ground_on, sheets=laid.sheets),
        is_in_rows=laid.sheets[0].is_in_rows,
        progress=progress,
    )
    return delivered_as(found.means_m, grid, laid, found.doubts), sealed(found.highest_m)


def delivered_as(heights: Singles, grid: Grid, laid: LaidOut, doubts: list[str]) -> Dem:
    """Heights with what the files say of them."""
    return Dem(
        sealed(heights),
        grid,
        vertical_datum=common_datum(laid.sheets),
        doubts=tuple(doubts),
        credit=credit_of(laid.sheets),
    )


def ground_on(grid: Grid, sheets: list[Sheet]) -> tuple[Singles, list[str]]:
    """The same as `heights_on`, without what lies below all land."""
    heights, doubts = heights_on(grid, sheets)
    width_m, depth_m = grid.cell_sizes_m()
    without_pits(heights, float(max(width_m.max(), depth_m.max())))
    return heights, doubts


def how_coarse(
    paths: RasterFiles,
    *,
    around: Spot | Hill | None = None,
    reach_m: float | None = None,
    cell_m: float | None = None,
    most_cells: int | None = None,
    **said: Any,
) -> Coarse:
    """How `read_dem` reads the ground; no height is read. said: what is said of the rasters."""
    with quietly():
        laid = lay_out(paths, Said(**said), around=around, reach_m=reach_m)
        return coarse_enough(laid.grid, cell_m=_checked_side(cell_m), most_cells=most_cells)


def grid_of(paths: RasterFiles, said: Said = NOTHING_SAID) -> Grid:
    """Where the cells of raster files lie, joined as `read_dem` joins them; no height is read."""
    with quietly():
        return laid_out(paths, said)[1]


def heights_on(grid: Grid, sheets: list[Sheet]) -> tuple[Singles, list[str]]:
    """Heights of the files on a grid of their cells, NaN beyond, and where they do not fit."""
    heights = np.full(grid.shape, np.nan, dtype=np.float32)
    doubts: list[str] = []
    coarsest = coarseness(grid, [sheet.placing for sheet in sheets])
    for at, sheet in enumerate(sheets):
        looked = Looked(sheet)
        seams = paste(heights, grid, sheet.placing, looked.read, coarsest=coarsest)
        doubts += [*looked.doubts(), *doubts_of(sheet, sheets[:at], grid, seams)]
    return heights, doubts


def laid_out(paths: RasterFiles, said: Said) -> tuple[list[Sheet], Grid]:
    """The files, and the grid that all of them share."""
    sheets = [sheet_of(address, said) for address in addresses(paths)]
    return sheets, joint_grid(common_crs(sheets), [sheet.placing for sheet in sheets])


@contextmanager
def quietly() -> Iterator[None]:
    """Keep what GDAL and rasterio have to say from the terminal."""
    # inside an Env the messages of GDAL become exceptions or log records, not lines on stderr
    with rasterio.Env(GDAL_CACHEMAX=_GDAL_KEEPS_MB), warnings.catch_warnings():
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        yield


def _checked_side(cell_m: float | None) -> float | None:
    if cell_m is not None and not _LEAST_SIDE_M <= cell_m < np.inf:
        raise TerrainError(
            f"cells of {cell_m} m cannot be: give a side of {_LEAST_SIDE_M} m or more"
        )
    return cell_m


def _checked_reach(around: Spot | Hill | None, reach_m: float | None) -> float:
    if reach_m is None:
        return DEFAULT_REACH_M
    if around is None:
        raise TerrainError(f"a reach of {reach_m} m needs a place to be around: give around=")
    if not 0 < reach_m < np.inf:
        raise TerrainError(f"a reach of {reach_m} m cannot be: give a distance above 0 m")
    return reach_m


def _about(whole: Grid, around: Spot | Hill, reach_m: float) -> Grid:
    """The part of the raster that holds the square about a place."""
    whole.cell_of(around.lon_deg, around.lat_deg)
    row, col = square_about(whole, around.lon_deg, around.lat_deg, reach_m)
    (top, bottom), (left, right) = span(row, whole.shape[0]), span(col, whole.shape[1])
    return whole.window(top, left, (bottom - top, right - left))
