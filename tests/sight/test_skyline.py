from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain.errors import NoGround
from terrain.ground.dem import Dem
from terrain.ground.geodesy import azimuth_and_distance
from terrain.ground.places import Spot
from terrain.ground.raster.read import read_dem
from terrain.sight.bend import bend_per_m
from terrain.sight.line import SightLine, profile, sight_line
from terrain.sight.rays import eye_at, grid_steps
from terrain.sight.skyline import Skyline, skyline
from tests.authorities import sight_grids
from tests.sight import twins
from tests.sight.test_viewshed import random_spots, spot_on

MakeDem = Callable[..., Dem]
RADIUS_M = 6_371_000.0


def edge_of(dem: Dem, spot: Spot, azimuth_deg: float) -> tuple[float, float, float]:
    """Row and column where the ray of an azimuth leaves the raster, and how far that is."""
    eye = eye_at(dem, spot)
    (down,), (aside,) = grid_steps(dem, spot, [azimuth_deg])
    rows, cols = dem.shape
    ways = [((rows - 0.5 if down > 0 else -0.5) - eye.row) / down]
    ways += [((cols - 0.5 if aside > 0 else -0.5) - eye.col) / aside]
    return eye.row + min(ways) * down, eye.col + min(ways) * aside, min(ways)


def walked(dem: Dem, spot: Spot, azimuth_deg: float) -> float:
    """Altitude of the skyline in one direction over all crossings, degrees."""
    eye, (to_row, to_col, length_m) = eye_at(dem, spot), edge_of(dem, spot, azimuth_deg)
    steps = math.hypot(to_row - eye.row, to_col - eye.col)
    scale = length_m / steps
    places = (eye.row, eye.col, to_row, to_col)
    slope = twins.steepest_between(dem.heights_m, *places, eye.height_m, bend_per_m(0.13), scale)
    return max(math.degrees(math.atan(slope)), sea_deg(dem, spot))


def sea_deg(dem: Dem, spot: Spot) -> float:
    """Altitude of the horizon of the sea, or of the lowest known ground where that is lower."""
    over_m = eye_at(dem, spot).height_m - min(0.0, float(np.nanmin(dem.heights_m)))
    return math.degrees(math.atan(twins.sea_seen(over_m, bend_per_m(0.13), dem.cell_m)[0]))


def sampled(dem: Dem, spot: Spot, azimuth_deg: float, reach_m: float) -> float:
    """The same by looking at the surface every two centimetres."""
    ground = profile(dem, spot, azimuth_deg, reach_m=reach_m, step_m=0.02)
    return max(float(np.nanmax(ground.altitude_deg)), sea_deg(dem, spot))


def test_far_skyline_is_that_of_the_walk_over_all_crossings(jacksboro: Dem) -> None:
    for spot in random_spots(jacksboro, 5, seed=2):
        found = skyline(jacksboro, spot, azimuths_deg=np.arange(0.3, 360, 10))
        far = found.distance_m > 16.5 * jacksboro.cell_m
        truth = np.array([walked(jacksboro, spot, azimuth) for azimuth in found.azimuth_deg])
        assert far.sum() > 5
        np.testing.assert_allclose(found.altitude_deg[far], truth[far], atol=1e-6)
        assert np.all(found.altitude_deg >= truth - 1e-9)


def test_near_skyline_is_that_of_the_surface_between_the_centres(make_dem: MakeDem) -> None:
    rng = np.random.default_rng(4)
    heights = np.full((25, 25), -300.0)
    heights[1:-1, 1:-1] = rng.uniform(0, 60, (23, 23))
    dem = make_dem(heights)
    spot = spot_on(dem, 12.3, 12.8)
    found = skyline(dem, spot, azimuths_deg=np.arange(0.7, 360, 15))
    truth = [sampled(dem, spot, azimuth, 900.0) for azimuth in found.azimuth_deg]
    np.testing.assert_allclose(found.altitude_deg, truth, atol=0.02)
    assert np.all(found.altitude_deg >= np.array(truth) - 1e-6)


