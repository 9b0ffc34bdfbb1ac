"""A hill over its ground and mist, made at the cost of the hill and not of the whole raster."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from terrain.constants import TERRESTRIAL_REFRACTION
from terrain.ground.dem import Dem
from terrain.ground.places import Hill
from terrain.mist.surface import Mist
from terrain.view.scene import Scene, make_scene

__all__ = ["hill_scene"]

WINDOW_M: Final = 8000.0


def hill_scene(
    dem: Dem,
    hill: Hill,
    *,
    mist: Mist | None = None,
    refraction: float = TERRESTRIAL_REFRACTION,
) -> Scene:
    """A hill over its ground and mist, as `make_scene` gives it, at the cost of the hill alone.

    The hill's own ground is looked for in a window about it, which grows until none of that
    ground touches its edge. A way round that only a larger window shows can change whose a low
    shoulder far from the summit is; the summit's surroundings are the same. Errors as there.
    """
    cell = dem.grid.cell_of(hill.lon_deg, hill.lat_deg)
    half_cells = math.ceil(WINDOW_M / dem.cell_m)
    while True:
        rows, cols = (
            slice(max(at - half_cells, 0), min(at + half_cells + 1, size))
            for at, size in zip(cell, dem.shape, strict=True)
        )
        part, part_mist = _window(dem, rows, cols), _mist_window(mist, rows, cols)
        scene = make_scene(part, hill, mist=part_mist, refraction=refraction)
        if not _reaches_out(scene.own_ground, rows, cols, dem.shape):
            break
        half_cells *= 2
    own = np.zeros(dem.shape, dtype=bool)
    own[rows, cols] = scene.own_ground
    seen = dem if mist is None else mist.surface(dem)
    return replace(scene, dem=dem, seen=seen, own_ground=own, mist=mist)


def _window(dem: Dem, rows: slice, cols: slice) -> Dem:
    """A part of a raster, with the part of the raster as delivered that lies under it."""
    shape = rows.stop - rows.start, cols.stop - cols.start
    grid = dem.grid.window(rows.start, cols.start, shape)
    heights = np.ascontiguousarray(dem.heights_m[rows, cols])
    if dem.delivered is None:
        return Dem(heights, grid)
    row = np.array([0.0, 0.0, 0.5, 0.5, 1.0, 1.0]) * (shape[0] - 1)
    col = np.array([0.0, 1.0, 0.0, 1.0, 0.0, 1.0]) * (shape[1] - 1)
    below = dem.delivered
    under_row, under_col = below.grid.rowcol(*grid.lonlat(row, col))
    under = tuple(
        slice(max(math.floor(at.min()) - 1, 0), min(math.ceil(at.max()) + 2, size))
        for at, size in zip((under_row, under_col), below.shape, strict=True)
    )
    delivered = np.ascontiguousarray(below.heights_m[under])
    placing = below.grid.window(under[0].start, under[1].start, delivered.shape)
    return Dem(heights, grid, Dem(delivered, placing))


def _mist_window(mist: Mist | None, rows: slice, cols: slice) -> Mist | None:
    if mist is None or not mist.covers[rows, cols].any():
        return None
    top = mist.top_m[rows, cols]
    return Mist(top, mist.grid.window(rows.start, cols.start, top.shape))


def _reaches_out(own: NDArray[np.bool_], rows: slice, cols: slice, shape: tuple[int, int]) -> bool:
    """Whether the hill's ground touches an edge of the window that is not one of the raster."""
    return bool(
        (rows.start > 0 and own[0].any())
        or (cols.start > 0 and own[:, 0].any())
        or (rows.stop < shape[0] and own[-1].any())
        or (cols.stop < shape[1] and own[:, -1].any())
    )
