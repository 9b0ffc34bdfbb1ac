"""The second stage: for every hill whose top is in a tile, its vantages and their dates."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache, partial
from pathlib import Path
from typing import Any, Final

import geopandas as gpd

from terrain.errors import NoGround
from terrain.ground.raster.planned import PlannedPart
from terrain.surveying.about import Surround
from terrain.surveying.cut import cells_of, ground_of
from terrain.surveying.first import read_blocks
from terrain.surveying.question import SurveyQuestion
from terrain.surveying.tables import by_the_clock, save_places

_WINDOWS_KEPT: Final = 64


@dataclass(frozen=True, kw_only=True)
class TileGround:
    """All that it takes to read the ground of a tile, and about it.

    near: the tile with the margin that its hills ask for. far: with all that can make a skyline.
    blocks: the file of those of the country. side: of a block, cells.
    """

    near: PlannedPart
    far: PlannedPart
    blocks: Path
    side: int

    def surround(self) -> Surround:
        """The ground; NoGround where nothing of the tile is known."""
        dem, grid = ground_of(self.near), self.near.grid
        if dem is None or grid is None:
            raise NoGround("no ground is known in it")
        return Surround(
            whole=grid,
            dem=dem,
            row=self.near.window.top,
            col=self.near.window.left,
            blocks=read_blocks(self.blocks, self.side),
            # hills that are neighbours ask for the same cells beyond
            read=lru_cache(_WINDOWS_KEPT)(partial(cells_of, self.far)),
        )


def search_tile(
    ground: TileGround, hills: gpd.GeoDataFrame, question: SurveyQuestion, path: Path
) -> Mapping[str, Any]:
    """Write the vantages of the hills of a tile."""
    from terrain.surveying.hills import vantages_of_all

    rows, left_out = vantages_of_all(ground.surround(), hills, question)
    save_places(by_the_clock(rows.assign(tile=ground.near.number)), path)
    return {"hills": len(hills), "rows": len(rows), "left_out": left_out}