def test_a_saddle_that_stands_between_the_lines_of_centres_hides_what_is_behind(
    make_dem: MakeDem,
) -> None:
    # the surface over (3.5, 3.5) is 10 m up, but the diagonal meets the lines of centres at 0 m
    heights = np.zeros((9, 9))
    heights[3, 4] = heights[4, 3] = 20.0
    dem = make_dem(heights)
    spot = spot_on(dem, 2, 2)
    lon, lat = (float(part) for part in dem.grid.lonlat(7, 7))
    line = sight_line(dem, spot, lon, lat, 8.0)
    assert not line.visible
    assert line.blocked_at_m == pytest.approx(1.5 * math.hypot(50, 50), rel=0.05)
    found = skyline(dem, spot, azimuths_deg=[line.azimuth_deg])
    truth = sampled(dem, spot, line.azimuth_deg, 400.0)
    assert truth > math.degrees(math.atan(8.3 / (1.5 * math.hypot(50, 50))))
    assert found.altitude_deg[0] == pytest.approx(truth, abs=1e-5)
    assert line.altitude_deg - line.clearance_deg == pytest.approx(truth, abs=1e-5)


@pytest.mark.parametrize("names", [("lakeland_50m.tif",), ("N49E011.hgt.zip", "N50E011.hgt.zip")])
def test_skyline_is_that_of_geodesics_over_the_raster_as_delivered(
    open_data: Path, names: tuple[str, ...]
) -> None:
    dem = read_dem([open_data / name for name in names])
    off = []
    for spot in random_spots(dem, 6, seed=11):
        if not np.isfinite(dem.as_delivered.heights_at(spot.lon_deg, spot.lat_deg)):
            continue
        azimuth = np.arange(0, 360, 12.0) + 1.7
        truth, distance_m = twins.geodesic_skyline(dem, spot, azimuth, 60_000.0, 20.0)
        found = skyline(dem, spot, azimuths_deg=azimuth).altitude_deg
        far = distance_m > 10 * dem.cell_m
        off.extend(np.abs(found - truth)[far])
    assert len(off) > 75
    assert np.median(off) <= 0.03
    assert np.percentile(off, 95) <= 0.15


def test_rays_follow_geodesics_over_a_national_grid(open_data: Path) -> None:
    dem = read_dem(open_data / "lakeland_50m.tif")
    spot = spot_on(dem, 1500, 100)
    azimuth_deg = np.arange(0, 360, 15.0)
    down, aside = grid_steps(dem, spot, azimuth_deg)
    for distance_m in (1000.0, 20_000.0, 60_000.0):
        lon, lat = dem.grid.lonlat(1500 + down * distance_m, 100 + aside * distance_m)
        azimuth, distance = azimuth_and_distance(spot.lon_deg, spot.lat_deg, lon, lat)
        assert np.abs((azimuth - azimuth_deg + 180) % 360 - 180).max() < 0.01
        np.testing.assert_allclose(distance, distance_m, rtol=1e-4)
    # the grid's north is more than a degree off: a ray that took it for true north would fail
    assert abs(dem.grid.convergence_deg(spot.lon_deg, spot.lat_deg)) > 1.0


def test_circular_wall(make_dem: MakeDem) -> None:
    cell_m = sight_grids.WALL_DISTANCE_M / 250
    row, col = np.mgrid[0:521, 0:521] - 260.0
    heights = np.where(np.hypot(row, col) >= 250, sight_grids.WALL_HEIGHT_M, 0.0)
    dem = make_dem(heights, cell_m=cell_m)
    spot = spot_on(dem, 260, 260, eye_m=0.0)
    found = skyline(dem, spot, azimuths_deg=[0.0, 90.0, 180.0, 270.0], refraction=0.0)
    expected = math.degrees(sight_grids.WALL_ALTITUDE_RAD)
    np.testing.assert_allclose(found.altitude_deg, expected, atol=1e-4)
    np.testing.assert_allclose(found.distance_m, sight_grids.WALL_DISTANCE_M, rtol=2e-6)
    all_round = skyline(dem, spot, refraction=0.0)
    assert np.all(np.abs(all_round.altitude_deg - expected) < 0.1)


