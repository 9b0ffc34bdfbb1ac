"""Mist that runs on from where it lies: over its rim, and onto ground that drains to no channel."""

from __future__ import annotations

import numpy as np

from terrain.arrays import Singles
from terrain.cores import share_out
from terrain.mist._kernels import Onward, hand_on, may_hand_on


def run_on(top: Singles, over: Onward) -> None:
    """Let mist run on from where it lies, each cell taking the highest top that comes to it.

    top: flat, NaN where there is no mist yet; it is added to. Over its rim mist thins with every
    cell it goes; ground that drains to no channel it covers level, but nowhere more than `deepest`,
    since such ground may fall away beyond the raster's edge; onto lower mist it falls as it thins.
    """
    given = top, ~np.isnan(top), over, np.zeros(top.size, dtype=bool)
    share_out(
        top.size // over.cols - 2,
        lambda first, end: may_hand_on(first + 1, end + 1, *given),
    )
    hand_on(*given)
