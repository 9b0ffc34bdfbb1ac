"""The colours of every picture, chosen to be told apart by colour-blind readers and in grey print.

What must not be confused differs in lightness or in shape, never in hue alone: ground is dark to
middling, mist is pale with a dark shoreline, the sun is an open ring, places are discs.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from matplotlib.colors import LinearSegmentedColormap, to_rgb
from numpy.typing import NDArray

PAPER: Final = "#fcfbf8"
INK: Final = "#20262d"
QUIET: Final = "#5b6670"
FAINT: Final = "#c9cdd0"

HILL: Final = "#f2b134"
PATH: Final = "#7a4a1e"
HIDDEN: Final = "#656c73"

MIST: Final = "#edf3fa"
MIST_DEEP: Final = "#c6d6e5"
MIST_THIN: Final = "#a9bccd"
MIST_THICK: Final = "#fbfdff"
SHORE: Final = "#164a72"
WATER: Final = "#7896ad"
WATER_EDGE: Final = "#46657e"

SUN: Final = "#a84300"
SUN_GLOW: Final = "#fde6bf"
SKY_LOW: Final = "#f8ebdb"

RIDGE_NEAR: Final = "#35444c"
RIDGE_FAR: Final = "#a6b8c7"

EARTH: Final = "#5d5643"
EARTH_FAR: Final = "#cfc5b0"
EARTH_AT_FEET: Final = "#efeae0"

GROUND: Final = LinearSegmentedColormap.from_list(
    "ground", ["#8b9478", "#9d9878", "#b3a583", "#c9b998", "#efe6d4"]
)
"""Tint of the ground on a map from the lowest to the highest shown: it only ever gets paler."""


def mixed(first: str, second: str, share: NDArray[np.floating]) -> NDArray[np.float32]:
    """Colours between two, RGB 0 to 1: `share` (any shape) 0 is the first, 1 the second."""
    part = np.clip(share, 0.0, 1.0).astype(np.float32)
    start, end = (np.array(to_rgb(colour), dtype=np.float32) for colour in (first, second))
    # one colour's plane after the other: all that is done with them later is faster for it
    planes = [a + part * (b - a) for a, b in zip(start, end, strict=True)]
    return np.moveaxis(np.array(planes), 0, -1)
