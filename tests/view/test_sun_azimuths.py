"""The part of a skyline that a day's sun needs, against the disc at every minute of the day."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path

import numpy as np
import pytest

from terrain.country import Country
from terrain.ground.places import Spot
from terrain.ground.raster.read import read_dem
from terrain.ground.relief.summits import hill_at
from terrain.sun.path import SunPath, sun_path
from terrain.view.backlight import backlight
from terrain.view.look import look
from terrain.view.scene import Scene
from terrain.view.sun_azimuths import azimuths_under, least_under

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
