"""Tables of a survey as GeoParquet, with moments in UTC beside the local clock."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Final

import geopandas as gpd
import pandas as pd

from terrain.errors import TerrainError
from terrain.ground.tables import with_points
from terrain.show.files.whole import whole_file

_ORDER: Final = ("score", "hill_lat_deg", "hill_lon_deg", "evening", "lat_deg", "lon_deg")
"""Rows of one score stand by place, so that every cut of a country gives one order."""


def save_places(table: gpd.GeoDataFrame, path: Path) -> None:
    """Write a table with places as GeoParquet, complete or not at all.

    TerrainError where it cannot be written.
    """
    with whole_file(path, "write a table as", ".parquet") as partial:
        table.to_parquet(partial, index=False, compression="zstd")


def by_the_clock(rows: pd.DataFrame) -> gpd.GeoDataFrame:
    """Rows of a search as a table of places: moments in UTC, and beside each the local clock."""
    from terrain.show.files.export import in_utc

    return in_utc(with_points(rows)) if len(rows) else empty(("hill", "score"))


def read_places(path: Path) -> gpd.GeoDataFrame:
    """A table as `save_places` wrote it; TerrainError where it is damaged or not there."""
    try:
        return gpd.read_parquet(path)
    except (OSError, ValueError) as error:
        raise TerrainError(f"{path} cannot be read as GeoParquet: {error}") from error


def ranked(parts: Iterable[pd.DataFrame]) -> gpd.GeoDataFrame:
    """The rows of all parts as one table, best first, with their rank over all."""
    filled = [part for part in parts if len(part)]
    if not filled:
        return empty(("rank", "hill", "day", "score"))
    every = pd.concat(filled, ignore_index=True)
    if "geometry" in every:
        every = pd.DataFrame(every.drop(columns="geometry"))
    order = [name for name in _ORDER if name in every]
    every = every.sort_values(order, ascending=[name != "score" for name in order])
    return with_points(every, ranked=True)


def empty(columns: Sequence[str]) -> gpd.GeoDataFrame:
    """A table of places without a row."""
    return gpd.GeoDataFrame({name: [] for name in columns}, geometry=[], crs="EPSG:4326")