@pytest.mark.parametrize("refraction", [0.0, 0.13, 0.2])
def test_dip_and_distance_of_the_horizon_of_a_bare_sphere(
    make_dem: MakeDem, refraction: float
) -> None:
    # dip √(2 h (1 - k) / R), distance √(2 h R / (1 - k))
    dem = make_dem(np.zeros((401, 401)), cell_m=100.0)
    spot = spot_on(dem, 200, 200, eye_m=10.0)
    found = skyline(dem, spot, azimuths_deg=np.arange(0, 360, 30), refraction=refraction)
    dip_deg = math.degrees(math.sqrt(2 * 10.0 * (1 - refraction) / RADIUS_M))
    distance_m = math.sqrt(2 * 10.0 * RADIUS_M / (1 - refraction))
    np.testing.assert_allclose(found.altitude_deg, -dip_deg, atol=1e-5)
    np.testing.assert_allclose(found.distance_m, distance_m, rtol=0.02)


def test_the_foot_of_a_cone_looks_up_at_its_top(make_dem: MakeDem) -> None:
    row, col = np.mgrid[0:61, 0:61] - 30.0
    dem = make_dem(np.maximum(0.0, 600.0 - 30.0 * np.hypot(row, col)), cell_m=50.0)
    found = skyline(dem, spot_on(dem, 55, 30), azimuths_deg=[0.0])
    rise = (600.0 - 1.7) / 1250.0 - bend_per_m(0.13) * 1250.0
    assert found.altitude_deg[0] == pytest.approx(math.degrees(math.atan(rise)), abs=1e-6)
    assert found.distance_m[0] == pytest.approx(1250.0, rel=1e-6)


def test_ground_beyond_the_edge_is_unknown(make_dem: MakeDem) -> None:
    dem = make_dem(np.zeros((11, 21)), cell_m=50.0)
    found = skyline(dem, spot_on(dem, 5, 18), azimuths_deg=[0.0, 90.0, 180.0, 270.0])
    np.testing.assert_allclose(found.known_to_m, [275, 125, 275, 925], rtol=1e-5)
    corner = skyline(dem, spot_on(dem, -0.2, 20.3), azimuths_deg=[45.0, 225.0])
    assert np.isnan(corner.altitude_deg[0])
    assert np.isnan(corner.distance_m[0])
    assert np.isfinite(corner.altitude_deg[1])


def test_known_ground_beyond_a_gap_still_counts(make_dem: MakeDem) -> None:
    heights = np.zeros((3, 41))
    heights[:, 30] = 200.0
    heights[:, 10:14] = np.nan
    dem = make_dem(heights, cell_m=50.0)
    found = skyline(dem, spot_on(dem, 1, 0), azimuths_deg=[90.0])
    assert found.known_to_m[0] == pytest.approx(450.0, rel=1e-5)
    assert found.distance_m[0] == pytest.approx(1500.0, rel=1e-5)
    heights[:, 1:] = np.nan
    alone = skyline(make_dem(heights), spot_on(dem, 1, 0), azimuths_deg=[90.0])
    assert np.isnan(alone.altitude_deg[0])
    assert alone.known_to_m[0] == 0.0


@pytest.mark.parametrize("shape", [(1, 9), (9, 1), (1, 1)])
def test_narrow_ground(make_dem: MakeDem, shape: tuple[int, int]) -> None:
    dem = make_dem(np.zeros(shape))
    found = skyline(dem, spot_on(dem, 0, 0, eye_m=0.0), azimuths_deg=np.arange(0.0, 360.0, 45.0))
    known = np.isfinite(found.altitude_deg)
    assert known[2] == (shape == (1, 9))
    assert known[4] == (shape == (9, 1))
    np.testing.assert_allclose(found.altitude_deg[known], 0.0, atol=1e-3)


