"""Every top of a raster, however small, with its key col: what summits and hills are made from."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy import ndimage

from terrain.arrays import Flags, Floats, Labels, Numbers, Singles, frozen_arrays, sealed
from terrain.cores import share_out
from terrain.ground.dem import Dem
from terrain.ground.relief._island_kernels import Ends
from terrain.ground.relief._kernels import NOTHING, lead_to_tops, ways_off_flats, ways_up
from terrain.ground.relief.peaks import Peaks, highest_first, join_peaks, numbered

_FLAT_CELLS: Final = 8  # as far as most flats go
_TOUCHING: Final = np.ones((3, 3), dtype=bool)


@dataclass(frozen=True, kw_only=True, eq=False)
@frozen_arrays(copy=False)
class Tops:
    """All tops of a raster as delivered, numbered from the highest down.

    top_of: (rows, cols) int32, the top to which steepest ascent leads from each cell; -1 where
        the ground is unknown.
    cell: (tops,) flat index of the first cell of each top. height_m: (tops,) its height.
    col_cell, col_height_m: (tops,) where its island, as a sea sinks, joins one with a higher
        top; -1 and NaN for those that never do.
    touch_cell, touch_height_m: (tops,) where until then it first reaches the raster's edge or
        unknown ground, by itself or through ground it has joined; -1 and NaN if it does not.
    beyond: (tops,) the top to which steepest ascent leads from the far side of the col; -1.
    joined: (tops,) the top whose island it joins there; -1.
    """

    top_of: Labels
    cell: Numbers
    height_m: Floats
    col_cell: Numbers
    col_height_m: Floats
    touch_cell: Numbers
    touch_height_m: Floats
    beyond: Labels
    joined: Labels

    @property
    def drop_m(self) -> Floats:
        """(tops,) fall from each top to its key col on known ground, metres; inf without one."""
        drop = self.height_m - self.col_height_m
        return np.where(np.isnan(drop), np.inf, drop)

    @property
    def is_bounded(self) -> Flags:
        """(tops,) whether a higher col may lie beyond the raster's edge or on unknown ground."""
        no_col = self.col_cell == NOTHING
        return np.asarray(no_col | (self.touch_height_m > self.col_height_m))


def find_tops(dem: Dem) -> Tops:
    """All tops of the ground as delivered.

    >>> from affine import Affine
    >>> from pyproj import CRS
    >>> from terrain.ground.grid import Grid
    >>> transform = Affine(50, 0, 5e5, 0, -50, 6e6)
    >>> grid = Grid(crs=CRS("EPSG:32628"), transform=transform, shape=(3, 5))
    >>> ridge = Dem([[0, 0, 0, 0, 0], [0, 9, 4, 7, 0], [0, 0, 0, 0, 0]], grid)
    >>> tops = find_tops(ridge)
    >>> tops.height_m.tolist(), tops.drop_m.tolist()
    ([9.0, 7.0], [inf, 3.0])
    """
    ground = dem.as_delivered
    return tops_of(ground.heights_m, *ground.grid.cell_sizes_m())


def tops_of(heights_m: Singles, width_m: Floats, depth_m: Floats) -> Tops:
    """All tops of heights (rows, cols), NaN unknown; width_m, depth_m: (rows,) of their cells."""
    heights_m = sealed(heights_m.view())  # lest the kernels be compiled twice
    rows, cols = heights_m.shape
    flat = heights_m.reshape(-1)
    way = ways_up_from(heights_m, width_m, depth_m)
    peaks = join_peaks(heights_m, way, Ends(0, 0, rows - 1, cols - 1))[0]
    cell = highest_first(flat, _led_to(flat, cols, way))
    top_of = numbered(way, cell)
    own = _places(peaks.cell, cell)
    # of the other peaks, which fall nothing, the last entry
    number = np.full(peaks.cell.size + 1, NOTHING, dtype=np.int32)
    number[own] = np.arange(own.size, dtype=np.int32)
    col_cell, touch_cell = peaks.col_cell[own], peaks.touch_cell[own]
    return Tops(
        top_of=top_of.reshape(heights_m.shape),
        cell=cell,
        height_m=_heights(flat, cell),
        col_cell=col_cell,
        col_height_m=_heights(flat, col_cell),
        touch_cell=touch_cell,
        touch_height_m=_heights(flat, touch_cell),
        beyond=_beyond(flat, peaks, own, number, top_of),
        joined=number[peaks.joined[own]],
    )


def _led_to(flat: Singles, cols: int, way: Labels) -> Numbers:
    """Turn ways up, flat, into the top that each leads to; results in these, in order."""
    beside = np.zeros(flat.size, dtype=np.bool_)
    equals = ways_off_flats(flat, cols, way, beside)
    starts = np.flatnonzero(beside)
    del beside
    queue = np.empty(starts.size + equals, dtype=np.int64)
    queue[: starts.size] = starts
    tops = np.empty(equals, dtype=np.int64)
    return tops[: lead_to_tops(flat, cols, way, queue, starts.size, tops)].copy()


