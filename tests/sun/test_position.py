from __future__ import annotations

import os
import subprocess
import sys
from datetime import UTC, datetime, timedelta, timezone

import numpy as np
import pandas as pd
import pytest

from terrain.errors import TerrainError
from terrain.sun.position import (
    declination_deg,
    equation_of_time_min,
    semidiameter_at,
    sun_position,
    true_direction,
)
from tests.authorities import sun_spa as nrel
from tests.authorities import sun_tables as tables
from tests.sun.astropy_sun import Floats, astropy_altaz, drawn_everywhere
from tests.sun.nrel_example import NREL_PLACE, NREL_TIME, nrel_intermediates


def test_nrel_intermediates() -> None:
    wrong = {
        name: (ours, published)
        for name, (ours, published) in nrel_intermediates().items()
        if abs(ours - published) > 1.1e-5
    }
    assert wrong == {}


def test_nrel_example() -> None:
    sun = sun_position(
        [NREL_TIME],
        **NREL_PLACE,
        pressure_hpa=nrel.PRESSURE_HPA,
        temperature_c=nrel.TEMPERATURE_C,
    )
    # our own delta t, 64.5 s by the polynomial against the example's 67 s, moves the sun 3e-5 deg
    assert sun.altitude_deg[0] == pytest.approx(nrel.TRUE_ALTITUDE_DEG, abs=5e-5)
    assert sun.azimuth_deg[0] == pytest.approx(nrel.AZIMUTH_DEG, abs=5e-5)
    # NREL's refraction is Saemundsson's formula; Bennett's agrees with it to 0.1 arcminute
    assert sun.apparent_altitude_deg[0] == pytest.approx(90.0 - nrel.ZENITH_DEG, abs=0.1 / 60.0)
    assert declination_deg([NREL_TIME])[0] == pytest.approx(nrel.DECLINATION_DEG, abs=2e-5)
    assert sun.semidiameter_deg[0] == pytest.approx(959.63 / 3600.0 / nrel.RADIUS_AU, abs=1e-7)


@pytest.fixture(scope="module")
def everywhere() -> tuple[list[datetime], Floats, Floats, Floats]:
    return drawn_everywhere()


# Measured over the 500: 0.0010 degrees at most in altitude and in azimuth, 0.0002 in the median;
# 0.0003 at most where universal time is given instead of UTC. Azimuth is scaled by the cosine of
# the altitude, to the angle that it makes on the sky: near the zenith an azimuth by itself means
# nothing.
def test_against_astropy(everywhere: tuple[list[datetime], Floats, Floats, Floats]) -> None:
    times, lon, lat, height = everywhere
    azimuth, altitude = astropy_altaz(*everywhere)
    ours = [
        sun_position([t], lon_deg=x, lat_deg=y, height_m=z)
        for t, x, y, z in zip(times, lon, lat, height, strict=True)
    ]
    our_altitude = np.array([sun.altitude_deg[0] for sun in ours])
    our_azimuth = np.array([sun.azimuth_deg[0] for sun in ours])
    turn = (our_azimuth - azimuth + 180.0) % 360.0 - 180.0
    assert np.abs(our_altitude - altitude).max() < 0.003
    assert np.abs(turn * np.cos(np.radians(altitude))).max() < 0.003


def test_altitude_follows_from_declination_and_azimuth() -> None:
    times = pd.date_range("2025-01-01", periods=200, freq="41h", tz="UTC")
    lat = np.radians(54.4)
    sun = sun_position(times, lon_deg=-24.0, lat_deg=54.4)
    altitude, azimuth = np.radians(sun.altitude_deg), np.radians(sun.azimuth_deg)
    sine = np.sin(lat) * np.sin(altitude) + np.cos(lat) * np.cos(altitude) * np.cos(azimuth)
    # parallax, 0.0024 degrees at most, is all the difference
    assert np.degrees(np.arcsin(sine)) == pytest.approx(declination_deg(times), abs=0.0025)


def test_semidiameter_over_the_year() -> None:
    times = np.array([moment.timestamp() for moment in tables.APSIDES_AU])
    expected = [tables.SEMIDIAMETER_AT_UNIT_ARCSEC / au for au in tables.APSIDES_AU.values()]
    assert semidiameter_at(times) * 3600.0 == pytest.approx(expected, abs=0.01)


def test_equation_of_time_puts_the_sun_on_the_meridian() -> None:
    noon = datetime(2025, 11, 3, 12, tzinfo=UTC)
    (ahead_min,) = equation_of_time_min([noon])
    meridian = noon - timedelta(minutes=float(ahead_min))
    assert sun_position([meridian], lon_deg=0.0, lat_deg=54.0).azimuth_deg[0] == pytest.approx(
        180.0, abs=0.01
    )


