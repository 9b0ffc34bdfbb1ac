"""Outlines of parts of a raster, drawn between its cells, as polygons on the earth."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
import shapely
from contourpy import FillType, contour_generator

from terrain.arrays import Floats, Singles
from terrain.ground.grid import Grid


def areas_below(values: Singles, grid: Grid) -> gpd.GeoDataFrame:
    """The parts of a raster where its values lie below 0, largest first.

    values: (rows, cols), taken to change evenly from one cell centre to the next, so that the
    outline runs smoothly between cells; NaN is no part of any area. An area that is cut by the
    raster's edge ends there; one beside NaN ends at the last centres that are known.

    A table of area_km2, holes (how many the area has) and geometry (polygons, EPSG:4326).
    ValueError where the grid has no square cells in metres. Source: contourpy's tracing.

    >>> from affine import Affine
    >>> from terrain.ground.geodesy import local_transverse_mercator
    >>> placing = Affine(100.0, 0.0, 0.0, 0.0, -100.0, 0.0)
    >>> grid = Grid(crs=local_transverse_mercator(-24, 54), transform=placing, shape=(3, 3))
    >>> areas_below(np.array([[-1, -1, 1]] * 3), grid).area_km2.round(6).tolist()
    [0.06]
    """
    # a ring half a cell wide carries the outermost values to the raster's edge
    padded = np.pad(np.asarray(values, dtype=np.float64), 1, mode="edge")
    rows, cols = (_with_edges(size) for size in grid.shape)
    kind = FillType.ChunkCombinedOffsetOffset
    lines = contour_generator(cols, rows, padded, name="serial", fill_type=kind)
    lowest = float(np.nanmin(padded, initial=0.0)) - 1.0
    found: list[Any] = [part[0] for part in lines.filled(lowest, 0.0)]
    if found[0] is None:
        flat = np.empty(0, dtype=object)
    else:
        flat = shapely.from_ragged_array(shapely.GeometryType.POLYGON, found[0], found[1:])
    area_km2 = shapely.area(flat) * grid.cell_m**2 / 1e6
    largest_first = np.argsort(-area_km2, kind="stable")
    flat = flat[largest_first]
    holes = shapely.get_num_interior_rings(flat).astype(np.int64)
    holes = shapely.get_num_interior_rings(flat).astype(np.int64)
    return gpd.GeoDataFrame(
        {"area_km2": area_km2[largest_first], "holes": holes},
        geometry=shapely.transform(flat, lambda at: np.column_stack(grid.lonlat(*at.T[::-1]))),
        crs="EPSG:4326",
    )


def _with_edges(size: int) -> Floats:
    return np.concatenate([[-0.5], np.arange(size, dtype=float), [size - 0.5]])
