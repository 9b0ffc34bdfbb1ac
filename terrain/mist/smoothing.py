"""The top of a mist smoothed along its valleys and across them, by the ground alone."""

from __future__ import annotations

import math
from functools import partial
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from terrain.arrays import Singles
from terrain.cores import share_out
from terrain.mist._kernels import Links, smooth_lines
from terrain.mist.drainage import Drainage

# one leaves an edge at a sudden drop; a third changes a top by centimetres
_STEPS: Final = 2
# rows of a raster turned at a time, so that a cache line that is read or written is so whole
_STRIP: Final = 128


def smoothed(
    drainage: Drainage, top_m: Singles, floor_m: Singles, smooth_m: float, jump_m: float
) -> Singles:
    """Flat: the top spread over the ground of valley floors that lead on into each other.

    floor_m: of the valley that each cell belongs to, NaN for none; jump_m: by how much those of
    neighbours differ where no top goes over from one to the other, so that valleys side by side
    keep their own. Diffusion, an implicit step along rows and one along columns in turn, lets no
    value out of the range of those around it. Source: splitting by dimensions, Boyd (2000),
    Chebyshev and Fourier Spectral Methods, 13.1.
    """
    time = (smooth_m / drainage.cell_m) ** 2 / 2 / _STEPS
    if not time > 0:
        return top_m.copy()
    floor, known = floor_m.reshape(drainage.shape), drainage.known.reshape(drainage.shape)
    surface = top_m.reshape(drainage.shape)
    # along rows first, which are the columns of what is turned
    ways = Links(turned(floor), turned(known), jump_m, time), Links(floor, known, jump_m, time)
    room = [np.empty(links.floor.shape, dtype=np.float32) for links in ways]
    for links, found in zip(ways * _STEPS, room * _STEPS, strict=True):
        surface = turned(surface, found)
        share_out(links.floor.shape[1] - 2, partial(smooth_lines, surface=surface, links=links))
    return surface.reshape(-1)


def turned(values: NDArray[Any], found: NDArray[Any] | None = None) -> NDArray[Any]:
    """A raster whose rows are the columns of another; found: room for it, new unless given."""
    rows, cols = values.shape
    found = np.empty((cols, rows), dtype=values.dtype) if found is None else found

    def turn(first: int, end: int) -> None:
        for top in range(first * _STRIP, end * _STRIP, _STRIP):
            found[:, top : top + _STRIP] = values[top : top + _STRIP].T

    share_out(math.ceil(rows / _STRIP), turn)
    return found
