"""One ray from each of many eyes against the skyline of each eye by itself."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.sight.rays import altitudes_toward, before_and_behind
from terrain.sight.skyline import skyline
from tests.conftest import MakeDem

RNG = np.random.default_rng(11)
BEND = (1.0 - 0.13) / (2.0 * 6_371_000.0)


@pytest.fixture(scope="module")
def rough(make_dem: MakeDem) -> Dem:
    heights = 300.0 + 40.0 * RNG.standard_normal((60, 80)).cumsum(0).cumsum(1) / 10.0
    heights[20:23, 30:34] = np.nan
    return make_dem(heights)


def test_the_skyline_of_each_cell(rough: Dem) -> None:
    row, col = np.array([3, 30, 55, 10]), np.array([5, 60, 40, 79])
    lon, lat = rough.grid.lonlat(row, col)
    true = np.array([75.0, 200.0, 310.0, 263.0])
    grid = rough.grid.grid_azimuth_deg(true, lon, lat)
    altitude, distance = altitudes_toward(rough, row, col, grid, eye_m=2.5, refraction=0.2)
    for i in range(4):
        spot = Spot(lon_deg=float(lon[i]), lat_deg=float(lat[i]), eye_m=2.5)
        line = skyline(rough, spot, azimuths_deg=[true[i]], refraction=0.2)
        # the ray of a skyline ends a geodesic of 20 km, this one starts along it
        assert altitude[i] == pytest.approx(line.altitude_deg[0], abs=5e-3)
        assert distance[i] == pytest.approx(line.distance_m[0], abs=2.0)


def test_national_grid_north_is_not_true_north(make_dem: MakeDem) -> None:
    """Far from the central meridian the two differ by degrees; the tower stands true east."""
    heights = np.zeros((61, 61), dtype=np.float32)
    dem = make_dem(heights, crs="EPSG:27700", lon=1.5, lat=52.5)
    lon, lat = dem.grid.lonlat(30, 10)
    grid = dem.grid.grid_azimuth_deg(90.0, lon, lat)
    assert abs(float(grid) - 90.0) > 2.0
    turned = np.radians(float(grid))
    away = 40
    row, col = round(30 - away * np.cos(turned)), round(10 + away * np.sin(turned))
    heights[row, col] = 500.0
    tall = make_dem(heights, crs="EPSG:27700", lon=1.5, lat=52.5)
    seen, _ = altitudes_toward(tall, 30, 10, grid)
    naive, _ = altitudes_toward(tall, 30, 10, 90.0)
    assert seen[0] > 5.0
    assert naive[0] < 0.0


def test_nothing_known_that_way(rough: Dem) -> None:
    altitude, distance = altitudes_toward(rough, [0, 21], [40, 31], [0.0, 90.0])
    assert np.isnan(altitude[0])
    assert np.isnan(distance[0])
    assert np.isnan(altitude[1])  # the eye itself stands on unknown ground


def test_one_azimuth_for_all(rough: Dem) -> None:
    row, col = np.array([3, 30]), np.array([5, 60])
    one = altitudes_toward(rough, row, col, 120.0)
    each = altitudes_toward(rough, row, col, [120.0, 120.0])
    np.testing.assert_array_equal(one, each)


def stepped(dem: Dem, own: np.ndarray, row: int, col: int, azimuth: float, target_m: float):
    """The highest ground before and behind, cell by cell, in plain loops."""
    eye, cell = float(dem.heights_m[row, col]) + 1.7, dem.cell_m
    before, behind, known, at = -90.0, -90.0, True, 1
    while True:
        r = int(np.floor(row - at * np.cos(np.radians(azimuth)) + 0.5))
        c = int(np.floor(col + at * np.sin(np.radians(azimuth)) + 0.5))
        if not (0 <= r < dem.shape[0] and 0 <= c < dem.shape[1]):
            return before if known else np.nan, behind
        s = at * cell
        slope = np.degrees(np.arctan((float(dem.heights_m[r, c]) - eye) / s - BEND * s))
        if s < target_m and np.isnan(slope):
            known = False
        elif not own[r, c] and not np.isnan(slope):
            if s < target_m:
                before = max(before, slope)
            else:
                behind = max(behind, slope)
        at += 1


def test_before_and_behind_against_plain_loops(rough: Dem) -> None:
    own = np.zeros(rough.shape, dtype=bool)
    own[25:40, 35:50] = True
    row, col = RNG.integers(0, 60, 40), RNG.integers(0, 80, 40)
    known = ~np.isnan(rough.heights_m[row, col])
    row, col = row[known], col[known]
    azimuth = np.degrees(np.arctan2(42 - col, row - 32)) % 360.0
    target = np.hypot(42 - col, row - 32) * 50.0
    before, behind = before_and_behind(rough, own, row, col, azimuth, target)
    expected = [
        stepped(rough, own, *map(int, at), *along)
        for *at, along in zip(row, col, zip(azimuth, target, strict=True), strict=True)
    ]
    np.testing.assert_allclose(np.transpose([before, behind]), expected, atol=1e-9)
    assert (before > -90.0).any()
    assert np.isnan(before).any()
    assert (behind > -90.0).any()


def test_own_ground_counts_for_neither(make_dem: MakeDem) -> None:
    heights = np.zeros((3, 60))
    heights[:, 20:30] = 100.0
    dem = make_dem(heights)
    own = heights > 50.0
    before, behind = before_and_behind(dem, own, [1], [0], 90.0, 25 * 50.0)
    assert before[0] < 0.0
    assert behind[0] < 0.0
    before, behind = before_and_behind(dem, ~own, [1], [0], 90.0, 25 * 50.0)
    assert before[0] == pytest.approx(np.degrees(np.arctan(98.3 / 1000.0)), abs=0.01)
    assert behind[0] == pytest.approx(np.degrees(np.arctan(98.3 / 1250.0)), abs=0.01)
    assert before_and_behind(dem, np.ones_like(own), [1], [0], 90.0, 1e3)[0][0] == -90.0
