"""The kinds of files that are written, and whether one may be, found out before any work."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Final

from terrain.errors import TerrainError

Endings = tuple[str, ...]
Writer = Callable[[Path], None]

PICTURE: Final[Endings] = (".png", ".jpg", ".jpeg", ".webp", ".svg", ".pdf")
TABLE: Final[Endings] = (".gpkg", ".geojson", ".csv")
RASTER: Final[Endings] = (".tif", ".tiff")
MOVING: Final[Endings] = (".webp", ".gif")
CALENDAR: Final[Endings] = (".ics",)
"""The kinds of files that `--save FILE` writes, told apart by the ending."""


def check_writable(path: Path) -> None:
    """TerrainError where a file cannot be written: for its folder, or for what is there."""
    from terrain.show.files.whole import check_may_replace

    if path.is_dir():
        raise TerrainError(f"cannot write {path}: it is a folder")
    check_may_replace(path)
    # a pipe or a device is written to, not replaced
    if path.exists() and not path.is_file():
        return
    folder = Path(os.path.realpath(path)).parent
    while not folder.exists():
        folder = folder.parent
    if not folder.is_dir() or not os.access(folder, os.W_OK):
        raise TerrainError(f"cannot write {path}: {folder} is not a folder one may write to")


def check_not_in_use(paths: Iterable[Path], used: Iterable[Path]) -> None:
    """TerrainError where a file to write is one that the answer is made from, by whatever name."""
    there = [path for path in paths if path.exists()]
    for read in _with_parts(used) if there else ():
        for path in there:
            if read.exists() and path.samefile(read):
                raise TerrainError(
                    f"cannot write {path}: it is {read}, which this is made from; give another name"
                )


def _with_parts(files: Iterable[Path]) -> Iterator[Path]:
    """The files, and those that a virtual mosaic is made of."""
    from terrain.ground.raster.files import parts_of

    for file in files:
        yield file
        if file.suffix.lower() == ".vrt":
            yield from map(Path, parts_of(file))
