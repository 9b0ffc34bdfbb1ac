"""The bed of the sea is ground; what lies as deep behind walls is a fault of the raster."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import rasterio
from affine import Affine

from terrain.ground.raster.read import read_dem


def island(deepest: float, coast: float = 3000.0) -> np.ndarray:
    """A hill of 900 m on a shore, the sea's bed about it, 50 m cells."""
    row, col = np.mgrid[:200, :240] * 50.0
    away = np.hypot(row - 5000.0, col - 6000.0)
    bed = deepest * np.clip((away - coast) / 4000.0, 0.0, 1.0)
    return (900.0 * np.exp(-((away / 1500.0) ** 2)) + bed).astype(np.float32)


def write(file: Path, heights: np.ndarray, crs: str = "EPSG:32627", cell: float = 50.0) -> Path:
    rows, cols = heights.shape
    transform = Affine(cell, 0, 300_000, 0, -cell, 6_035_000)
    if crs == "EPSG:4326":
        transform = Affine(1 / 1200, 0, -24, 0, -1 / 1200, 54.5)
    profile = {"driver": "GTiff", "count": 1, "dtype": "float32", "crs": crs}
    with rasterio.open(
        file, "w", height=rows, width=cols, transform=transform, **profile
    ) as raster:
        raster.write(heights, 1)
    return file


@pytest.mark.parametrize("crs", ["EPSG:32627", "EPSG:4326"])
@pytest.mark.parametrize("deepest", [-600.0, -4000.0, -11_000.0])
def test_an_island_with_the_bed_of_the_sea_is_read(
    tmp_path: Path, crs: str, deepest: float
) -> None:
    dem = read_dem(write(tmp_path / "isle.tif", island(deepest), crs))
    np.testing.assert_array_equal(dem.as_delivered.heights_m, island(deepest))


def test_a_sea_without_a_shore_is_read(tmp_path: Path) -> None:
    bed = island(-3000.0) - 4000.0
    np.testing.assert_array_equal(read_dem(write(tmp_path / "bed.tif", bed)).heights_m, bed)


@pytest.mark.parametrize("fault", [-600.0, -2000.0, -9998.0, -10_500.0])
@pytest.mark.parametrize("deepest", [0.0, -4000.0])
def test_pits_behind_walls_are_unknown(tmp_path: Path, fault: float, deepest: float) -> None:
    heights = island(deepest)
    heights[100, 120] = fault
    heights[90:94, 100:107] = fault + np.arange(7)
    heights[0, :3] = heights[0, :3] if deepest else fault
    dem = read_dem(write(tmp_path / "pits.tif", heights))
    wrong = np.abs(heights - island(deepest)) > 1.0
    assert wrong.sum() >= 29
    np.testing.assert_array_equal(np.isnan(dem.heights_m), wrong)
