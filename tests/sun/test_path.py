from __future__ import annotations

import time
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from terrain.errors import TerrainError
from terrain.sun.crossings import crossings
from terrain.sun.path import SunPath, sun_path, sun_paths
from terrain.sun.position import sun_position
from tests.authorities import sun_tables as tables

UPLAND = {"lon_deg": -24.0, "lat_deg": 54.4}
PLACES = {
    "upland": (-24.0, 54.4, date(2025, 3, 20)),
    "sun in the zenith": (-157.4, 1.9, date(2025, 3, 25)),
    "far north": (25.0, 71.0, date(2025, 6, 21)),
    "south": (170.0, -44.0, date(2025, 12, 21)),
    "north pole": (0.0, 90.0, date(2025, 3, 20)),
    "south pole": (0.0, -90.0, date(2025, 3, 20)),
    "date line": (180.0, -16.8, date(2025, 8, 1)),
    "25 hours": (-3.1, 54.5, date(2025, 10, 26)),
}


def directly(path: SunPath, t_s: np.ndarray, lon_deg: float, lat_deg: float, height_m: float):
    """Azimuth and apparent altitude straight from `sun_position` at times of a path."""
    times = [path.start.astimezone(UTC) + timedelta(seconds=float(t)) for t in t_s]
    sun = sun_position(times, lon_deg=lon_deg, lat_deg=lat_deg, height_m=height_m)
    return sun.azimuth_deg, sun.apparent_altitude_deg


# Measured: 3e-7 degrees at 120 s, which is the fraction of a millisecond that a julian day in
# double precision can hold, and 5e-7 at 300 s.
@pytest.mark.parametrize("step_s", [120.0, 300.0])
@pytest.mark.parametrize("place", PLACES)
def test_between_samples_as_good_as_direct(place: str, step_s: float) -> None:
    lon, lat, day = PLACES[place]
    path = sun_path(day, lon_deg=lon, lat_deg=lat, height_m=500.0, step_s=step_s)
    t_s = np.random.default_rng(3).uniform(0.0, path.length_s, 400)
    azimuth, altitude = path.at(t_s)
    true_azimuth, true_altitude = directly(path, t_s, lon, lat, 500.0)
    turn = (azimuth - true_azimuth + 180.0) % 360.0 - 180.0
    assert np.abs(altitude - true_altitude).max() < 1e-6
    assert np.abs(turn * np.cos(np.radians(true_altitude))).max() < 1e-6


@pytest.mark.parametrize("place", PLACES)
def test_azimuth_has_no_jump_and_starts_from_the_usual_turn(place: str) -> None:
    lon, lat, day = PLACES[place]
    path = sun_path(day, lon_deg=lon, lat_deg=lat)
    t_s = np.arange(0.0, path.length_s, 1.0)
    azimuth, _ = path.at(t_s)
    # through the zenith the sun turns fast, but never by half a circle in a second
    assert np.abs(np.diff(azimuth)).max() < 20.0
    if abs(lat) < 90.0:  # at a pole no hour of the day is the one of the fastest rise
        rises = np.gradient(path.true_at(t_s)[1])
        assert 0.0 <= azimuth[np.argmax(rises)] < 360.0


def test_morning_azimuths_are_the_usual_ones() -> None:
    path = sun_path(date(2025, 3, 20), **UPLAND)
    azimuth, altitude = path.at(np.array([5.6 * 3600.0]))
    assert azimuth[0] == pytest.approx(88.5, abs=1.0)
    assert altitude[0] == pytest.approx(0.0, abs=1.5)


def test_scalars_and_any_shape() -> None:
    path = sun_path(date(2025, 3, 20), **UPLAND)
    azimuth, altitude = path.at(20_000)
    assert azimuth.shape == altitude.shape == ()
    assert path.at(np.zeros((2, 3)))[1].shape == (2, 3)
    assert path.east_at(np.zeros((2, 3))).shape == (2, 3)


def test_beyond_the_day_is_unknown() -> None:
    path = sun_path(date(2025, 3, 20), **UPLAND)
    azimuth, altitude = path.at([-1.0, 0.0, path.length_s, path.length_s + 1.0])
    assert np.isnan(azimuth).tolist() == [True, False, False, True]
    assert np.isnan(altitude).tolist() == [True, False, False, True]


