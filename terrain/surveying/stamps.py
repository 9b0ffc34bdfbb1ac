"""What a part of a survey is made from, as a few letters: other ground, question or code differ."""

from __future__ import annotations

import hashlib
import re
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Final

from terrain.compiling import PACKAGE
from terrain.ground.raster.files import parts_of

_LETTERS: Final = 16
_TELLS_ONLY: Final = ("command", "desk", "fetch", "show", "words")
"""Rooms that say or show what others have found, and change none of it."""

_PACKED: Final = re.compile(r"/vsizip/(.+?\.zip)/", re.IGNORECASE)

_COUNTED: Final = ("numpy", "numba", "scipy", "pvlib", "pyproj", "rasterio", "tzdata")


def stamp_of(*parts: object) -> str:
    """Letters for what some values say, other ones for other values.

    >>> stamp_of("a", 1) == stamp_of("a", 1), stamp_of("a", 1) == stamp_of("a1")
    (True, False)
    """
    total = hashlib.sha256()
    for part in parts:
        words = part if isinstance(part, bytes) else repr(part).encode()
        total.update(f"{len(words)}:".encode() + words)
    return total.hexdigest()[:_LETTERS]


@cache
def code_stamp() -> str:
    """Letters for all code that can change an answer, and for the libraries that it counts with."""
    sources = [
        source
        for source in sorted(PACKAGE.rglob("*.py"))
        if source.relative_to(PACKAGE).parts[0] not in _TELLS_ONLY
    ]
    libraries = [(name, _version(name)) for name in _COUNTED]
    return stamp_of(*libraries, *(source.read_bytes() for source in sources))


def file_stamp(path: Path) -> str:
    """Letters for a file as it is now: where it lies, how long it is, when it was written."""
    found = path.resolve().stat()
    return stamp_of(str(path.resolve()), found.st_size, found.st_mtime_ns)


def ground_stamp(address: str) -> str:
    """Letters for all files of a raster as they are now; of one afar, for its name.

    address: as GDAL opens it.
    """
    packed = _PACKED.match(address)
    path = Path(packed[1] if packed else address)
    if not path.exists():
        return stamp_of(address)
    beside = parts_of(path) if path.suffix.lower() == ".vrt" else []
    files = sorted({path, *(Path(part) for part in beside if Path(part).exists())})
    return stamp_of(address, *map(file_stamp, files))


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return ""
