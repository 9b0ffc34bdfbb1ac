"""Features of the map from the files that people keep them in: named summits, areas and paths."""

from __future__ import annotations

import warnings
from collections.abc import Callable
from os import PathLike, fspath
from typing import TypeAlias

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import shapely
from shapely.errors import ShapelyError

from terrain.arrays import Floats
from terrain.errors import TerrainError
from terrain.ground.feature_files import check_features
from terrain.ground.names import clean_name
from terrain.ground.stored import check_file

Features: TypeAlias = str | PathLike[str] | gpd.GeoDataFrame
"""A file of features, or a GeoDataFrame of them."""

_LEAST_DEG = 1e-12

_LON_WORDS, _LAT_WORDS = ("lon", "longitude"), ("lat", "latitude")

# GDAL shows the points of GPX tracks a second time, as layers of their own
_LINE_WORDS = ("line", "unknown", "collection", "curve")
_KEPT = ("name", "kind")
_HEIGHT_WORDS = ("height_m", "elevation_m", "elevation", "ele")


def read_names(names: Features) -> gpd.GeoDataFrame:
    """Places with names, from a file or a table.

    Parameters
    ----------
    names : path or geopandas.GeoDataFrame
        A GeoJSON, GeoPackage, KML or GPX file with a `name` column, a CSV file with columns `name`
        and `lon`, `lat` (or `longitude`, `latitude`; capitals do not matter), or a table.

    Returns
    -------
    geopandas.GeoDataFrame
        `name` and `geometry` (points, EPSG:4326); and where the list has a column `height_m`,
        `elevation` or `ele`, of metres, `height_m`, NaN where it has no number.

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
    table, source = _table_of(names, "names", _csv_or_layer)
    places = _named(table, source)
    # a summit drawn as an outline or a line stands for a place on it
    return places.set_geometry(places.geometry.representative_point()).reset_index(drop=True)


def read_areas(areas: Features) -> gpd.GeoDataFrame:
    """Areas with names, from a file or a table, in their order.

    Parameters
    ----------
    areas : path or geopandas.GeoDataFrame
        A GeoPackage, GeoJSON, KML, Shapefile or FlatGeobuf file with a `name` column, or a table.
        Outlines of one name are one area; what has no name or is no outline is left out.

    Returns
    -------
    geopandas.GeoDataFrame
        `name` and `geometry` (polygons, EPSG:4326).

    Raises
    ------
    TerrainError
        For a file that is missing, cannot be read, or holds no outline with a name.

    Examples
    --------
    >>> square = shapely.box(-24.1, 54.3, -24.0, 54.4)
    >>> table = gpd.GeoDataFrame({"Name": ["the dale"]}, geometry=[square], crs="EPSG:4326")
    >>> read_areas(table).name.tolist()
    ['the dale']
    """
    table, source = _table_of(areas, "areas")
    found = _named(table, source)
    found = found[found.geom_type.isin(("Polygon", "MultiPolygon"))]
    if found.empty:
        raise TerrainError(f"{source} holds no outline with a name: draw polygons and name them")
    whole = found.set_geometry(shapely.make_valid(found.geometry.to_numpy()), crs=found.crs)
    return whole[["name", "geometry"]].dissolve(by="name", sort=False, as_index=False)


def read_paths(paths: Features) -> gpd.GeoDataFrame:
    """Paths to walk on, from a file or a table.

    Parameters
    ----------
    paths : path or geopandas.GeoDataFrame
        A GPX file (its tracks and routes), a GeoJSON, GeoPackage, KML, Shapefile or FlatGeobuf
        file (the lines of all its layers); or a table. Lines of several parts
        become several rows; heights in the file are left out, for the raster has its own; whatever
        is no line is left out too.

    Returns
    -------
    geopandas.GeoDataFrame
        `name`, `kind` ("" where unknown) and `geometry` (lines, EPSG:4326).

    Raises
    ------
    TerrainError
        For a file that is missing, cannot be read, or holds no line.

    Examples
    --------
    >>> read_paths("no/such/walk.gpx")
    Traceback (most recent call last):
    terrain.errors.TerrainError: there is no file no/such/walk.gpx
    """
    table, source = _table_of(paths, "paths", _lines_of_layers)
    lines = _lines_of(table)
    if lines.empty:
        raise TerrainError(
            f"{source} holds no paths: there is no line in it (a GPX file needs a track or a route)"
        )
    return lines.reset_index(drop=True)


def _csv_or_layer(path: str) -> pd.DataFrame:
    if not path.lower().endswith(".csv"):
        return _first_layer(path)
    table = pd.read_csv(path, encoding="utf-8-sig")
    lon, lat = _degrees(table, _LON_WORDS, 180.0, path), _degrees(table, _LAT_WORDS, 90.0, path)
    places: pd.DataFrame = gpd.GeoDataFrame(
        table, geometry=gpd.points_from_xy(lon, lat), crs="EPSG:4326"
    )
    return places


def _degrees(table: pd.DataFrame, words: tuple[str, ...], limit: float, path: str) -> Floats:
    column = _column_of(table, words, path)
    numbers = pd.to_numeric(table[column], errors="coerce").to_numpy(dtype=float)
    wrong = ~(np.abs(numbers) <= limit)
    if wrong.any():
        row = int(np.flatnonzero(wrong)[0])
        found = table[column].iloc[row]
        said = (
            "empty" if pd.isna(found) else repr(found) if isinstance(found, str) else f"{found:g}"
        )
        raise TerrainError(f"{path}, line {row + 2}: {column} is {said}, not degrees")
    return numbers


def _lines_of_layers(path: str) -> gpd.GeoDataFrame:
    names = [name for name, geometry in pyogrio.list_layers(path) if _may_hold_lines(geometry)]
    layers = [gpd.read_file(path, layer=name) for name in names]
    lines = [_lines_of(layer) for layer in layers if isinstance(layer, gpd.GeoDataFrame)]
    return pd.concat(lines) if lines else gpd.GeoDataFrame(geometry=[])


def _may_hold_lines(geometry: str | None) -> bool:
    return geometry is not None and any(word in geometry.lower() for word in _LINE_WORDS)


def _lines_of(layer: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """The lines of one layer, each of one part and without heights."""
    texts = {column: _text(layer, column) for column in _KEPT}
    table = gpd.GeoDataFrame(texts, geometry=layer.geometry, crs=layer.crs)
    table = table[~(table.geometry.isna() | table.geometry.is_empty)]
    # a collection can hold multilines
    table = table.explode(index_parts=False).explode(index_parts=False)
    table = table[table.geom_type.isin(("LineString", "LinearRing"))]
    table = _on_earth(table)
    flat = table.set_geometry(shapely.force_2d(table.geometry.to_numpy()), crs=table.crs)
    # a recorder that was switched on and off again leaves lines that lead nowhere
    return flat[shapely.length(flat.geometry.to_numpy()) > 0.0]


def _text(layer: gpd.GeoDataFrame, column: str) -> pd.Series:
    """A column as text, whatever its capitals; empty where the layer has none."""
    found = [name for name in layer.columns if str(name).lower() == column]
    if not found:
        return pd.Series("", index=layer.index, dtype=object)
    text: pd.Series = layer[found[0]].fillna("").map(clean_name).astype(object)
    return text


def _first_layer(path: str) -> pd.DataFrame:
    """The features of a file, of one with several layers those of the first."""
    table: pd.DataFrame = gpd.read_file(path)
    return table


def _table_of(
    features: Features, kind: str, read: Callable[[str], pd.DataFrame] = _first_layer
) -> tuple[gpd.GeoDataFrame, str]:
    """The table of some features, and what messages call it.

    kind: what they are, in the plural. TerrainError for a file that is missing, cannot be read, or
    has no geometry.
    """
    if isinstance(features, gpd.GeoDataFrame):
        return features, f"the table of {kind}"
    path = fspath(features)
    check_file(path)
    if not (read is _csv_or_layer and path.lower().endswith(".csv")):
        check_features(path, kind)
    try:
        with warnings.catch_warnings():
            # what the library notes of a file by the way is not for the terminal
            warnings.simplefilter("ignore")
            table = read(path)
    except (RuntimeError, ValueError, OSError, ShapelyError) as error:
        reason = str(error).splitlines()[0] if str(error) else type(error).__name__
        raise TerrainError(f"{path} cannot be read as {kind}: {reason}") from error
    if not isinstance(table, gpd.GeoDataFrame):
        raise TerrainError(f"{path} holds no {kind}: its features have no geometry")
    return table, path


def _named(table: gpd.GeoDataFrame, source: str) -> gpd.GeoDataFrame:
    """The features that have a name, as `name` and `geometry` in EPSG:4326."""
    name = table[_column_of(table, ("name",), source)].fillna("").map(clean_name)
    found = gpd.GeoDataFrame({"name": name, **_heights(table)}, geometry=table.geometry)
    return _on_earth(found[(found["name"] != "") & ~(found.geometry.isna() | found.is_empty)])


def _heights(table: gpd.GeoDataFrame) -> dict[str, pd.Series]:
    """The heights that a table gives its places, NaN where it does not; nothing where to none."""
    for column in table.columns:
        if str(column).strip().lower() in _HEIGHT_WORDS:
            height_m = pd.to_numeric(table[column], errors="coerce").astype(float)
            height_m = height_m.where(np.isfinite(height_m))
            return {"height_m": height_m} if height_m.notna().any() else {}
    return {}


def _column_of(table: pd.DataFrame, words: tuple[str, ...], source: str) -> str:
    """The column that bears one of some names, whatever its capitals; TerrainError without."""
    for column in table.columns:
        if str(column).strip().lower() in words:
            return str(column)
    columns = ", ".join(str(column) for column in table.columns)
    raise TerrainError(f"{source} has no column {' or '.join(words)}: its columns are {columns}")


def _on_earth(table: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """A table in longitude and latitude, which it is taken for where it does not say.

    TerrainError where a part of it is nowhere on the earth.
    """
    found = table.set_crs("EPSG:4326") if table.crs is None else table.to_crs("EPSG:4326")
    shapes = found.geometry.to_numpy()
    lon, lat = places = shapely.get_coordinates(shapes).T
    nowhere = ~((np.abs(lon) <= 360.0) & (np.abs(lat) <= 90.0))
    if nowhere.any():
        first = int(np.flatnonzero(nowhere)[0])
        raise TerrainError(
            f"a place at longitude {lon[first]:g}, latitude {lat[first]:g} is not on the earth: "
            "a file of places holds degrees, or says its reference system"
        )
    if ((places != 0.0) & (np.abs(places) < _LEAST_DEG)).any():
        # what divides by such a number gets no number
        near = shapely.transform(shapes, lambda xy: np.where(np.abs(xy) < _LEAST_DEG, 0.0, xy))
        found = found.set_geometry(near, crs=found.crs)
    return found