@pytest.mark.parametrize(
    ("day", "hours"),
    [(date(2025, 3, 30), 23.0), (date(2025, 7, 1), 24.0), (date(2025, 10, 26), 25.0)],
)
def test_clock_change_days(day: date, hours: float) -> None:
    path = sun_path(day, lon_deg=-3.1, lat_deg=54.5)
    assert path.length_s == hours * 3600.0
    assert (path.start.hour, path.start.minute) == (0, 0)
    last = path.time(path.length_s - 1.0)
    assert (last.date(), last.hour, last.minute, last.second) == (day, 23, 59, 59)


def test_time_and_seconds_are_inverse_through_the_hour_that_comes_twice() -> None:
    path = sun_path(date(2025, 10, 26), lon_deg=-3.1, lat_deg=54.5)
    offsets = []
    for t_s in (0.0, 5000.25, 5000.25 + 3600.0, 80_000.0):
        moment = path.time(t_s)
        offsets.append(moment.utcoffset())
        assert moment.tzinfo is path.zone
        assert path.seconds(moment.astimezone(UTC)) == pytest.approx(t_s, abs=1e-6)
    assert offsets == [timedelta(hours=1)] * 2 + [timedelta(0)] * 2
    # the same clock reading an hour later
    assert f"{path.time(5000.25):%H:%M}" == f"{path.time(8600.25):%H:%M}"


@pytest.mark.parametrize("change", [date(2025, 3, 30), date(2025, 10, 26)])
def test_sunrise_goes_on_evenly_through_a_clock_change(change: date) -> None:
    days = [change + timedelta(days=i) for i in range(-3, 4)]
    rises = []
    for path in sun_paths(days, lon_deg=-3.1, lat_deg=54.5):
        (rise, *_) = crossings(lambda t, path=path: path.at(t)[1], 0.0, path.length_s, 600.0)
        assert rise.rising
        rises.append(path.time(rise.t_s))
    elapsed = np.diff([rise.timestamp() for rise in rises]) - 86_400.0
    # about two minutes a day, the same from each day to the next but for a few seconds
    assert 90.0 < np.abs(elapsed).min() <= np.abs(elapsed).max() < 180.0
    assert np.abs(np.diff(elapsed)).max() < 5.0
    on_the_clock = [rise.hour * 60 + rise.minute for rise in rises]
    assert np.abs(np.diff(on_the_clock)).max() > 50


def test_a_year_at_once_is_each_day_alone_and_takes_under_a_second() -> None:
    days = [date(2025, 1, 1) + timedelta(days=i) for i in range(365)]
    began = time.process_time()
    paths = sun_paths(days, **UPLAND)
    assert time.process_time() - began < 2.0  # 0.5 s measured; four times that on a slow machine
    assert [path.day for path in paths] == days
    for i in (0, 100, 364):
        alone = sun_path(days[i], **UPLAND)
        assert paths[i].at(30_000.0) == pytest.approx(alone.at(30_000.0), abs=1e-6)
        assert paths[i].semidiameter_deg == pytest.approx(alone.semidiameter_deg, abs=1e-9)
    assert sun_paths([], **UPLAND) == []


def test_asked_for_again_it_is_the_same_path_and_any_other_is_not() -> None:
    first = sun_path(date(2025, 3, 20), **UPLAND, height_m=100.0)
    assert sun_path(date(2025, 3, 20), **UPLAND, height_m=100.0) is first
    others = [
        sun_path(date(2025, 3, 21), **UPLAND, height_m=100.0),
        sun_path(date(2025, 3, 20), **UPLAND, height_m=900.0),
        sun_path(date(2025, 3, 20), **UPLAND, height_m=100.0, temperature_c=-10.0),
        sun_path(date(2025, 3, 20), lon_deg=-24.0, lat_deg=54.5, height_m=100.0),
    ]
    assert all(np.any(other.at(20_000.0) != np.array(first.at(20_000.0))) for other in others)


def test_disc_is_wider_in_january_than_in_july() -> None:
    january, july = sun_paths([date(2025, 1, 3), date(2025, 7, 3)], **UPLAND)
    # the distances of both hardly differ from year to year
    near_au, far_au = tables.APSIDES_AU.values()
    unit_deg = tables.SEMIDIAMETER_AT_UNIT_ARCSEC / 3600.0
    assert january.semidiameter_deg == pytest.approx(unit_deg / near_au, abs=3e-5)
    assert july.semidiameter_deg == pytest.approx(unit_deg / far_au, abs=3e-5)


