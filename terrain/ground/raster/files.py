"""What raster files GDAL is to open, those in zip archives too, and the opening of them."""

from __future__ import annotations

import zipfile
from collections.abc import Sequence
from os import PathLike, fspath
from pathlib import Path
from typing import Any

import rasterio
from rasterio.errors import RasterioIOError

from terrain.errors import TerrainError

_RASTER_ENDINGS = (".hgt", ".tif", ".tiff", ".asc", ".img", ".bil", ".dem", ".dt1", ".dt2")
RasterFiles = str | PathLike[str] | Sequence[str | PathLike[str]]


def addresses(paths: RasterFiles) -> list[str]:
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


def open_raster(address: str) -> Any:
    """A dataset; files are opened as needed, for a country's sheets are too many to hold open."""
    try:
        return rasterio.open(address)
    except RasterioIOError as error:
        name = name_of(address)
        hint = ": it is a folder, name the files in it" if Path(name).is_dir() else ""
        raise TerrainError(f"{name} cannot be read as an elevation raster{hint}") from error


def name_of(address: str) -> str:
    """What messages call a file."""
    return address.removeprefix("/vsizip/")
