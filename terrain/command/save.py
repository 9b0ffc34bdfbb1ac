"""`--save FILE`: one option for pictures, tables and rasters, told apart by the ending."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import terrain
from terrain.command.report import saved
from terrain.errors import TerrainError

if TYPE_CHECKING:
    import geopandas as gpd
    from matplotlib.figure import Figure


__all__ = [
    "PICTURE",
    "RASTER",
    "TABLE",
    "Endings",
    "check_saves",
    "layers",
    "picture",
    "raster",
    "save_as",
]

PICTURE: Final = (".png", ".svg", ".pdf")
TABLE: Final = (".gpkg", ".geojson", ".csv")
RASTER: Final = (".tif", ".tiff")

Endings = tuple[str, ...]
Writer = Callable[[Path], None]


def check_saves(paths: Sequence[Path], *kinds: Endings) -> list[Path]:
    """The files to write, refused before any work is done if one cannot be written."""
    known = [ending for kind in kinds for ending in kind if ending != ".tiff"]
    for path in paths:
        if not any(path.suffix.lower() in kind for kind in kinds):
            raise TerrainError(f"cannot save as {path}: the name must end in {', '.join(known)}")
        folder = path.resolve().parent
        while not folder.exists():
            folder = folder.parent
        if not folder.is_dir() or not os.access(folder, os.W_OK):
            raise TerrainError(f"cannot write {path}: {folder} is not a folder one may write to")
        if path.is_dir():
            raise TerrainError(f"cannot write {path}: it is a folder")
    return list(paths)


def save_as(paths: Sequence[Path], writers: Mapping[Endings, Writer]) -> None:
    """Write each file with the writer of its kind, and say so."""
    for path in paths:
        write = next(w for kind, w in writers.items() if path.suffix.lower() in kind)
        write(path)
        saved(path)


def picture(draw: Callable[[], Figure]) -> Writer:
    """A writer of what is drawn, at the time of writing."""
    return lambda path: terrain.save_picture(draw(), path)


def layers(tables: Callable[[], Mapping[str, gpd.GeoDataFrame]]) -> Writer:
    """A writer of tables by the names of their layers; a file of one layer holds the first."""
    return lambda path: terrain.save_layers(tables(), path)


def raster(bands: Callable[[], Mapping[str, Any]], grid: terrain.Grid) -> Writer:
    """A writer of arrays of a grid's shape by what each says."""
    return lambda path: terrain.save_raster(bands(), grid, path)
