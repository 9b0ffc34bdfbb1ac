"""Days on the calendar at a place: the one it is now, the next to come, and spans of them.

A span is its first and its last day, both included.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Final

from terrain.errors import TerrainError

Span = tuple[date, date]

_FIRST_YEAR: Final = 1900
_LAST_YEAR: Final = 2199


def now_at(lon_deg: float, lat_deg: float) -> datetime:
    """This moment by the clock of a place; nothing else here looks at the computer's clock."""
    from terrain.sun.clock import local_zone

    return datetime.now(local_zone(lon_deg, lat_deg))


def next_day(lon_deg: float, lat_deg: float, *, evening: bool = False) -> date:
    """The date at a place of the next morning that is not past, or evening: today or tomorrow.

    A morning is past once the sun is up over a level horizon, an evening once it is down; where it
    does neither on this day, today is not past.
    """
    from terrain.sun.twilight import twilight

    now = now_at(lon_deg, lat_deg)
    light = twilight(now.date(), lon_deg=lon_deg, lat_deg=lat_deg)
    moment = light.sunset if evening else light.sunrise
    return now.date() + timedelta(days=moment is not None and moment < now)


def calendar_year(year: int) -> Span:
    """All days of a year; TerrainError for one too far off for the earth's rotation to be known."""
    if not _FIRST_YEAR <= year <= _LAST_YEAR:
        raise TerrainError(f"the year must be {_FIRST_YEAR} to {_LAST_YEAR}, got {year}")
    return date(year, 1, 1), date(year, 12, 31)


def twelve_months(first: date) -> Span:
    """The twelve months that begin on a day; those from 29 February end on 28 February.

    >>> [str(day) for day in twelve_months(date(2027, 3, 1))]
    ['2027-03-01', '2028-02-29']
    """
    leaps = (first.month, first.day) == (2, 29)
    again = date(first.year + 1, 3, 1) if leaps else first.replace(year=first.year + 1)
    return first, again - timedelta(days=1)


def main_year(span: Span) -> int:
    """The calendar year of the middle of a span."""
    first, last = span
    return (first + (last - first) / 2).year


def span_of(year: int | Span) -> Span:
    """All days of a year, or a span as it is; TerrainError for a last day before the first."""
    if isinstance(year, int):
        return calendar_year(year)
    first, last = year
    if last < first:
        raise TerrainError(f"the last day, {last}, is before the first, {first}")
    return year


def span_label(span: Span) -> str:
    """What a span is called after `in` or `of`: a calendar year by its number.

    >>> span_label(calendar_year(2026)), span_label(twelve_months(date(2026, 11, 29)))
    ('2026', 'the days from 2026-11-29 to 2027-11-28')
    """
    first, last = span
    if span == (date(first.year, 1, 1), date(first.year, 12, 31)):
        return str(first.year)
    return f"the days from {first} to {last}"
