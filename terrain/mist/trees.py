"""How high the trees are that stand out of shallow mist."""

from __future__ import annotations

import math
from typing import Final

from terrain.errors import TerrainError

TREES_M: Final = (5.0, 15.0)
"""Heights of trees, the low and the high, metres (common practice, no source)."""


def checked_trees(trees_m: tuple[float, float]) -> tuple[float, float]:
    """Heights of trees; TerrainError for some that are not above 0, the lower first."""
    low_m, high_m = trees_m
    if not 0.0 < low_m < high_m < math.inf:
        raise TerrainError(f"trees of {low_m:g} to {high_m:g} m cannot be: the lower height first")
    return trees_m
