"""Names of summits from a file of places, given to the summits they lie on."""

from __future__ import annotations

import warnings
from os import PathLike, fspath
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from pyogrio.errors import DataSourceError
from scipy.spatial import cKDTree

from terrain.constants import EARTH_RADIUS_M
from terrain.errors import TerrainError
from terrain.ground.geodesy import azimuth_and_distance

__all__ = ["MATCH_M", "Names", "match_names", "read_names"]

MATCH_M = 300.0
"""Farthest a name may lie from its summit, metres: places in lists are rounded, cells are wide."""

Names = str | PathLike[str] | Any
"""A file of named places, or a GeoDataFrame of them."""

_LON_WORDS, _LAT_WORDS = ("lon", "longitude"), ("lat", "latitude")


def read_names(names: Names) -> gpd.GeoDataFrame:
    """Places with names: a table of `name` and `geometry` (points, EPSG:4326).

    names: a GeoJSON or GeoPackage file with a `name` column, a CSV file with columns `name` and
    `lon`, `lat` (or `longitude`, `latitude`; capitals do not matter), or a GeoDataFrame.
    TerrainError for a file that is missing, unreadable or lacks a column.

    >>> read_names("no/such/places.csv")
    Traceback (most recent call last):
    terrain.errors.TerrainError: there is no file no/such/places.csv
    """
    if isinstance(names, gpd.GeoDataFrame):
        return _named(names, "the table of names")
    path = fspath(names)
    if not Path(path).is_file():
        raise TerrainError(f"there is no file {path}")
    is_csv = path.lower().endswith(".csv")
    return _named(_from_csv(path) if is_csv else _from_features(path), path)


def match_names(
    lon_deg: NDArray[np.float64], lat_deg: NDArray[np.float64], places: gpd.GeoDataFrame
) -> list[str]:
    """The name of each summit, "" for none; lon_deg, lat_deg: (summits,) WGS 84 degrees.

    Each name goes to the summit nearest to it if that lies within 300 m; where several names
    go to one summit, the nearest is kept.
    """
    matched = [""] * len(lon_deg)
    if not len(lon_deg) or places.empty:
        return matched
    lon, lat = places.geometry.x.to_numpy(), places.geometry.y.to_numpy()
    tree = cKDTree(_on_the_globe(lon_deg, lat_deg))
    summit = np.asarray(tree.query(_on_the_globe(lon, lat))[1])
    _, distance_m = azimuth_and_distance(lon, lat, lon_deg[summit], lat_deg[summit])
    # nearest last, so that it has the last word
    for place in np.argsort(-distance_m, kind="stable"):
        if distance_m[place] <= MATCH_M:
            matched[summit[place]] = str(places["name"].iloc[place])
    return matched


def _from_csv(path: str) -> gpd.GeoDataFrame:
    try:
        table = pd.read_csv(path, encoding="utf-8-sig")
    except (ValueError, OSError) as error:
        raise _unreadable(path, error) from error
    lon = _numbers(table, _LON_WORDS, path)
    lat = _numbers(table, _LAT_WORDS, path)
    return gpd.GeoDataFrame(table, geometry=gpd.points_from_xy(lon, lat), crs="EPSG:4326")


def _from_features(path: str) -> gpd.GeoDataFrame:
    try:
        with warnings.catch_warnings():
            # of a file with several layers the first is read
            warnings.simplefilter("ignore", UserWarning)
            table = gpd.read_file(path)
    except (DataSourceError, ValueError, OSError) as error:
        raise _unreadable(path, error) from error
    if not isinstance(table, gpd.GeoDataFrame):
        raise TerrainError(f"{path} holds no places: its features have no geometry")
    return table


def _named(table: gpd.GeoDataFrame, source: str) -> gpd.GeoDataFrame:
    name = table[_column(table, ("name",), source)].fillna("").astype(str).str.strip()
    places = gpd.GeoDataFrame({"name": name}, geometry=table.geometry)
    shapes = places.geometry.to_numpy()
    has_place = ~(shapely.is_missing(shapes) | shapely.is_empty(shapes))
    places = places[(places["name"] != "") & has_place]
    places = places.set_crs("EPSG:4326") if places.crs is None else places.to_crs("EPSG:4326")
    # a summit drawn as an outline or a line stands for a place on it
    return places.set_geometry(places.geometry.representative_point()).reset_index(drop=True)


def _column(table: pd.DataFrame, words: tuple[str, ...], source: str) -> str:
    for column in table.columns:
        if str(column).strip().lower() in words:
            return str(column)
    columns = ", ".join(str(column) for column in table.columns)
    raise TerrainError(f"{source} has no column {' or '.join(words)}: its columns are {columns}")


def _numbers(table: pd.DataFrame, words: tuple[str, ...], source: str) -> NDArray[np.float64]:
    column = _column(table, words, source)
    numbers = pd.to_numeric(table[column], errors="coerce").to_numpy(dtype=float)
    limit = 180.0 if words is _LON_WORDS else 90.0
    wrong = ~(np.abs(numbers) <= limit)
    if wrong.any():
        row = int(np.flatnonzero(wrong)[0])
        raise TerrainError(
            f"{source}, line {row + 2}: {column} is {table[column].iloc[row]!r}, not degrees"
        )
    return numbers


def _unreadable(path: str, error: Exception) -> TerrainError:
    reason = str(error).splitlines()[0] if str(error) else type(error).__name__
    return TerrainError(f"{path} cannot be read as a table of places: {reason}")


def _on_the_globe(
    lon_deg: NDArray[np.float64], lat_deg: NDArray[np.float64]
) -> NDArray[np.float64]:
    lon, lat = np.radians(lon_deg), np.radians(lat_deg)
    axes = (np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat))
    return EARTH_RADIUS_M * np.stack(axes, axis=-1)
