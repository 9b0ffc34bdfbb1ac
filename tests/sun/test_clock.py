from __future__ import annotations

import os
import subprocess
import sys
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from timezonefinder import TimezoneFinder

from terrain.errors import TerrainError
from terrain.sun.clock import local_day, local_zone


@pytest.mark.parametrize(
    ("lon_deg", "lat_deg", "name"),
    [
        (-3.1, 54.5, "Europe/London"),
        (178.44, -18.14, "Pacific/Fiji"),
        (-157.4, 1.9, "Pacific/Kiritimati"),
        (-24.0, 54.4, "Etc/GMT+2"),  # the open Atlantic
        (180.0, 0.0, "Etc/GMT-12"),
        (0.0, 90.0, "Etc/GMT"),
    ],
)
def test_zones(lon_deg: float, lat_deg: float, name: str) -> None:
    assert local_zone(lon_deg, lat_deg).key == name


def test_the_map_of_zones_is_not_compiled_as_it_is_loaded() -> None:
    program = (
        "import sys\n"
        "from numba.core.dispatcher import Dispatcher\n"
        "from terrain.sun.clock import local_zone\n"
        "names = [name for name in sys.modules if name.startswith('timezonefinder')]\n"
        "parts = [vars(sys.modules[name]) for name in names]\n"
        "kernels = [f for part in parts for f in part.values() if isinstance(f, Dispatcher)]\n"
        "print(len(kernels) > 0, any(kernel.signatures for kernel in kernels))\n"
        "print(local_zone(-24.0, 54.4))\n"
    )
    found = subprocess.run([sys.executable, "-c", program], check=True, capture_output=True)
    assert found.stdout.split() == [b"True", b"False", b"Etc/GMT+2"]


def test_both_sides_of_the_date_line_are_one_place() -> None:
    assert local_zone(180.0, -16.8) == local_zone(-180.0, -16.8)


def test_every_zone_on_the_map_has_a_clock_without_a_system_database() -> None:
    program = (
        "import zoneinfo; from timezonefinder import TimezoneFinder\n"
        "assert zoneinfo.TZPATH == ()\n"
        "print(len([zoneinfo.ZoneInfo(n) for n in TimezoneFinder().timezone_names]))\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", program],
        env=os.environ | {"PYTHONTZPATH": ""},
        capture_output=True,
        text=True,
        check=True,
    )
    assert int(run.stdout) == len(TimezoneFinder().timezone_names) > 400


@pytest.mark.parametrize(("lon_deg", "lat_deg"), [(190.0, 0.0), (0.0, -91.0), (np.nan, 0.0)])
def test_a_place_not_on_the_earth_is_refused(lon_deg: float, lat_deg: float) -> None:
    with pytest.raises(TerrainError, match="is not a place"):
        local_zone(lon_deg, lat_deg)


# The clock changes below: IANA time zone database.
@pytest.mark.parametrize(
    ("zone", "day", "hours", "starts_utc"),
    [
        ("Europe/London", date(2025, 3, 29), 24.0, "2025-03-29T00:00"),
        ("Europe/London", date(2025, 3, 30), 23.0, "2025-03-30T00:00"),
        ("Europe/London", date(2025, 10, 26), 25.0, "2025-10-25T23:00"),
        ("Australia/Lord_Howe", date(2025, 4, 6), 24.5, "2025-04-05T13:00"),
        ("Pacific/Kiritimati", date(2025, 1, 1), 24.0, "2024-12-31T10:00"),
        ("Etc/GMT+2", date(2025, 1, 1), 24.0, "2025-01-01T02:00"),
        # midnight itself is skipped: the day begins at 01:00
        ("America/Sao_Paulo", date(2018, 11, 4), 23.0, "2018-11-04T03:00"),
        ("Asia/Beirut", date(2022, 3, 27), 23.0, "2022-03-26T22:00"),
        # the clock goes back from midnight to 23:00, which comes twice
        ("America/Sao_Paulo", date(2018, 2, 17), 25.0, "2018-02-17T02:00"),
        ("America/Sao_Paulo", date(2018, 2, 18), 24.0, "2018-02-18T03:00"),
        # the clock goes back from 01:00 to midnight, which comes twice
        ("America/Havana", date(2025, 11, 2), 25.0, "2025-11-02T04:00"),
        # the clock jumps from 23:30 to 00:30
        ("America/Toronto", date(1919, 3, 30), 23.5, "1919-03-30T05:00"),
        ("America/Toronto", date(1919, 3, 31), 23.5, "1919-03-31T04:30"),
    ],
)
def test_days(zone: str, day: date, hours: float, starts_utc: str) -> None:
    start, end = local_day(day, ZoneInfo(zone))
    assert start == datetime.fromisoformat(starts_utc).replace(tzinfo=UTC)
    assert (end - start) / timedelta(hours=1) == hours
    assert start.tzinfo is UTC
    assert end.tzinfo is UTC


@pytest.mark.parametrize(
    "zone", ["Europe/London", "America/Sao_Paulo", "America/Havana", "Africa/Cairo", "Asia/Beirut"]
)
def test_days_follow_each_other_and_hold_their_own_date(zone: str) -> None:
    clock = ZoneInfo(zone)
    spans = [local_day(date(2017, 1, 1) + timedelta(days=i), clock) for i in range(3000)]
    for i, (start, end) in enumerate(spans):
        day = date(2017, 1, 1) + timedelta(days=i)
        assert start.astimezone(clock).date() == day
        assert (start - timedelta(seconds=1)).astimezone(clock).date() < day
        assert i + 1 == len(spans) or end == spans[i + 1][0]


@pytest.mark.parametrize(
    ("zone", "day"),
    [("Pacific/Apia", date(2011, 12, 30)), ("Pacific/Kwajalein", date(1993, 8, 21))],
)
def test_a_day_that_the_calendar_skipped(zone: str, day: date) -> None:
    with pytest.raises(TerrainError, match=f"there was no {day} in {zone}"):
        local_day(day, ZoneInfo(zone))


@pytest.mark.parametrize("day", [date(1900, 1, 1), date(2200, 12, 31)])
def test_the_first_and_the_last_day(day: date) -> None:
    start, end = local_day(day, ZoneInfo("Etc/GMT"))
    assert (start.date(), end - start) == (day, timedelta(days=1))


@pytest.mark.parametrize("day", [date(1899, 12, 31), date(2201, 1, 1), date.max, date.min])
def test_a_day_too_far_off(day: date) -> None:
    with pytest.raises(TerrainError, match="is not between 1900 and 2200"):
        local_day(day, ZoneInfo("Etc/GMT"))
