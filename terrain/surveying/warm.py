"""All kernels of a survey compiled, once, before several processes would each do it."""

from __future__ import annotations

import datetime as dt
from contextlib import suppress
from typing import Final

import numpy as np

from terrain.country import Country
from terrain.errors import NoAnswer
from terrain.ground.dem import Dem
from terrain.ground.grid import Grid
from terrain.ground.raster.cuts import Cells
from terrain.ground.relief.summits import find_summits, hill_at
from terrain.ground.relief.tiles import tree_of_tile
from terrain.surveying.hills import vantages_of
from terrain.surveying.question import SurveyQuestion
from terrain.surveying.rasters import RasterWork

_DAY: Final = dt.date(2025, 3, 30)


def compile_kernels() -> None:
    """Find the vantages of a small cone under a mist, by all that a survey goes through."""
    cone = _cone()
    hill = hill_at(cone, *map(float, cone.grid.lonlat(30, 40)))
    question = SurveyQuestion(days=(_DAY, _DAY), tops_m=(5.0, 10.0), count=1)
    with suppress(NoAnswer):
        vantages_of(cone, hill, question)
    tree_of_tile(cone.heights_m, Cells(0, 0, 60, 80), cone.shape, 30.0)


def compile_kernels_of(work: RasterWork) -> None:
    """Make the bands of a small cone, by all that a survey of rasters goes through."""
    cone = _cone()
    tree_of_tile(cone.heights_m, Cells(0, 0, 60, 80), cone.shape, 30.0)
    work.bands(Country(cone), find_summits(cone))


def _cone() -> Dem:
    grid = Grid(crs=32628, transform=(100, 0, 5e5, 0, -100, 6e6), shape=(61, 81))  # type: ignore[arg-type]
    row, col = np.mgrid[-30:31, -40:41]
    return Dem(np.maximum(300.0 - 40.0 * np.hypot(row, col), np.abs(col)), grid)
