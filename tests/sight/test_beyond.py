"""What stands for the ground beyond the known: against navigators' tables, and against the sea."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from terrain.ground.dem import ORDINARY_SHARE, Dem
from terrain.ground.places import Spot
from terrain.sight.beyond import floored, lowest_deg, ordinary_deg
from terrain.sight.horizon import horizon_and_distance
from terrain.sight.known import lowest_hidden_m
from terrain.sight.skyline import skyline
from tests.authorities import dip
from tests.conftest import MakeDem

EAST = np.arange(75.0, 106.0, 3.0)
CELL_M = 400.0


@pytest.fixture(scope="module")
def coast(make_dem: MakeDem) -> Dem:
    """A hill of 250 m in the west of a sea that reaches farther than its horizon of 60 km."""
    row, col = np.mgrid[-60:61, 0:220]
    return make_dem(np.maximum(250.0 - 25.0 * np.hypot(row, col - 12.0), 0.0), cell_m=CELL_M)


@pytest.fixture(scope="module")
def top(coast: Dem) -> Spot:
    lon, lat = (float(part) for part in coast.grid.lonlat(60, 12))
    return Spot(lon_deg=lon, lat_deg=lat, eye_m=5.0)


def cut(dem: Dem, cols: int) -> Dem:
    """The west of some ground."""
    return Dem(dem.heights_m[:, :cols], dem.grid.window(0, 0, (dem.shape[0], cols)))


def along_rows(dem: Dem) -> float:
    """The azimuth at the middle of the raster of the grid's east."""
    return float(dem.grid.true_azimuth_deg(90.0, *dem.grid.centre_lonlat))


@pytest.mark.parametrize("height_m", [2.0, 25.0, 100.0, 480.0, 1500.0])
def test_the_lowest_skyline_is_the_dip_of_the_almanac(coast: Dem, height_m: float) -> None:
    altitude_deg, _ = lowest_deg(coast, height_m, dip.REFRACTION)
    assert -altitude_deg == pytest.approx(dip.DEGREES_A_ROOT_METRE * height_m**0.5, rel=2e-3)


@pytest.mark.parametrize(("height_m", "distance_m"), [(300.0, 9000.0), (60.0, 3000.0)])
def test_a_level_short_of_its_horizon_dips_as_in_the_table(
    make_dem: MakeDem, height_m: float, distance_m: float
) -> None:
    sea = make_dem(np.zeros((3, 3)))
    found = ordinary_deg(sea, height_m, 0.0, dip.REFRACTION)
    assert -found == pytest.approx(dip.DEGREES_A_ROOT_METRE * height_m**0.5, rel=2e-3)
    # ground that is known half as far as the horizon changes nothing, twice as far it does
    _, horizon_m = lowest_deg(sea, height_m, dip.REFRACTION)
    assert ordinary_deg(sea, height_m, 0.5 * horizon_m, dip.REFRACTION) == pytest.approx(found)
    beyond = ordinary_deg(sea, height_m, horizon_m + distance_m, dip.REFRACTION)
    expected = dip.short_of_the_horizon_deg(height_m, float(horizon_m) + distance_m)
    assert -beyond == pytest.approx(expected, rel=1e-4)


def test_an_edge_over_a_sea_is_the_sea_that_is_known_beyond_it(coast: Dem, top: Spot) -> None:
    whole = skyline(coast, top, azimuths_deg=EAST)
    part = skyline(cut(coast, 40), top, azimuths_deg=EAST)
    assert whole.known_to_m.min() > 1.05 * whole.distance_m.max()
    assert part.known_to_m.max() < 0.3 * whole.distance_m.min()
    np.testing.assert_allclose(part.altitude_deg, whole.altitude_deg, atol=1e-4)
    np.testing.assert_allclose(part.distance_m, whole.distance_m, rtol=0.02)


def test_the_horizon_of_every_cell_has_the_same_floor(coast: Dem) -> None:
    edge = cut(coast, 40)
    whole, whole_m = horizon_and_distance(coast, along_rows(coast))
    part, part_m = horizon_and_distance(edge, along_rows(edge))
    seen = np.isfinite(part)
    np.testing.assert_allclose(part[seen], whole[:, :40][seen], atol=2e-4)
    high = seen & (coast.heights_m[:, :40] > 50.0)
    assert high.sum() > 50
    np.testing.assert_allclose(part_m[high], whole_m[:, :40][high], rtol=0.05)


