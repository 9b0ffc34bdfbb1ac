"""`--save FILE`: one option for files of all kinds, told apart by the ending."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Final

from terrain.command.report import saved
from terrain.errors import TerrainError

PICTURE: Final = (".png", ".svg", ".pdf")
TABLE: Final = (".gpkg", ".geojson", ".csv")
RASTER: Final = (".tif", ".tiff")
CALENDAR: Final = (".ics",)

Endings = tuple[str, ...]
Writer = Callable[[Path], None]


def check_saves(paths: Sequence[Path], *kinds: Endings) -> None:
    """Refuse the files to write, before any work is done, if one cannot be written."""
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


def save_as(paths: Sequence[Path], writers: Mapping[Endings, Writer]) -> None:
    """Write each file with the writer of its kind, and say so."""
    for path in paths:
        write = next(w for kind, w in writers.items() if path.suffix.lower() in kind)
        write(path)
        saved(path)
