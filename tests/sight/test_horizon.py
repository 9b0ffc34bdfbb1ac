from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from terrain.ground.dem import Dem
from terrain.ground.raster.read import read_dem
from terrain.sight._lay_kernels import Laid, lay_line
from terrain.sight._line_hull_kernels import NEAR
from terrain.sight.bend import bend_per_m
from terrain.sight.horizon import horizon, horizon_and_distance
from tests.authorities import sight_grids
from tests.sight import twins

MakeDem = Callable[..., Dem]


def on_grid(dem: Dem, grid_azimuth_deg: float) -> float:
    """The azimuth from true north of a direction on the grid, at the raster's middle."""
    return float(dem.grid.true_azimuth_deg(grid_azimuth_deg, *dem.grid.centre_lonlat))


def walked(dem: Dem, azimuth_deg: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Altitude and distance (cells) of the horizon of every cell over all crossings."""
    turned = dem.grid.grid_azimuth_deg(azimuth_deg, *dem.grid.centre_lonlat)
    angle = math.radians(round(float(turned), 9))
    down, aside = -math.cos(angle), math.sin(angle)
    down, aside = (0.0 if abs(part) < 1e-9 else part for part in (down, aside))
    return twins.horizons(dem.heights_m, down, aside, bend_per_m(0.13), dem.cell_m)


def check_against_the_walk(dem: Dem, azimuth_deg: float) -> None:
    found, distance_m = horizon_and_distance(dem, azimuth_deg)
    truth, cells = walked(dem, azimuth_deg)
    np.testing.assert_array_equal(np.isnan(found), np.isnan(truth))
    np.testing.assert_array_equal(np.isnan(found), np.isnan(distance_m))
    off, far = np.abs(found - truth), cells > 5
    assert np.median(off[far]) <= 0.005
    assert np.percentile(off[far], 99) <= 0.2
    # near ground is looked at exactly; only a far line that stands too high can spoil it
    near = cells < 5
    assert np.percentile(off[near], 99) <= 0.001
    apart = np.abs(distance_m / dem.cell_m - cells) / cells
    assert np.mean(apart[far] > 0.05) < 0.06


@pytest.mark.parametrize("azimuth_deg", [0, 22, 45, 67, 90, 118, 163, 180, 200, 225, 270, 301, 340])
def test_agrees_with_the_walk_over_all_crossings(jacksboro: Dem, azimuth_deg: float) -> None:
    window = Dem(jacksboro.heights_m[40:160, 60:200], jacksboro.grid.window(40, 60, (120, 140)))
    check_against_the_walk(window, float(azimuth_deg))


@pytest.mark.parametrize("azimuth_deg", [33.0, 105.0, 290.0])
def test_agrees_on_fells_of_a_national_grid(open_data: Path, azimuth_deg: float) -> None:
    whole = read_dem(open_data / "lakeland_50m.tif")
    fells = Dem(whole.heights_m[700:900, 500:700], whole.grid.window(700, 500, (200, 200)))
    check_against_the_walk(fells, azimuth_deg)


@pytest.mark.parametrize("grid_azimuth_deg", [0.0, 45.0, 90.0, 135.0, 180.0, 225.0, 270.0, 315.0])
def test_along_rows_columns_and_diagonals_nothing_is_interpolated(
    make_dem: MakeDem, grid_azimuth_deg: float
) -> None:
    dem = make_dem(np.random.default_rng(3).uniform(0, 90, (70, 80)))
    azimuth_deg = on_grid(dem, grid_azimuth_deg)
    found, (truth, _) = horizon(dem, azimuth_deg), walked(dem, azimuth_deg)
    np.testing.assert_allclose(found, truth, atol=2e-3)


def test_wall_far_off(make_dem: MakeDem) -> None:
    heights = np.zeros((3, 300))
    heights[:, 250:] = sight_grids.WALL_HEIGHT_M
    dem = make_dem(heights, cell_m=sight_grids.WALL_DISTANCE_M / 250)
    found, distance_m = horizon_and_distance(dem, on_grid(dem, 90.0), refraction=0.0)
    expected = math.degrees(sight_grids.WALL_ALTITUDE_RAD)
    assert found[1, 0] == pytest.approx(expected, abs=1e-4)
    assert distance_m[1, 0] == pytest.approx(sight_grids.WALL_DISTANCE_M, rel=1e-5)
    below = np.degrees(np.arctan(1000 / (np.arange(1, 251) * dem.cell_m)[::-1]))
    np.testing.assert_allclose(found[1, :250], below, atol=0.03)


def test_a_tower_before_a_dome(make_dem: MakeDem) -> None:
    """Of the dome, which the hull holds point by point, the tower leaves none but the farthest."""
    col = np.arange(100.0)
    heights = np.maximum(60.0 - 0.2 * (col - 75.0) ** 2, 0.0)
    heights[50] = 900.0
    dem = make_dem(np.tile(heights, (3, 1)))
    azimuth_deg = on_grid(dem, 90.0)
    found, distance_m = horizon_and_distance(dem, azimuth_deg)
    truth, cells = walked(dem, azimuth_deg)
    np.testing.assert_allclose(found, truth, atol=2e-3)
    np.testing.assert_allclose(distance_m[:, :50], 50.0 * cells[:, :50], rtol=1e-4)
    assert np.all(cells[:, :50] == 50.0 - col[:50])


def test_a_line_beside_the_raster_has_ground_to_the_edge_of_the_cells_alone() -> None:
    """It climbs by 0.29 rows a column, in from one side of two rows and out at the other."""
    heights = np.array([[5.0] * 10, [9.0] * 10], dtype=np.float32)
    place = -0.9 + 0.29 * np.arange(10)
    whole = np.floor(place).astype(np.int64) + 1
    part = (place - np.floor(place)).astype(np.float32)
    bent, stand, cells = np.empty((3, 10), dtype=np.float32)
    low = np.arange(10) + 10 * whole
    laid = Laid(heights.ravel(), 0, 10, whole, part, low, low, np.float32(0))
    lay_line(laid, 2, -1, (0, 9, 9), bent, stand, cells)
    on_cells = (place > -0.5) & (place < 1.5)
    np.testing.assert_array_equal(~np.isnan(bent), on_cells)
    level = 5.0 + 4.0 * np.clip(place, 0.0, 1.0)
    np.testing.assert_allclose(bent[on_cells], level[on_cells], rtol=1e-6)
    np.testing.assert_allclose(stand, level, rtol=1e-6)


def test_a_plane_looks_along_itself(make_dem: MakeDem) -> None:
    row, col = np.mgrid[0:90, 0:90]
    dem = make_dem(5.0 * col - 3.0 * row, cell_m=50.0)
    for grid_azimuth_deg in (10.0, 77.0, 200.0, 285.0):
        angle = math.radians(grid_azimuth_deg)
        rise = (5.0 * math.sin(angle) + 3.0 * math.cos(angle)) / 50.0
        found = horizon(dem, on_grid(dem, grid_azimuth_deg), refraction=1.0)
        # the level half cell beyond the last centres stands above or below the plane
        inner = found[15:-15, 15:-15]
        np.testing.assert_allclose(inner, math.degrees(math.atan(rise)), atol=0.1)
        assert np.median(np.abs(inner - math.degrees(math.atan(rise)))) < 2e-4


def test_horizon_of_a_bare_sphere_is_the_ground_at_ones_feet(make_dem: MakeDem) -> None:
    dem = make_dem(np.zeros((60, 60)), cell_m=100.0)
    found, distance_m = horizon_and_distance(dem, on_grid(dem, 90.0))
    assert np.all(distance_m[:, :-1] == pytest.approx(100.0, rel=1e-4))
    fall = math.degrees(math.atan(bend_per_m(0.13) * 100.0))
    np.testing.assert_allclose(found[:, :-1], -fall, atol=1e-5)


def test_nothing_ahead_is_unknown(make_dem: MakeDem) -> None:
    dem = make_dem(np.zeros((20, 30)))
    found = horizon(dem, on_grid(dem, 90.0))
    assert np.isnan(found[:, -1]).all()
    assert np.isfinite(found[:, :-1]).all()


def test_unknown_ground_hides_nothing_and_has_no_horizon(make_dem: MakeDem) -> None:
    heights = np.zeros((12, 90))
    heights[:, 60] = 400.0
    heights[:, 40:44] = np.nan
    dem = make_dem(heights)
    found, distance_m = horizon_and_distance(dem, on_grid(dem, 90.0))
    assert np.isnan(found[:, 40:44]).all()
    np.testing.assert_allclose(distance_m[:, 0], 3000.0, rtol=1e-5)
    heights[:, 61:] = np.nan
    heights[:, 60] = np.nan
    low = horizon(make_dem(heights), on_grid(dem, 90.0))
    assert np.all(low[:, :38] < 0.01)
    assert np.isnan(low[:, 59:]).all()


@pytest.mark.parametrize("shape", [(1, 1), (1, 80), (80, 1), (2, 3)])
@pytest.mark.parametrize("grid_azimuth_deg", [0.0, 30.0, 90.0, 250.0])
def test_narrow_ground(make_dem: MakeDem, shape: tuple[int, int], grid_azimuth_deg: float) -> None:
    dem = make_dem(np.random.default_rng(2).uniform(0, 50, shape))
    azimuth_deg = on_grid(dem, grid_azimuth_deg)
    found, (truth, _) = horizon(dem, azimuth_deg), walked(dem, azimuth_deg)
    np.testing.assert_allclose(found, truth, atol=0.5)


def test_turning_the_ground_turns_the_horizon(make_dem: MakeDem) -> None:
    heights = np.random.default_rng(6).uniform(0, 60, (50, 50)).cumsum(axis=0) % 400
    dem, turned = make_dem(heights), make_dem(np.rot90(heights, -1))
    found = horizon(dem, on_grid(dem, 20.0))
    after = horizon(turned, on_grid(turned, 110.0))
    np.testing.assert_allclose(np.rot90(found, -1), after, atol=1e-3)


def test_azimuth_is_from_true_north(open_data: Path) -> None:
    whole = read_dem(open_data / "lakeland_50m.tif")
    west = Dem(whole.heights_m[:60, :60], whole.grid.window(0, 0, (60, 60)))
    turn_deg = float(west.grid.convergence_deg(*west.grid.centre_lonlat))
    assert abs(turn_deg) > 1.0
    truth, _ = twins.horizons(west.heights_m, -1.0, 0.0, bend_per_m(0.13), 50.0)
    found = horizon(west, turn_deg)  # grid north lies this far from true north
    np.testing.assert_allclose(found, truth, atol=0.02)


@settings(max_examples=25, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    shape=st.tuples(st.integers(1, 60), st.integers(1, 60)),
    holes=st.sampled_from([0.0, 0.1, 0.5]),
    azimuth_deg=st.floats(0, 360),
)
def test_rugged_ground_with_holes(
    make_dem: MakeDem, seed: int, shape: tuple[int, int], holes: float, azimuth_deg: float
) -> None:
    rng = np.random.default_rng(seed)
    heights = rng.uniform(0, 40, shape)
    heights[rng.random(shape) < holes] = np.nan
    dem = make_dem(heights)
    found, (truth, cells) = horizon(dem, azimuth_deg), walked(dem, azimuth_deg)
    known = np.isfinite(heights)
    assert not np.isfinite(found[~known]).any()
    both = np.isfinite(found) & np.isfinite(truth)
    # exact but for far lines; those may stand too high beside a hole that hides nothing
    off = np.abs(found - truth)[both & (cells < 0.9 * NEAR)]
    assert np.sum(off > 0.01) <= 3 + 0.1 * off.size
    assert np.sum(np.isfinite(found) != np.isfinite(truth)) <= 3 + 0.1 * known.sum()
