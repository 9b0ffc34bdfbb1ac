"""The lowest top of a mist that reaches each cell: every level of mist is a threshold of it.

A mist with a flat top behaves as a fluid: it lies wherever an unbroken way below its top leads
in from one of its sources. The lowest top that reaches a cell is therefore the least, over all
ways in, of the highest ground met on the way. Cells that touch at a corner are joined, since a
mist slips through any gap::

    source        pass        hollow           level of the hollow = height of the pass,
      \\         /    \\                        not of its floor, unless it is deep enough for
       \\_______/      \\______/                 mist to well up in it

Each cell has a way down, without a rise, to the pit of some hollow; so the mist that reaches the
pit reaches the cell as soon as it stands as high. Hollows join over the passes between them as
summits do over their key cols, upside down.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from terrain.arrays import Numbers, Singles, sealed
from terrain.errors import NoGround, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.ground.relief.tops import Tops, find_tops
from terrain.mist._kernels import carry_levels

MIN_HOLLOW_M: Final = 10.0
"""Least depth of a closed hollow that cold air pools in by itself, metres: shallower ones are as
often faults of the raster, whose heights err by some metres (no source)."""


def flood_levels(
    dem: Dem,
    *,
    seeds: Sequence[Spot | Hill] | None = None,
    min_hollow_m: float = MIN_HOLLOW_M,
    pits: Tops | None = None,
) -> Singles:
    """The lowest top of a connected mist that reaches each cell.

    Parameters
    ----------
    dem : Dem
        The ground.
    seeds : sequence of Spot or Hill, optional
        The places the mist comes from; then the raster's edge and unknown ground are walls. One
        seed gives the mist of one valley. Unless given, the mist comes in at every outlet (the
        raster's edge, and ground beside unknown ground) and wells up from the lowest ground of the
        raster and from the lowest place of every closed hollow that is deep enough.
    min_hollow_m : float, optional
        How deep, from floor to spill, metres; infinity leaves the hollows out.
    pits : Tops, optional
        What `find_pits` gave for this ground.

    Returns
    -------
    (rows, cols) float32 array, metres
        Read-only, NaN where the ground is unknown, infinite where walls of unknown ground keep
        every mist from the seeds out, and never below the ground.

    Raises
    ------
    NoGround
        Where no ground is known, or a seed lies off it.
    TerrainError
        For a depth that is not 0 or more.

    References
    ----------
    Depression hierarchies: Barnes, R., Callaghan, K. and Wickert, A. (2020), with the passes taken
    in order of height as in Kruskal's least spanning tree (1956).

    Examples
    --------
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
    if np.isnan(dem.heights_m).all():
        raise NoGround("the raster holds no known ground: choose another place or another raster")
    pits = find_pits(dem) if pits is None else pits
    if seeds is None:
        own_m = _from_outlets(pits, min_hollow_m)
    else:
        own_m = np.full(pits.cell.size, np.inf, dtype=np.float32)
        cells = _seed_cells(dem, seeds)
        np.minimum.at(own_m, pits.top_of.flat[cells], dem.heights_m.flat[cells])
    reached_m = carry_levels(own_m, pits.joined, -pits.col_height_m)
    # unknown ground belongs to pit -1 and so takes the last entry
    return sealed(np.maximum(dem.heights_m, np.append(reached_m, np.float32(np.nan))[pits.top_of]))


def find_pits(dem: Dem) -> Tops:
    """The lowest place of every hollow and the passes between them: the tops upside down.

    All heights are negative. One finding serves the levels of all sources.
    """
    return find_tops(Dem(-dem.heights_m, dem.grid))


def _from_outlets(pits: Tops, min_hollow_m: float) -> Singles:
    """The top at which mist rises into each pit from a source of its own, infinite without one.

    pits: upside down, so their heights are negative.
    """
    floor_m, outlet_m = -pits.height_m, -pits.touch_height_m
    spill_m = np.fmin(outlet_m, -pits.col_height_m)
    wells_up = (spill_m - floor_m > min_hollow_m) | (floor_m == floor_m.min())
    without_hollows_m = np.where(np.isnan(outlet_m), np.inf, outlet_m)
    return np.where(wells_up, floor_m, without_hollows_m).astype(np.float32)


def _seed_cells(dem: Dem, seeds: Sequence[Spot | Hill]) -> Numbers:
    """Flat indices of the cells that hold the seeds."""
    if not seeds:
        raise TerrainError("a mist from seeds needs at least one seed: give a place, or no seeds")
    cells = [dem.grid.cell_of(seed.lon_deg, seed.lat_deg) for seed in seeds]
    for seed, cell in zip(seeds, cells, strict=True):
        if np.isnan(dem.heights_m[cell]):
            place = f"{seed.lat_deg:.4f}, {seed.lon_deg:.4f}"
            raise NoGround(f"no mist can rise at {place}: the ground there is unknown")
    return np.asarray(np.ravel_multi_index(tuple(np.transpose(cells)), dem.shape))
