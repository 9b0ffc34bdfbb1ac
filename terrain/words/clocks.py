"""Moments, zones, spans and days in words: every clock that is shown, printed or written."""

from __future__ import annotations

import datetime as dt
from typing import Final
from zoneinfo import ZoneInfo

_MINUTES_FROM_S: Final = 10.0
"""Of so great a standard deviation a clock shows no seconds (common practice, no source)."""


def to_second(moment: dt.datetime) -> dt.datetime:
    """A moment rounded to the whole second, as the clock of its zone shows it."""
    nearest = moment.astimezone(dt.UTC) + dt.timedelta(seconds=0.5)
    return nearest.replace(microsecond=0).astimezone(moment.tzinfo)


def clock(moment: dt.datetime) -> str:
    """Hour and minute, as a clock without seconds shows a moment that is rounded to the second."""
    return f"{to_second(moment):%H:%M}"


def exact(moment: dt.datetime) -> str:
    """Hour, minute and second, rounded to the second."""
    return f"{to_second(moment):%H:%M:%S}"


def supported(moment: dt.datetime, uncertainty_s: float) -> str:
    """A moment as exactly as its standard deviation, seconds, bears: to the second or the minute.

    Where there is none, NaN, it is told to the second.

    >>> sharp = dt.datetime(2026, 10, 13, 6, 9, 50, tzinfo=dt.UTC)
    >>> supported(sharp, 4.0), supported(sharp, 31.0)
    ('06:09:50', '06:10')
    """
    return hour_minute(moment) if uncertainty_s >= _MINUTES_FROM_S else exact(moment)


def hour_minute(moment: dt.datetime) -> str:
    """A moment to the nearest minute as the clock of its zone shows it.

    >>> hour_minute(dt.datetime(2026, 10, 13, 6, 9, 50, tzinfo=dt.UTC))
    '06:10'
    """
    nearest = moment.astimezone(dt.UTC) + dt.timedelta(seconds=30)
    return f"{nearest.astimezone(moment.tzinfo):%H:%M}"


def iso(moment: dt.datetime) -> str:
    """A moment rounded to the second, with its offset, as ISO 8601 has it."""
    return to_second(moment).isoformat(timespec="seconds")


def clock_of_zone(moment: dt.datetime) -> str:
    """The clock of a moment's zone to the nearest second, with how far that is ahead of UTC.

    >>> summer = dt.datetime(2026, 10, 25, 0, 59, 59, 700000, tzinfo=dt.UTC)
    >>> clock_of_zone(summer.astimezone(ZoneInfo("Europe/London")))
    '01:00:00+00:00'
    """
    return iso(moment).partition("T")[2]


def at_local(moment: dt.datetime, zone: dt.tzinfo | None = None) -> str:
    """A moment as the clock of a zone shows it, to the nearest second, with the zone's name.

    moment: timezone-aware, ValueError if it is not. zone: its own unless given.

    >>> late = dt.datetime(2025, 7, 1, 3, 59, 59, 600000, tzinfo=dt.UTC)
    >>> at_local(late, ZoneInfo("Europe/London"))
    '05:00:00 BST'
    """
    if moment.tzinfo is None:
        raise ValueError(f"{moment} has no time zone: give an aware datetime")
    shown = to_second(moment.astimezone(zone or moment.tzinfo))
    name = shown.tzname() or ""
    # zones without letters of their own are called by their offset alone, such as "-02"
    return f"{shown:%H:%M:%S} {'UTC' + name if name[:1] in ('+', '-') else name}"


def zone_of(moment: dt.datetime) -> str:
    """What the zone of a local moment is called, or its offset.

    >>> zone_of(dt.datetime(2025, 7, 1, 5, tzinfo=ZoneInfo("Europe/London")))
    'BST'
    """
    if not isinstance(moment.tzinfo, ZoneInfo):
        return f"UTC{moment:%z}"
    return at_local(moment).split()[-1].replace("-", "−")


def zone_in_hours(moment: dt.datetime) -> str:
    """The zone of a moment, by its letters or its hours from UTC."""
    name = moment.tzname() or ""
    if name.isalpha():
        return name
    hours = (moment.utcoffset() or dt.timedelta()).total_seconds() / 3600.0
    return f"UTC{hours:+g}"


def clock_and_zone(moment: dt.datetime | None, uncertainty_s: float = 0.0) -> str:
    """A moment as `supported` has it by the local clock, with the zone; `-` for none.

    >>> west = dt.timezone(dt.timedelta(hours=-2))
    >>> clock_and_zone(dt.datetime(2026, 1, 5, 7, 12, 5, tzinfo=west))
    '07:12:05 (UTC-2)'
    """
    if moment is None:
        return "-"
    return f"{supported(moment, uncertainty_s)} ({zone_in_hours(moment)})"


def short_day(day: dt.date) -> str:
    """A date without its weekday.

    >>> short_day(dt.date(2026, 10, 3))
    '3 October 2026'
    """
    return f"{day.day} {day:%B %Y}"


def days_from_to(first: dt.date, last: dt.date) -> str:
    """Two days with what they share said once.

    >>> days_from_to(dt.date(2026, 10, 8), dt.date(2026, 10, 18))
    '8 to 18 October 2026'
    >>> days_from_to(dt.date(2026, 12, 30), dt.date(2027, 1, 2))
    '30 December 2026 to 2 January 2027'
    """
    end = f"{last.day} {last:%B %Y}"
    if first == last:
        return end
    year = "" if first.year == last.year else f" {first.year}"
    month = "" if not year and first.month == last.month else f" {first:%B}"
    return f"{first.day}{month}{year} to {end}"


def long_day(day: dt.date) -> str:
    """A date as one writes it out.

    >>> long_day(dt.date(2026, 10, 3))
    'Saturday 3 October 2026'
    """
    return f"{day:%A} {short_day(day)}"


def day_spans(days: str) -> str:
    """Days as a table of them has them, `2026-03-03..2026-03-04, 2026-05-13`, for a person.

    >>> day_spans("2026-02-27..2026-03-01, 2026-10-13")
    '27 Feb to 1 Mar, 13 Oct'
    """
    spans = [[dt.date.fromisoformat(day) for day in span.split("..")] for span in days.split(", ")]
    return ", ".join(" to ".join(f"{day.day} {day:%b}" for day in span) for span in spans)


def span_words(seconds: float) -> str:
    """A span to the minute.

    >>> span_words(3407.0), span_words(5400.0)
    ('57 min', '1 h 30 min')
    """
    hours, rest = divmod(round(seconds / 60.0), 60)
    return f"{hours} h {rest:02d} min" if hours else f"{rest} min"


def spell(seconds: float) -> str:
    """A spell of time with two figures: seconds up to a minute and a half, else minutes.

    >>> spell(40.4), spell(150.0)
    ('40 s', '2.5 min')
    """
    return f"{seconds:.0f} s" if seconds < 90.0 else f"{seconds / 60.0:.1f} min"


def plus_minus(seconds: float) -> str:
    """A standard deviation, seconds.

    >>> plus_minus(31.4)
    '± 31 s'
    """
    return f"± {spell(seconds)}"


def moment_plus_minus(moment: dt.datetime | None, seconds: float) -> str:
    """A moment by the clock with its standard deviation, seconds."""
    return f"{clock_and_zone(moment, seconds)} {plus_minus(seconds)}"
