"""What many processes need, in a folder: its arrays lie in one file, which each of them maps.

So the system holds the arrays once, however many processes read them. A process that writes to one
has a copy of its own of what it changes.
"""

from __future__ import annotations

import mmap
import pickle
from io import BytesIO
from pathlib import Path
from typing import Any, Final

import numpy as np

_ARRAYS: Final = "arrays"
_REST: Final = "rest"
_ALIGNED_BYTES: Final = 64
"""Arrays begin at a multiple of this, as numpy and numba like them."""

_SMALL_BYTES: Final = 4096
"""An array smaller than this, a page, is not worth a place of its own."""


def lay_out(what: object, folder: Path) -> None:
    """Lay a value into a folder; OSError where it has no room, and what `pickle` raises."""
    places: list[tuple[int, int]] = []
    rest = BytesIO()
    with (folder / _ARRAYS).open("wb") as arrays:

        def lay(buffer: pickle.PickleBuffer) -> bool:
            """Whether an array stays with the rest."""
            content = buffer.raw()
            if content.nbytes < _SMALL_BYTES:
                return True
            arrays.write(bytes(-arrays.tell() % _ALIGNED_BYTES))
            places.append((arrays.tell(), content.nbytes))
            arrays.write(content)
            return False

        _Pickler(rest, protocol=5, buffer_callback=lay).dump(what)
        arrays.write(b"\0")  # what is empty cannot be mapped
    (folder / _REST).write_bytes(pickle.dumps(places) + rest.getvalue())


def read_laid_out(folder: Path) -> Any:
    """The value that was laid into a folder; of its arrays, those that were so are read-only."""
    with (folder / _ARRAYS).open("rb") as file:
        arrays = memoryview(mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_COPY))
    rest = BytesIO((folder / _REST).read_bytes())
    places = pickle.load(rest)
    return pickle.load(rest, buffers=[arrays[at : at + length] for at, length in places])


class _Pickler(pickle.Pickler):
    def reducer_override(self, value: Any) -> Any:
        # one number for all cells takes no room here, and is to take none there
        if isinstance(value, np.ndarray) and value.size > 1 and not any(value.strides):
            return np.broadcast_to, (value.flat[0], value.shape)
        return NotImplemented
