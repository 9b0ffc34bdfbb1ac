"""Outlines of areas: their size, their holes, and where on the earth they lie."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from terrain.ground.dem import Dem
from terrain.ground.geodesy import azimuth_and_distance
from terrain.ground.relief.outlines import areas_below

MakeDem = Callable[..., Dem]


def test_a_circle_has_its_area_and_its_shore_runs_between_the_cells(make_dem: MakeDem) -> None:
    row, col = np.mgrid[0:101, 0:121]
    radius_m = 50.0 * np.hypot(row - 50, col - 60) - 1500.0
    dem = make_dem(radius_m, cell_m=50.0)
    areas = areas_below(dem.heights_m, dem.grid)
    assert areas.crs == "EPSG:4326"
    assert areas.area_km2.item() == pytest.approx(np.pi * 1.5**2, rel=1e-3)
    assert areas.holes.item() == 0
    lon, lat = np.array(areas.geometry.item().exterior.coords).T
    centre = dem.grid.lonlat(50, 60)
    _, away_m = azimuth_and_distance(*centre, lon, lat)
    # a cell is 50 m: no staircase of cells comes so near
    np.testing.assert_allclose(away_m, 1500.0, atol=1.5)


def test_islands_are_holes_and_areas_come_largest_first(make_dem: MakeDem) -> None:
    values = np.full((30, 40), -1.0)
    values[:, 30] = 1.0
    values[5:10, 5:10] = values[15:20, 8:20] = 1.0
    areas = areas_below(values.astype(np.float32), make_dem(values).grid)
    assert areas.holes.tolist() == [2, 0]
    assert areas.area_km2.is_monotonic_decreasing
    # the outline runs half way between -1 and 1
    assert areas.area_km2.iloc[1] == pytest.approx(30 * 9.0 * 50**2 / 1e6)
    assert areas.geometry.is_valid.all()


def test_an_area_reaches_the_edge_and_ends_at_what_is_unknown(make_dem: MakeDem) -> None:
    values = np.full((10, 12), -1.0, dtype=np.float32)
    grid = make_dem(values).grid
    assert areas_below(values, grid).area_km2.item() == pytest.approx(120 * 50**2 / 1e6)
    values[:, 6:] = np.nan
    assert areas_below(values, grid).area_km2.item() == pytest.approx(10 * 5.5 * 50**2 / 1e6)
    assert areas_below(np.ones_like(values), grid).empty
