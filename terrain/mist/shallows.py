"""Where a mist is so shallow that trees stand out of it.

::

        _.-._      Y  Y            trees of 5 to 15 m in mist that is as deep: some of their
      .'     '.__Y_|__|__ mist     tops are out, some are not
     '          '-.|__|_
        island         shallows
"""

from __future__ import annotations

from typing import Final

import numpy as np
from scipy import ndimage

from terrain.arrays import Flags, Labels
from terrain.ground.dem import Dem
from terrain.mist.mist import Mist
from terrain.mist.trees import TREES_M, checked_trees

_TOUCHING: Final = np.ones((3, 3), dtype=bool)


def is_shallow(
    dem: Dem,
    mist: Mist,
    *,
    trees_m: tuple[float, float] = TREES_M,
    water: Flags | None = None,
) -> Flags:
    """Where a mist is as deep as trees are high, (rows, cols); arguments of `label_shallows`."""
    low_m, high_m = checked_trees(trees_m)
    depth_m = mist.depth(dem)
    shallow = (depth_m >= low_m) & (depth_m <= high_m)
    return np.asarray(shallow if water is None else shallow & ~water)


def label_shallows(
    dem: Dem,
    mist: Mist,
    *,
    trees_m: tuple[float, float] = TREES_M,
    water: Flags | None = None,
) -> Labels:
    """Number of the shallows that each cell is part of, (rows, cols) int32; 0 elsewhere.

    Shallows are connected cells, by sides and corners, in which the mist is as deep as trees are
    high: from the low to the high of `trees_m`, metres. water: (rows, cols), where no trees grow.
    TerrainError for heights that are not above 0, the lower first.
    """
    found, _ = ndimage.label(is_shallow(dem, mist, trees_m=trees_m, water=water), _TOUCHING)
    return np.asarray(found, dtype=np.int32)
