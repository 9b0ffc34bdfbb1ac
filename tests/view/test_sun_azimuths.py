"""The part of a skyline that a day's sun needs, against the disc at every minute of the day."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from terrain.country import Country
from terrain.errors import NoSun
from terrain.ground.geodesy import destination
from terrain.ground.places import Spot
from terrain.ground.raster.read import read_dem
from terrain.ground.relief.summits import hill_at
from terrain.sun.path import SunPath, sun_path
from terrain.sun.refraction import refract
from terrain.view.backlight import Backlight, backlight
from terrain.view.look import look, look_for_sun
from terrain.view.scene import Scene
from terrain.view.states import best_pose
from terrain.view.sun_azimuths import azimuths_under, least_under, needed_under, until_noon
from terrain.view.toward import sight_of
from tests.conftest import MakeDem

# longitude, latitude, date, an azimuth near sunrise
DAYS = {
    "autumn": (-24.0, 54.4, dt.date(2026, 10, 13), 105.0),
    "midsummer": (-24.0, 54.4, dt.date(2026, 6, 21), 48.0),
    "midwinter": (-24.0, 54.4, dt.date(2026, 12, 21), 130.0),
    "south, through the north": (170.0, -44.0, dt.date(2026, 7, 1), 60.0),
    "tropics": (36.8, -1.3, dt.date(2026, 6, 21), 66.0),
    "25 hours": (-3.1, 54.5, dt.date(2026, 10, 25), 110.0),
    "far north": (25.0, 71.0, dt.date(2026, 11, 10), 160.0),
}


def path_of(name: str) -> tuple[SunPath, float]:
    lon, lat, day, toward = DAYS[name]
    return sun_path(day, lon_deg=lon, lat_deg=lat, height_m=300.0), toward


@pytest.mark.parametrize("name", DAYS)
def test_all_of_the_disc_stays_within_while_it_is_not_dark(name: str) -> None:
    path, toward = path_of(name)
    azimuths = azimuths_under(path, toward)
    assert azimuths is not None
    np.testing.assert_array_equal(azimuths_under(path), azimuths)
    azimuth, true = path.true_at(np.arange(0.0, path.length_s, 60.0))
    light = true > -6.0
    half = path.semidiameter_deg / np.cos(np.radians(true[light]))
    for edge in (azimuth[light] - half, azimuth[light] + half):
        assert (np.mod(edge - azimuths[0], 360.0) < azimuths[-1] - azimuths[0]).all()


@pytest.mark.parametrize("name", DAYS)
def test_no_more_than_a_little_beyond_and_in_the_steps_of_a_skyline(name: str) -> None:
    path, toward = path_of(name)
    azimuths = azimuths_under(path, toward)
    assert azimuths is not None
    assert azimuths / 0.05 == pytest.approx(np.rint(azimuths / 0.05), abs=1e-9)
    assert np.diff(azimuths) == pytest.approx(0.05)
    azimuth, true = path.true_at(np.arange(0.0, path.length_s, 60.0))
    way = azimuth[true > -8.0]
    assert azimuths[0] > way.min() - 3.0
    assert azimuths[-1] < way.max() + 3.0


@pytest.mark.parametrize(
    ("lat_deg", "day", "toward_deg"),
    [
        (71.0, dt.date(2026, 6, 21), 90.0),  # goes all round
        (80.0, dt.date(2026, 12, 21), 90.0),  # never comes out of the dark
        (10.0, dt.date(2026, 4, 15), 80.0),  # passes near the zenith
        (54.4, dt.date(2026, 12, 21), 20.0),  # never stands there
    ],
)
def test_all_round_where_less_will_not_do(lat_deg: float, day: dt.date, toward_deg: float) -> None:
    path = sun_path(day, lon_deg=25.0, lat_deg=lat_deg)
    assert azimuths_under(path, toward_deg) is None
    # where no azimuth must be among them, only the last of these is less than all round
    assert (azimuths_under(path) is None) == (toward_deg != 20.0)


@pytest.mark.parametrize("name", DAYS)
def test_what_is_of_no_interest_lies_well_under_the_disc(name: str) -> None:
    path, toward = path_of(name)
    azimuths = azimuths_under(path, toward)
    assert azimuths is not None
    least = least_under(path, azimuths)
    times = np.arange(0.0, path.length_s, 20.0)
    azimuth, true = path.true_at(times)
    half = path.semidiameter_deg
    wide = half / np.cos(np.radians(true))
    for across in (-1.0, -0.5, 0.0, 0.5, 1.0):
        low = np.interp(azimuth + across * wide, azimuths, least)
        assert (low[true > 0.0] < (true - half)[true > 0.0] - 1.2).all()
    # and there is a good deal of it, except where the sun stays low all day
    assert (least > 5.0).mean() > 0.5 or true.max() < 20.0
    near = np.abs(azimuths - toward) < 29.0
    assert (least_under(path, azimuths, toward)[near] == -90.0).all()


@pytest.mark.parametrize("evening", [False, True])
@pytest.mark.parametrize("lowest_deg", [0.0, -1.2])
@pytest.mark.parametrize("name", DAYS)
def test_until_noon_all_that_the_disc_may_touch_is_asked(
    name: str, lowest_deg: float, evening: bool
) -> None:
    lon, lat, day, toward = DAYS[name]
    whole = needed_under(path_of(name)[0], toward)
    path = sun_path(day, lon_deg=lon, lat_deg=lat, height_m=300.0, evening=evening)
    some = until_noon(whole, path, toward, within_deg=1.0, lowest_deg=lowest_deg)
    assert some is not None
    assert whole.azimuths_deg is not None
    times = np.arange(0.0, path.length_s, 20.0)
    azimuth, true = path.true_at(times)
    rim = np.asarray(refract(true + path.semidiameter_deg, pressure_hpa=path.pressure_hpa))
    noon_s = times[np.argmax(true)]
    touches = (rim > lowest_deg - 0.1) & (times < noon_s + 600.0)
    wide = path.semidiameter_deg / np.cos(np.radians(true[touches])) + 0.3
    at = np.array([azimuth[touches] - wide, azimuth[touches], azimuth[touches] + wide])
    number = np.rint(np.mod(at - whole.azimuths_deg[0], 360.0) / 0.05).astype(int)
    assert some.asked[number].all()
    assert some.asked[np.abs(whole.azimuths_deg - toward) < 5.5].all()
    assert some.asked.mean() < 0.8
    of = some.of(whole)
    assert of.azimuths_deg is not None
    np.testing.assert_array_equal(of.azimuths_deg, whole.azimuths_deg[some.asked])
    # about noon, and no earlier
    assert abs(some.sun_deg[1].max() - path.at(noon_s)[1]) < 0.01
    assert some.sun_deg[1].min() > some.sun_deg[1].max() - 0.4


DEMO = Path(__file__).parents[2] / "data" / "upland.tif"
DAYS_OF_DEMO = [dt.date(2026, month, 11) for month in (2, 4, 6, 10)]


def _told(answer: object) -> str:
    """All of an answer, NaN among it; but for the last digits, that rounding may change."""
    return re.sub(r"\d+\.\d+", lambda found: f"{float(found[0]):.9g}", repr(answer))


@pytest.mark.parametrize("evening", [False, True])
def test_the_sun_of_a_day_is_that_over_the_whole_skyline(evening: bool) -> None:
    dem = read_dem(DEMO)
    hill = hill_at(dem, -24.0, 54.42)
    scene, draw = Scene(Country(dem), hill), np.random.default_rng(3)
    lower = 0
    for number in range(12):
        row, col = (int(draw.integers(60, count - 60)) for count in dem.shape)
        lon, lat = (float(part) for part in dem.grid.lonlat(row, col))
        spot, day = Spot(lon_deg=lon, lat_deg=lat), DAYS_OF_DEMO[number % 4]
        whole, some = look(scene, spot), look(scene, spot, day=day)
        one, other = (backlight(scene, view, day, evening=evening) for view in (whole, some))
        assert _told(other.contact) == _told(one.contact)
        assert _told(other.passage) == _told(one.passage)
        assert (other.behind, other.best, other.reason) == (one.behind, one.best, one.reason)
        told = some.skyline.altitude_deg
        true = whole.skyline.at(some.skyline.azimuth_deg)
        lower += int((told < true - 1e-6).sum())
    assert lower > 200


def _alike(one: Backlight, other: Backlight) -> None:
    """Answers of one place, to the last digit, but for what comes up again after noon."""
    assert replace(other.contact, later=()) == replace(one.contact, later=())
    assert repr(other.passage) == repr(one.passage)
    assert (other.behind, other.best, other.reason) == (one.behind, one.best, one.reason)


@pytest.mark.parametrize("evening", [False, True])
def test_until_noon_the_sun_is_that_of_the_day_to_the_last_digit(evening: bool) -> None:
    dem = read_dem(DEMO)
    hill = hill_at(dem, -24.0, 54.42)
    scene, draw = Scene(Country(dem), hill), np.random.default_rng(4)
    asked, near = [], 0
    for number in range(20):
        day = DAYS_OF_DEMO[number % 4]
        path = sun_path(day, lon_deg=hill.lon_deg, lat_deg=hill.lat_deg, evening=evening)
        low = float(path.at(path.rise(3.0, 3.0)[0])[0])
        back_deg, away_m = low + 180.0 + draw.uniform(-5.0, 5.0), draw.uniform(1500.0, 4000.0)
        lon, lat = map(float, destination(hill.lon_deg, hill.lat_deg, back_deg, away_m))
        spot = Spot(lon_deg=lon, lat_deg=lat)
        whole = look(scene, spot, day=day)
        some = look_for_sun(scene, sight_of(scene, spot), day, within_deg=8.0, evening=evening)
        assert replace(some, skyline=whole.skyline) == whole
        try:
            one = backlight(scene, whole, day, evening=evening)
        except NoSun as none:
            with pytest.raises(NoSun, match=re.escape(str(none))):
                backlight(scene, some, day, evening=evening)
            continue
        other = backlight(scene, some, day, evening=evening)
        _alike(one, other)
        if one.within(8.0):
            near += 1
            assert best_pose(scene, other) == best_pose(scene, one)
        known = np.isfinite(some.skyline.altitude_deg)
        np.testing.assert_array_equal(
            some.skyline.altitude_deg[known], whole.skyline.altitude_deg[known]
        )
        asked.append(known.mean())
    assert np.mean(asked) < 0.7
    assert near > 2


@pytest.mark.parametrize("evening", [False, True])
def test_where_a_wall_hides_the_sun_at_noon_all_of_the_day_is_asked_for(
    make_dem: MakeDem, evening: bool
) -> None:
    # a wall round the spot, higher than the sun of December in all directions but one, in which it
    # stands in the other half of the day
    row, col = np.mgrid[-60:61, -60:61].astype(float)
    bearing = np.degrees(np.arctan2(col, -row)) % 360.0
    gap = np.abs(bearing - (140.0 if evening else 220.0)) < 6.0
    wall = np.where((np.hypot(row, col) > 30.0) & ~gap, 800.0, 0.0)
    dem = make_dem(wall + np.where(np.hypot(row, col) < 1.0, 5.0, 0.0))
    lon, lat = (float(part) for part in dem.grid.lonlat(60, 60))
    spot, day = Spot(lon_deg=lon, lat_deg=lat), dt.date(2026, 12, 21)
    scene = Scene(Country(dem), hill_at(dem, *map(float, dem.grid.lonlat(95, 75))))
    whole = look(scene, spot, day=day)
    some = look_for_sun(scene, sight_of(scene, spot), day, within_deg=1.0, evening=evening)
    one, other = (backlight(scene, view, day, evening=evening) for view in (whole, some))
    # after noon on the path
    assert (one.contact.azimuth_deg > 180.0) != evening
    _alike(one, other)
