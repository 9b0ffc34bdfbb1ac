"""Days on the calendar at a place: which is next, and spans of them."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from terrain.errors import TerrainError
from terrain.sun.calendar import (
    calendar_year,
    main_year,
    next_day,
    now_at,
    span_label,
    span_of,
    twelve_months,
)
from tests.conftest import SetClock

ISLE = -24.0, 54.4
LONDON = -0.1, 51.5
AUCKLAND = 174.76, -36.85
HONOLULU = -157.86, 21.31
KIRITIMATI = -157.4, 1.9
TROMSO = 18.96, 69.65


def test_now_is_one_moment_on_many_clocks() -> None:
    before = datetime.now(UTC)
    clocks = [now_at(*place) for place in (KIRITIMATI, HONOLULU)]
    after = datetime.now(UTC)
    assert all(before <= clock <= after for clock in clocks)
    # the same longitude, and a whole day between them: IANA time zone database
    assert [clock.utcoffset() for clock in clocks] == [timedelta(hours=14), timedelta(hours=-10)]
    assert clocks[0].date() == clocks[1].date() + timedelta(days=1)


# At the isle a minute or two from the sunrise and the sunset of the example of `twilight`;
# elsewhere hours from either.
@pytest.mark.parametrize(
    ("place", "utc", "evening", "expected"),
    [
        (ISLE, "2025-06-21T04:59", False, "2025-06-21"),  # the sun rises at 03:00 UTC-2
        (ISLE, "2025-06-21T05:02", False, "2025-06-22"),
        (ISLE, "2025-06-21T22:12", True, "2025-06-21"),  # and sets at 20:14
        (ISLE, "2025-06-21T22:16", True, "2025-06-22"),
        (AUCKLAND, "2026-03-09T12:00", False, "2026-03-10"),  # an hour after midnight there
        (AUCKLAND, "2026-03-09T20:00", False, "2026-03-11"),
        (AUCKLAND, "2026-03-09T20:00", True, "2026-03-10"),
        (HONOLULU, "2026-03-10T05:00", False, "2026-03-10"),  # still the day before, at seven
        (HONOLULU, "2026-03-10T05:00", True, "2026-03-10"),
        (LONDON, "2026-12-31T12:00", False, "2027-01-01"),
        (LONDON, "2028-02-28T12:00", False, "2028-02-29"),
        (LONDON, "2028-02-29T12:00", False, "2028-03-01"),
        (LONDON, "2027-02-28T12:00", False, "2027-03-01"),
        (TROMSO, "2026-12-20T22:00", False, "2026-12-20"),  # no sun on that day
        (TROMSO, "2026-06-20T12:00", False, "2026-06-20"),  # and no night on this one
    ],
)
def test_the_next_morning_or_evening(
    set_clock: SetClock, place: tuple[float, float], utc: str, evening: bool, expected: str
) -> None:
    set_clock(utc)
    assert next_day(*place, evening=evening) == date.fromisoformat(expected)


@given(st.dates(min_value=date(1900, 1, 1), max_value=date(2198, 12, 31)))
def test_twelve_months_end_before_the_day_comes_again(first: date) -> None:
    """By a walk from day to day."""
    begins, last = twelve_months(first)
    ends_with = (2, 28) if (first.month, first.day) == (2, 29) else None
    day = first
    while True:
        after = day + timedelta(days=1)
        if (after.month, after.day) == (first.month, first.day) or (
            ends_with == (day.month, day.day)
        ):
            break
        day = after
    assert (begins, last) == (first, day)


@pytest.mark.parametrize(
    ("first", "last"),
    [
        ("2026-01-01", "2026-12-31"),
        ("2026-11-29", "2027-11-28"),
        ("2028-02-29", "2029-02-28"),
        ("2027-03-01", "2028-02-29"),
        ("2027-02-28", "2028-02-27"),
    ],
)
def test_twelve_months(first: str, last: str) -> None:
    assert twelve_months(date.fromisoformat(first))[1] == date.fromisoformat(last)


def test_the_year_in_which_most_of_a_span_lies() -> None:
    assert main_year(twelve_months(date(2026, 11, 29))) == 2027
    assert main_year(twelve_months(date(2026, 6, 1))) == 2026
    assert main_year((date(2026, 12, 31), date(2027, 1, 2))) == 2027
    assert all(main_year(calendar_year(year)) == year for year in (1900, 2027, 2028, 2199))


def test_a_year_or_a_span() -> None:
    span = date(2026, 12, 1), date(2027, 2, 1)
    assert span_of(2028) == (date(2028, 1, 1), date(2028, 12, 31))
    assert span_of(span) == span
    assert span_label(span) == "the days from 2026-12-01 to 2027-02-01"
    assert span_label((date(2026, 1, 1), date(2027, 12, 31))).startswith("the days")
    with pytest.raises(TerrainError, match="2026-12-01, is before the first, 2027-02-01"):
        span_of(span[::-1])
    for year in (1899, 2200):
        with pytest.raises(TerrainError, match=f"1900 to 2199, got {year}"):
            span_of(year)
