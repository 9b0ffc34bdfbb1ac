"""Sheets laid beside one another: the grid they share, and each sheet's cells put into it."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS
from rasterio.enums import Resampling
from rasterio.warp import reproject

from terrain.ground.geodesy import wrap_deg
from terrain.ground.grid import Grid

__all__ = ["Part", "Read", "joint_grid", "paste", "upright"]

# sheets whose cells lie this much apart, in cells, are on one grid
_ALIGNED_CELLS = 0.02
_MARGIN_CELLS = 2

Cells = tuple[slice, slice]
Read = Callable[[slice, slice], NDArray[np.float32]]
"""Heights, metres, of the rows and columns of a sheet as it is stored."""


class Part(NamedTuple):
    """The placing of one sheet: its affine transform (any turn) and its shape (rows, cols)."""

    transform: Affine
    shape: tuple[int, int]


def joint_grid(crs: CRS, parts: Sequence[Part]) -> Grid:
    """The smallest grid that holds all sheets, on the cells of the finest (the first of them)."""
    placed = [_near(crs, parts[0], upright(part)) for part in parts]
    finest = min(placed, key=lambda part: -part.transform.a * part.transform.e).transform
    edges = np.array([_edges_in(finest, part) for part in placed])
    top, left = np.floor(edges[:, :2].min(axis=0) + _ALIGNED_CELLS).astype(int)
    bottom, right = np.ceil(edges[:, 2:].max(axis=0) - _ALIGNED_CELLS).astype(int)
    transform = _shifted(finest, int(top), int(left))
    return Grid(crs=crs, transform=transform, shape=(int(bottom - top), int(right - left)))


def upright(part: Part) -> Part:
    """The north-up placing of a sheet: itself, turned over, or the box about a turned one."""
    (rows, cols), (a, b, c, d, e, f) = part.shape, part.transform[:6]
    across, down = float(np.hypot(a, d)), float(np.hypot(b, e))
    east = np.array([0, a * cols, b * rows, a * cols + b * rows]) + c
    north = np.array([0, d * cols, e * rows, d * cols + e * rows]) + f
    shape = (
        max(round(float(np.ptp(north)) / down), 1),
        max(round(float(np.ptp(east)) / across), 1),
    )
    return Part(Affine(across, 0, float(east.min()), 0, -down, float(north.max())), shape)


def paste(heights: NDArray[np.float32], grid: Grid, part: Part, read: Read) -> None:
    """Put the heights of a sheet where `heights` on `grid` does not know any yet, in place."""
    placed = _near(grid.crs, Part(grid.transform, grid.shape), upright(part))
    if _is_plain(part) and _is_aligned(grid, placed):
        _copy(heights, grid, part, placed, read)
    else:
        _resample(heights, grid, part, placed, read)


def _near(crs: CRS, first: Part, part: Part) -> Part:
    """The part moved by whole turns of the globe to lie beside the first (180 E is 180 W)."""
    if not crs.is_geographic:
        return part
    apart = _middle_deg(part) - _middle_deg(first)
    turns = 360.0 * round((float(wrap_deg(apart)) - apart) / 360.0)
    return Part(_turned(part.transform, turns), part.shape)


def _middle_deg(part: Part) -> float:
    return float(part.transform.c + part.transform.a * part.shape[1] / 2)


def _edges_in(transform: Affine, part: Part) -> tuple[float, float, float, float]:
    """Top, left, bottom and right edge of an upright part in rows and columns of a transform."""
    (rows, cols), own = part.shape, part.transform
    left, top = (own.c - transform.c) / transform.a, (own.f - transform.f) / transform.e
    right, bottom = left + cols * own.a / transform.a, top + rows * own.e / transform.e
    return top, left, bottom, right


def _shifted(transform: Affine, row: int, col: int) -> Affine:
    """An upright transform counted from another cell."""
    a, _, west, _, e, north = transform[:6]
    return Affine(a, 0, west + a * col, 0, e, north + e * row)


def _turned(transform: Affine, degrees: float) -> Affine:
    a, b, west, d, e, north = transform[:6]
    return Affine(a, b, west + degrees, d, e, north)


def _is_plain(part: Part) -> bool:
    return part.transform.b == 0 and part.transform.d == 0


def _is_aligned(grid: Grid, placed: Part) -> bool:
    edges = np.array(_edges_in(grid.transform, placed))
    size = edges[2:] - edges[:2]
    off = np.abs(edges - np.round(edges)).max()
    return bool(off < _ALIGNED_CELLS and tuple(np.round(size).astype(int)) == placed.shape)


def _copy(heights: NDArray[np.float32], grid: Grid, part: Part, placed: Part, read: Read) -> None:
    into = _overlap(Part(grid.transform, grid.shape), placed)
    source = _overlap(placed, Part(grid.transform, grid.shape))
    if into is not None and source is not None:
        _fill(heights[into], _read_upright(part, source, read))


def _resample(
    heights: NDArray[np.float32], grid: Grid, part: Part, placed: Part, read: Read
) -> None:
    into = _overlap(Part(grid.transform, grid.shape), placed)
    if into is None:
        return
    wanted = _window(Part(grid.transform, grid.shape), into)
    values, transform = _all_about(wanted, part, placed, read)
    resampled = np.full_like(heights[into], np.nan)
    reproject(
        source=values,
        destination=resampled,
        src_transform=transform,
        src_crs=grid.crs.to_wkt(),
        src_nodata=np.nan,
        dst_transform=wanted.transform,
        dst_crs=grid.crs.to_wkt(),
        dst_nodata=np.nan,
        resampling=Resampling.bilinear,
    )
    _fill(heights[into], resampled)


def _all_about(
    wanted: Part, part: Part, placed: Part, read: Read
) -> tuple[NDArray[np.float32], Affine]:
    """The cells of a sheet from which a part of the joint grid is resampled, and their placing."""
    rows, cols = part.shape
    if not _is_plain(part):
        turns = placed.transform.c - upright(part).transform.c
        moved = _turned(part.transform, turns)
        return read(slice(0, rows), slice(0, cols)), moved
    source = _overlap(placed, wanted, margin=_MARGIN_CELLS) or (slice(0, rows), slice(0, cols))
    return _read_upright(part, source, read), _window(placed, source).transform


def _overlap(onto: Part, other: Part, margin: int = 0) -> Cells | None:
    """Rows and columns of one upright part that another touches, or None."""
    top, left, bottom, right = _edges_in(onto.transform, other)
    rows, cols = onto.shape
    row = max(math.floor(top + _ALIGNED_CELLS) - margin, 0)
    col = max(math.floor(left + _ALIGNED_CELLS) - margin, 0)
    end_row = min(math.ceil(bottom - _ALIGNED_CELLS) + margin, rows)
    end_col = min(math.ceil(right - _ALIGNED_CELLS) + margin, cols)
    return (slice(row, end_row), slice(col, end_col)) if row < end_row and col < end_col else None


def _window(part: Part, cells: Cells) -> Part:
    rows, cols = cells
    moved = _shifted(part.transform, rows.start, cols.start)
    return Part(moved, (rows.stop - rows.start, cols.stop - cols.start))


def _read_upright(part: Part, cells: Cells, read: Read) -> NDArray[np.float32]:
    """Rows from the north and columns from the west of a sheet that may be stored otherwise."""
    (rows, cols), (n_rows, n_cols) = cells, part.shape
    down, across = part.transform.e < 0, part.transform.a > 0
    values = read(
        rows if down else slice(n_rows - rows.stop, n_rows - rows.start),
        cols if across else slice(n_cols - cols.stop, n_cols - cols.start),
    )
    return np.ascontiguousarray(values[:: 1 if down else -1, :: 1 if across else -1])


def _fill(heights: NDArray[np.float32], values: NDArray[np.float32]) -> None:
    np.copyto(heights, values, where=np.isnan(heights))