def test_equation_of_time_of_the_example() -> None:
    (ahead_min,) = equation_of_time_min([datetime(2003, 10, 17, 19, 30, 30, tzinfo=UTC)])
    assert ahead_min == pytest.approx(nrel.EQUATION_OF_TIME_MIN, abs=0.005)


def test_the_air_is_that_of_the_height_unless_given() -> None:
    moment = [datetime(2025, 3, 20, 6, 10, tzinfo=UTC)]
    place = {"lon_deg": 0.0, "lat_deg": 51.5}
    low = sun_position(moment, **place)
    high = sun_position(moment, **place, height_m=3000.0)
    given = sun_position(moment, **place, height_m=3000.0, pressure_hpa=1013.25)
    assert high.apparent_altitude_deg < low.apparent_altitude_deg
    assert given.apparent_altitude_deg == pytest.approx(low.apparent_altitude_deg, abs=1e-5)


def test_height_enters_the_parallax() -> None:
    place = {"lon_deg": 0.0, "lat_deg": 51.5}
    moment = [datetime(2025, 3, 20, 6, 10, tzinfo=UTC)]
    low, high = (sun_position(moment, **place, height_m=h) for h in (0.0, 9000.0))
    # near the horizon the sun stands lower by its parallax, 8.794", times height over radius
    lower_deg = low.altitude_deg[0] - high.altitude_deg[0]
    assert lower_deg == pytest.approx(8.794 / 3600.0 * 9000.0 / 6_371_000.0, rel=0.02)


def test_times_of_every_kind_are_the_same_times() -> None:
    moment = datetime(2025, 3, 20, 6, tzinfo=UTC)
    eastern = moment.astimezone(timezone(timedelta(hours=5)))
    index = pd.DatetimeIndex([moment]).tz_convert("Asia/Kathmandu")
    results = [
        sun_position(times, lon_deg=0.0, lat_deg=51.5).azimuth_deg[0]
        for times in ([moment], (eastern,), [pd.Timestamp(moment)], index, index.as_unit("s"))
    ]
    assert results == [results[0]] * 5
    assert sun_position([], lon_deg=0.0, lat_deg=51.5).azimuth_deg.shape == (0,)


@pytest.mark.parametrize(
    "times", [[datetime(2025, 3, 20, 6)], pd.DatetimeIndex([datetime(2025, 3, 20, 6)])]
)
def test_a_time_without_a_zone_is_refused(times) -> None:
    with pytest.raises(ValueError, match=r"2025-03-20 06:00:00.*no time zone"):
        sun_position(times, lon_deg=0.0, lat_deg=0.0)


@pytest.mark.parametrize(
    ("lon_deg", "lat_deg", "message"),
    [(0.0, 90.1, "90.1, 0.0 is not"), (181.0, 0.0, "0.0, 181.0 is not"), (0.0, np.nan, "nan, 0.0")],
)
def test_a_place_not_on_the_earth_is_refused(lon_deg: float, lat_deg: float, message: str) -> None:
    moment = datetime(2025, 3, 20, tzinfo=UTC)
    with pytest.raises(TerrainError, match=message):
        sun_position([moment], lon_deg=lon_deg, lat_deg=lat_deg)


def test_results_are_read_only() -> None:
    sun = sun_position([datetime(2025, 3, 20, tzinfo=UTC)], lon_deg=0.0, lat_deg=0.0)
    with pytest.raises(ValueError, match="read-only"):
        sun.azimuth_deg[0] = 0.0


@pytest.mark.slow
def test_pvlib_with_its_own_compiler_on_gives_the_same() -> None:
    program = (
        "from datetime import datetime, UTC\n"
        "from terrain.sun.position import sun_position\n"
        "s = sun_position([datetime(2025, 3, 20, 6, tzinfo=UTC)], lon_deg=0.0, lat_deg=51.5)\n"
        "print(s.azimuth_deg[0])\n"
    )
    moment = [datetime(2025, 3, 20, 6, tzinfo=UTC)]
    expected = sun_position(moment, lon_deg=0.0, lat_deg=51.5).azimuth_deg[0]
    run = subprocess.run(
        [sys.executable, "-c", program],
        env=os.environ | {"PVLIB_USE_NUMBA": "1"},
        capture_output=True,
        text=True,
        check=True,
    )
    assert float(run.stdout) == pytest.approx(expected, abs=1e-9)


def test_true_direction_takes_places_that_go_with_the_times() -> None:
    unix_s = np.array([1.75e9, 1.76e9])
    lon, lat = np.array([10.0, 20.0]), np.array([50.0, -50.0])
    azimuth, altitude = true_direction(unix_s, lon, lat, np.zeros(2))
    for i in range(2):
        alone = true_direction(unix_s[i : i + 1], lon[i], lat[i], 0.0)
        assert (azimuth[i], altitude[i]) == pytest.approx((alone[0][0], alone[1][0]), abs=1e-9)
