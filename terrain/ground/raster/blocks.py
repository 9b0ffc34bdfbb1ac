"""A raster too large for memory, read coarser: blocks of its cells, each for one.

It is read part by part, so that only the blocks are ever held. Of a block two things are kept: the
mean of its heights, which is the ground; and the highest, by which summits keep their heights and
ridges their crests (a mean lies below both)::

      .--.--.--.--.
      | 3| 5| 4| 6|        .-----.-----.       .-----.-----.
      |--+--+--+--|        |     |     |       |     |     |
      | 4| 8| 6| 8|   ->   |  5  |  6  |  and  |  8  |  8  |
      '--'--'--'--'        '-----'-----'       '-----'-----'
        the cells             means              highest
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np
from affine import Affine

from terrain.arrays import Floats, Singles
from terrain.ground.grid import Grid
from terrain.ground.raster.warp import MOST_CELLS, off_the_earth

ReadPart = Callable[[Grid], tuple[Singles, list[str]]]
"""Heights on a part of a raster's grid, or beyond, and what is to be said of them."""

_PART_CELLS: Final = 4_000_000
_PART_SIDE: Final = 2048


@dataclass(frozen=True, kw_only=True, eq=False)
class Blocks:
    """Ground by blocks of cells: the mean and the highest of each, and what is to be said of it."""

    means_m: Singles
    highest_m: Singles
    doubts: list[str] = field(default_factory=list)


@dataclass(frozen=True, kw_only=True)
class Coarse:
    """How a raster is read: how many cells a block has along each side, and of which size.

    side: 1 for the cells themselves. cells: how many are worked on. own_m: side of the raster's
    own cells, metres, the finer one. is_asked: whether it is for cells of a size.
    """

    side: int
    cells: int
    own_m: float
    is_asked: bool

    @property
    def cell_m(self) -> float:
        """Side of the blocks, metres."""
        return self.side * self.own_m


def coarse_enough(grid: Grid, *, cell_m: float | None = None, most_cells: int | None) -> Coarse:
    """How a raster is read: at cells of a size, or at the finest of which there are not too many.

    Too many there may be of the size asked for, or where cells may not be larger (most_cells None).

    >>> grid = Grid(crs="EPSG:32628", transform=Affine(50, 0, 5e5, 0, -50, 6e6), shape=(40, 60))
    >>> coarse_enough(grid, most_cells=300).cell_m
    150.0
    """
    own_m, square = _square_cells(grid)
    held, side = math.prod(grid.shape), 1
    if cell_m is not None:
        square *= (own_m / cell_m) ** 2
        if held > (most_cells or MOST_CELLS):
            side = max(int(cell_m / own_m + 1e-6), 1)
    elif most_cells is not None:
        side = max(math.ceil(math.sqrt(max(held, square) / most_cells)), 1)
        square /= side**2
    return Coarse(
        side=side,
        cells=round(max(held / side**2, square)),
        own_m=own_m,
        is_asked=cell_m is not None,
    )


