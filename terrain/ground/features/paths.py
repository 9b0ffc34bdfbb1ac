"""Roads, tracks and footpaths from the files that walkers have them in."""

from __future__ import annotations

from os import PathLike, fspath
from pathlib import Path
from typing import Any

import geopandas as gpd
import pandas as pd
import pyogrio
import shapely
from pyogrio.errors import DataSourceError

from terrain.errors import TerrainError

__all__ = ["Paths", "read_paths"]

Paths = str | PathLike[str] | Any
"""A file of paths, or a GeoDataFrame of them."""

# GDAL shows the points of GPX tracks a second time, as layers of their own
_LINE_WORDS = ("line", "unknown", "collection", "curve")
_KEPT = ("name", "kind")


def read_paths(paths: Paths) -> gpd.GeoDataFrame:
    """Paths to walk on: a table of `name`, `kind` ("" where unknown) and lines in EPSG:4326.

    paths: a GPX file (its tracks and routes), a GeoJSON or GeoPackage file (the lines of all its
    layers) or anything else that GDAL reads lines from; or a GeoDataFrame. Lines of several parts
    become several rows; heights in the file are left out, for the raster has its own; whatever is
    no line is left out too.

    TerrainError for a file that is missing, cannot be read, or holds no line.

    >>> read_paths("no/such/walk.gpx")
    Traceback (most recent call last):
    terrain.errors.TerrainError: there is no file no/such/walk.gpx
    """
    if isinstance(paths, gpd.GeoDataFrame):
        return _lines([paths], "the table of paths")
    path = fspath(paths)
    if not Path(path).is_file():
        raise TerrainError(f"there is no file {path}")
    try:
        layers = [
            gpd.read_file(path, layer=name)
            for name, geometry in pyogrio.list_layers(path)
            if _may_hold_lines(geometry)
        ]
    except (DataSourceError, ValueError, OSError) as error:
        reason = str(error).splitlines()[0] if str(error) else type(error).__name__
        raise TerrainError(f"{path} cannot be read as paths: {reason}") from error
    return _lines([layer for layer in layers if isinstance(layer, gpd.GeoDataFrame)], path)


def _may_hold_lines(geometry: str | None) -> bool:
    return geometry is not None and any(word in geometry.lower() for word in _LINE_WORDS)


def _lines(layers: list[gpd.GeoDataFrame], source: str) -> gpd.GeoDataFrame:
    parts = [part for part in map(_lines_of, layers) if len(part)]
    if not parts:
        raise TerrainError(
            f"{source} holds no paths: there is no line in it (a GPX file needs a track or a route)"
        )
    table = pd.concat(parts, ignore_index=True)
    return gpd.GeoDataFrame(table, geometry="geometry", crs="EPSG:4326")


def _lines_of(layer: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """The lines of one layer, each of one part and without heights."""
    texts = {column: _text(layer, column) for column in _KEPT}
    table = gpd.GeoDataFrame(texts, geometry=layer.geometry, crs=layer.crs)
    table = table[~(table.geometry.isna() | table.geometry.is_empty)]
    # a collection can hold multilines
    table = table.explode(index_parts=False).explode(index_parts=False)
    table = table[table.geom_type.isin(("LineString", "LinearRing"))]
    table = table.set_crs("EPSG:4326") if table.crs is None else table.to_crs("EPSG:4326")
    flat = table.set_geometry(shapely.force_2d(table.geometry.to_numpy()), crs=table.crs)
    # a recorder that was switched on and off again leaves lines that lead nowhere
    return flat[shapely.length(flat.geometry.to_numpy()) > 0.0]


def _text(layer: gpd.GeoDataFrame, column: str) -> pd.Series:
    """A column as text, whatever its capitals; empty where the layer has none."""
    found = [name for name in layer.columns if str(name).lower() == column]
    if not found:
        return pd.Series("", index=layer.index, dtype=object)
    text: pd.Series = layer[found[0]].fillna("").astype(str).str.strip().astype(object)
    return text
