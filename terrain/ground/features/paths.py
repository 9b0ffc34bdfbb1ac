"""Roads, tracks and footpaths from the files that walkers have them in."""

from __future__ import annotations

import geopandas as gpd
import pandas as pd
import pyogrio
import shapely

from terrain.errors import TerrainError
from terrain.ground.features.source import Features, on_earth, table_of

__all__ = ["read_paths"]

# GDAL shows the points of GPX tracks a second time, as layers of their own
_LINE_WORDS = ("line", "unknown", "collection", "curve")
_KEPT = ("name", "kind")


def read_paths(paths: Features) -> gpd.GeoDataFrame:
    """Paths to walk on, from a file or a table.

    Parameters
    ----------
    paths : path or geopandas.GeoDataFrame
        A GPX file (its tracks and routes), a GeoJSON or GeoPackage file (the lines of all its
        layers) or anything else that GDAL reads lines from; or a table. Lines of several parts
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
    table, source = table_of(paths, "paths", _lines_of_layers)
    lines = _lines_of(table)
    if lines.empty:
        raise TerrainError(
            f"{source} holds no paths: there is no line in it (a GPX file needs a track or a route)"
        )
    return lines.reset_index(drop=True)


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
    table = on_earth(table)
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
