"""Outlines of parts of a raster, drawn between its cells, as polygons on the earth."""

from __future__ import annotations

import itertools

import geopandas as gpd
import numpy as np
import shapely
from contourpy import FillType, contour_generator
from numpy.typing import NDArray

from terrain.arrays import Floats, Singles
from terrain.ground.grid import Grid

__all__ = ["areas_below"]

Starts = NDArray[np.unsignedinteger]


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
    lines = contour_generator(cols, rows, padded, name="serial", fill_type=FillType.OuterOffset)
    lowest = float(np.nanmin(padded, initial=0.0)) - 1.0
    found: tuple[list[Floats], list[Starts]] = lines.filled(lowest, 0.0)  # type: ignore[assignment]
    flat = [_polygon(*outline) for outline in zip(*found, strict=True)]
    areas = np.array([area.area for area in flat]) * grid.cell_m**2 / 1e6
    largest_first = np.argsort(-areas, kind="stable")
    onto_earth = [_on_earth(flat[at], grid) for at in largest_first]
    return gpd.GeoDataFrame(
        {
            "area_km2": areas[largest_first],
            "holes": np.array([len(area.interiors) for area in onto_earth], dtype=np.int64),
        },
        geometry=onto_earth,
        crs="EPSG:4326",
    )


def _with_edges(size: int) -> Floats:
    return np.concatenate([[-0.5], np.arange(size, dtype=float), [size - 0.5]])


def _polygon(col_row: Floats, starts: Starts) -> shapely.Polygon:
    rings = [col_row[start:end] for start, end in itertools.pairwise(starts)]
    return shapely.Polygon(rings[0], rings[1:])


def _on_earth(area: shapely.Polygon, grid: Grid) -> shapely.Polygon:
    def lonlat(col_row: Floats) -> Floats:
        return np.column_stack(grid.lonlat(col_row[:, 1], col_row[:, 0]))

    return shapely.transform(area, lonlat)
