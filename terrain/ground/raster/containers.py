"""HDF5 files, NetCDF 4 among them, that take their numbers from other files.

The library that reads them follows the name of any file, and gives its bytes for heights. A file
that does so says it in a message of an object header (HDF5 File Format Specification 3.0, IV.A.2)::

    type  size  flags  | what follows of it
       6                 1, flags with 8 set, 64 ...       an external link
       7                 1, 0 0 0, slots, used ...         external data files
       8                 3 or 4 or 5, 3 ...                a virtual layout

type is of two bytes and three zeros follow the flags in headers of the first version; those of the
second begin with a signature.
"""

from __future__ import annotations

import mmap
import re
from functools import lru_cache
from pathlib import Path
from typing import Final

from terrain.errors import TerrainError

_SIGNATURE: Final = b"\x89HDF\r\n\x1a\n"
_LINK: Final = rb"\x01[\x08-\x1f]\x40"
_EXTERNAL: Final = rb"\x01\0{3}(?P<slots>[^\0]\0).\0"
_VIRTUAL: Final = rb"[\x03-\x05]\x03"
# one by one: the library that looks for them goes from a whole word to the next
_FIRST: Final = tuple(
    re.compile(header, re.DOTALL)
    for header in (
        rb"\x06\0..[\0-\xff]\0{3}" + _LINK,
        rb"\x07\0(?P<size>[^\0].)[\0-\xff]\0{3}" + _EXTERNAL,
        rb"\x08\0[\x0e-\x28]\0[\0-\xff]\0{3}" + _VIRTUAL,
    )
)
_SECOND: Final = tuple(
    re.compile(header, re.DOTALL)
    for header in (
        rb"\x06..[\0-\xff](?:..)?" + _LINK,
        rb"\x07(?P<size>[^\0].)[\0-\xff](?:..)?" + _EXTERNAL,
        rb"\x08[\x0e-\x28]\0[\0-\xff](?:..)?" + _VIRTUAL,
    )
)
_HEAP: Final = re.compile(_LINK, re.DOTALL)
_SIGNED: Final = re.compile(rb"OHDR|OCHK|FHDB")
_NEAR_BYTES: Final = 4096
_WIDTHS: Final = (2, 4, 8, 16)  # bytes of an address, and of a length


def check_container(path: str) -> None:
    """Stop at an HDF5 file that takes numbers from another file."""
    file = Path(path)
    if file.is_file():
        state = file.stat()
        _check(path, (state.st_mtime_ns, state.st_size))


@lru_cache(maxsize=1024)
def _check(path: str, state: tuple[int, int]) -> None:
    """The same; state: tells the file from another of its name."""
    with Path(path).open("rb") as file:
        if file.read(len(_SIGNATURE)) != _SIGNATURE:
            return
        with mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as content:
            if leads_elsewhere(content):
                raise TerrainError(
                    f"{path} takes numbers from another file: give trust if you know who made it"
                )


def leads_elsewhere(content: bytes | mmap.mmap) -> bool:
    """Whether an HDF5 file has a message that names another file."""
    if _has_message(content, _FIRST):
        return True
    for signed in _SIGNED.finditer(content):
        part = content[signed.end() : signed.end() + _NEAR_BYTES]
        if signed[0] == b"FHDB" and _HEAP.search(part):
            return True
        if signed[0] != b"FHDB" and _has_message(part, _SECOND):
            return True
    return False


def _has_message(content: bytes | mmap.mmap, headers: tuple[re.Pattern[bytes], ...]) -> bool:
    return any(_is_message(found) for header in headers for found in header.finditer(content))


def _is_message(found: re.Match[bytes]) -> bool:
    """Whether numbers that look like a message are one: a list of files is as long as it says."""
    if "size" not in found.groupdict():
        return True
    size, slots = (int.from_bytes(found[part], "little") for part in ("size", "slots"))
    return any(size == 8 + of + 3 * slots * count for of in _WIDTHS for count in _WIDTHS)
