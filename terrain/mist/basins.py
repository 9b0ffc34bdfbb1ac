"""Closed hollows and the heights at which they spill, as richdem finds them.

Basins merge two by two as they fill, each over the lowest pass between them, until one spills
to a source. A hollow is told by its lowest place: it ends where it spills into a lower one::

      \\                /
       \\    ____      /  spill of b and of the two together
        \\  /    \\____/
         \\/ a    b        a is the lower, so b is a hollow of its own only up to the pass
                          between the two; a goes on to the outer spill
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import richdem as rd
from numpy.typing import NDArray
from scipy import ndimage

from terrain.mist.progress_bars import without_progress_bars

__all__ = ["Hollows", "Pools", "filled", "hollows_in", "pools_of"]

UNIT_CELLS: Final = (0.0, 1.0, 0.0, 0.0, 0.0, -1.0)
NO_DATA: Final = -1e9
_OCEAN: Final = rd.depression_hierarchy.OCEAN
_NO_BASIN: Final = rd.depression_hierarchy.NO_DEP
_TOUCHING: Final = np.ones((3, 3), dtype=bool)

Heights = NDArray[np.float32]


@dataclass(frozen=True, kw_only=True, eq=False)
class Hollows:
    """Closed hollows, one entry each.

    pit: (hollows,) flat index of the lowest cell; floor_m: its height, metres.
    spill: (hollows,) flat index of the cell over which it spills into lower ground; spill_m.
    """

    pit: NDArray[np.int64]
    floor_m: NDArray[np.float32]
    spill: NDArray[np.int64]
    spill_m: NDArray[np.float32]

    def deeper_than(self, depth_m: float) -> Hollows:
        """Those of more than some depth from floor to spill, metres."""
        kept = self.spill_m - self.floor_m > depth_m
        return Hollows(
            pit=self.pit[kept],
            floor_m=self.floor_m[kept],
            spill=self.spill[kept],
            spill_m=self.spill_m[kept],
        )


@dataclass(frozen=True, kw_only=True, eq=False)
class Pools:
    """What would stand full of water: the cells of each outermost hollow.

    number: (rows, cols) of the pool, 0 outside. depth_m: (pools + 1,) greatest depth, by number.
    blocks: the block of cells that each pool fills; that of pool n is entry n - 1.
    """

    number: NDArray[np.int32]
    depth_m: NDArray[np.float32]
    blocks: Sequence[Any]

    def window(self, number: int) -> tuple[slice, slice]:
        """The cells of a pool and those around it; no pool reaches the raster's edge."""
        rows, cols = self.blocks[number - 1]
        return slice(rows.start - 1, rows.stop + 1), slice(cols.start - 1, cols.stop + 1)


def filled(ground_m: Heights, *, sloping: bool = False) -> Heights:
    """The ground with every closed hollow filled to its spill, (rows, cols) float32, no NaN.

    sloping: let the fill fall towards its spill by the least step a number can take, so that
    water finds its way over it. Source: Barnes, Lehman & Mulla (2014), Priority-flood.
    """
    ground = rd.rdarray(ground_m.copy(), no_data=NO_DATA, geotransform=UNIT_CELLS)
    with without_progress_bars():
        rd.FillDepressions(ground, epsilon=sloping, in_place=True, topology="D8")
    return np.asarray(ground)


def pools_of(ground_m: Heights, filled_m: Heights) -> Pools:
    """The pools that filling made; none reaches the raster's edge, where water runs off."""
    number, count = ndimage.label(filled_m > ground_m, _TOUCHING)
    depth_m = np.zeros(count + 1, dtype=np.float32)
    wet = np.flatnonzero(number)
    np.maximum.at(depth_m, number.flat[wet], filled_m.flat[wet] - ground_m.flat[wet])
    blocks = ndimage.find_objects(number)
    return Pools(number=number.astype(np.int32, copy=False), depth_m=depth_m, blocks=blocks)


def hollows_in(ground_m: Heights, outside: NDArray[np.bool_]) -> Hollows:
    """Every hollow of ground without NaN; water that reaches the cells `outside` is gone.

    A hollow that holds a lower one ends at the pass between the two.
    """
    if outside.all():
        none = np.zeros(0, dtype=np.int64)
        return Hollows(
            pit=none, floor_m=ground_m.flat[none], spill=none, spill_m=ground_m.flat[none]
        )
    basins = _hierarchy(ground_m, outside)
    parent = _all(basins, "parent")
    pit = _all(basins, "pit_cell").astype(np.int64)
    ends = _all(basins, "ocean_parent").astype(bool)
    inner = ~ends & (np.arange(len(basins)) != _OCEAN)
    ends[inner] = pit[parent[inner]] != pit[inner]
    ends[_OCEAN] = False
    return Hollows(
        pit=pit[ends],
        # richdem leaves out the pit's height of basins that merged
        floor_m=ground_m.flat[pit[ends]],
        spill=_all(basins, "out_cell")[ends].astype(np.int64),
        spill_m=_all(basins, "out_elev")[ends].astype(np.float32),
    )


def _hierarchy(ground_m: Heights, outside: NDArray[np.bool_]) -> Sequence[Any]:
    ground = rd.rdarray(ground_m.astype(np.float64), no_data=NO_DATA, geotransform=UNIT_CELLS)
    marks = np.where(outside, np.uint32(_OCEAN), np.uint32(_NO_BASIN))
    basin_of_cell = rd.rdarray(marks, no_data=_NO_BASIN - 1, geotransform=UNIT_CELLS)
    with without_progress_bars():
        basins, _ = rd.get_depression_hierarchy(ground, basin_of_cell)
    return basins  # type: ignore[no-any-return]


def _all(basins: Sequence[Any], name: str) -> NDArray[Any]:
    return np.array([getattr(basin, name) for basin in basins])
