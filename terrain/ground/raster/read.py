"""The one door through which elevation rasters come in: files to a `Dem`."""

from __future__ import annotations

import math
import warnings
import zipfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from os import PathLike, fspath
from pathlib import Path
from typing import Any

import numpy as np
import rasterio
from pyproj import CRS
from rasterio.errors import NotGeoreferencedWarning, RasterioIOError
from rasterio.windows import Window

from terrain.arrays import Floats, Singles, sealed
from terrain.errors import NoGround, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.geodesy import horizontal
from terrain.ground.grid import Grid
from terrain.ground.places import Hill, Spot
from terrain.ground.raster import declared
from terrain.ground.raster.mosaic import Placing, joint_grid, paste
from terrain.ground.raster.warp import square_about, to_square_cells

DEFAULT_REACH_M = 40_000.0
"""Half side of the square read around a place, metres: farther ground seldom makes a skyline."""

MOST_CELLS = 400_000_000
"""More cells than this are not read at once: their heights and the warped copy take over 3 GB."""

# cells; what the way from degrees to cells and back may lose
_ROUNDING = 1e-4
_RASTER_ENDINGS = (".hgt", ".tif", ".tiff", ".asc", ".img", ".bil", ".dem", ".dt1", ".dt2")
RasterFiles = str | PathLike[str] | Sequence[str | PathLike[str]]


def read_dem(
    paths: RasterFiles,
    *,
    around: Spot | Hill | None = None,
    reach_m: float | None = None,
    crs: CRS | str | None = None,
    cell_m: float | None = None,
    height_unit: str = "metre",
) -> Dem:
    """Read elevation from raster files as heights in metres on square metric cells.

    A raster whose cells are square metres is used as it is. Any other is warped once to a
    transverse Mercator projection centred on the area; the ground before that is the result's
    `delivered`. Nodata, masked cells, voids and impossible heights become NaN. The name of the
    vertical datum is kept where files say theirs.

    Parameters
    ----------
    paths : path, or sequence of them
        One file or several that are joined into one (GeoTIFF, ESRI ASCII grid, SRTM ``.hgt``, VRT,
        anything GDAL reads with one band of heights; also zipped). Where files overlap, the first
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
        "metre", "foot" or "us-survey-foot".

    Returns
    -------
    Dem
        Heights in metres, (rows, cols).

    Raises
    ------
    NoGround
        Where `around` lies off the raster, or nothing is known within reach.
    TerrainError
        For files that cannot be used.

    Examples
    --------
    >>> read_dem("no/such/file.tif")
    Traceback (most recent call last):
    terrain.errors.TerrainError: there is no file no/such/file.tif
    """
    reach_m = _checked_reach(around, reach_m)
    if cell_m is not None and not 0 < cell_m < np.inf:
        raise TerrainError(f"cells of {cell_m} m cannot be: give a side above 0 m")
    with _quietly():
        sheets, whole = _laid_out(paths, crs, height_unit)
        grid = whole if around is None else _about(whole, around, reach_m)
        if math.prod(grid.shape) > MOST_CELLS:
            raise TerrainError(
                f"{grid.shape[0]} x {grid.shape[1]} cells are too many to read at once: "
                "read a part of them, around a place and with a reach"
            )
        heights = np.full(grid.shape, np.nan, dtype=np.float32)
        for sheet in sheets:
            paste(heights, grid, sheet.placing, sheet.read)
        delivered = Dem(sealed(heights), grid, vertical_datum=_common_datum(sheets))
    if np.isnan(delivered.heights_m).all():
        if around is None:
            raise TerrainError(f"{sheets[0].name} holds no known height: every cell is nodata")
        raise NoGround(
            f"no ground is known within reach of {around.lat_deg:.4f}, {around.lon_deg:.4f}: "
            "the raster is void there"
        )
    square = None if around is None else (around.lon_deg, around.lat_deg, reach_m)
    return to_square_cells(delivered, cell_m=cell_m, square=square)


def grid_of(
    paths: RasterFiles, *, crs: CRS | str | None = None, height_unit: str = "metre"
) -> Grid:
    """Where the cells of raster files lie, joined as `read_dem` joins them; no height is read.

    Arguments and TerrainError as in `read_dem`.
    """
    with _quietly():
        return _laid_out(paths, crs, height_unit)[1]


