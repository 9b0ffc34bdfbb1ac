"""The lowest top of a mist that reaches each cell: every level of mist is a threshold of it.

A mist with a flat top behaves as a fluid: it lies wherever an unbroken way below its top leads
in from one of its sources. The lowest top that reaches a cell is therefore the least, over all
ways in, of the highest ground met on the way. Cells that touch at a corner are joined, since a
mist slips through any gap::

    source        pass        hollow           level of the hollow = height of the pass,
      \\         /    \\                        not of its floor
       \\_______/      \\______/
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import numpy as np
import richdem as rd
from numpy.typing import NDArray
from scipy import ndimage

from terrain.errors import NoGround, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.ground.quiet import without_progress_bars

__all__ = ["flood_levels"]

_FAR_BELOW_M: Final = -1e5
_FAR_ABOVE_M: Final = 1e5
_NO_DATA: Final = -1e9
_UNIT_CELLS: Final = (0.0, 1.0, 0.0, 0.0, 0.0, -1.0)
_OCEAN: Final = rd.depression_hierarchy.OCEAN
_NO_BASIN: Final = rd.depression_hierarchy.NO_DEP
_TOUCHING: Final = np.ones((3, 3), dtype=bool)


def flood_levels(dem: Dem, *, seeds: Sequence[Spot | Hill] | None = None) -> NDArray[np.float32]:
    """The lowest top of a connected mist that reaches each cell, metres, (rows, cols) float32.

    seeds: the places the mist comes from; then the raster's edge and unknown ground are walls.
    None: the mist comes in at every outlet (the raster's edge, and ground beside unknown
    ground) and wells up from the lowest ground of the raster.

    NaN where the ground is unknown, infinite where walls of unknown ground keep every mist from
    the seeds out, and never below the ground. Raises NoGround where no ground is known or a
    seed lies off it. Source: Barnes, Lehman & Mulla (2014), Priority-flood, and Barnes,
    Callaghan & Wickert (2020), depression hierarchies, as richdem computes them.

    >>> from affine import Affine
    >>> from terrain.ground.geodesy import local_transverse_mercator
    >>> from terrain.ground.grid import Grid
    >>> placing = Affine(25.0, 0.0, 0.0, 0.0, -25.0, 0.0)
    >>> grid = Grid(crs=local_transverse_mercator(-24, 54), transform=placing, shape=(3, 5))
    >>> ground = np.array([[9, 9, 9, 9, 9], [1, 5, 2, 7, 4], [9, 9, 9, 9, 9]])
    >>> flood_levels(Dem(ground, grid))[1].tolist()
    [1.0, 5.0, 5.0, 7.0, 4.0]
    """
    heights = np.pad(dem.heights_m, 1, constant_values=np.nan)
    unknown = np.isnan(heights)
    if unknown.all():
        raise NoGround("the raster holds no known ground: choose another place or another raster")
    if seeds is None:
        levels = _from_outlets(heights, unknown)
    else:
        levels = _from_seeds(heights, unknown, np.pad(_seed_cells(dem, seeds), 1))
    inner = np.s_[1:-1, 1:-1]
    return np.where(unknown[inner], np.float32(np.nan), levels[inner])


def _from_outlets(
    heights_m: NDArray[np.float32], unknown: NDArray[np.bool_]
) -> NDArray[np.float32]:
    sources = unknown | (heights_m == np.nanmin(heights_m))
    ground = np.where(unknown, np.float32(_FAR_BELOW_M), heights_m)
    levels = _filled(ground)
    # richdem fills from the rim alone, so a source in the midst of the raster may be filled over
    drowned = sources & (levels > ground)
    return _reopened(levels, ground, drowned) if drowned.any() else levels


def _reopened(
    levels_m: NDArray[np.float32], ground_m: NDArray[np.float32], drowned: NDArray[np.bool_]
) -> NDArray[np.float32]:
    """Filled levels with the pools over drowned sources flooded from those sources as well.

    The ground round a pool is at least as high as the pool, so no level outside it can change.
    """
    pools, _ = ndimage.label(levels_m > ground_m, _TOUCHING)
    windows = ndimage.find_objects(pools)
    reopened = levels_m.copy()
    for number in np.unique(pools[drowned]):
        window = windows[number - 1]
        outside = pools[window] != number
        flooded = _from_sources(ground_m[window], outside | drowned[window])
        reopened[window] = np.where(outside, reopened[window], flooded)
    return reopened


def _from_seeds(
    heights_m: NDArray[np.float32], unknown: NDArray[np.bool_], sources: NDArray[np.bool_]
) -> NDArray[np.float32]:
    ground = np.where(unknown, np.float32(_FAR_BELOW_M), heights_m)
    walled = np.where(unknown, np.float32(_FAR_ABOVE_M), _emptied(_filled(ground), ground, sources))
    levels = _from_sources(walled, sources)
    return np.where(levels < _FAR_ABOVE_M, levels, np.float32(np.inf))


def _emptied(
    filled_m: NDArray[np.float32], ground_m: NDArray[np.float32], sources: NDArray[np.bool_]
) -> NDArray[np.float32]:
    """Filled ground with its true floor in the pools that hold a source.

    A mist from outside meets ground as high as a pool before it reaches the pool, so filling
    the others changes no level; it spares the hierarchy its thousands of tiny hollows.
    """
    pools, count = ndimage.label(filled_m > ground_m, _TOUCHING)
    holds_source = np.zeros(count + 1, dtype=bool)
    holds_source[pools[sources]] = True
    return np.where(holds_source[pools], ground_m, filled_m)


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


def _filled(ground_m: NDArray[np.float32]) -> NDArray[np.float32]:
    filled = rd.rdarray(ground_m.copy(), no_data=_NO_DATA, geotransform=_UNIT_CELLS)
    with without_progress_bars():
        rd.FillDepressions(filled, in_place=True, topology="D8")
    return np.asarray(filled)


def _from_sources(ground_m: NDArray[np.float32], sources: NDArray[np.bool_]) -> NDArray[np.float32]:
    """Levels over ground without unknown cells, from sources anywhere in it."""
    if sources.all():
        return ground_m
    ground = rd.rdarray(ground_m.astype(np.float64), no_data=_NO_DATA, geotransform=_UNIT_CELLS)
    marks = np.where(sources, np.uint32(_OCEAN), np.uint32(_NO_BASIN))
    basin_of_cell = rd.rdarray(marks, no_data=_NO_BASIN - 1, geotransform=_UNIT_CELLS)
    with without_progress_bars():
        basins, _ = rd.get_depression_hierarchy(ground, basin_of_cell)
    levels: NDArray[np.float32] = _spill_heights(basins)[np.asarray(basin_of_cell)]
    return np.maximum(ground_m, levels, out=levels)


def _spill_heights(basins: Sequence[Any]) -> NDArray[np.float32]:
    """Height at which each basin joins the sources: that of the last basin it merges into.

    Basins merge two by two into greater ones, until one spills to a source.
    """
    joins_source = np.array([basin.ocean_parent for basin in basins])
    spill_m = np.array([basin.out_elev for basin in basins])
    parent = np.array([basin.parent for basin in basins])
    joins_source[_OCEAN], spill_m[_OCEAN] = True, -np.inf
    merged = np.where(joins_source, np.arange(len(basins)), parent)
    while np.any(merged[merged] != merged):
        merged = merged[merged]
    return spill_m[merged].astype(np.float32)
