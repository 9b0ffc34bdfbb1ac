"""What ground beyond that read cell by cell does to skylines."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from terrain.arrays import Flags, Floats, Numbers, sealed
from terrain.cores import share_out
from terrain.ground.dem import Dem
from terrain.ground.far import TILE_CELLS, FarGround
from terrain.sight._far_kernels import Blocks, scan_blocks, scan_cells
from terrain.sight._kernels import Rays

_NO_MARKS: Final = np.empty((0, 0), dtype=bool)
_NOTHING: Final = sealed(np.empty((0, 0), dtype=np.float32))
_ROUNDING: Final = 1e-9
Found = tuple[Floats, Floats, Floats]


def blocks_of(far: FarGround | None) -> Blocks:
    """The blocks of far ground as the kernels take them, none without any."""
    if far is None:
        return Blocks(_NOTHING, 0.0, 0.0, 1.0, 1)
    side = far.side
    return Blocks(far.tops_m, far.row - 0.5, far.col - 0.5, float(side), TILE_CELLS // side)


def with_far(
    dem: Dem, rays: Rays, found: Found, *, above_deg: float = -90.0, finely: bool = False
) -> Found:
    """Skylines along rays with the far ground beyond the Dem: altitudes, distances, how far known.

    found: the same without, radians and metres, (rays,) each; altitudes may be NaN. above_deg: no
    lower ground is looked for. finely: where a block stands higher its cells decide.
    """
    far = dem.far
    if far is None:
        return found
    altitude, distance_m, known_m = found
    # a line of centres at the very end counts for the near or the far, and may count for both
    leaves_m = np.maximum(_leaves_m(dem, rays) * (1.0 - _ROUNDING), dem.cell_m)
    slope = np.fmax(np.tan(altitude), math.tan(math.radians(above_deg)))
    coarse, coarse_m, far_known_m = _over_blocks(far, rays, leaves_m, slope, _NO_MARKS)
    higher = coarse > slope
    best, best_m = slope.copy(), distance_m.copy()
    if finely:
        _read_finely(far, rays, leaves_m, (coarse, coarse_m), (best, best_m))
    else:
        best[higher], best_m[higher] = coarse[higher], coarse_m[higher]
    is_far = best > slope
    reaches = known_m >= leaves_m
    return (
        np.where(is_far, np.arctan(best), altitude),
        np.where(is_far, best_m, distance_m),
        np.where(reaches, np.maximum(far_known_m, known_m), known_m),
    )


def _leaves_m(dem: Dem, rays: Rays) -> Floats:
    """How far off rays pass the outermost cell centres, metres (rays,)."""
    ways = []
    for count, place, step in zip(
        dem.shape, (rays.row, rays.col), (rays.row_step, rays.col_step), strict=True
    ):
        away = np.where(step > 0.0, count - 1.0 - place, -place)
        ways.append(np.divide(away, step, out=np.full(step.shape, np.inf), where=step != 0.0))
    return np.asarray(np.maximum(np.minimum(*ways), 0.0))


def _over_blocks(far: FarGround, rays: Rays, from_m: Floats, limits: Floats, marks: Flags) -> Found:
    """Slopes of the highest blocks along rays, where they are, and how far the blocks are known."""
    slopes, distances_m, known_m = np.empty((3, rays.row.size))
    blocks = blocks_of(far)
    share_out(
        rays.row.size,
        lambda first, end: scan_blocks(
            first, end, rays, blocks, from_m, limits, marks, slopes, distances_m, known_m
        ),
    )
    return slopes, distances_m, known_m


def _read_finely(
    far: FarGround,
    rays: Rays,
    from_m: Floats,
    coarse: tuple[Floats, Floats],
    best: tuple[Floats, Floats],
) -> None:
    """Raise slopes, and where they are, to those of the cells of blocks that stand higher.

    First of the tiles that hold the highest blocks; after that few others stand out still.
    """
    tiles = [-(-count * far.side // TILE_CELLS) for count in far.tops_m.shape]
    done = np.zeros(tiles, dtype=bool)
    open_rays = np.flatnonzero(coarse[0] > best[0])
    if not open_rays.size:
        return
    some = _only(rays, open_rays)
    row = rays.row[open_rays] + coarse[1][open_rays] * some.row_step
    col = rays.col[open_rays] + coarse[1][open_rays] * some.col_step
    down = np.clip((row - far.row + 0.5) // TILE_CELLS, 0, tiles[0] - 1).astype(int)
    along = np.clip((col - far.col + 0.5) // TILE_CELLS, 0, tiles[1] - 1).astype(int)
    marks = np.zeros(tiles, dtype=bool)
    marks[down, along] = True
    while marks.any():
        for tile in np.argwhere(marks):
            _over_cells(far, rays, open_rays, from_m, tile, best)
        done |= marks
        open_rays = open_rays[coarse[0][open_rays] > best[0][open_rays]]
        marks = np.zeros(tiles, dtype=bool)
        _over_blocks(far, _only(rays, open_rays), from_m[open_rays], best[0][open_rays], marks)
        marks &= ~done


def _over_cells(
    far: FarGround,
    rays: Rays,
    open_rays: Numbers,
    from_m: Floats,
    tile: Numbers,
    best: tuple[Floats, Floats],
) -> None:
    """Raise slopes to those of the cells of a tile."""
    begins, ends = _within(far, rays, tile)
    begins = np.maximum(begins, from_m)
    through = open_rays[begins[open_rays] < ends[open_rays]]
    if not through.size:
        return
    row, col, heights = far.tile(*(int(part) for part in tile))
    some = _only(rays, through)._replace(heights=heights)
    some = some._replace(row=some.row - row, col=some.col - col)
    slopes, distances_m = best[0][through], best[1][through]
    scan_cells(0, through.size, some, begins[through], ends[through], slopes, distances_m)
    best[0][through], best[1][through] = slopes, distances_m


def _within(far: FarGround, rays: Rays, tile: Numbers) -> tuple[Floats, Floats]:
    """Where rays come into a tile and leave it, metres; the first is more where they miss it."""
    begins, ends = np.zeros(rays.row.size), np.full(rays.row.size, np.inf)
    for first, number, place, step in zip(
        (far.row, far.col), tile, (rays.row, rays.col), (rays.row_step, rays.col_step), strict=True
    ):
        edge = first - 0.5 + float(number) * TILE_CELLS
        with np.errstate(divide="ignore", invalid="ignore"):
            one, other = (edge - place) / step, (edge + TILE_CELLS - place) / step
        begins, ends = np.fmax(begins, np.fmin(one, other)), np.fmin(ends, np.fmax(one, other))
    return begins, ends


def _only(rays: Rays, some: Numbers) -> Rays:
    """Some of the rays."""
    row, col, row_step, col_step, eye = (part[some] for part in rays[1:6])
    return rays._replace(row=row, col=col, row_step=row_step, col_step=col_step, eye=eye)
