"""How well a sheet fits those laid before it, where they overlap and where their edges meet.

Across an edge the ground goes on as it comes: what its step there has beyond the slopes on either
side is held against the same inside the sheets::

      laid before    |   the sheet
    ... o2 --- o1 ---|--- v1 --- v2 ...     (v1 - o1) - ((o1 - o2) + (v2 - v1)) / 2
                   the edge
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from terrain.arrays import Floats, Numbers, Singles, frozen_arrays
from terrain.constants import FOOT_M

# below this sheets of different makers differ everywhere (common practice, no source)
_LEAST_M = 2.0
_LINES = 16
_MOST_CELLS = 4_000_000
_FEWEST = 3
_SHARE = 0.05
_FOOT_TOLERANCE, _FOOT_LEAST, _FOOT_CELLS = 0.03, 30.0, 10


@dataclass(frozen=True, kw_only=True)
class Seam:
    """Where a sheet and those laid before it do not fit, at its worst.

    cell: row and column in the mosaic, of the ground laid before. overlaps: whether both know the
    ground there, or meet at an edge. apart_m: how far their heights are apart there, at an edge
    beyond the slope of the ground. ratio: of the sheet's heights to the others', nan where they
    are too low to tell.
    """

    cell: tuple[int, int]
    overlaps: bool
    apart_m: float
    ratio: float

    @property
    def is_foot(self) -> bool:
        """Whether the one reads as many times as high as the other as a metre has feet."""
        return any(abs(self.ratio * unit - 1) < _FOOT_TOLERANCE for unit in (FOOT_M, 1 / FOOT_M))


@dataclass(frozen=True, kw_only=True, eq=False)
@frozen_arrays(copy=False)
class _Pairs:
    """Heights of both that meet, and how far apart they are beyond the slope of the ground.

    row, col: of each pair in the mosaic. limit_m, bias_m: how far single pairs and the middle one
    are apart in ordinary ground.
    """

    row: Numbers
    col: Numbers
    laid: Floats
    sheet: Floats
    apart: Floats
    limit_m: float
    bias_m: float
    overlaps: bool

    def seam(self, coarsest: float) -> Seam | None:
        """The worst of it, None where the sheets fit.

        A slope of the ground changes over wide cells by as much more as they are wider, and what
        the change adds up to is as the square of it.
        """
        off = np.abs(self.apart)
        limit_m = _LEAST_M + 2.0 * coarsest**2 * self.limit_m
        bias_m = _LEAST_M + 2.0 * coarsest * self.bias_m
        is_biased = abs(float(np.median(self.apart))) > bias_m
        many = max(_FEWEST, _SHARE * off.size)
        if off.size < _FEWEST or not (is_biased or np.count_nonzero(off > limit_m) >= many):
            return None
        worst = int(np.argmax(off))
        return Seam(
            cell=(int(self.row[worst]), int(self.col[worst])),
            overlaps=self.overlaps,
            apart_m=float(off[worst]),
            ratio=_ratio(self.sheet, self.laid),
        )


def seams(
    laid: Singles, into: tuple[slice, slice], values: Singles, coarsest: float
) -> Iterator[Seam]:
    """Where a sheet does not fit what is laid already; into: the cells of `values` in `laid`.

    coarsest: how many times as wide as the cells of the mosaic those of any sheet are.
    """
    for pairs in (_overlapping(laid, into, values), *_meeting(laid, into, values)):
        found = None if pairs is None else pairs.seam(coarsest)
        if found is not None:
            yield found


def _overlapping(laid: Singles, into: tuple[slice, slice], values: Singles) -> _Pairs | None:
    apart = math.ceil(math.sqrt(values.size / _MOST_CELLS))
    ours, theirs = values[::apart, ::apart], laid[into][::apart, ::apart]
    if not (np.abs(ours - theirs) > _LEAST_M).any():
        return None
    row, col = np.nonzero(~np.isnan(theirs) & ~np.isnan(ours))
    here, there = ours[row, col].astype(float), theirs[row, col].astype(float)
    every = max(values.shape[0] // _LINES, 1), max(values.shape[1] // _LINES, 1)
    # one cell off is as near as two sheets of cells need lie
    steps = np.concatenate(
        [
            np.abs(np.diff(values[:: every[0]], axis=1)).ravel(),
            np.abs(np.diff(values[:, :: every[1]], axis=0)).ravel(),
        ]
    )
    return _Pairs(
        row=row * apart + into[0].start,
        col=col * apart + into[1].start,
        laid=there,
        sheet=here,
        apart=here - there,
        limit_m=_all_but_hundredth(steps),
        bias_m=0.0,
        overlaps=True,
    )


def _meeting(laid: Singles, into: tuple[slice, slice], values: Singles) -> Iterator[_Pairs | None]:
    """The four edges of a sheet with the ground that lies beyond them."""
    rows, cols = into
    row, col = np.arange(rows.start, rows.stop), np.arange(cols.start, cols.stop)
    above = slice(max(rows.start - _LINES, 0), rows.start)
    below = slice(rows.stop, rows.stop + _LINES)
    left = slice(max(cols.start - _LINES, 0), cols.start)
    right = slice(cols.stop, cols.stop + _LINES)
    n = _LINES
    yield _across(laid[above, cols][::-1], values[:n], np.full_like(col, rows.start - 1), col)
    yield _across(laid[below, cols], values[::-1][:n], np.full_like(col, rows.stop), col)
    yield _across(laid[rows, left].T[::-1], values.T[:n], row, np.full_like(row, cols.start - 1))
    yield _across(laid[rows, right].T, values.T[::-1][:n], row, np.full_like(row, cols.stop))


def _across(theirs: Singles, ours: Singles, row: Numbers, col: Numbers) -> _Pairs | None:
    """The pairs along one edge, from lines (lines, cells) that begin at it on either side."""
    if len(theirs) < 2 or len(ours) < 2 or np.isnan(theirs[0]).all():
        return None
    if not (np.abs(_beyond(np.stack([theirs[1], theirs[0], ours[0], ours[1]]))) > _LEAST_M).any():
        return None
    beyond = _beyond(np.concatenate([theirs[::-1], ours]).astype(float))
    edge = len(theirs) - 2
    is_known = ~np.isnan(beyond[edge])
    # the lines beside the edge have a share of its step
    inside = np.delete(beyond, range(max(edge - 1, 0), min(edge + 2, len(beyond))), axis=0)
    if np.isnan(inside).all():
        return None
    known_lines = inside[~np.isnan(inside).all(axis=1)]
    return _Pairs(
        row=row[is_known],
        col=col[is_known],
        laid=theirs[0][is_known].astype(float),
        sheet=ours[0][is_known].astype(float),
        apart=beyond[edge][is_known],
        limit_m=_all_but_hundredth(np.abs(inside)),
        bias_m=float(np.abs(np.nanmedian(known_lines, axis=1)).max()),
        overlaps=False,
    )


def _beyond(lines: Singles | Floats) -> Any:
    """What each step between lines, but the first and last, has beyond those on either side."""
    step = np.diff(lines, axis=0)
    return step[1:-1] - (step[:-2] + step[2:]) / 2.0


def _all_but_hundredth(values: Floats | Singles) -> float:
    known = values[~np.isnan(values)]
    return float(np.quantile(known, 0.99)) if known.size else 0.0


def _ratio(sheet: Floats, laid: Floats) -> float:
    high = (np.abs(sheet) > _FOOT_LEAST) & (np.abs(laid) > _FOOT_LEAST)
    if np.count_nonzero(high) < _FOOT_CELLS:
        return float("nan")
    return float(np.median(sheet[high] / laid[high]))