def _beyond(flat: Singles, peaks: Peaks, own: Numbers, number: Labels, top_of: Labels) -> Labels:
    """The top to which steepest ascent leads from the far side of each top's col; -1 without one.

    A cell of the col's own height may lie on a flat that is shared out to both sides; then it is a
    top in the island that is joined all the same.
    """
    far_cell, peak = peaks.far_cell[own], peaks.far_peak[own]
    while (waits := (peak != NOTHING) & (number[peak] == NOTHING)).any():
        peak[waits] = peaks.far_peak[peak[waits]]
    is_higher = _heights(flat, far_cell) > _heights(flat, peaks.col_cell[own])
    return np.where(is_higher, top_of[far_cell], number[peak])


def _places(cells: Numbers, some: Numbers) -> Numbers:
    """Where some of a list of cells, in any order, stand in it."""
    order = np.argsort(cells)
    return order[np.searchsorted(cells, some, sorter=order)]


def owners(tops: Tops, kept: Flags) -> Numbers:
    """The top whose hill each top is part of: itself if kept, else that beyond its col, and on."""
    own = np.arange(kept.size)
    owner = np.where(kept | (tops.beyond == NOTHING), own, tops.beyond)
    while True:
        further = owner[owner]
        if (further == owner).all():
            return owner
        owner = further


def shared_and_ringed(tops: Tops, chosen: Numbers) -> tuple[Floats, Floats]:
    """Down to which height of a sea each two of some tops keep apart, and each its shore.

    chosen: (n,) numbers of tops. Results, metres: (n, n) where the islands of two join, NaN if they
    never do, infinite for one with itself; (n,) where each first touches the edge of the known,
    -inf if it never does.

    As the sea sinks, an island joins that of a higher top, and from there on fares as that does: it
    joins what that joins, and touches the edge where that does.
    """
    needed, above = chosen, chosen
    while above.size:
        above = tops.joined[above][tops.joined[above] != NOTHING].astype(np.int64)
        needed = np.union1d(needed, above)
    shared_m = np.full((needed.size, needed.size), np.nan)
    ringed_m = np.nan_to_num(tops.touch_height_m[needed], nan=-np.inf)
    # tops are numbered from the highest down, so that the one joined is always done before
    for at, top in enumerate(needed):
        shared_m[at, at] = np.inf
        if tops.joined[top] != NOTHING:
            joins_m, other = tops.col_height_m[top], np.searchsorted(needed, tops.joined[top])
            shared_m[at, :at] = shared_m[:at, at] = np.minimum(joins_m, shared_m[other, :at])
            if tops.touch_cell[top] == NOTHING:
                ringed_m[at] = min(joins_m, ringed_m[other])
    own = np.searchsorted(needed, chosen)
    return shared_m[np.ix_(own, own)], ringed_m[own]


def cells_about(middle: int, reach_cells: float, count: int) -> slice:
    """So many cells to either side of one, as far as there are any."""
    reach = math.ceil(reach_cells)
    return slice(max(middle - reach, 0), min(middle + reach + 1, count))


def level_cells(heights_m: Singles, cell: int) -> Numbers:
    """Flat indices of the flat that a cell belongs to: it and all its equals around it."""
    row, col = divmod(cell, heights_m.shape[1])
    reach = _FLAT_CELLS
    while True:
        top, left = max(row - reach, 0), max(col - reach, 0)
        part = heights_m[top : row + reach + 1, left : col + reach + 1]
        label, _ = ndimage.label(part == heights_m[row, col], _TOUCHING)
        flat_row, flat_col = np.nonzero(label == label[row - top, col - left])
        cells = (flat_row + top) * heights_m.shape[1] + flat_col + left
        off = max(np.abs(flat_row + top - row).max(), np.abs(flat_col + left - col).max())
        if off < reach:
            return np.asarray(cells)
        reach *= 4


def ways_up_from(heights_m: Singles, width_m: Floats, depth_m: Floats) -> Labels:
    """The neighbour to which each cell rises most steeply, flat; -1 where none is higher.

    heights_m: (rows, cols), NaN unknown. width_m, depth_m: (rows,) size of each row's cells.
    """
    way = np.empty(heights_m.size, dtype=np.int32)
    # all sealed, lest the kernel be compiled twice
    heights, width, depth = sealed(heights_m.view()), sealed(width_m.view()), sealed(depth_m.view())

    def find(first: int, end: int) -> None:
        ways_up(first, end, heights, width, depth, way, np.empty(heights.shape[1]))

    share_out(heights.shape[0], find)
    return way


def _heights(flat: Singles, cell: Numbers) -> Floats:
    return np.where(cell == NOTHING, np.nan, flat[cell]).astype(float)
