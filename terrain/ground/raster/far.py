"""Reading ground beyond a Dem: chunk by chunk at full resolution, the highest of each block kept.

Overviews of a raster are means or samples, and lie below its crests; here no cell goes uncounted.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache, partial
from typing import Final

import numpy as np

from terrain.arrays import Flags, Floats, Singles
from terrain.ground.dem import Dem
from terrain.ground.far import FarGround
from terrain.ground.grid import Grid
from terrain.ground.raster.files import RasterFiles
from terrain.ground.raster.read import heights_on, laid_out, quietly
from terrain.ground.raster.sheet import Said, Sheet
from terrain.ground.raster.warp import (
    Box,
    Drawn,
    cells_under,
    drawn_on,
    edge_of,
    highest_about,
    resampled,
)

HIGHEST_M: Final = 8849.0
"""No ground stands higher (Mount Everest by the survey of China and Nepal, 2020)."""

Needed = Callable[[Floats, Floats, float], Flags]
"""Whether ground at longitudes and latitudes, or nearer than so many metres to them, can matter."""

_SIDES: Final = (4, 8, 16, 32)
_MOST_BLOCKS: Final = 16_000_000
_CHUNK_CELLS: Final = (512, 8192)  # files are often stored in rows
_LOOKED_AT_CELLS: Final = 256
TILES_KEPT: Final = 64
_OVERVIEW_M: Final = 1000.0
Files = tuple[list[Sheet], Grid]


def files_of(paths: RasterFiles, said: Said) -> Files:
    """The files, and the grid that they share."""
    with quietly():
        return laid_out(paths, said)


def blocks_of(dem: Dem, files: Files) -> int:
    """How many cells of the files along each side a cell of the ground as delivered is made of."""
    return max(round(dem.as_delivered.transform.a / files[1].transform.a), 1)


def highest_m(files: Files) -> float:
    """What no ground of the files is higher than, metres.

    By their overviews, where all have such of cells up to a kilometre: means and samples of ground
    no steeper than one in one lie no more than a cell below the highest.
    """
    with quietly():
        return min(max(map(_highest_of, files[0])), HIGHEST_M)


def _highest_of(sheet: Sheet) -> float:
    with sheet.opened() as dataset:
        # those of a virtual raster may be in files that it is not known to name
        if dataset.driver == "VRT" or not dataset.overviews(sheet.band):
            return HIGHEST_M
        grid = Grid(crs=sheet.crs, transform=sheet.placing.transform, shape=sheet.placing.shape)
        cell_m = max(float(sizes.max()) for sizes in grid.cell_sizes_m())
        factors = [n for n in dataset.overviews(sheet.band) if n * cell_m <= _OVERVIEW_M]
        if not factors:
            return HIGHEST_M
        shape = tuple(math.ceil(count / factors[-1]) for count in dataset.shape)
        raw = dataset.read(sheet.band, out_shape=shape, masked=True, out_dtype="float32")
        per_unit, offset = dataset.scales[sheet.band - 1], dataset.offsets[sheet.band - 1]
    top = np.ma.max(raw)
    if np.ma.is_masked(top):
        return -math.inf
    return float(sheet.per_unit * (per_unit * top + offset) + factors[-1] * cell_m)


def read_far(
    dem: Dem, files: Files, *, needed: Needed, place: tuple[float, float], to_m: float
) -> FarGround:
    """The ground about a Dem, as far as `to_m` metres from a place, where it is needed.

    place: longitude and latitude.
    """
    side_read = blocks_of(dem, files)
    drawn = None
    if dem.delivered is not None:
        drawn = drawn_on(dem.delivered.grid, dem.grid, blocks=side_read)
    read = lru_cache(TILES_KEPT)(partial(cells_on, dem.grid, files, (resampled, drawn)))
    top, left, bottom, right = _box(dem, files[1], place, to_m)
    area = (bottom - top) * (right - left)
    side = next((n for n in _SIDES if area <= _MOST_BLOCKS * n * n), _SIDES[-1])
    row, col = (first // side * side for first in (top, left))
    shape = (-(-(bottom - row) // side), -(-(right - col) // side))
    tops = np.full(shape, -np.inf, dtype=np.float32)
    deep, wide = (max(cells // (side * side_read), 1) for cells in _CHUNK_CELLS)
    highest = partial(cells_on, dem.grid, files, (highest_about, drawn))
    for down in range(0, shape[0], deep):
        for along in range(0, shape[1], wide):
            part = tops[down : down + deep, along : along + wide]
            first = row + down * side, col + along * side
            cells = part.shape[0] * side, part.shape[1] * side
            if _is_asked(dem, first, cells, needed):
                about_m = highest(first[0] - 1, first[1] - 1, (cells[0] + 2, cells[1] + 2))
                part[:] = block_tops(about_m, side)
    away = np.argwhere(np.isfinite(tops)) * side + [row, col] - dem.grid.rowcol(*place)
    return FarGround(
        tops_m=tops,
        row=row,
        col=col,
        side=side,
        cell_m=dem.cell_m,
        to_m=float(np.hypot(*away.T).max(initial=0.0)) * dem.cell_m,
        read=read,
    )


def block_tops(heights: Singles, side: int) -> Singles:
    """The highest of each block of cells and of those about it, NaN where none is known.

    heights: of whole blocks, with a line of cells about them all.

    >>> block_tops(np.array([[0, 0, 0, 9], [0, 1, 2, 0], [0, 3, 4, 0], [0, 0, 0, 0.0]]), 2)
    array([[9.]])
    """
    found = np.where(np.isnan(heights), -np.inf, heights)
    for _ in range(2):
        count = (found.shape[0] - 2) // side
        inner = found[:-2].reshape(count, side, -1).max(axis=1)
        for after in (side, side + 1):
            np.maximum(inner, found[after::side][:count], out=inner)
        found = inner.T
    return np.where(np.isinf(found), np.nan, found)


def _is_asked(dem: Dem, first: tuple[int, int], cells: tuple[int, int], needed: Needed) -> bool:
    """Whether some of a chunk lies beyond the Dem and may be needed."""
    ends = [at + size for at, size in zip(first, cells, strict=True)]
    if min(first) >= 0 and all(end <= size for end, size in zip(ends, dem.shape, strict=True)):
        return False
    row, col = np.meshgrid(
        *(
            np.linspace(at, end, math.ceil((end - at) / _LOOKED_AT_CELLS) + 1)
            for at, end in zip(first, ends, strict=True)
        )
    )
    slack_m = math.sqrt(0.5) * _LOOKED_AT_CELLS * dem.cell_m
    return bool(needed(*dem.grid.lonlat(row.ravel(), col.ravel()), slack_m).any())


def _box(dem: Dem, whole: Grid, place: tuple[float, float], to_m: float) -> Box:
    """The Dem's own cells, and those of the square about a place as far as the files go."""
    row, col = dem.grid.rowcol(*place)
    edge = edge_of(whole.shape)
    ends = np.stack(dem.grid.rowcol(*whole.lonlat(*edge)))
    ends = ends[:, np.isfinite(ends).all(axis=0)]
    middle, half = np.array([row, col]), to_m / dem.cell_m
    first = np.maximum(middle - half, np.minimum(ends.min(axis=1), 0.0))
    last = np.minimum(middle + half, np.maximum(ends.max(axis=1), np.array(dem.shape)))
    first, last = np.minimum(first, 0.0), np.maximum(last, np.array(dem.shape))
    top, left = (math.floor(at + 1e-6) for at in first)
    bottom, right = (math.ceil(at - 1e-6) for at in last)
    return top, left, bottom, right


def cells_on(
    placing: Grid,
    files: Files,
    laid: tuple[Callable[[Dem, Grid, Drawn], Singles], Drawn | None],
    row: int,
    col: int,
    shape: tuple[int, int],
) -> Singles:
    """Heights of cells of a grid from a row and a column on, on it or beyond.

    laid: how others are laid on these cells, and from how much each; None where the files have the
    same.
    """
    grid, (onto, drawn), (sheets, whole) = placing.window(row, col, shape), laid, files
    with quietly():
        if drawn is None:
            return heights_on(grid, sheets)[0]
        box = cells_under(whole, grid)
        if box is None:
            return np.full(shape, np.nan, dtype=np.float32)
        top, left, bottom, right = box
        part = whole.window(top, left, (bottom - top, right - left))
        return onto(Dem(heights_on(part, sheets)[0], part), grid, drawn)
