"""The part of a skyline that a day's sun needs, against the disc at every minute of the day."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from terrain.sun.path import SunPath, sun_path
from terrain.view.rims import azimuths_under

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