def test_no_skyline_without_ground_underfoot(make_dem: MakeDem) -> None:
    heights = np.zeros((5, 5))
    heights[2, 2] = np.nan
    dem = make_dem(heights)
    for row, col in ((2.2, 2.2), (9.0, 0.0)):
        with pytest.raises(NoGround):
            skyline(dem, spot_on(dem, row, col))


def made_skyline(azimuth_deg: list[float], altitude_deg: list[float]) -> Skyline:
    count = len(azimuth_deg)
    return Skyline(
        spot=Spot(lon_deg=-24.0, lat_deg=54.4),
        eye_height_m=300.0,
        refraction=0.13,
        azimuth_deg=np.array(azimuth_deg),
        altitude_deg=np.array(altitude_deg),
        distance_m=np.arange(1.0, count + 1) * 1000.0,
        known_to_m=np.full(count, 9000.0),
    )


def test_reading_a_skyline_between_its_samples() -> None:
    ring = made_skyline([0.0, 90.0, 180.0, 270.0], [0.0, 2.0, 4.0, 6.0])
    np.testing.assert_allclose(ring.at([45.0, 270.0, 315.0, 360.0, -45.0]), [1, 6, 3, 0, 3])
    np.testing.assert_allclose(ring.distance_at([40.0, 50.0, 314.0, 316.0]), [1e3, 2e3, 4e3, 1e3])
    assert ring.at(np.zeros((2, 3))).shape == (2, 3)
    lon, lat = ring.place_at(90.0)
    azimuth, distance_m = azimuth_and_distance(-24.0, 54.4, lon, lat)
    assert (float(azimuth), float(distance_m)) == pytest.approx((90.0, 2000.0))


def test_a_skyline_has_as_many_altitudes_as_azimuths() -> None:
    with pytest.raises(ValueError, match=r"altitude_deg of shape \(1,\) for \(2,\)"):
        made_skyline([0.0, 90.0], [0.0])


def test_a_part_of_the_skyline_says_nothing_beyond_its_ends() -> None:
    part = made_skyline([350.0, 355.0, 360.0, 365.0], [1.0, 2.0, 3.0, 4.0])
    np.testing.assert_allclose(part.at([352.5, 2.5, -5.0]), [1.5, 3.5, 2.0])
    assert np.isnan(part.at([20.0, 345.0])).all()


@pytest.mark.parametrize("azimuths", [[], [10.0, 5.0], [0.0, 0.0], [0.0, 360.0]])
def test_azimuths_must_ascend_within_a_turn(make_dem: MakeDem, azimuths: list[float]) -> None:
    dem = make_dem(np.zeros((5, 5)))
    with pytest.raises(ValueError, match="ascend"):
        skyline(dem, spot_on(dem, 2, 2), azimuths_deg=azimuths)


def test_a_skyline_cannot_be_written_to() -> None:
    ring = made_skyline([0.0, 90.0, 180.0, 270.0], [0.0, 2.0, 4.0, 6.0])
    with pytest.raises(ValueError, match="read-only"):
        ring.altitude_deg[0] = 1.0


def test_profile_holds_the_skyline_and_the_ground(jacksboro: Dem) -> None:
    spot = random_spots(jacksboro, 1, seed=13)[0]
    found = skyline(jacksboro, spot, azimuths_deg=[33.0])
    ground = profile(jacksboro, spot, 33.0)
    best = int(np.argmax(ground.altitude_deg))
    assert ground.altitude_deg[best] <= found.altitude_deg[0] + 1e-9
    assert ground.altitude_deg[best] == pytest.approx(found.altitude_deg[0], abs=0.2)
    assert np.all(np.diff(ground.distance_m) > 0)
    short = profile(jacksboro, spot, 33.0, reach_m=1000.0, step_m=40.0)
    np.testing.assert_allclose(short.distance_m, np.arange(1, 26) * 40.0)
    eye = eye_at(jacksboro, spot)
    (down,), (aside,) = grid_steps(jacksboro, spot, [33.0])
    lon, lat = jacksboro.grid.lonlat(
        eye.row + down * short.distance_m, eye.col + aside * short.distance_m
    )
    np.testing.assert_allclose(short.height_m, jacksboro.heights_at(lon, lat), atol=1e-4)


