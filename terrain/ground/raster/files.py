"""What raster files GDAL is to open, those in zip archives too, and the opening of them.

A file is opened by the drivers named here and by no other: GDAL has many more, and some of them
take a few lines of text for the order to fetch a raster from somewhere else.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from os import PathLike, fspath
from pathlib import Path
from typing import Any, Final

import numpy as np
import rasterio
from rasterio._err import CPLE_BaseError
from rasterio.env import ensure_env_with_credentials
from rasterio.errors import RasterioError
from rasterio.io import DatasetReader

from terrain.errors import TerrainError
from terrain.ground.raster.afar import forget, is_afar, settings_for
from terrain.ground.raster.archives import rasters_in
from terrain.ground.raster.containers import check_container
from terrain.ground.raster.virtual import check_virtual, is_virtual
from terrain.ground.stored import check_file

# rasterio asks whether a cell could hold a number for unknown, and numpy warns of one too large
_ANY_NUMBER: Final = partial(np.errstate, over="ignore")

RasterFiles = str | PathLike[str] | Sequence[str | PathLike[str]]

_VIRTUAL: Final = "VRT"
# each holds its heights in its own files; none goes to fetch them
_DRIVERS: Final = (
    *("GTiff", "SRTMHGT", "AAIGrid", "GRASSASCIIGrid", "HFA", "EHdr", "ENVI", "DTED", "USGSDEM"),
    *("BT", "HF2", "XYZ", "GSAG", "GSBG", "GS7BG", "SAGA", "RST", "PCRaster", "SIGDEM", "ACE2"),
    *("JDEM", "ZMap", "Leveller", "Terragen", "BAG", "S102", "netCDF", "HDF5", "HDF5Image"),
    *("GRIB", "GPKG", "JP2OpenJPEG", "PNG", "JPEG", "GIF", "BMP", "WEBP"),
)
_BESIDE: Final = ":::BASE:::"
# the one name that GDAL may fetch while it reads a file of this machine: none
_NO_NETWORK: Final = {
    "CPL_VSIL_CURL_ALLOWED_FILENAME": "/vsicurl/none",
    "GDAL_VRT_ENABLE_PYTHON": "NO",
}


def addresses(paths: RasterFiles) -> list[str]:
    """What GDAL is to open: the files themselves, or the rasters inside those that are zipped."""
    several = [paths] if isinstance(paths, str | PathLike) else list(paths)
    if not several:
        raise TerrainError("no elevation raster was given: name at least one file")
    return [address for path in several for address in _addresses_of(fspath(path))]


def is_address(path: str) -> bool:
    """Whether GDAL is to open it by a way of its own, and not as a file of that name."""
    return path.startswith("/vsi") or "://" in path


def _addresses_of(path: str) -> list[str]:
    if is_address(path):
        return [path]
    check_file(path, or_folder=True)
    return rasters_in(path) if path.lower().endswith(".zip") else [path]


@contextmanager
def open_raster(address: str, *, trust: bool = False) -> Iterator[Any]:
    """A dataset; files are opened as needed, for a country's sheets are too many to hold open.

    trust: whether it may name files anywhere and fetch from a network.
    """
    drivers = _drivers_for(address, trust=trust)
    afar = is_afar(address)
    ways = settings_for(address) if afar else {} if trust else _NO_NETWORK
    with rasterio.Env(**ways):
        try:
            dataset = _opened(address, drivers)
        except (RasterioError, CPLE_BaseError, ValueError) as error:
            name = name_of(address)
            hint = ": it is a folder, name the files in it" if Path(name).is_dir() else ""
            if afar:
                forget(address, lambda: _opened(address, drivers))
                hint = f": {error}" if "HTTP" in str(error) else hint
            raise TerrainError(f"{name} cannot be read as an elevation raster{hint}") from error
        try:
            with dataset:
                if not trust:
                    _check_overviews(dataset, name_of(address))
                yield dataset
        except (RasterioError, CPLE_BaseError, MemoryError) as error:
            name = name_of(address)
            why = "the server or the way to it failed" if afar else "it is damaged"
            raise TerrainError(f"{name} cannot be read to its end: {why}") from error


def _check_overviews(dataset: Any, name: str) -> None:
    # GDAL opens the file that they are said to be in, whatever and wherever it is
    said = dataset.tags(ns="OVERVIEWS").get("OVERVIEW_FILE", "")
    if said and (_BESIDE not in said or "/" in said or "\\" in said):
        raise TerrainError(
            f"{name} says that its overviews are in {said[:200]!r}: give trust if you know who "
            "made it"
        )


def nodata_of(dataset: Any, band: int) -> float | None:
    """The number that stands for unknown in a band, which may be any; None where none does."""
    with _ANY_NUMBER():
        value: float | None = dataset.nodatavals[band - 1]
    return value


def _dataset(address: str, drivers: list[str] | None) -> Any:
    with _ANY_NUMBER():
        return DatasetReader(address, driver=drivers)


_opened: Final[Callable[[str, list[str] | None], Any]] = ensure_env_with_credentials(_dataset)


def _drivers_for(address: str, *, trust: bool) -> list[str] | None:
    if trust:
        return None
    if not is_address(address) and is_virtual(address):
        check_virtual(address)
        return [_VIRTUAL]
    if not is_address(address):
        check_container(address)
    return list(_DRIVERS)


def parts_of(path: str | PathLike[str]) -> list[str]:
    """The files that a raster is made of, itself among them; none where it may not be opened."""
    try:
        with open_raster(fspath(path)) as dataset:
            return list(dataset.files)
    except TerrainError:
        return []


def name_of(address: str) -> str:
    """What messages call a file."""
    return address.removeprefix("/vsizip/")
