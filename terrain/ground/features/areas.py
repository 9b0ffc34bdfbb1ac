"""Areas with names, such as valleys, from the files that people draw them in."""

from __future__ import annotations

import warnings
from os import PathLike, fspath
from pathlib import Path
from typing import Any

import geopandas as gpd
import shapely
from pyogrio.errors import DataSourceError

from terrain.errors import TerrainError

__all__ = ["Areas", "read_areas"]

Areas = str | PathLike[str] | Any
"""A file of outlines with names, or a GeoDataFrame of them."""


def read_areas(areas: Areas) -> gpd.GeoDataFrame:
    """Areas with names: a table of `name` and `geometry` (polygons, EPSG:4326), in their order.

    areas: a GeoPackage or GeoJSON file (or another that GDAL reads outlines from) with a `name`
    column, or a GeoDataFrame. Outlines of one name are one area; what has no name or is no
    outline is left out.

    TerrainError for a file that is missing, cannot be read, or holds no outline with a name.

    >>> square = shapely.box(-24.1, 54.3, -24.0, 54.4)
    >>> table = gpd.GeoDataFrame({"Name": ["the dale"]}, geometry=[square], crs="EPSG:4326")
    >>> read_areas(table).name.tolist()
    ['the dale']
    """
    if isinstance(areas, gpd.GeoDataFrame):
        return _named(areas, "the table of areas")
    path = fspath(areas)
    if not Path(path).is_file():
        raise TerrainError(f"there is no file {path}")
    try:
        with warnings.catch_warnings():
            # of a file with several layers the first is read
            warnings.simplefilter("ignore", UserWarning)
            table = gpd.read_file(path)
    except (DataSourceError, ValueError, OSError) as error:
        reason = str(error).splitlines()[0] if str(error) else type(error).__name__
        raise TerrainError(f"{path} cannot be read as areas: {reason}") from error
    if not isinstance(table, gpd.GeoDataFrame):
        raise TerrainError(f"{path} holds no areas: its features have no geometry")
    return _named(table, path)


def _named(table: gpd.GeoDataFrame, source: str) -> gpd.GeoDataFrame:
    column = next((c for c in table.columns if str(c).strip().lower() == "name"), None)
    if column is None:
        columns = ", ".join(str(column) for column in table.columns)
        raise TerrainError(f"{source} has no column name: its columns are {columns}")
    name = table[column].fillna("").astype(str).str.strip()
    named = gpd.GeoDataFrame({"name": name}, geometry=table.geometry)
    outlined = named.geometry.geom_type.isin(("Polygon", "MultiPolygon"))
    named = named[(named["name"] != "") & outlined & ~named.geometry.is_empty]
    if named.empty:
        raise TerrainError(f"{source} holds no outline with a name: draw polygons and name them")
    named = named.set_crs("EPSG:4326") if named.crs is None else named.to_crs("EPSG:4326")
    whole = named.set_geometry(shapely.make_valid(named.geometry.to_numpy()), crs=named.crs)
    return whole.dissolve(by="name", sort=False, as_index=False)
