"""Sheets laid beside one another: the grid they share, and each sheet's cells put into it."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np
from affine import Affine
from pyproj import CRS
from rasterio.enums import Resampling

from terrain.arrays import Floats, Singles
from terrain.ground.geodesy import wrap_deg
from terrain.ground.grid import Grid, shifted
from terrain.ground.raster.seams import Seam, seams
from terrain.ground.raster.strips import carried

# sheets whose cells lie this much apart, in cells, are on one grid
_ALIGNED_CELLS = 0.02
_MARGIN_CELLS = 2

Cells = tuple[slice, slice]
ReadCells = Callable[[slice, slice], Singles]
"""Heights, metres, of the rows and columns of a sheet as it is stored."""


class Placing(NamedTuple):
    """The placing of one sheet: its affine transform (any turn) and its shape (rows, cols)."""

    transform: Affine
    shape: tuple[int, int]


def joint_grid(crs: CRS, sheets: Sequence[Placing]) -> Grid:
    """The smallest grid that holds all sheets, on the cells of the finest (the first of them)."""
    placed = [_near(crs, sheets[0], upright(sheet)) for sheet in sheets]
    finest = min(placed, key=lambda sheet: -sheet.transform.a * sheet.transform.e).transform
    edges = np.array([_edges_in(finest, sheet) for sheet in placed])
    top, left = np.floor(edges[:, :2].min(axis=0) + _ALIGNED_CELLS).astype(int)
    bottom, right = np.ceil(edges[:, 2:].max(axis=0) - _ALIGNED_CELLS).astype(int)
    transform = shifted(finest, int(top), int(left))
    return Grid(crs=crs, transform=transform, shape=(int(bottom - top), int(right - left)))


def upright(sheet: Placing) -> Placing:
    """The north-up placing of a sheet: itself, turned over, or the box about a turned one."""
    (rows, cols), (a, b, c, d, e, f) = sheet.shape, sheet.transform[:6]
    across, down = float(np.hypot(a, d)), float(np.hypot(b, e))
    east = np.array([0, a * cols, b * rows, a * cols + b * rows]) + c
    north = np.array([0, d * cols, e * rows, d * cols + e * rows]) + f
    shape = (
        max(round(float(np.ptp(north)) / down), 1),
        max(round(float(np.ptp(east)) / across), 1),
    )
    return Placing(Affine(across, 0, float(east.min()), 0, -down, float(north.max())), shape)


def paste(
    heights: Singles, grid: Grid, sheet: Placing, read: ReadCells, *, coarsest: float = 1.0
) -> list[Seam]:
    """Put the heights of a sheet where `heights` on `grid` does not know any yet, in place.

    Answers where it does not fit what is there. coarsest: as in `seams`.
    """
    placed = _near(grid.crs, grid, upright(sheet))
    into, source = _overlap(grid, placed), _overlap(placed, grid)
    if into is None:
        return []
    if _is_plain(sheet) and _is_aligned(grid, placed):
        if source is None:
            return []
        values = _read_upright(sheet, source, read)
    else:
        onto = grid.window(into[0].start, into[1].start, heights[into].shape)
        about, transform = _all_about(onto, sheet, placed, read)
        values = carried(about, transform, onto, Resampling.bilinear, np.nan)
    found = list(seams(heights, into, values, coarsest))
    np.copyto(heights[into], values, where=np.isnan(heights[into]))
    return found


def coarseness(grid: Grid, sheets: Sequence[Placing]) -> float:
    """How many times as wide as those of the joint grid the widest cells of its sheets are."""
    cells = [upright(sheet).transform for sheet in sheets]
    widths = (max(cell.a / grid.transform.a, cell.e / grid.transform.e) for cell in cells)
    return max(widths, default=1.0)


def edges_of(grid: Grid, sheets: Sequence[Placing]) -> Floats:
    """Top, left, bottom and right edge of each sheet in rows and columns of the joint grid."""
    placed = (_near(grid.crs, grid, upright(sheet)) for sheet in sheets)
    return np.array([_edges_in(grid.transform, sheet) for sheet in placed]).reshape(-1, 4)


def holds(grid: Grid, sheet: Placing, row: int, col: int) -> bool:
    """Whether a cell of the joint grid lies in a sheet."""
    top, left, bottom, right = _edges_in(grid.transform, _near(grid.crs, grid, upright(sheet)))
    return top <= row + 0.5 <= bottom and left <= col + 0.5 <= right


def _near(crs: CRS, first: Placing | Grid, sheet: Placing) -> Placing:
    """The sheet moved by whole turns of the globe to lie beside the first (180 E is 180 W)."""
    if not crs.is_geographic:
        return sheet
    apart = _middle_deg(sheet) - _middle_deg(first)
    turns = 360.0 * round((float(wrap_deg(apart)) - apart) / 360.0)
    return Placing(_turned(sheet.transform, turns), sheet.shape)


def _middle_deg(sheet: Placing | Grid) -> float:
    return float(sheet.transform.c + sheet.transform.a * sheet.shape[1] / 2)


def _edges_in(transform: Affine, sheet: Placing | Grid) -> tuple[float, float, float, float]:
    """Top, left, bottom and right edge of an upright sheet in rows and columns of a transform."""
    (rows, cols), own = sheet.shape, sheet.transform
    left, top = (own.c - transform.c) / transform.a, (own.f - transform.f) / transform.e
    right, bottom = left + cols * own.a / transform.a, top + rows * own.e / transform.e
    return top, left, bottom, right


def _turned(transform: Affine, degrees: float) -> Affine:
    a, b, west, d, e, north = transform[:6]
    return Affine(a, b, west + degrees, d, e, north)


def _is_plain(sheet: Placing) -> bool:
    return sheet.transform.b == 0 and sheet.transform.d == 0


def _is_aligned(grid: Grid, placed: Placing) -> bool:
    edges = np.array(_edges_in(grid.transform, placed))
    size = edges[2:] - edges[:2]
    off = np.abs(edges - np.round(edges)).max()
    return bool(off < _ALIGNED_CELLS and tuple(np.round(size).astype(int)) == placed.shape)


def _all_about(
    wanted: Grid, sheet: Placing, placed: Placing, read: ReadCells
) -> tuple[Singles, Affine]:
    """The cells of a sheet from which a part of the joint grid is resampled, and their placing."""
    rows, cols = sheet.shape
    if not _is_plain(sheet):
        turns = placed.transform.c - upright(sheet).transform.c
        moved = _turned(sheet.transform, turns)
        return read(slice(0, rows), slice(0, cols)), moved
    source = _overlap(placed, wanted, margin=_MARGIN_CELLS) or (slice(0, rows), slice(0, cols))
    transform = shifted(placed.transform, source[0].start, source[1].start)
    return _read_upright(sheet, source, read), transform


def _overlap(onto: Placing | Grid, other: Placing | Grid, margin: int = 0) -> Cells | None:
    """Rows and columns of one upright placing that another touches, or None."""
    top, left, bottom, right = _edges_in(onto.transform, other)
    rows, cols = onto.shape
    row = max(math.floor(top + _ALIGNED_CELLS) - margin, 0)
    col = max(math.floor(left + _ALIGNED_CELLS) - margin, 0)
    end_row = min(math.ceil(bottom - _ALIGNED_CELLS) + margin, rows)
    end_col = min(math.ceil(right - _ALIGNED_CELLS) + margin, cols)
    return (slice(row, end_row), slice(col, end_col)) if row < end_row and col < end_col else None


def _read_upright(sheet: Placing, cells: Cells, read: ReadCells) -> Singles:
    """Rows from the north and columns from the west of a sheet that may be stored otherwise."""
    (rows, cols), (n_rows, n_cols) = cells, sheet.shape
    down, across = sheet.transform.e < 0, sheet.transform.a > 0
    values = read(
        rows if down else slice(n_rows - rows.stop, n_rows - rows.start),
        cols if across else slice(n_cols - cols.stop, n_cols - cols.start),
    )
    return np.ascontiguousarray(values[:: 1 if down else -1, :: 1 if across else -1])
