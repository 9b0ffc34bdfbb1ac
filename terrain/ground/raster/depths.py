"""The bed of the sea told from faults of a raster that lie as low.

The sea deepens from its shores, so that its bed has a rim no steeper than the ground; a fault has
walls about it.
"""

from __future__ import annotations

import numpy as np

from terrain.arrays import Flags, Singles
from terrain.constants import LOWEST_LAND_M

# a step at a rim, in cells, that no slope under the sea makes, and metres where cells are fine
_STEEPEST = 5.0
_LEAST_WALL_M = 300.0
_BESIDE = np.ones((3, 3), dtype=bool)


def without_pits(heights: Singles, cell_m: float) -> Singles:
    """Heights, in place, with those unknown that lie below all land and behind walls."""
    deep = heights < LOWEST_LAND_M
    if not deep.any():
        return heights
    from scipy import ndimage

    places, _ = ndimage.label(deep, structure=_BESIDE)
    wall_m = max(_STEEPEST * cell_m, _LEAST_WALL_M)
    for number, box in enumerate(ndimage.find_objects(places), start=1):
        rows, cols = (slice(max(part.start - 1, 0), part.stop + 1) for part in box)
        inside = places[rows, cols] == number
        if _wall_m(heights[rows, cols], inside) > wall_m:
            heights[rows, cols][inside] = np.nan
    return heights


def _wall_m(heights: Singles, inside: Flags) -> float:
    """The middle of the steps from the known ground about a pit down to its own rim, metres."""
    from scipy import ndimage

    outside = ndimage.binary_dilation(inside, structure=_BESIDE) & ~inside & ~np.isnan(heights)
    if not outside.any():
        return 0.0
    own = np.where(inside, heights, np.float32(-np.inf))
    nearest = ndimage.maximum_filter(own, footprint=_BESIDE, mode="constant", cval=-np.inf)
    return float(np.median(heights[outside] - nearest[outside]))
