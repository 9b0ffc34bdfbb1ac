"""The top of a mist smoothed along its valleys and across them, through the mist alone."""

from __future__ import annotations

import math
from functools import partial
from typing import Final

import numpy as np
from numpy.typing import NDArray

from terrain.arrays import Flags, Singles
from terrain.cores import share_out
from terrain.mist._kernels import IN, OUT, SHORE, diffuse
from terrain.mist.drainage import Drainage

# explicit diffusion over the four neighbours is stable up to this step, in cells squared
_STABLE_STEP: Final = 0.25
_LONG_STEPS: Final = 3


def smoothed(drainage: Drainage, top_m: Singles, within: Flags, smooth_m: float) -> Singles:
    """Flat: the top spread within the mist and its margin, NaN elsewhere.

    By diffusion through the mist, not through the ground, so that valleys side by side keep
    their own tops. Source: the RKL1 scheme of Meyer, Balsara & Aslam (2014), J. Comput. Phys.
    257, which lets no value out of the range of those around it.
    """
    state = np.where(within, np.uint8(IN), np.where(drainage.known, np.uint8(SHORE), np.uint8(OUT)))
    state = state.reshape(drainage.shape)
    surface = np.where(within, top_m, np.float32(np.nan)).reshape(drainage.shape)
    time = (smooth_m / drainage.cell_m) ** 2 / 2
    # one long step leaves ripples about a sudden drop; the next ones smooth them out
    for _ in range(_LONG_STEPS) if time > 0 else ():
        surface = _diffused(surface, state, time / _LONG_STEPS)
    return surface.reshape(-1)


def _diffused(surface: Singles, state: NDArray[np.uint8], time: float) -> Singles:
    """The surface after diffusion for some time, in cells squared, by one long step."""
    # the stages of one long step cover (s² + s) / 2 stable steps; s is odd
    stages = 2 * math.ceil((math.sqrt(8 * time / _STABLE_STEP + 1) - 1) / 4) + 1
    unit = 2 * time / (stages * stages + stages)
    before, at, after = surface, surface, surface.copy()
    for stage in range(1, stages + 1):
        ahead, back = (2 * stage - 1) / stage, (1 - stage) / stage
        weights = (ahead, back, ahead * unit)
        share_out(
            surface.shape[0] - 2,
            partial(diffuse, surface=after, before=before, at=at, state=state, weights=weights),
        )
        before, at, after = at, after, (before if stage > 1 else before.copy())
    return at
