"""Rasters in zip archives, and whether they are as their maker left them.

GDAL reads on where the checksum of what it unpacks is wrong.
"""

from __future__ import annotations

import re
import struct
import zipfile
import zlib
from functools import lru_cache
from pathlib import Path
from typing import IO, Final

from terrain.errors import TerrainError

_RASTER_ENDINGS: Final = (
    *(".hgt", ".tif", ".tiff", ".asc", ".img", ".bil", ".dem", ".dt0", ".dt1", ".dt2"),
)
_ZIP: Final = "/vsizip/"
_PACKED: Final = re.compile(rf"{_ZIP}(.*?\.zip)/(.+)", re.IGNORECASE)
_AT_ONCE: Final = 1 << 20
_DAMAGE: Final = (
    *(zipfile.BadZipFile, zlib.error, struct.error, EOFError, OSError, NotImplementedError),
)

_BEGINNING: Final = struct.Struct("<4s5H3L2H")
_TOLD_AFTER: Final = 0x08
_LONG: Final = 0xFFFFFFFF
"""APPNOTE.TXT of PKWARE: the local file header (4.3.7), the bit that puts checksum and lengths
after the file (4.4.4), and what stands for a length of more than four bytes (4.4.8)."""


def rasters_in(path: str) -> list[str]:
    """What GDAL is to open of the rasters in a zip archive."""
    try:
        with zipfile.ZipFile(path) as archive:
            inside = [name for name in archive.namelist() if _is_raster(name)]
    except (*_DAMAGE, ValueError) as error:
        raise TerrainError(f"{path} cannot be read as a zip file: {error}") from error
    if not inside:
        raise TerrainError(f"{path} holds no elevation raster ({', '.join(_RASTER_ENDINGS)})")
    return [f"{_ZIP}{Path(path).resolve().as_posix()}/{name}" for name in inside]


def _is_raster(name: str) -> bool:
    return name.lower().endswith(_RASTER_ENDINGS) and ".." not in name.split("/")


def check_whole(address: str, *, most_bytes: int) -> None:
    """Stop at a raster of an archive that is not as it was packed, or unpacks to too much."""
    packed = _PACKED.fullmatch(address)
    if packed and Path(packed[1]).is_file():
        state = Path(packed[1]).stat()
        _check_whole(packed[1], packed[2], most_bytes, (state.st_mtime_ns, state.st_size))


@lru_cache(maxsize=4096)
def _check_whole(path: str, inside: str, most_bytes: int, state: tuple[int, int]) -> None:
    """The same of what is `inside` a file; state: tells the file from another of its name."""
    try:
        with zipfile.ZipFile(path) as archive, archive.open(inside) as raster:
            _check_beginning(path, archive.getinfo(inside))
            _read_through(raster, path, most_bytes)
    except (*_DAMAGE, KeyError, RuntimeError) as error:
        raise TerrainError(
            f"{path} is damaged: what it holds does not agree with its own checksum; "
            "fetch or copy it again"
        ) from error


def _check_beginning(path: str, said: zipfile.ZipInfo) -> None:
    """What stands before a packed file is what the list of the archive says of it.

    Python goes by the list alone; GDAL by both, and may end the process where they differ.
    """
    with Path(path).open("rb") as archive:
        archive.seek(said.header_offset)
        *_, check, packed, unpacked, _, _ = _BEGINNING.unpack(archive.read(_BEGINNING.size))
    told = said.CRC, min(said.compress_size, _LONG), min(said.file_size, _LONG)
    comes_after = said.flag_bits & _TOLD_AFTER
    if not comes_after and (check, packed, unpacked) not in (told, (said.CRC, _LONG, _LONG)):
        raise zipfile.BadZipFile("what stands before a file disagrees with the list of files")


def _read_through(raster: IO[bytes], path: str, most_bytes: int) -> None:
    count = 0
    while part := raster.read(_AT_ONCE):
        count += len(part)
        if count > most_bytes:
            raise TerrainError(f"{path} unpacks to more than {most_bytes / 1e9:.0f} GB")
