"""A hill at the raster's edge, over which the unknown begins: what is its own, and what is told."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import pytest

from terrain.country import Country
from terrain.ground.dem import Dem
from terrain.ground.geodesy import destination
from terrain.ground.places import Hill, Spot
from terrain.ground.relief.summits import hill_at
from terrain.view.backlight import check_backlight
from terrain.view.look import look
from terrain.view.scene import Scene
from terrain.year.atlas import backlight_atlas
from tests.authorities import dip
from tests.conftest import MakeDem

CELL_M = 100.0


@pytest.fixture(scope="module")
def dem(make_dem: MakeDem) -> Dem:
    """A high ridge in the west, and a low hill the eastern flank of which is cut by the edge."""
    row, col = np.mgrid[-30:31, 0:81]
    ridge = np.maximum(900.0 - 30.0 * col, 5.0)
    return make_dem(np.maximum(ridge, 60.0 - 4.0 * np.hypot(row, col - 76)), cell_m=CELL_M)


@pytest.fixture(scope="module")
def hill(dem: Dem) -> Hill:
    return hill_at(dem, *map(float, dem.grid.lonlat(30, 76)), name="Low Hill")


@pytest.fixture(scope="module")
def high(dem: Dem) -> Spot:
    lon, lat = (float(part) for part in dem.grid.lonlat(30, 3))
    return Spot(lon_deg=lon, lat_deg=lat)


def test_nothing_far_off_the_raster_is_a_hills_own(dem: Dem, hill: Hill) -> None:
    scene = Scene(Country(dem), hill)
    lon, lat = dem.grid.lonlat(30, 80)
    assert scene.is_own(*destination(float(lon), float(lat), 90.0, [0.0, 150.0])).all()
    assert not scene.is_own(*destination(float(lon), float(lat), 90.0, [600.0, 40_000.0])).any()


def test_the_horizon_of_the_sea_stands_behind_a_low_hill_seen_from_high_up(
    dem: Dem, hill: Hill, high: Spot
) -> None:
    view = look(Scene(Country(dem), hill), high)
    sea_deg = -dip.DEGREES_A_ROOT_METRE * math.sqrt(view.skyline.eye_height_m)
    assert view.altitude_deg < sea_deg - 1.0
    assert view.visible
    assert not view.on_skyline
    assert "ground that is not known, at its lowest a horizon 1" in str(view.obstacle)


def test_the_sun_comes_no_sooner_than_over_the_sea(dem: Dem, hill: Hill, high: Spot) -> None:
    answer = check_backlight(dem, high, hill, dt.date(2026, 3, 20))
    sun = answer.contact
    # the hill stands before the sea, and the sun comes up over that
    assert answer.behind
    assert ", over ground that is not known" in answer.reason
    # with the refraction of surveyors the sea dips by a fiftieth more than in the almanac
    almanac_deg = -dip.DEGREES_A_ROOT_METRE * math.sqrt(answer.view.skyline.eye_height_m)
    assert sun.altitude_deg == pytest.approx(almanac_deg, rel=0.03)
    assert sun.doubt.hidden_deg > 0.0
    # any ground above the sea would delay it
    assert sun.beyond_height_m == pytest.approx(0.0, abs=1.0)
    assert sun.uncertainty_s > 60.0


def test_the_atlas_of_a_year_puts_the_same_sea_behind_the_hill(dem: Dem, hill: Hill) -> None:
    atlas = backlight_atlas(dem, hill, 2026, eye_m=1.7)
    scene, told = Scene(Country(dem), hill), []
    for col in range(2, 60, 6):
        lon, lat = (float(part) for part in dem.grid.lonlat(30, col))
        view = look(scene, Spot(lon_deg=lon, lat_deg=lat, eye_m=1.7))
        assert bool(atlas.on_skyline[30, col]) == view.on_skyline
        told.append(view.on_skyline)
    # high up the sea stands behind it, lower down nothing does
    assert told == sorted(told)
    assert set(told) == {False, True}
