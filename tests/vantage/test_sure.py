"""Ground just under the line to where the sun appears may hide it after all."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import pytest

from terrain.country import Country
from terrain.ground.geodesy import azimuth_and_distance, destination
from terrain.ground.places import Spot
from terrain.ground.relief.summits import hill_at
from terrain.vantage.limits import Limits
from terrain.vantage.search import lit_on
from terrain.view.look import look
from terrain.view.nearness import BestAt, Nearness, nearness
from terrain.view.scene import Scene
from terrain.view.toward import clearance_m
from tests.conftest import MakeDem

CELL_M, ROCK_M, UNDER_M = 25.0, 2000.0, 2.0
# the sun comes up beside the summit and goes away from it; and comes over it later
ASIDE, THEN_OVER = dt.date(2026, 3, 25), dt.date(2026, 4, 1)


def scene_over(make_dem: MakeDem, heights: np.ndarray) -> tuple[Scene, Spot]:
    dem = make_dem(heights, cell_m=CELL_M)
    hill = hill_at(dem, *map(float, dem.grid.lonlat(60, 220)))
    lon, lat = map(float, dem.grid.lonlat(60, 40))
    return Scene(Country(dem), hill), Spot(lon_deg=lon, lat_deg=lat)


@pytest.fixture(scope="module")
def cone() -> np.ndarray:
    row, col = np.mgrid[:121, :260]
    return np.maximum(420.0 - 10.0 * np.hypot(row - 60, col - 220), 0.0)


def with_rock(make_dem: MakeDem, cone: np.ndarray, day: dt.date) -> tuple[Scene, Spot, Nearness]:
    """A rock of nine cells whose top is so little under the line to the sun of a day."""
    scene, spot = scene_over(make_dem, cone)
    bare = nearness(scene, look(scene, spot), day)
    touch, eye_m = bare.touch, bare.view.skyline.eye_height_m
    lon, lat = destination(spot.lon_deg, spot.lat_deg, touch.azimuth_deg, ROCK_M)
    row, col = scene.dem.grid.cell_of(float(lon), float(lat))
    near_side = scene.dem.grid.lonlat(row, col - 1)
    _, rock_m = azimuth_and_distance(spot.lon_deg, spot.lat_deg, *near_side)
    # the line bends by 0.13 of the earth's curvature
    drop_m = rock_m**2 * 0.87 / (2.0 * 6_371_000.0)
    line_m = eye_m + rock_m * math.tan(math.radians(touch.altitude_deg)) + drop_m
    heights = cone.copy()
    heights[row - 1 : row + 2, col - 1 : col + 2] = line_m - UNDER_M
    scene, spot = scene_over(make_dem, heights)
    return scene, spot, nearness(scene, look(scene, spot), day)


@pytest.mark.parametrize(("least_m", "holds"), [(3.0, False), (1.0, True)])
def test_a_sun_that_appears_hardly_over_a_rock_does_not_hold(
    make_dem: MakeDem, cone: np.ndarray, least_m: float, holds: bool
) -> None:
    scene, spot, near = with_rock(make_dem, cone, ASIDE)
    limits = Limits(tolerance_deg=2.8, clearance_m=least_m)
    assert near.best.which == BestAt.CONTACT
    # the line is looked at by quarters of a cell
    assert clearance_m(scene, spot, near.touch) == pytest.approx(UNDER_M, abs=0.7)
    assert near.view.clearance_m >= 3.0
    assert (lit_on(scene, spot, ASIDE, limits) is not None) == holds


def test_nor_does_the_rock_count_where_the_sun_passes_over_the_summit_later(
    make_dem: MakeDem, cone: np.ndarray
) -> None:
    scene, spot, near = with_rock(make_dem, cone, THEN_OVER)
    limits = Limits(tolerance_deg=2.8)
    assert near.first_within(limits.tolerance_deg)
    assert near.best.which == BestAt.PASSAGE
    assert clearance_m(scene, spot, near.touch) < limits.clearance_m <= near.view.clearance_m
    assert lit_on(scene, spot, THEN_OVER, limits) is not None
