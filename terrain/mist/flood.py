"""The lowest top of a mist that reaches each cell: every level of mist is a threshold of it.

A mist with a flat top behaves as a fluid: it lies wherever an unbroken way below its top leads
in from one of its sources. The lowest top that reaches a cell is therefore the least, over all
ways in, of the highest ground met on the way. Cells that touch at a corner are joined, since a
mist slips through any gap::

    source        pass        hollow           level of the hollow = height of the pass,
      \\         /    \\                        not of its floor, unless it is deep enough for
       \\_______/      \\______/                 mist to well up in it
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from terrain.errors import NoGround, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.mist.basins import Pools, filled, hollows_in, levels_from, pools_of

__all__ = ["FAR_BELOW_M", "MIN_HOLLOW_M", "flood_levels", "ground_in_the_open"]

FAR_BELOW_M: Final = -1e5
MIN_HOLLOW_M: Final = 10.0
"""Least depth of a closed hollow that cold air pools in by itself, metres: shallower ones are as
often faults of the raster, whose heights err by some metres (no source)."""

_FAR_ABOVE_M: Final = 1e5


def flood_levels(
    dem: Dem,
    *,
    seeds: Sequence[Spot | Hill] | None = None,
    min_hollow_m: float = MIN_HOLLOW_M,
) -> NDArray[np.float32]:
    """The lowest top of a connected mist that reaches each cell, metres, (rows, cols) float32.

    seeds: the places the mist comes from; then the raster's edge and unknown ground are walls.
    One seed gives the mist of one valley. None: the mist comes in at every outlet (the raster's
    edge, and ground beside unknown ground) and wells up from the lowest ground of the raster
    and from the lowest place of every closed hollow that is deeper than `min_hollow_m`, metres,
    from floor to spill; infinity leaves the hollows out.

    NaN where the ground is unknown, infinite where walls of unknown ground keep every mist from
    the seeds out, and never below the ground. Raises NoGround where no ground is known or a
    seed lies off it, TerrainError for a depth that is not 0 or more. Source: Barnes, Lehman &
    Mulla (2014), Priority-flood, and Barnes, Callaghan & Wickert (2020), depression
    hierarchies, as richdem computes them.

    >>> from affine import Affine
    >>> from terrain.ground.geodesy import local_transverse_mercator
    >>> from terrain.ground.grid import Grid
    >>> placing = Affine(25.0, 0.0, 0.0, 0.0, -25.0, 0.0)
    >>> grid = Grid(crs=local_transverse_mercator(-24, 54), transform=placing, shape=(3, 5))
    >>> ground = np.array([[9, 9, 9, 9, 9], [1, 5, 2, 7, 4], [9, 9, 9, 9, 9]])
    >>> flood_levels(Dem(ground, grid))[1].tolist()
    [1.0, 5.0, 5.0, 7.0, 4.0]
    >>> flood_levels(Dem(ground, grid), min_hollow_m=2)[1].tolist()
    [1.0, 5.0, 2.0, 7.0, 4.0]
    """
    if not min_hollow_m >= 0:
        raise TerrainError(f"a hollow of {min_hollow_m} m is none: give a depth of 0 m or more")
    heights = np.pad(dem.heights_m, 1, constant_values=np.nan)
    unknown = np.isnan(heights)
    if unknown.all():
        raise NoGround("the raster holds no known ground: choose another place or another raster")
    ground = ground_in_the_open(heights)
    if seeds is None:
        sources = unknown | (heights == np.nanmin(heights))
        levels = _from_outlets(ground, sources, min_hollow_m)
    else:
        levels = _from_seeds(ground, unknown, np.pad(_seed_cells(dem, seeds), 1))
    inner = np.s_[1:-1, 1:-1]
    return np.where(unknown[inner], np.float32(np.nan), levels[inner])


def ground_in_the_open(heights_m: NDArray[np.float32]) -> NDArray[np.float32]:
    """The ground with what is unknown so far below it that everything runs off there."""
    return np.where(np.isnan(heights_m), np.float32(FAR_BELOW_M), heights_m)


def _from_outlets(
    ground_m: NDArray[np.float32], sources: NDArray[np.bool_], min_hollow_m: float
) -> NDArray[np.float32]:
    levels = filled(ground_m)
    pools = pools_of(ground_m, levels)
    welling = pools.depth_m > min_hollow_m
    # richdem fills from the rim alone, so a source in the midst of the raster may be filled over
    welling[pools.number[sources]] = True
    welling[0] = False
    return _reopened(levels, ground_m, sources, pools, welling, min_hollow_m)


def _reopened(
    levels_m: NDArray[np.float32],
    ground_m: NDArray[np.float32],
    sources: NDArray[np.bool_],
    pools: Pools,
    welling: NDArray[np.bool_],
    min_hollow_m: float,
) -> NDArray[np.float32]:
    """Filled levels with the pools where mist wells up flooded from there as well.

    The ground round a pool is at least as high as the pool, so no level outside it can change.
    """
    reopened = levels_m.copy()
    for number in np.flatnonzero(welling).tolist():
        window = pools.window(number)
        ground, outside = ground_m[window], pools.number[window] != number
        inward = outside | sources[window]
        inward.flat[hollows_in(ground, inward).deeper_than(min_hollow_m).pit] = True
        flooded = levels_from(ground, inward)
        reopened[window] = np.where(outside, reopened[window], flooded)
    return reopened


def _from_seeds(
    ground_m: NDArray[np.float32], unknown: NDArray[np.bool_], sources: NDArray[np.bool_]
) -> NDArray[np.float32]:
    walled = np.where(unknown, np.float32(_FAR_ABOVE_M), _emptied(ground_m, sources))
    levels = levels_from(walled, sources)
    return np.where(levels < _FAR_ABOVE_M, levels, np.float32(np.inf))


def _emptied(ground_m: NDArray[np.float32], sources: NDArray[np.bool_]) -> NDArray[np.float32]:
    """Filled ground with its true floor in the pools that hold a source.

    A mist from outside meets ground as high as a pool before it reaches the pool, so filling
    the others changes no level; it spares the hierarchy its thousands of tiny hollows.
    """
    full = filled(ground_m)
    pools = pools_of(ground_m, full)
    holds_source = np.zeros(pools.depth_m.size, dtype=bool)
    holds_source[pools.number[sources]] = True
    return np.where(holds_source[pools.number], ground_m, full)


def _seed_cells(dem: Dem, seeds: Sequence[Spot | Hill]) -> NDArray[np.bool_]:
    if not seeds:
        raise TerrainError("a mist from seeds needs at least one seed: give a place, or no seeds")
    cells = np.zeros(dem.shape, dtype=bool)
    for seed in seeds:
        cell = dem.grid.cell_of(seed.lon_deg, seed.lat_deg)
        if np.isnan(dem.heights_m[cell]):
            place = f"{seed.lat_deg:.4f}, {seed.lon_deg:.4f}"
            raise NoGround(f"no mist can rise at {place}: the ground there is unknown")
        cells[cell] = True
    return cells
