"""Heights of a sheet that cannot be: leaps from cell to cell that no ground makes, and no ground.

A few damaged bytes make no file unreadable, only its ground wrong.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cached_property

import numpy as np

from terrain.arrays import Singles
from terrain.constants import DEEPEST_SEA_M, LOWEST_LAND_M
from terrain.ground.grid import Grid
from terrain.ground.raster import units
from terrain.ground.raster.mosaic import upright
from terrain.ground.raster.sheet import Sheet

# the rise over a cell, in cells, that no raster of real ground has, and metres where cells are
# fine: 79 degrees (common practice, no source)
_STEEPEST = 5.0
_LEAST_LEAP_M = 300.0
_ROWS_AT_ONCE = 512
# voids have one value or a few
_VALUES_OF_DAMAGE = 10


class Looked:
    """A sheet that keeps in mind what its heights looked like when they were read."""

    def __init__(self, sheet: Sheet) -> None:
        self._sheet = sheet
        self._leaps, self._most_m, self._worst = 0, 0.0, (0, 0)
        self._none: list[float] = []

    def read(self, rows: slice, cols: slice) -> Singles:
        """As `Sheet.read`."""
        heights = self._sheet.stored(rows, cols)
        self._keep_no_ground(heights)
        heights = units.only_ground(heights)
        if heights.size:
            self._keep_leaps(heights, rows.start or 0, cols.start or 0)
        return heights

    def doubts(self) -> Iterator[str]:
        """A sentence for each kind of what cannot be, none for ground as it should be."""
        if self._leaps:
            lon, lat = self._lonlat(*self._worst)
            others = self._leaps - 1
            more = f", and {others} more such step{'s' if others > 1 else ''}" if others else ""
            yield (
                f"{self._sheet.name} leaps by {self._most_m:.0f} m from one cell to the next at "
                f"{lat:.4f}, {lon:.4f}{more}: no ground does, so the file may be damaged"
            )
        if self._none:
            yield (
                f"{self._sheet.name} has heights from {min(self._none):.0f} to "
                f"{max(self._none):.0f} m that no ground on earth has, here unknown: the file may "
                "be damaged"
            )

    def _keep_no_ground(self, heights: Singles) -> None:
        wrong = heights[(heights > units.HIGHEST_GROUND_M) | (heights < DEEPEST_SEA_M)]
        if wrong.size and np.unique(wrong).size >= _VALUES_OF_DAMAGE:
            self._none += [float(wrong.min()), float(wrong.max())]

    def _keep_leaps(self, heights: Singles, top: int, left: int) -> None:
        spread_m = float(np.fmax.reduce(heights, axis=None) - np.fmin.reduce(heights, axis=None))
        # to say how large the cells are takes longer than to look at a small part
        if not spread_m > _LEAST_LEAP_M:
            return
        limit_m = max(_LEAST_LEAP_M, _STEEPEST * self._cell_m())
        if not spread_m > limit_m:
            return
        for first in range(0, heights.shape[0], _ROWS_AT_ONCE):
            part = heights[first : first + _ROWS_AT_ONCE + 1]
            # what lies below all land is a sea's bed or taken for unknown
            land = np.where(part < LOWEST_LAND_M, np.float32(np.nan), part)
            for axis in (0, 1):
                own = land if axis == 0 else land[:_ROWS_AT_ONCE]
                steps = np.abs(np.diff(own, axis=axis))
                far = steps > limit_m
                if not far.any():
                    continue
                self._leaps += int(np.count_nonzero(far))
                row, col = np.unravel_index(int(np.nanargmax(steps)), steps.shape)
                if float(steps[row, col]) > self._most_m:
                    self._most_m = float(steps[row, col])
                    self._worst = (top + first + int(row), left + int(col))

    def _cell_m(self) -> float:
        width_m, depth_m = self._grid.cell_sizes_m()
        return float(max(width_m.max(), depth_m.max()))

    @cached_property
    def _grid(self) -> Grid:
        placed = upright(self._sheet.placing)
        return Grid(crs=self._sheet.crs, transform=placed.transform, shape=placed.shape)

    def _lonlat(self, row: int, col: int) -> tuple[float, float]:
        """The place of a cell as it is stored, whichever way the sheet lies."""
        a, b, c, d, e, f = self._sheet.placing.transform[:6]
        east, north = a * (col + 0.5) + b * (row + 0.5) + c, d * (col + 0.5) + e * (row + 0.5) + f
        own = self._grid.transform
        lon, lat = self._grid.lonlat((north - own.f) / own.e - 0.5, (east - own.c) / own.a - 0.5)
        return float(lon), float(lat)
