"""Areas with names, such as valleys, from the files that people draw them in."""

from __future__ import annotations

import geopandas as gpd
import shapely

from terrain.errors import TerrainError
from terrain.ground.features.source import Features, named, table_of

__all__ = ["read_areas"]


def read_areas(areas: Features) -> gpd.GeoDataFrame:
    """Areas with names, from a file or a table, in their order.

    Parameters
    ----------
    areas : path or geopandas.GeoDataFrame
        A GeoPackage or GeoJSON file (or another that GDAL reads outlines from) with a `name`
        column, or a table. Outlines of one name are one area; what has no name or is no outline is
        left out.

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
    table, source = table_of(areas, "areas")
    found = named(table, source)
    found = found[found.geom_type.isin(("Polygon", "MultiPolygon"))]
    if found.empty:
        raise TerrainError(f"{source} holds no outline with a name: draw polygons and name them")
    whole = found.set_geometry(shapely.make_valid(found.geometry.to_numpy()), crs=found.crs)
    return whole.dissolve(by="name", sort=False, as_index=False)