def test_a_wall_blocks_the_line_and_is_named_by_its_distance(make_dem: MakeDem) -> None:
    heights = np.zeros((3, 61))
    heights[:, 20] = 100.0
    dem = make_dem(heights, cell_m=50.0)
    spot = spot_on(dem, 1, 0)
    lon, lat = (float(part) for part in dem.grid.lonlat(1, 50))
    low = sight_line(dem, spot, lon, lat, 200.0)
    assert not low.visible
    assert low.clearance_deg < 0
    assert low.blocked_at_m == pytest.approx(1000.0, rel=1e-4)
    assert low.distance_m == pytest.approx(2500.0, rel=1e-4)
    assert low.azimuth_deg == pytest.approx(90.0, abs=0.05)
    high = sight_line(dem, spot, lon, lat, 300.0)
    assert high.visible
    assert math.isnan(high.blocked_at_m)
    assert high.altitude_deg > low.altitude_deg
    # the line over the top of the wall: 1.7 + (100 - 1.7) 2500 / 1000, and the fall of the ground
    edge = 1.7 + 98.3 * 2.5 + bend_per_m(0.13) * 2500 * 1500
    assert not sight_line(dem, spot, lon, lat, edge - 0.02).visible
    assert sight_line(dem, spot, lon, lat, edge + 0.02).visible


def test_lines_that_cannot_be_drawn(make_dem: MakeDem) -> None:
    dem = make_dem(np.zeros((5, 5)))
    spot = spot_on(dem, 2, 2)
    with pytest.raises(NoGround, match="covers"):
        sight_line(dem, spot, spot.lon_deg + 1.0, spot.lat_deg, 10.0)
    with pytest.raises(ValueError, match="where the camera stands"):
        sight_line(dem, spot, spot.lon_deg, spot.lat_deg, 10.0)


def test_nothing_known_between_hides_nothing(make_dem: MakeDem) -> None:
    heights = np.full((1, 9), np.nan)
    heights[0, 0] = heights[0, 8] = 10.0
    dem = make_dem(heights)
    lon, lat = (float(part) for part in dem.grid.lonlat(0, 8))
    line = sight_line(dem, spot_on(dem, 0, 0), lon, lat, 10.0)
    assert line.visible
    assert line.clearance_deg == math.inf


@settings(max_examples=60, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    ends=st.tuples(*[st.floats(0, 29)] * 4),
    eyes_m=st.tuples(st.floats(0.5, 60), st.floats(0.5, 60)),
)
def test_two_cameras_see_each_other_or_neither_does(
    make_dem: MakeDem,
    seed: int,
    ends: tuple[float, float, float, float],
    eyes_m: tuple[float, float],
) -> None:
    dem = make_dem(np.random.default_rng(seed).uniform(0, 60, (30, 30)))
    row, col, to_row, to_col = ends
    if math.hypot(to_row - row, to_col - col) < 0.5:
        return
    one, other = spot_on(dem, row, col, eyes_m[0]), spot_on(dem, to_row, to_col, eyes_m[1])
    there, back = look(dem, one, other), look(dem, other, one)
    if abs(there.clearance_deg) > 1e-4 and abs(back.clearance_deg) > 1e-4:
        assert there.visible == back.visible


def look(dem: Dem, spot: Spot, other: Spot) -> SightLine:
    target_m = dem.height_at(other.lon_deg, other.lat_deg) + other.eye_m
    return sight_line(dem, spot, other.lon_deg, other.lat_deg, target_m)
