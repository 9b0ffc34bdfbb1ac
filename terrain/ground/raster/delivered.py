"""Ground on the cells of its files, as they have it."""

from __future__ import annotations

from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.ground.raster.files import RasterFiles
from terrain.ground.raster.read import delivered_as, ground_on, lay_out, quietly
from terrain.ground.raster.sheet import NOTHING_SAID
from terrain.ground.raster.warp import check_count


def read_delivered(paths: RasterFiles, around: Spot | Hill, reach_m: float) -> Dem:
    """The cells of files that hold a square about a place; all of them may be unknown."""
    with quietly():
        laid = lay_out(paths, NOTHING_SAID, around=around, reach_m=reach_m)
        check_count(laid.grid.shape)
        heights, doubts = ground_on(laid.grid, laid.sheets)
    return delivered_as(heights, laid.grid, laid, doubts)
