"""Level water in a raster."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from terrain.errors import TerrainError
from terrain.ground.raster.read import read_dem
from terrain.ground.relief.water import level_water


def test_large_level_areas_are_water_whatever_their_height(make_dem):
    rng = np.random.default_rng(2)
    heights = rng.normal(300.0, 20.0, (60, 60))
    heights[5:15, 5:25] = 210.5
    heights[40:43, 40:43] = 180.0
    heights[30:32, :] = 250.0
    heights[20, 40] = np.nan
    found = level_water(make_dem(heights, 25.0))
    wanted = np.zeros((60, 60), bool)
    wanted[5:15, 5:25] = True
    np.testing.assert_array_equal(found, wanted)
    small = level_water(make_dem(heights, 25.0), least_m2=5_000.0)
    assert small[40:43, 40:43].all()
    assert small.sum() == wanted.sum() + 9


def test_a_lake_beside_a_void_and_at_the_edge(make_dem):
    heights = np.add.outer(np.arange(30.0), np.arange(30.0) ** 2)
    heights[:12, :12] = 5.0
    heights[0, 0] = np.nan
    found = level_water(make_dem(heights, 50.0))
    assert not found[0, 0]
    assert found[:12, :12].sum() == 143
    assert found.sum() == 143


def test_the_demos_sea_and_tarn_and_no_slope():
    dem = read_dem(Path(__file__).parents[3] / "data" / "upland.tif")
    found = level_water(dem)
    assert (found & (dem.heights_m == 0.0)).sum() > 0.99 * (dem.heights_m == 0.0).sum()
    inland = found & (dem.heights_m > 1.0)
    assert 0.0 < inland.mean() < 0.02


def test_water_of_a_raster_in_degrees_lies_where_it_did(make_dem):
    from affine import Affine
    from pyproj import CRS

    from terrain.ground.dem import Dem
    from terrain.ground.grid import Grid
    from terrain.ground.raster.warp import to_square_cells

    heights = np.random.default_rng(3).normal(300.0, 20.0, (80, 80))
    heights[20:50, 20:40] = 90.0
    transform = Affine(0.001, 0, -24.0, 0, -0.0006, 54.4)
    raw = Dem(heights, Grid(crs=CRS("EPSG:4326"), transform=transform, shape=heights.shape))
    dem = to_square_cells(raw)
    found = level_water(dem)
    lon, lat = raw.grid.lonlat(35, 30)
    assert found[dem.grid.cell_of(float(lon), float(lat))]
    lake_m2 = 30 * 20 * float(np.prod([size.mean() for size in raw.grid.cell_sizes_m()]))
    assert found.sum() * dem.cell_m**2 == pytest.approx(lake_m2, rel=0.05)


def test_no_area_is_no_water(make_dem):
    with pytest.raises(TerrainError, match="0 square metres are no area"):
        level_water(make_dem(np.zeros((5, 5))), least_m2=0)
