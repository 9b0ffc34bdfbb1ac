"""Horizons of rasters so wide that north on the grid is not true north from end to end."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS

from terrain.arrays import Singles
from terrain.ground.dem import Dem
from terrain.ground.grid import Grid
from terrain.sight._horizon_kernels import Window
from terrain.sight.horizon import _blocks, _turns, horizon, horizon_on_grid, is_alike
from terrain.sight.known import known_along, known_to
from terrain.sight.rays import altitudes_toward

MakeDem = Callable[..., Dem]
AZIMUTHS = (8.0, 70.0, 110.0, 181.0, 245.0, 300.0)


def hills(shape: tuple[int, int]) -> NDArray[np.float64]:
    """Hills of all sizes, some of which are seen from far."""
    rng, (rows, cols) = np.random.default_rng(12), shape
    row, col = np.mgrid[:rows, :cols]
    total = np.zeros(shape)
    for size in (6, 12, 25, 50, 100):
        turn, phase = rng.uniform(0, 2 * np.pi, (2, 6))
        for t, p in zip(turn, phase, strict=True):
            total += 4.0 * size * np.sin((row * np.cos(t) + col * np.sin(t)) * 6.28 / size + p)
    return total + 1500.0


@pytest.fixture(scope="module")
def wide(make_dem: MakeDem) -> Dem:
    """300 km from west to east."""
    return make_dem(hills((200, 600)), cell_m=500.0, lat=50.0)


def own_rays(
    dem: Dem, row: NDArray[np.int64], col: NDArray[np.int64], azimuth_deg: float
) -> Singles:
    """The horizon of cells, each along the line of the grid that has the azimuth there."""
    turned = dem.grid.grid_azimuth_deg(azimuth_deg, *dem.grid.lonlat(row, col))
    return altitudes_toward(dem, row, col, turned, eye_m=0.0)[0].astype(np.float32)


def off(dem: Dem, found: Singles, azimuth_deg: float, least_off_m: float) -> NDArray[np.float64]:
    """How far horizons are from those of the cells' own rays, so far from the middle or farther."""
    rng, (rows, cols) = np.random.default_rng(2), dem.shape
    row, col = rng.integers(0, rows, 6000), rng.integers(0, cols, 6000)
    outer = np.abs(col - cols / 2) * dem.cell_m > least_off_m
    row, col = row[outer], col[outer]
    truth, lowest = own_rays(dem, row, col, azimuth_deg), found[row, col]
    both = ~np.isnan(truth) & ~np.isnan(lowest)
    assert both.sum() > 500
    return np.abs(lowest - truth)[both].astype(float)


@pytest.mark.parametrize("azimuth_deg", AZIMUTHS)
def test_true_north_holds_in_every_part_of_a_wide_raster(wide: Dem, azimuth_deg: float) -> None:
    assert not is_alike(wide)
    found, before = horizon(wide, azimuth_deg), horizon_on_grid(wide, azimuth_deg)
    now, once = (off(wide, each, azimuth_deg, 110_000.0) for each in (found, before))
    assert np.median(now) < 0.02
    assert np.percentile(now, 90) < 0.15
    assert np.median(once) > 2.5 * np.median(now)


@pytest.mark.parametrize("azimuth_deg", AZIMUTHS)
def test_all_cells_of_a_wide_raster_have_the_horizon_that_they_had(
    wide: Dem, azimuth_deg: float
) -> None:
    """No block misses the ground ahead of it: a horizon is known where it was."""
    found, before = horizon(wide, azimuth_deg), horizon_on_grid(wide, azimuth_deg)
    assert np.mean(np.isnan(found) != np.isnan(before)) < 0.02
    middle = slice(280, 320)
    assert np.nanmedian(np.abs(found - before)[:, middle]) < 0.02
    assert np.nanmax(np.abs(found[:, middle])) < 60.0


def test_a_wall_at_the_far_end_is_seen_over_all_blocks(make_dem: MakeDem) -> None:
    heights = np.zeros((60, 600))
    heights[:, -3:] = 9000.0
    dem = make_dem(heights, cell_m=500.0, lat=50.0)
    found = horizon(dem, 90.0, refraction=1.0)
    away_m = (597 - np.arange(500)) * 500.0
    np.testing.assert_allclose(
        found[30, :500], np.degrees(np.arctan(9000.0 / away_m)), rtol=0.004, atol=0.0
    )


def test_blocks_cover_a_raster_once_and_turn_little(wide: Dem) -> None:
    count = np.zeros(wide.shape, dtype=int)
    blocks = list(_blocks(wide, Window(0, 0, *wide.shape), 0.2))
    for top, left, end_row, end_col in blocks:
        count[top:end_row, left:end_col] += 1
        assert np.abs(_turns(wide, Window(top, left, end_row, end_col))).max() <= 0.2
    assert np.all(count == 1)
    assert 8 <= len(blocks) <= 32


def test_an_ordinary_raster_is_taken_whole(jacksboro: Dem, make_dem: MakeDem) -> None:
    degree = make_dem(np.zeros((4, 3)), cell_m=24_000.0, lat=50.0)  # as wide as a tile of a degree
    assert is_alike(degree)
    np.testing.assert_array_equal(horizon(jacksboro, 77.0), horizon_on_grid(jacksboro, 77.0))


def test_about_a_pole_the_blocks_stay_few() -> None:
    grid = Grid(
        crs=CRS("+proj=stere +lat_0=90 +k=1 +datum=WGS84"),
        transform=Affine(100, 0, -15_000, 0, -100, 15_000),
        shape=(300, 300),
    )
    dem = Dem(np.tile(np.arange(300.0), (300, 1)), grid)
    blocks = list(_blocks(dem, Window(0, 0, 300, 300), 3.0))
    assert len(blocks) < 130
    assert np.isfinite(horizon(dem, 30.0)).mean() > 0.9


def test_how_far_is_known_goes_with_the_horizon(wide: Dem) -> None:
    heights = wide.heights_m.copy()
    heights[80:120, 500:520] = np.nan
    dem = Dem(heights, wide.grid)
    row, col = (part[::97] for part in np.nonzero(~np.isnan(heights)))
    found = known_to(dem, 100.0)[row, col]
    np.testing.assert_allclose(
        found, known_along(dem, row, col, np.full(row.size, 100.0)), rtol=1e-5
    )
