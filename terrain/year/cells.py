"""The days of a year on which the sun passes behind a hill: every cell at once, by formula."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from terrain.cores import share_out
from terrain.ground.geodesy import azimuth_and_distance, wrap_deg
from terrain.ground.grid import Grid
from terrain.sight.eye import bend_per_m, kernel_heights
from terrain.sun.refraction import refraction_deg, standard_pressure_hpa
from terrain.view.scene import Scene
from terrain.year._days_kernels import Asked, EvenTable, Year, days_of_year
from terrain.year.tables import SunYear

__all__ = ["days_behind"]

LATTICE_CELLS: Final = 64

_AIR_DEG: Final = (-6.0, 0.02)
_DENSITY_M: Final = (-1000.0, 100.0)
_FORMULA_HPA: Final = 1010.0  # of the air that `refraction_deg` stands for unless told otherwise

Floats = NDArray[np.float64]
Heights = NDArray[np.float32]
Flags = NDArray[np.bool_]


def days_behind(
    scene: Scene,
    tables: SunYear,
    sees: Flags,
    on_skyline: Flags,
    eye_m: float,
    tolerance: float,
    evening: bool,
) -> Heights:
    """When the sun passes behind the hill of a scene, for the cells that see it, float32.

    sees, on_skyline: (rows, cols), of the summit. tolerance: radians on the sky. (7, rows, cols):
    distance (metres), azimuth and altitude (degrees) of the summit, and for either way of the sun
    the best day and how many days there are; NaN without.
    """
    dem, hill = scene.dem, scene.hill
    row, col = (float(place) for place in dem.grid.rowcol(hill.lon_deg, hill.lat_deg))
    asked = Asked(
        row=row,
        col=col,
        height_m=hill.height_m,
        eye_m=eye_m,
        tolerance=tolerance,
        evening=evening,
        cell_m=dem.cell_m,
        bend=bend_per_m(scene.refraction),
    )
    found = np.empty((7, *dem.shape), dtype=np.float32)
    heights, lattice, year = kernel_heights(dem), _lattice(dem.grid, row, col), _year(tables)
    share_out(
        dem.shape[0],
        lambda first, end: days_of_year(
            first, end, heights, sees, on_skyline, asked, lattice, LATTICE_CELLS, year, found
        ),
    )
    return found


def _year(tables: SunYear) -> Year:
    """The tables as the kernel takes them, and those of the air."""
    air_deg = np.arange(_AIR_DEG[0], 90.0 + _AIR_DEG[1] / 2.0, _AIR_DEG[1])
    lift = np.radians(refraction_deg(np.minimum(air_deg, 90.0)))
    density = standard_pressure_hpa(np.arange(_DENSITY_M[0], 11_001.0, _DENSITY_M[1]))
    return Year(
        bounds=tables.bounds,
        north=tables.north,
        south=tables.south,
        clock=tables.clock,
        lift=EvenTable(lift, math.radians(_AIR_DEG[0]), math.radians(_AIR_DEG[1])),
        density=EvenTable(density / _FORMULA_HPA, *_DENSITY_M),
    )


def _lattice(grid: Grid, row: float, col: float) -> Floats:
    """What changes slowly over a raster, every `LATTICE_CELLS` cells, (4, n, m).

    Latitude and longitude, radians; what the true azimuth of a summit at (row, col) is more than
    that of the straight line to it on the grid, radians; and how much longer than that line the
    geodesic is.
    """
    spans = (max(math.ceil((size - 1) / LATTICE_CELLS), 1) for size in grid.shape)
    nodes = [np.arange(span + 1) * float(LATTICE_CELLS) for span in spans]
    at_row, at_col = np.meshgrid(*nodes, indexing="ij")
    lon, lat = grid.lonlat(at_row, at_col)
    # at the summit itself there is no direction to it: take that from the next cell
    on_top = np.hypot(row - at_row, col - at_col) < 1.0
    from_row = at_row + on_top * 2.0
    to_lon, to_lat = grid.lonlat(row, col)
    azimuth, distance = azimuth_and_distance(*grid.lonlat(from_row, at_col), to_lon, to_lat)
    on_grid = np.degrees(np.arctan2(col - at_col, from_row - row))
    length = np.hypot(row - from_row, col - at_col) * grid.cell_m
    # over 180 degrees the longitude must not jump back
    lon = lon[0, 0] + wrap_deg(lon - lon[0, 0])
    turned = wrap_deg(azimuth - on_grid)
    return np.stack([np.radians(lat), np.radians(lon), np.radians(turned), distance / length])
