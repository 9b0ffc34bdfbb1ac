"""What an earlier survey has left in its folder, for whoever looks at it."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import geopandas as gpd

from terrain.errors import TerrainError
from terrain.surveying.extra import check_readable
from terrain.surveying.receipts import Folder
from terrain.surveying.tables import read_places

_COLUMNS: Final = frozenset(
    (
        *("rank", "hill", "hill_lon_deg", "hill_lat_deg", "hill_height_m", "day", "evening"),
        *("height_m", "distance_m", "best", "best_at_clock", "best_deg", "best_pose"),
        *("backdrop", "backdrop_m", "score"),
    )
)
"""What a row of any survey must have to be told, whatever mist it was asked of."""


def read_survey(path: Path) -> gpd.GeoDataFrame:
    """The ranked table of a folder that `survey` has filled, best first.

    TerrainError where that is no such folder, its table is not what its receipt says, it found
    nothing, or what reads it is not installed.
    """
    check_readable()
    if not path.is_dir():
        what = "it is a file" if path.exists() else "there is none"
        raise TerrainError(f"no survey can be opened in the folder {path}: {what}")
    table = path / "survey.parquet"
    if not table.is_file():
        raise TerrainError(
            f"{path} holds no survey.parquet: give the folder that `terrain survey --save` filled"
        )
    if not Folder(path).has_whole(table):
        raise TerrainError(
            f"{table} is not what its receipt says: give the same survey command once more"
        )
    found = read_places(table)
    if found.empty:
        raise TerrainError(f"the survey in {path} found no vantage: there is nothing to show")
    if lacking := sorted(_COLUMNS - set(found.columns)):
        raise TerrainError(
            f"{table} has no column {lacking[0]}: give the same survey command once more"
        )
    return found
