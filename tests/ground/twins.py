"""Slow twins of the kernels of the ground: they follow the definitions word for word."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy import ndimage

ALL_AROUND = np.ones((3, 3), dtype=bool)


class TwinSummit(NamedTuple):
    """A flat top: its cells (flat indices), height, the level of its col, whether bounded."""

    cells: frozenset[int]
    height: float
    low: float
    bounded: bool


def touching(heights: np.ndarray) -> np.ndarray:
    """Cells on the raster's edge or beside unknown ground."""
    outside = np.pad(np.isnan(heights), 1, constant_values=True)
    return ndimage.binary_dilation(outside, ALL_AROUND)[1:-1, 1:-1] & ~np.isnan(heights)


def islands_above(heights: np.ndarray, level: float) -> np.ndarray:
    """The islands that stand at or above a level, numbered; NaN is below every level."""
    return ndimage.label(heights >= level, ALL_AROUND)[0]


def flat_tops(heights: np.ndarray) -> list[frozenset[int]]:
    """The connected cells of one height that have no higher neighbour."""
    found = []
    for level in np.unique(heights[~np.isnan(heights)]):
        flats, count = ndimage.label(heights == level, ALL_AROUND)
        for flat in range(1, count + 1):
            around = ndimage.binary_dilation(flats == flat, ALL_AROUND)
            if not (heights[around] > level).any():
                found.append(frozenset(np.flatnonzero(flats == flat).tolist()))
    return found


def summits(heights: np.ndarray) -> list[TwinSummit]:
    """Every top with its col, by flooding at every level that occurs."""
    touches = touching(heights)
    levels = np.unique(heights[~np.isnan(heights)])[::-1]
    tops = flat_tops(heights)
    return [_summit(heights, top, tops, levels, touches) for top in tops]


def _summit(
    heights: np.ndarray,
    top: frozenset[int],
    tops: list[frozenset[int]],
    levels: np.ndarray,
    touches: np.ndarray,
) -> TwinSummit:
    height = heights.flat[min(top)]
    # of tops of one height the one whose first cell comes first counts as the higher
    rivals = [
        min(other)
        for other in tops
        if heights.flat[min(other)] > height
        or (heights.flat[min(other)] == height and min(other) < min(top))
    ]
    for level in levels[levels <= height]:
        islands = islands_above(heights, level)
        island = islands == islands.flat[min(top)]
        if island.flat[rivals].any():
            return TwinSummit(top, height, level, False)
        if (island & touches).any():
            return TwinSummit(top, height, level, True)
    raise AssertionError("every island reaches the edge in the end")


def steepest_top(heights: np.ndarray, cell: tuple[int, int], cell_size: float) -> tuple[int, int]:
    """Where steepest ascent from a cell ends; for heights that are all different."""
    while True:
        row, col = cell
        best, best_slope = cell, 0.0
        for near_row in range(max(row - 1, 0), min(row + 2, heights.shape[0])):
            for near_col in range(max(col - 1, 0), min(col + 2, heights.shape[1])):
                rise = heights[near_row, near_col] - heights[cell]
                if rise > 0:
                    away = cell_size * float(np.hypot(near_row - row, near_col - col))
                    if rise / away > best_slope:
                        best, best_slope = (near_row, near_col), rise / away
        if best == cell:
            return cell
        cell = best


class CellSummit(NamedTuple):
    """A peak: its cell, height, where its col or the way out is, how high, whether bounded."""

    cell: int
    height: float
    low_cell: int
    low: float
    bounded: bool


def cell_by_cell(heights: np.ndarray) -> list[CellSummit]:
    """Every peak with its col: cells come up one by one, highest first, equals in order."""
    flat, touches = heights.ravel(), touching(heights).ravel()
    known = np.flatnonzero(~np.isnan(flat))
    islands: dict[int, set[int]] = {}  # by the peak that came up first
    rank = {int(cell): at for at, cell in enumerate(known[np.argsort(-flat[known], kind="stable")])}
    way_out: dict[int, int] = {}
    col: dict[int, int] = {}
    for cell in rank:
        row, at = divmod(cell, heights.shape[1])
        near = {
            other
            for other in rank
            if rank[other] < rank[cell]
            and abs(other // heights.shape[1] - row) <= 1
            and abs(other % heights.shape[1] - at) <= 1
        }
        met = sorted((peak for peak, own in islands.items() if own & near), key=rank.__getitem__)
        first, lesser = (met[0], met[1:]) if met else (cell, [])
        islands.setdefault(first, set()).add(cell)
        for peak in lesser:
            islands[first] |= islands.pop(peak)
            col[peak] = cell
            if peak in way_out:
                way_out.setdefault(first, cell)
        if touches[cell]:
            way_out.setdefault(first, cell)
    found = []
    for peak in [*col, *islands]:
        bounded = peak not in col or (peak in way_out and flat[way_out[peak]] > flat[col[peak]])
        low = way_out[peak] if bounded else col[peak]
        found.append(CellSummit(peak, float(flat[peak]), low, float(flat[low]), bounded))
    return sorted(found, key=lambda one: rank[one.cell])