@dataclass(frozen=True, kw_only=True)
class _Sheet:
    """One raster file: what GDAL calls it, its CRS and datum, its placing, its unit in metres."""

    address: str
    crs: CRS
    vertical_datum: str
    placing: Placing
    per_unit: float

    @property
    def name(self) -> str:
        """What messages call it."""
        return _name(self.address)

    def read(self, rows: slice, cols: slice) -> Singles:
        """Heights of some rows and columns, metres, NaN where they are unknown."""
        window = Window.from_slices(rows, cols)
        try:
            with _open(self.address) as dataset:
                raw = dataset.read(1, window=window, out_dtype="float32")
                return declared.heights_m(dataset, raw, window, self.per_unit)
        except RasterioIOError as error:
            raise TerrainError(f"{self.name} cannot be read to its end: it is damaged") from error


def _laid_out(
    paths: RasterFiles, crs: CRS | str | None, height_unit: str
) -> tuple[list[_Sheet], Grid]:
    """The files, and the grid that all of them share."""
    sheets = [_sheet(address, crs, height_unit) for address in _addresses(paths)]
    return sheets, joint_grid(_common_crs(sheets), [sheet.placing for sheet in sheets])


@contextmanager
def _quietly() -> Iterator[None]:
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


def _addresses(paths: RasterFiles) -> list[str]:
    """What GDAL is to open: the files themselves, or the rasters inside those that are zipped."""
    several = [paths] if isinstance(paths, str | PathLike) else list(paths)
    if not several:
        raise TerrainError("no elevation raster was given: name at least one file")
    return [address for path in several for address in _addresses_of(fspath(path))]


def _addresses_of(path: str) -> list[str]:
    if path.startswith("/vsi") or "://" in path:
        return [path]
    if not Path(path).exists():
        raise TerrainError(f"there is no file {path}")
    if not path.lower().endswith(".zip"):
        return [path]
    try:
        with zipfile.ZipFile(path) as archive:
            inside = [name for name in archive.namelist() if name.lower().endswith(_RASTER_ENDINGS)]
    except (zipfile.BadZipFile, OSError) as error:
        raise TerrainError(f"{path} cannot be read as a zip file: {error}") from error
    if not inside:
        raise TerrainError(f"{path} holds no elevation raster ({', '.join(_RASTER_ENDINGS)})")
    return [f"/vsizip/{Path(path).resolve().as_posix()}/{name}" for name in inside]


def _open(address: str) -> Any:
    """A dataset; files are opened as needed, for a country's sheets are too many to hold open."""
    try:
        return rasterio.open(address)
    except RasterioIOError as error:
        name = _name(address)
        hint = ": it is a folder, name the files in it" if Path(name).is_dir() else ""
        raise TerrainError(f"{name} cannot be read as an elevation raster{hint}") from error


def _name(address: str) -> str:
    return address.removeprefix("/vsizip/")


def _sheet(address: str, crs: CRS | str | None, height_unit: str) -> _Sheet:
    name, per_unit = _name(address), declared.metres_per_unit(height_unit)
    with _open(address) as dataset:
        declared.check_band(dataset, name)
        full_crs = declared.crs_of(dataset, name, crs)
        declared.check_unit(dataset, name, full_crs, height_unit)
        placing = Placing(dataset.transform, dataset.shape)
    return _Sheet(
        address=address,
        crs=horizontal(full_crs),
        vertical_datum=declared.vertical_datum_of(full_crs),
        placing=placing,
        per_unit=per_unit,
    )


def _common_crs(sheets: list[_Sheet]) -> CRS:
    first = sheets[0]
    for sheet in sheets[1:]:
        if not declared.is_same_crs(first.crs, sheet.crs):
            raise TerrainError(
                f"{first.name} is in {first.crs.name} but {sheet.name} in {sheet.crs.name}: "
                "files to be joined must share one coordinate reference system"
            )
    return first.crs


def _common_datum(sheets: list[_Sheet]) -> str:
    """What heights are counted from, by those of the files that say it."""
    said = [sheet for sheet in sheets if sheet.vertical_datum]
    for sheet in said:
        if sheet.vertical_datum != said[0].vertical_datum:
            raise TerrainError(
                f"heights of {said[0].name} are above {said[0].vertical_datum} but those of "
                f"{sheet.name} above {sheet.vertical_datum}: files to be joined must share one"
            )
    return said[0].vertical_datum if said else ""


def _about(whole: Grid, around: Spot | Hill, reach_m: float) -> Grid:
    """The part of the raster that holds the square about a place."""
    whole.cell_of(around.lon_deg, around.lat_deg)
    row, col = square_about(whole, around.lon_deg, around.lat_deg, reach_m)
    (top, bottom), (left, right) = _span(row, whole.shape[0]), _span(col, whole.shape[1])
    return whole.window(top, left, (bottom - top, right - left))


def _span(cells: Floats, count: int) -> tuple[int, int]:
    first, last = np.floor(cells.min() + _ROUNDING), np.ceil(cells.max() - _ROUNDING)
    return max(int(first), 0), min(int(last) + 1, count)