def test_a_lower_sea_and_lower_ground_lower_the_floor(coast: Dem, top: Spot) -> None:
    edge = cut(coast, 40)
    lower = replace(edge, sea_m=-100.0)
    assert lower.floor_m == -100.0
    found = skyline(lower, top, azimuths_deg=[90.0]).altitude_deg
    assert found < skyline(edge, top, azimuths_deg=[90.0]).altitude_deg
    assert found == pytest.approx(lowest_deg(edge, 355.0, 0.13)[0], abs=1e-6)
    hollow = edge.heights_m.copy()
    hollow[0, 0] = -430.0
    assert Dem(hollow, edge.grid).floor_m == -430.0
    assert Dem(np.full(edge.shape, np.nan), edge.grid).floor_m == 0.0
    hollow[0, 1] = -4000.0  # the bed of a sea
    assert Dem(hollow, edge.grid).floor_m == -430.0


def test_known_ground_to_the_horizon_changes_nothing(coast: Dem) -> None:
    """Skylines over ground known far enough are what they were without a floor."""
    eye_m = coast.heights_m[60, 10:14].astype(float) + 1.7
    ground = np.array([-0.2, 0.0, 1.0, np.nan])
    np.testing.assert_array_equal(floored(coast, ground, eye_m, 0.13), ground)


def test_a_range_beyond_the_edge_delays_by_what_was_said(coast: Dem, top: Spot) -> None:
    """Ground just lower than the height that is told changes nothing, just higher does."""
    edge = cut(coast, 40)
    line = skyline(edge, top, azimuths_deg=[90.0])
    told_m = float(lowest_hidden_m(line.eye_height_m, line.altitude_deg, line.known_to_m)[0])
    assert told_m == pytest.approx(edge.floor_m, abs=1.0)
    low = edge.heights_m.copy()
    low[:, 20:22] = 180.0  # a wall before the edge, over which the sea is not seen
    walled = Dem(low, edge.grid)
    line = skyline(walled, top, azimuths_deg=[90.0])
    told_m = float(lowest_hidden_m(line.eye_height_m, line.altitude_deg, line.known_to_m)[0])
    for height_m, raises in ((told_m - 2.0, False), (told_m + 2.0, True)):
        # the least of the heights told is reached somewhere beyond the edge, at any distance
        found = []
        for col in range(41, 220, 3):
            heights = coast.heights_m.copy()
            heights[:, 20:22] = 180.0
            heights[:, col] = height_m
            found.append(skyline(Dem(heights, coast.grid), top, azimuths_deg=[90.0]).altitude_deg)
        assert bool(np.max(found) > line.altitude_deg[0] + 1e-9) == raises


def test_ordinary_hidden_ground_is_as_high_as_most_of_the_known(coast: Dem, top: Spot) -> None:
    edge = cut(coast, 40)
    level_m = edge.ordinary_m
    assert np.mean(edge.heights_m < level_m) < ORDINARY_SHARE <= np.mean(edge.heights_m <= level_m)
    line = skyline(edge, top, azimuths_deg=EAST)
    with_it = coast.heights_m.copy()
    with_it[:, 40:] = level_m
    truth = skyline(Dem(with_it, coast.grid), top, azimuths_deg=EAST)
    np.testing.assert_allclose(line.altitude_deg + line.hidden_deg, truth.altitude_deg, atol=0.01)
    whole = skyline(coast, top, azimuths_deg=EAST)
    assert np.all(whole.hidden_deg <= line.hidden_deg)


def test_rays_that_follow_the_earth_see_the_sea_level_with_them(coast: Dem, top: Spot) -> None:
    line = skyline(cut(coast, 40), top, azimuths_deg=EAST, refraction=1.0)
    np.testing.assert_array_equal(line.altitude_deg, 0.0)
    assert np.isinf(line.distance_m).all()
