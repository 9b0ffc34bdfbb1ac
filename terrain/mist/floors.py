"""The valley floor that each cell belongs to, and the top of the mist over it."""

from __future__ import annotations

from typing import Final

import numpy as np

from terrain.arrays import Flags, Labels, Singles
from terrain.cores import share_out
from terrain.mist._floor_kernels import nearest_floors, of_sources
from terrain.mist._kernels import NOT_YET, carry_tops
from terrain.mist.drainage import Drainage

# ways up to a cell that turn back on themselves more often are not looked for
_ROUNDS: Final = 2


def carried(down: Labels, own: Singles, floors: Flags) -> tuple[Singles, Labels]:
    """Flat: the top of the mist over each cell's channel, and the first floor on the way down.

    own: the top that each channel cell would have by itself, NaN off the channels; floors: the
    cells that mist may lie on by itself. NaN and -1 where the way down comes to none.
    """
    top, source = own.copy(), np.full(own.size, NOT_YET, dtype=np.int32)
    carry_tops(down, top, floors, source, np.empty_like(source))
    return top, source


def take_nearest(source: Labels, drainage: Drainage, rounds: int = _ROUNDS) -> None:
    """Give each cell a nearer valley floor, of those from which a way only rises to it.

    source: flat, the cell of that on the way down, at first; -1 none.
    """
    within = source.reshape(drainage.shape), drainage.floor_m.reshape(drainage.shape)
    off = np.empty((2, *drainage.shape), dtype=np.int32)
    lines = np.empty((2, drainage.shape[1]), dtype=np.int64)
    nearest_floors(*within, off, lines, rounds)


def heights_and_tops(source: Labels, floor_m: Singles, top_m: Singles) -> tuple[Singles, Singles]:
    """Flat: height and top of the floor that each cell belongs to; NaN and 0 where to none."""
    floor, top = np.empty((2, source.size), dtype=np.float32)
    given = source, floor_m, top_m, floor, top
    share_out(source.size, lambda first, end: of_sources(first, end, *given))
    return floor, top
