"""The one door through which elevation rasters come in: files to a `Dem`."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from contextlib import contextmanager

import numpy as np
import rasterio
from pyproj import CRS
from rasterio.errors import NotGeoreferencedWarning

from terrain.arrays import Floats, Singles, sealed
from terrain.errors import NoGround, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.grid import Grid
from terrain.ground.places import Hill, Spot
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
    sheet_of,
)
from terrain.ground.raster.warp import check_count, square_about, to_square_cells

DEFAULT_REACH_M = 40_000.0
"""Half side of the square read around a place, metres: farther ground seldom makes a skyline."""

# cells; what the way from degrees to cells and back may lose
_ROUNDING = 1e-4


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
    reach_m = _checked_reach(around, reach_m)
    if cell_m is not None and not 0 < cell_m < np.inf:
        raise TerrainError(f"cells of {cell_m} m cannot be: give a side above 0 m")
    with quietly():
        said = Said(crs=crs, height_unit=height_unit, band=band, variable=variable, trust=trust)
        sheets, whole = laid_out(paths, said)
        grid = whole if around is None else _about(whole, around, reach_m)
        check_count(grid.shape)
        heights, doubts = heights_on(grid, sheets)
        width_m, depth_m = grid.cell_sizes_m()
        without_pits(heights, float(max(width_m.max(), depth_m.max())))
        delivered = Dem(
            sealed(heights), grid, vertical_datum=common_datum(sheets), doubts=tuple(doubts)
        )
    if np.isnan(delivered.heights_m).all():
        if around is None:
            raise TerrainError(f"{sheets[0].name} holds no known height: every cell is nodata")
        raise NoGround(
            f"no ground is known within reach of {around.lat_deg:.4f}, {around.lon_deg:.4f}: "
            "the raster is void there"
        )
    square = None if around is None else (around.lon_deg, around.lat_deg, reach_m)
    return to_square_cells(delivered, cell_m=cell_m, square=square)


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
    with rasterio.Env(), warnings.catch_warnings():
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        yield


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


def span(cells: Floats, count: int) -> tuple[int, int]:
    """The first of so many rows or columns that reach as far as these, and that after the last."""
    first, last = np.floor(cells.min() + _ROUNDING), np.ceil(cells.max() - _ROUNDING)
    return max(int(first), 0), min(int(last) + 1, count)