def test_air_is_passed_on() -> None:
    cold = sun_path(date(2025, 3, 20), **UPLAND, temperature_c=-20.0, pressure_hpa=1040.0)
    usual = sun_path(date(2025, 3, 20), **UPLAND)
    high = sun_path(date(2025, 3, 20), **UPLAND, height_m=2000.0)
    t_s = 5.65 * 3600.0
    assert cold.at(t_s)[1] > usual.at(t_s)[1] > high.at(t_s)[1]
    assert high.pressure_hpa == pytest.approx(795.0, abs=0.1)


@pytest.mark.parametrize("evening", [False, True])
def test_from_one_altitude_up_to_another(evening: bool) -> None:
    path = sun_path(date(2025, 3, 20), **UPLAND, evening=evening)
    begin, end = path.rise(6.0, -2.0)
    assert path.at([begin, end])[1] == pytest.approx([-2.0, 6.0], abs=1e-3)
    assert begin < end
    # from its lowest, and to its highest
    low, high = path.rise(89.0)
    each = np.arange(0.0, path.length_s, 60.0)
    altitude = path.at(each)[1]
    assert abs(low - each[np.argmin(altitude[: np.argmax(altitude)])]) <= 60.0
    assert abs(high - each[np.argmax(altitude)]) <= 60.0
    # where it never is, there is nothing between
    assert path.rise(-60.0) == (low, low)


def test_a_place_or_a_day_that_is_not() -> None:
    with pytest.raises(TerrainError, match=r"99\.0, .* is not a place"):
        sun_path(date(2025, 3, 20), lon_deg=0.0, lat_deg=99.0)
    with pytest.raises(TerrainError, match="there was no 2011-12-30 in Pacific/Apia"):
        sun_path(date(2011, 12, 30), lon_deg=-171.76, lat_deg=-13.83)


def test_start_is_in_local_time() -> None:
    path = sun_path(date(2025, 1, 1), lon_deg=-157.4, lat_deg=1.9)
    assert path.start.isoformat() == "2025-01-01T00:00:00+14:00"
    assert path.start.astimezone(UTC) == datetime(2024, 12, 31, 10, tzinfo=UTC)


@pytest.mark.parametrize("place", PLACES)
def test_an_evening_is_the_same_day_from_its_end(place: str) -> None:
    lon, lat, day = PLACES[place]
    there = {"lon_deg": lon, "lat_deg": lat, "height_m": 500.0}
    back, on = sun_path(day, evening=True, **there), sun_path(day, **there)
    t_s = np.random.default_rng(5).uniform(0.0, back.length_s, 300)
    for here, forward in zip(back.at(t_s), on.at(back.length_s - t_s), strict=True):
        turns = (here - forward) / 360.0
        assert np.abs(turns - np.round(turns)).max() < 1e-9
    assert back.east_at(t_s) == pytest.approx(-on.east_at(back.length_s - t_s), abs=1e-9)
    assert (back.evening, on.evening) == (True, False)
    moments = [back.time(t) for t in t_s]
    assert [on.seconds(moment) for moment in moments] == pytest.approx(
        back.length_s - t_s, abs=1e-5
    )
    assert [back.seconds(moment) for moment in moments] == pytest.approx(t_s, abs=1e-5)
    assert back.time(0.0) == on.time(on.length_s)


def test_on_an_evening_the_sun_comes_up_in_the_west_before_it_passes_noon() -> None:
    days = [date(2025, 3, 20), date(2025, 10, 26)]
    for path in sun_paths(days, evening=True, lon_deg=-3.1, lat_deg=54.5):
        (rise, _) = crossings(lambda t, path=path: path.at(t)[1], 0.0, path.length_s, 600.0)
        noon = next(
            each for each in crossings(path.east_at, 0.0, path.length_s, 600.0) if not each.rising
        )
        assert rise.rising
        assert rise.t_s < noon.t_s
        assert path.time(rise.t_s).hour in (16, 18)
        assert 240.0 < float(path.at(rise.t_s)[0]) < 280.0
        assert path.time(noon.t_s).hour in (11, 12)


def test_a_day_worked_out_with_others_is_the_same_as_alone_and_is_kept() -> None:
    days = [date(2031, 5, 1) + timedelta(days=n) for n in range(3)]
    alone = [sun_path(day, **UPLAND) for day in days]
    place = UPLAND | {"lon_deg": UPLAND["lon_deg"] + 1e-9}
    together = sun_paths(days, **place)
    moments = np.linspace(0.0, 80_000.0, 50)
    for one, other in zip(alone, together, strict=True):
        np.testing.assert_allclose(one.true_at(moments), other.true_at(moments), atol=1e-8)
    assert all(sun_path(day, **place) is path for day, path in zip(days, together, strict=True))
