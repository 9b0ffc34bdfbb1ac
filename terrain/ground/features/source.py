"""Where features of the map come from: a file that GDAL reads, or a table that is at hand."""

from __future__ import annotations

import warnings
from collections.abc import Callable
from os import PathLike, fspath
from pathlib import Path
from typing import TypeAlias

import geopandas as gpd
import pandas as pd
from pyogrio.errors import DataSourceError

from terrain.errors import TerrainError

__all__ = ["Features", "column_of", "first_layer", "named", "on_earth", "table_of"]

Features: TypeAlias = str | PathLike[str] | gpd.GeoDataFrame
"""A file of features, or a GeoDataFrame of them."""


def first_layer(path: str) -> pd.DataFrame:
    """The features of a file, of one with several layers those of the first."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)
        table: pd.DataFrame = gpd.read_file(path)
        return table


def table_of(
    features: Features, kind: str, read: Callable[[str], pd.DataFrame] = first_layer
) -> tuple[gpd.GeoDataFrame, str]:
    """The table of some features, and what messages call it.

    kind: what they are, in the plural. TerrainError for a file that is missing, cannot be read, or
    has no geometry.
    """
    if isinstance(features, gpd.GeoDataFrame):
        return features, f"the table of {kind}"
    path = fspath(features)
    if not Path(path).is_file():
        raise TerrainError(f"there is no file {path}")
    try:
        table = read(path)
    except (DataSourceError, ValueError, OSError) as error:
        reason = str(error).splitlines()[0] if str(error) else type(error).__name__
        raise TerrainError(f"{path} cannot be read as {kind}: {reason}") from error
    if not isinstance(table, gpd.GeoDataFrame):
        raise TerrainError(f"{path} holds no {kind}: its features have no geometry")
    return table, path


def named(table: gpd.GeoDataFrame, source: str) -> gpd.GeoDataFrame:
    """The features that have a name, as `name` and `geometry` in EPSG:4326."""
    name = table[column_of(table, ("name",), source)].fillna("").astype(str).str.strip()
    found = gpd.GeoDataFrame({"name": name}, geometry=table.geometry)
    return on_earth(found[(found["name"] != "") & ~(found.geometry.isna() | found.is_empty)])


def column_of(table: pd.DataFrame, words: tuple[str, ...], source: str) -> str:
    """The column that bears one of some names, whatever its capitals; TerrainError without."""
    for column in table.columns:
        if str(column).strip().lower() in words:
            return str(column)
    columns = ", ".join(str(column) for column in table.columns)
    raise TerrainError(f"{source} has no column {' or '.join(words)}: its columns are {columns}")


def on_earth(table: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """A table in longitude and latitude, which it is taken for where it does not say."""
    return table.set_crs("EPSG:4326") if table.crs is None else table.to_crs("EPSG:4326")
