"""Clocks as they are read: rounded, with their zones, on the days on which they change."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from terrain.words.clocks import at_local, clock, exact, iso, plus_minus, to_second, zone_of


@pytest.mark.parametrize(
    ("zone", "shown"),
    [
        ("Europe/London", "05:00:00 BST"),
        ("Etc/GMT+2", "02:00:00 UTC-02"),
        ("Pacific/Kiritimati", "18:00:00 UTC+14"),
        ("Etc/GMT", "04:00:00 GMT"),
        ("Asia/Kathmandu", "09:45:00 UTC+0545"),
    ],
)
def test_the_clock_as_it_is_read(zone: str, shown: str) -> None:
    assert at_local(datetime(2025, 7, 1, 3, 59, 59, 700_000, tzinfo=UTC), ZoneInfo(zone)) == shown


def test_the_hour_that_comes_twice_is_told_apart() -> None:
    zone = ZoneInfo("Europe/London")
    first = datetime(2025, 10, 26, 0, 30, tzinfo=UTC)
    assert at_local(first, zone) == "01:30:00 BST"
    assert at_local(first + timedelta(hours=1), zone) == "01:30:00 GMT"
    # and reckoned right when it is given in local time already
    assert at_local((first + timedelta(hours=1)).astimezone(zone), zone) == "01:30:00 GMT"


def test_a_clock_without_a_zone_is_refused() -> None:
    with pytest.raises(ValueError, match="no time zone"):
        at_local(datetime(2025, 7, 1), ZoneInfo("Etc/GMT"))


def test_a_moment_is_rounded_over_the_change_of_the_clock() -> None:
    zone = ZoneInfo("Europe/London")
    last = datetime(2026, 3, 29, 0, 59, 59, 700_000, tzinfo=zone)
    assert iso(last) == "2026-03-29T02:00:00+01:00"
    assert (clock(last), exact(last)) == ("02:00", "02:00:00")
    assert to_second(last).utcoffset() == timedelta(hours=1)
    assert to_second(last - timedelta(seconds=0.3)).second == 59


def test_zones_without_letters_are_told_by_their_offset() -> None:
    assert zone_of(datetime(2026, 10, 13, 5, tzinfo=ZoneInfo("Etc/GMT+2"))) == "UTC−02"
    assert zone_of(datetime(2026, 10, 13, 5, tzinfo=ZoneInfo("Europe/London"))) == "BST"


def test_a_standard_deviation_keeps_two_figures() -> None:
    assert plus_minus(89.4) == "± 89 s"
    assert plus_minus(90.0) == "± 1.5 min"
