"""Names of summits from a file of places, given to the summits they lie on."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd

from terrain.arrays import Floats
from terrain.constants import EARTH_RADIUS_M
from terrain.errors import TerrainError
from terrain.ground.features.source import Features, column_of, first_layer, named, table_of
from terrain.ground.geodesy import azimuth_and_distance

__all__ = ["MATCH_M", "match_names", "read_names"]

MATCH_M = 300.0
"""Farthest a name may lie from its summit, metres: places in lists are rounded, cells are wide."""

_LON_WORDS, _LAT_WORDS = ("lon", "longitude"), ("lat", "latitude")


def read_names(names: Features) -> gpd.GeoDataFrame:
    """Places with names, from a file or a table.

    Parameters
    ----------
    names : path or geopandas.GeoDataFrame
        A GeoJSON or GeoPackage file with a `name` column, a CSV file with columns `name` and `lon`,
        `lat` (or `longitude`, `latitude`; capitals do not matter), or a table.

    Returns
    -------
    geopandas.GeoDataFrame
        `name` and `geometry` (points, EPSG:4326).

    Raises
    ------
    TerrainError
        For a file that is missing, unreadable or lacks a column.

    Examples
    --------
    >>> read_names("no/such/places.csv")
    Traceback (most recent call last):
    terrain.errors.TerrainError: there is no file no/such/places.csv
    """
    table, source = table_of(names, "names", _csv_or_layer)
    places = named(table, source)
    # a summit drawn as an outline or a line stands for a place on it
    return places.set_geometry(places.geometry.representative_point()).reset_index(drop=True)


def match_names(lon_deg: Floats, lat_deg: Floats, places: gpd.GeoDataFrame) -> list[str]:
    """The name of each summit, "" for none; lon_deg, lat_deg: (summits,) WGS 84 degrees.

    Each name goes to the summit nearest to it if that lies within 300 m; where several names
    go to one summit, the nearest is kept.
    """
    from scipy.spatial import cKDTree

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


def _csv_or_layer(path: str) -> pd.DataFrame:
    if not path.lower().endswith(".csv"):
        return first_layer(path)
    table = pd.read_csv(path, encoding="utf-8-sig")
    lon, lat = _degrees(table, _LON_WORDS, 180.0, path), _degrees(table, _LAT_WORDS, 90.0, path)
    places: pd.DataFrame = gpd.GeoDataFrame(
        table, geometry=gpd.points_from_xy(lon, lat), crs="EPSG:4326"
    )
    return places


def _degrees(table: pd.DataFrame, words: tuple[str, ...], limit: float, path: str) -> Floats:
    column = column_of(table, words, path)
    numbers = pd.to_numeric(table[column], errors="coerce").to_numpy(dtype=float)
    wrong = ~(np.abs(numbers) <= limit)
    if wrong.any():
        row = int(np.flatnonzero(wrong)[0])
        raise TerrainError(
            f"{path}, line {row + 2}: {column} is {table[column].iloc[row]!r}, not degrees"
        )
    return numbers


def _on_the_globe(lon_deg: Floats, lat_deg: Floats) -> Floats:
    lon, lat = np.radians(lon_deg), np.radians(lat_deg)
    axes = (np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat))
    return EARTH_RADIUS_M * np.stack(axes, axis=-1)
