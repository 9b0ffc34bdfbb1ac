"""What a terminal shows of moments, spans, figures and places: a line, or a cell of a table."""

from __future__ import annotations

import datetime as dt

__all__ = [
    "beside",
    "clock",
    "count_of",
    "day_spans",
    "height_run",
    "minutes",
    "percent",
    "place",
    "plus_minus",
    "short_day",
    "whole",
    "zone",
]


def clock(moment: dt.datetime | None) -> str:
    """A moment to the nearest second as the local clock shows it, with the zone.

    >>> clock(dt.datetime(2026, 1, 5, 7, 12, 5, tzinfo=dt.timezone(dt.timedelta(hours=-2))))
    '07:12:05 (UTC-2)'
    """
    if moment is None:
        return "-"
    nearest = moment + dt.timedelta(microseconds=500_000)
    return f"{nearest:%H:%M:%S} ({zone(moment)})"


def zone(moment: dt.datetime) -> str:
    """The zone of a moment, by its letters or its distance from UTC."""
    name = moment.tzname() or ""
    if name.isalpha():
        return name
    hours = (moment.utcoffset() or dt.timedelta()).total_seconds() / 3600.0
    return f"UTC{hours:+g}"


def minutes(seconds: float) -> str:
    """A spell of time in the unit that suits it.

    >>> minutes(75.0), minutes(40.4)
    ('1.2 min', '40 s')
    """
    return f"{seconds:.0f} s" if seconds < 60.0 else f"{seconds / 60.0:.1f} min"


def plus_minus(moment: dt.datetime | None, seconds: float) -> str:
    """A moment by the clock with its standard deviation, seconds."""
    return f"{clock(moment)} ± {minutes(seconds)}"


def short_day(day: dt.date) -> str:
    """A date without its weekday.

    >>> short_day(dt.date(2026, 10, 3))
    '3 October 2026'
    """
    return f"{day.day} {day:%B %Y}"


def whole(value: float) -> str:
    """A number without decimals, `-` where it is not known.

    >>> whole(12.6), whole(float("nan"))
    ('13', '-')
    """
    return f"{value:.0f}" if value == value else "-"


def beside(offset_deg: float) -> str:
    """How far to the side of a summit, degrees.

    >>> beside(-0.72)
    '0.72° left'
    """
    return f"{abs(offset_deg):.2f}° {'right' if offset_deg > 0 else 'left'}"


def place(lat_deg: float, lon_deg: float) -> str:
    """Latitude and longitude to about ten metres.

    >>> place(54.40661, -24.0635)
    '54.4066, -24.0635'
    """
    return f"{lat_deg:.4f}, {lon_deg:.4f}"


def count_of(number: int, thing: str, several: str = "") -> str:
    """A number of things in words.

    >>> count_of(1, "island"), count_of(2, "pass", "passes")
    ('1 island', '2 passes')
    """
    return f"{number} {thing if number == 1 else several or f'{thing}s'}"


def day_spans(days: str) -> str:
    """Days as a table of them has them, `2026-03-03..2026-03-04, 2026-05-13`, for a person.

    >>> day_spans("2026-02-27..2026-03-01, 2026-10-13")
    '27 Feb to 1 Mar, 13 Oct'
    """
    spans = [[dt.date.fromisoformat(day) for day in span.split("..")] for span in days.split(", ")]
    return ", ".join(" to ".join(f"{day.day} {day:%b}" for day in span) for span in spans)


def height_run(low_m: float, high_m: float) -> str:
    """Heights from one to another, metres, or the one where they are the same."""
    return f"{low_m:.0f}" if low_m == high_m else f"{low_m:.0f} to {high_m:.0f}"


def percent(share: float) -> str:
    """A share in percent; `-` where there is none at all.

    >>> percent(0.0), percent(0.0004), percent(0.125)
    ('-', '< 0.1 %', '12 %')
    """
    if share != share or share == 0.0:
        return "-"
    if share < 0.001:
        return "< 0.1 %"
    return f"{100.0 * share:.1f} %" if share < 0.1 else f"{100.0 * share:.0f} %"
