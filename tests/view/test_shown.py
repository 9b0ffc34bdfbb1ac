"""How much of a cone shows: down to its foot, less behind a wall or in a mist."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from terrain.country import Country
from terrain.errors import NoAnswer
from terrain.frame.framing import frame_view
from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.ground.relief.summits import hill_at
from terrain.mist.level import level_mist
from terrain.view.backlight import backlight
from terrain.view.look import look
from terrain.view.prospect import prospect
from terrain.view.scene import Scene
from terrain.view.shown import hill_shown, seen_outline

MakeDem = Callable[..., Dem]

ROW, COL, HEIGHT_M = 60, 140, 500.0
EYE_COL, WALL_COL, BEHIND_COL = 20, 60, 175
DAY = dt.date(2026, 3, 20)


def cone() -> NDArray[np.float64]:
    """A cone that falls 1 in 2 from 500 m to a plain at 0, cells of 50 m."""
    row, col = np.indices((121, 181))
    return np.maximum(HEIGHT_M - 50.0 * np.hypot(row - ROW, col - COL) / 2.0, 0.0)


def of(dem: Dem) -> tuple[Hill, Spot]:
    hill = hill_at(dem, *(float(part) for part in dem.grid.lonlat(ROW, COL)))
    lon, lat = (float(part) for part in dem.grid.lonlat(ROW, EYE_COL))
    return hill, Spot(lon_deg=lon, lat_deg=lat, eye_m=2.0)


def test_from_the_plain_a_cone_shows_down_to_its_foot(make_dem: MakeDem) -> None:
    dem = make_dem(cone())
    hill, spot = of(dem)
    shown = hill_shown(Scene(Country(dem, refraction=1.0), hill), spot)
    assert shown.height_m == pytest.approx(HEIGHT_M, abs=1.0)
    assert shown.share < 1.0  # its far side does not show


def test_a_wall_hides_the_foot(make_dem: MakeDem) -> None:
    ground = cone()
    ground[:, WALL_COL] = 40.0
    dem = make_dem(ground)
    hill, spot = of(dem)
    shown = hill_shown(Scene(Country(dem, refraction=1.0), hill), spot)
    # the line over the wall rises 38 m in 2000 m; it meets the cone, a from the summit, where
    # 500 - a / 2 = 2 + 0.019 (6000 - a)
    away_m = (500.0 - 2.0 - 0.019 * 6000.0) / (0.5 - 0.019)
    assert shown.height_m == pytest.approx(away_m / 2.0, abs=25.0)


def test_a_mist_hides_what_it_covers(make_dem: MakeDem) -> None:
    dem = make_dem(cone())
    hill, spot = of(dem)
    above = Spot(lon_deg=spot.lon_deg, lat_deg=spot.lat_deg, eye_m=160.0)
    shown = hill_shown(
        Scene(Country(dem, mist=level_mist(dem, 150.0), refraction=1.0), hill), above
    )
    assert shown.height_m == pytest.approx(350.0, abs=26.0)
    assert shown.share == pytest.approx(0.5, abs=0.05)


def test_behind_a_higher_hill_nothing_shows(make_dem: MakeDem) -> None:
    ground = cone()
    ground[:, WALL_COL] = 900.0
    dem = make_dem(ground)
    hill, spot = of(dem)
    shown = hill_shown(Scene(Country(dem, refraction=1.0), hill), spot)
    assert (shown.height_m, shown.share) == (0.0, 0.0)


@pytest.mark.parametrize(("behind_cells", "seen"), [(1, True), (4, False)])
def test_a_place_just_behind_the_top_of_its_hill_counts_as_seen(
    make_dem: MakeDem, behind_cells: int, seen: bool
) -> None:
    dem = make_dem(cone())
    _, spot = of(dem)
    lon, lat = (float(part) for part in dem.grid.lonlat(ROW, COL + behind_cells))
    hill = Hill(lon_deg=lon, lat_deg=lat, height_m=dem.height_at(lon, lat))
    assert look(Scene(Country(dem), hill), spot).visible == seen


def test_before_higher_ground_the_outline_is_that_of_the_cone(make_dem: MakeDem) -> None:
    """Against the highest of an analytic cone in each direction, no raster in between."""
    ground = cone()
    ground[:, BEHIND_COL:] = 900.0
    dem = make_dem(ground)
    hill, spot = of(dem)
    scene = Scene(Country(dem, refraction=1.0), hill)
    view = look(scene, spot)
    assert view.visible
    assert not view.on_skyline
    outline = seen_outline(scene, view)
    aside = np.radians(outline.azimuth_deg - view.azimuth_deg)
    ahead_m = np.linspace(4500.0, 7000.0, 2501)[:, np.newaxis]
    away_m = np.sqrt(ahead_m**2 - 2.0 * ahead_m * 6000.0 * np.cos(aside) + 6000.0**2)
    height_m = HEIGHT_M - away_m / 2.0
    edge_deg = np.degrees(np.arctan2(height_m - 2.0, ahead_m)).max(axis=0)
    assert outline.width_deg == pytest.approx(16.0, abs=0.2)  # of the picture: the cone is wider
    assert outline.altitude_deg == pytest.approx(edge_deg, abs=0.1)
    assert frame_view(scene, backlight(scene, view, DAY)).outline.width_deg == outline.width_deg


def test_of_a_hidden_summit_there_is_no_outline(make_dem: MakeDem) -> None:
    ground = cone()
    ground[:, WALL_COL] = 900.0
    dem = make_dem(ground)
    hill, spot = of(dem)
    scene = Scene(Country(dem, refraction=1.0), hill)
    with pytest.raises(NoAnswer, match="makes no skyline from this spot"):
        seen_outline(scene, look(scene, spot))


def test_the_frame_about_a_summit_is_seen_once_and_anew_from_elsewhere(make_dem: MakeDem) -> None:
    dem = make_dem(cone())
    hill, spot = of(dem)
    scene = Scene(Country(dem), hill)
    about = scene.frame_about(spot, 90.0, 3.0)
    assert scene.frame_about(spot, 90.0, 3.0) is about
    fresh = prospect(scene.country, spot, 90.0, 3.0)
    np.testing.assert_array_equal(about.seen.distance_m, fresh.seen.distance_m)
    aside = scene.frame_about(spot, 95.0, 3.0)
    np.testing.assert_array_equal(aside.seen.azimuth_deg, about.seen.azimuth_deg + 5.0)
