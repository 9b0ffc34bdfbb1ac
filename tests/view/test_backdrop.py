"""What a summit is seen against, by trigonometry on ground that is a formula."""

from __future__ import annotations

import math

import numpy as np
import pytest

from terrain.constants import EARTH_RADIUS_M
from terrain.country import Country
from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.ground.relief.summits import hill_at
from terrain.mist.level import level_mist
from terrain.view.backdrop import Backdrop
from terrain.view.look import View, look
from terrain.view.scene import Scene
from tests.conftest import MakeDem
from tests.scenes import Floats, cone

SIZE = 241
CELL_M = 50.0
ROW, STAND, HILL, WALL = 120, 20, 70, 200
HILL_M, AWAY_M = 300.0, (HILL - STAND) * CELL_M
WALL_M = (WALL - STAND) * CELL_M
TOP_M = 100.0
BEND_PER_M = (1.0 - 0.13) / (2.0 * EARTH_RADIUS_M)


def ground(wall_m: float = 0.0) -> Floats:
    """A steep hill on a plain, and far behind it a wall right across."""
    heights = cone(SIZE, (ROW, HILL), HILL_M, 0.9)
    heights[:, WALL:] = wall_m
    return heights


def seen_from(dem: Dem, eye_m: float, *, top_m: float | None = TOP_M) -> View:
    """The hill as a mast of that height sees it."""
    hill = hill_at(dem, *map(float, dem.grid.lonlat(ROW, HILL)))
    lon, lat = (float(part) for part in dem.grid.lonlat(ROW, STAND))
    mist = None if top_m is None else level_mist(dem, top_m)
    spot = Spot(lon_deg=lon, lat_deg=lat, eye_m=eye_m)
    return look(Scene(Country(dem, mist=mist, refraction=0.13), hill), spot)


def rise(height_m: float, eye_m: float, away_m: float) -> float:
    """Tangent of the altitude of a height at a distance."""
    return (height_m - eye_m) / away_m - BEND_PER_M * away_m


def meets_m(height_m: float, eye_m: float, slope: float) -> float:
    """Where a line of that slope comes down to a height: the nearer root."""
    half = -slope / (2.0 * BEND_PER_M)
    return half - math.sqrt(half**2 - (eye_m - height_m) / BEND_PER_M)


def on_islet(heights: Floats) -> Floats:
    """The same with one dry cell to stand on, 101 m high."""
    heights[ROW, STAND] = TOP_M + 1.0
    return heights


def test_from_below_it_stands_against_the_sky(make_dem: MakeDem) -> None:
    view = seen_from(make_dem(on_islet(ground())), 10.0)
    assert (view.backdrop, view.behind, view.under_skyline_deg) == (Backdrop.SKY, None, 0.0)
    assert view.backdrop_distance_m == math.inf


@pytest.mark.parametrize("wall_m", [0.0, 900.0])
def test_from_above_it_stands_against_mist_though_far_ground_makes_the_skyline(
    make_dem: MakeDem, wall_m: float
) -> None:
    view = seen_from(make_dem(on_islet(ground(wall_m))), 400.0)
    eye_m = TOP_M + 1.0 + 400.0
    assert view.backdrop == Backdrop.MIST
    on_mist_m = meets_m(TOP_M, eye_m, rise(HILL_M, eye_m, AWAY_M))
    assert view.backdrop_distance_m == pytest.approx(on_mist_m, abs=CELL_M)
    assert view.behind is not None
    assert view.behind.height_m == TOP_M
    assert view.obstacle is not None
    assert not view.on_skyline
    if wall_m:
        assert not view.obstacle.is_mist
        over_deg = math.degrees(math.atan(rise(wall_m, eye_m, WALL_M)))
        assert view.obstacle.distance_m == pytest.approx(WALL_M, abs=CELL_M)
        assert view.under_skyline_deg == pytest.approx(over_deg - view.altitude_deg, abs=0.02)


def test_from_above_against_far_ground(make_dem: MakeDem) -> None:
    # the line over the summit meets the wall before it comes down to the mist
    eye_m, wall_m = TOP_M + 1.0 + 220.0, 600.0
    view = seen_from(make_dem(on_islet(ground(wall_m))), 220.0)
    assert view.backdrop == Backdrop.GROUND
    assert view.backdrop_distance_m == pytest.approx(WALL_M, abs=CELL_M)
    assert view.behind is not None
    assert (view.behind.height_m, view.behind.is_mist) == (wall_m, False)
    under_deg = math.degrees(
        math.atan(rise(wall_m, eye_m, WALL_M)) - math.atan(rise(HILL_M, eye_m, AWAY_M))
    )
    assert view.under_skyline_deg == pytest.approx(under_deg, abs=0.02)


def test_own_ground_behind_the_summit_is_no_backdrop(make_dem: MakeDem) -> None:
    """A table mountain from above: its summit is the near edge, its far rim stands higher."""
    row, col = np.mgrid[:SIZE, :SIZE]
    table = (np.abs(row - ROW) < 6) & (np.abs(col - HILL - 6) < 7)
    heights = np.where(table, 299.0, 0.0)
    heights[ROW, HILL] = HILL_M
    view = seen_from(make_dem(on_islet(heights)), 400.0)
    eye_m, rim_m = TOP_M + 401.0, AWAY_M + 12 * CELL_M
    assert view.backdrop == Backdrop.MIST
    on_mist_m = meets_m(TOP_M, eye_m, rise(299.0, eye_m, rim_m))
    assert view.backdrop_distance_m == pytest.approx(on_mist_m, abs=2.0 * CELL_M)


def test_beyond_the_known_ground_the_horizon_stands_behind(make_dem: MakeDem) -> None:
    view = seen_from(make_dem(ground()[:, :120]), 900.0, top_m=None)
    low = seen_from(make_dem(on_islet(ground()[:, :80])), 300.0, top_m=None)
    assert view.backdrop == Backdrop.GROUND
    assert view.behind is not None
    # that line comes down to known ground; the other leaves the raster above it
    assert not math.isnan(view.behind.height_m)
    assert low.behind == low.obstacle
    assert low.behind is not None
    assert math.isnan(low.behind.height_m)


def test_a_hidden_summit_has_no_backdrop(make_dem: MakeDem) -> None:
    heights = on_islet(ground())
    heights[:, 40:44] = 500.0
    view = seen_from(make_dem(heights), 10.0)
    assert not view.visible
    assert (view.backdrop, view.behind) == (None, None)
    assert math.isnan(view.backdrop_distance_m)
    assert math.isnan(view.under_skyline_deg)
