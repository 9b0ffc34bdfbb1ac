"""A country cut into tiles, all on one grid, and what it takes to read any cells of it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from os import PathLike, fspath
from pathlib import Path
from typing import Any, Final

import numpy as np

from terrain.arrays import Singles
from terrain.errors import NoGround, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.grid import Grid
from terrain.ground.raster.cuts import Cells
from terrain.ground.raster.files import RasterFiles, is_address
from terrain.ground.raster.parts import PartsPlan, plan_parts
from terrain.ground.raster.planned import PlannedPart

_TILE_CELLS: Final = 2000


@dataclass(frozen=True, kw_only=True)
class Cut:
    """A country cut into tiles by a plan of parts; a tile's number counts from 0.

    plan: of the own cells of the tiles, without a margin.
    """

    plan: PartsPlan

    @property
    def grid(self) -> Grid:
        """The grid on which all tiles lie, of square cells."""
        if self.plan.grid is None:
            raise ValueError("each part of this plan lies on a plane of its own")
        return self.plan.grid

    @property
    def tiles(self) -> int:
        """How many there are."""
        return len(self.plan)

    def part(self, tile: int, margin_m: float = 0.0) -> PlannedPart:
        """A tile with so much of a margin: all that another process needs to read it."""
        if margin_m not in self._plans:
            self._plans[margin_m] = replace(self.plan, margin_m=margin_m)
        return self._plans[margin_m].part(tile + 1)

    @cached_property
    def _plans(self) -> dict[float, PartsPlan]:
        """The plan by its margin, kept: each finds where its files lie once, not once a tile."""
        return {}

    def label(self, tile: int) -> str:
        """What a message calls a tile: its number and what it covers."""
        own = self.plan.own[tile].of(self.grid)
        covers = own.coverage().removeprefix("the raster covers ")
        return f"tile {tile + 1} of {self.tiles} ({covers})"

    def tiles_of(self, lon_deg: Any, lat_deg: Any) -> list[int]:
        """The number of the tile whose own cells hold each of some places, (n,)."""
        rows, cols = self.grid.cells_at(lon_deg, lat_deg)
        ends = np.array(self.plan.own)[:, 2:]
        return [
            int(np.argmax((row < ends[:, 0]) & (col < ends[:, 1])))
            for row, col in zip(rows, cols, strict=True)
        ]


def cut_of(ground: RasterFiles, tile_m: float | None, said: Mapping[str, Any]) -> Cut:
    """A country cut into tiles of a side, metres, or of 4 million cells; errors of `plan_parts`."""
    several = [ground] if isinstance(ground, str | PathLike) else list(ground)
    paths = [_from_anywhere(path) for path in several]
    if tile_m is None:
        whole = plan_parts(paths, side_m=1e7, margin_m=0.0, **said)
        tile_m = _TILE_CELLS * Cut(plan=whole).grid.cell_m
    return Cut(plan=plan_parts(paths, side_m=tile_m, margin_m=0.0, **said))


def ground_of(part: PlannedPart) -> Dem | None:
    """The ground of a part and its margin; None where nothing of its own is known."""
    try:
        return part.read().dem
    except NoGround:
        return None


def cells_of(part: PlannedPart, row: int, col: int, shape: tuple[int, int]) -> Singles:
    """Heights of cells of the grid of a part or beyond, NaN where they are unknown.

    So they are where a file is damaged, whose own tiles fail. part: one whose margin holds them,
    for the files that it knows of.
    """
    heights = np.full(shape, np.nan, dtype=np.float32)
    if part.grid is None:
        raise ValueError("each part of this plan lies on a plane of its own")
    rows, cols = part.grid.shape
    there = Cells(max(row, 0), max(col, 0), min(row + shape[0], rows), min(col + shape[1], cols))
    if min(there.shape) > 0:
        down, along = there.top - row, there.left - col
        into = heights[down : down + there.shape[0], along : along + there.shape[1]]
        into[:] = _known_of(replace(part, own=there, margin_m=0.0))
    return heights


def _known_of(part: PlannedPart) -> Singles:
    """What is known of the own cells of a part, whatever else is damaged."""
    try:
        ground = ground_of(part)
    except TerrainError:
        if len(part.sheets) > 1:
            each = [_known_of(replace(part, sheets=(sheet,))) for sheet in part.sheets]
            return np.asarray(np.fmax.reduce(each), dtype=np.float32)
        ground = None
    nothing = np.full(part.own.shape, np.nan, dtype=np.float32)
    return nothing if ground is None else ground.heights_m


def as_far_as(highest_m: float, bend_per_m: float) -> float:
    """How far off ground can matter to any skyline where none is higher, metres.

    bend_per_m: of the ray and the earth; see `terrain.sight.rays`.
    """
    return 2.0 * math.sqrt(max(highest_m, 0.0) / bend_per_m) if bend_per_m > 0.0 else math.inf


def _from_anywhere(path: str | PathLike[str]) -> str:
    """The name of a raster from wherever a worker stands."""
    name = fspath(path)
    return name if is_address(name) or not Path(name).exists() else str(Path(name).resolve())