def _square_cells(grid: Grid) -> tuple[float, float]:
    """The finer side of the cells, metres, and how many squares of that side there are."""
    count = math.prod(grid.shape)
    if grid.is_metric:
        return grid.cell_m, count
    width_m, depth_m = (float(sizes[grid.shape[0] // 2]) for sizes in grid.cell_sizes_m())
    finer_m = min(width_m, depth_m)
    if not 0.0 < finer_m < math.inf:
        raise off_the_earth(grid)
    return finer_m, count * max(width_m, depth_m) / finer_m


def grid_of_blocks(whole: Grid, part: Grid, side: int) -> Grid:
    """The grid of the blocks that hold a part of a raster, counted from the raster's corner."""
    top, left = _offset(whole, part)
    first = top // side, left // side
    shape = (
        math.ceil((top + part.shape[0]) / side) - first[0],
        math.ceil((left + part.shape[1]) / side) - first[1],
    )
    start = whole.window(first[0] * side, first[1] * side, shape)
    a, _, west, _, e, north = start.transform[:6]
    return replace(start, transform=Affine(a * side, 0, west, 0, e * side, north))


def cells_of_blocks(whole: Grid, blocks: Grid, side: int) -> Grid:
    """The grid of the raster's own cells in some of its blocks; may go beyond the raster."""
    top, left = _offset(whole, blocks)
    return whole.window(top, left, (blocks.shape[0] * side, blocks.shape[1] * side))


def _offset(whole: Grid, part: Grid) -> tuple[int, int]:
    """Row and column of a raster at which a part of it, or blocks of its cells, begin."""
    own, other = whole.transform, part.transform
    return round((other.f - own.f) / own.e), round((other.c - own.c) / own.a)


def read_blocks(
    whole: Grid,
    blocks: Grid,
    side: int,
    read: ReadPart,
    *,
    is_in_rows: bool = False,
    progress: Callable[[float], None] = lambda share: None,
) -> Blocks:
    """The ground of some blocks of a raster's cells; unknown where most of a block is unknown.

    is_in_rows: whether the files are stored row by row, so that a part of a row costs a whole one.
    """
    means = np.full(blocks.shape, np.nan, dtype=np.float32)
    highest = np.full(blocks.shape, np.nan, dtype=np.float32)
    doubts: list[str] = []
    parts = list(_parts(blocks.shape, side, is_in_rows=is_in_rows))
    for number, (rows, cols) in enumerate(parts, start=1):
        part = blocks.window(rows.start, cols.start, means[rows, cols].shape)
        cells = cells_of_blocks(whole, part, side)
        heights, said = read(cells)
        means[rows, cols], highest[rows, cols] = _of_blocks(heights, side, _inside(whole, cells))
        doubts += said
        progress(number / len(parts))
    return Blocks(means_m=means, highest_m=highest, doubts=worst_of(doubts))


def _parts(shape: tuple[int, int], side: int, *, is_in_rows: bool) -> Iterator[tuple[slice, slice]]:
    along = shape[1] if is_in_rows else min(max(_PART_SIDE // side, 1), shape[1])
    down = max(_PART_CELLS // (along * side**2), 1)
    for top in range(0, shape[0], down):
        for left in range(0, shape[1], along):
            yield slice(top, min(top + down, shape[0])), slice(left, min(left + along, shape[1]))


def _inside(whole: Grid, cells: Grid) -> tuple[Floats, Floats]:
    """Which rows and which columns of cells lie in the raster, 0 or 1 for each."""
    first = _offset(whole, cells)
    return tuple(  # type: ignore[return-value]
        ((at + np.arange(count) >= 0) & (at + np.arange(count) < size)).astype(float)
        for at, count, size in zip(first, cells.shape, whole.shape, strict=True)
    )


def _of_blocks(
    heights: Singles, side: int, inside: tuple[Floats, Floats]
) -> tuple[Singles, Singles]:
    rows, cols = (count // side for count in heights.shape)
    known = ~np.isnan(heights)
    counts = _sums(known.astype(np.float32), side)
    there = np.outer(*(part.reshape(-1, side).sum(axis=1) for part in inside))
    enough = (counts > 0) & (2 * counts >= there)
    with np.errstate(invalid="ignore", divide="ignore"):
        means = _sums(np.where(known, heights, np.float32(0.0)), side) / counts
    tops = np.where(known, heights, np.float32(-np.inf))
    tops = tops.reshape(rows, side, cols, side).max(axis=(1, 3))
    nothing = np.float32(np.nan)
    return np.where(enough, means, nothing), np.where(enough, tops, nothing)


def _sums(values: Singles, side: int) -> Singles:
    rows, cols = (count // side for count in values.shape)
    return np.asarray(values.reshape(rows, side, cols, side).sum(axis=(1, 3)))


def worst_of(doubts: Sequence[str]) -> list[str]:
    """Of what is said of several parts in the same words the one with the greatest number.

    >>> worst_of(["heights are up to 3 m apart", "heights are up to 12 m apart"])
    ['heights are up to 12 m apart']
    """
    worst: dict[str, str] = {}
    for doubt in doubts:
        kind = _first_number(doubt)[0]
        worst[kind] = max(worst.get(kind, doubt), doubt, key=lambda one: _first_number(one)[1])
    return list(worst.values())


def _first_number(text: str) -> tuple[str, float]:
    # a number by itself, not one in the name of a file
    found = re.search(r"(?<= )\d+(?:\.\d+)?(?= m\b)", text)
    return (text, 0.0) if found is None else (text[: found.start()], float(found.group()))
