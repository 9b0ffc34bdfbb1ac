"""The days that a command line means, by the calendar at a place: one of them, or a span.

What is left to the calendar begins with the next morning that is not past (see `next_day`), and a
note says which days were taken. Days that are past are taken where they are asked for.
"""

from __future__ import annotations

import datetime as dt
from contextlib import suppress
from typing import Final

from terrain.command.report import aside
from terrain.errors import TerrainError
from terrain.ground.places import Spot
from terrain.words.clocks import long_day, short_day

NEXT: Final = "next"
"""What a year is called that has the next morning for its first."""

_WEEKDAYS: Final = (
    *("monday", "tuesday", "wednesday", "thursday", "friday"),
    *("saturday", "sunday"),
)
_LEAST_LETTERS: Final = 3


def day_meant(text: str | None, place: Spot, *, evening: bool = False) -> dt.date:
    """The day of `YYYY-MM-DD` or of a word, or else that of the next morning, or evening."""
    from terrain.sun.calendar import next_day, now_at

    if text is None:
        day = next_day(place.lon_deg, place.lat_deg, evening=evening)
        aside(f"note: no date was given: the next {_half(evening)} is that of {long_day(day)}")
        return day
    with suppress(ValueError):
        return dt.date.fromisoformat(text)
    day = _day_called(text, now_at(place.lon_deg, place.lat_deg).date())
    aside(f"note: {text} is {long_day(day)}")
    return day


def _half(evening: bool) -> str:
    return "evening" if evening else "morning"


def _day_called(text: str, today: dt.date) -> dt.date:
    """Today, tomorrow, or the next day of a weekday's name or its beginning, which may be today."""
    word = text.strip().casefold()
    coming = [today + dt.timedelta(days=ahead) for ahead in range(len(_WEEKDAYS))]
    if word in ("today", "tomorrow"):
        return coming[word == "tomorrow"]
    for day in coming:
        if len(word) >= _LEAST_LETTERS and _WEEKDAYS[day.weekday()].startswith(word):
            return day
    raise TerrainError(
        f"{text!r} is not a date: give YYYY-MM-DD, today, tomorrow or a weekday, such as saturday"
    )


def days_of_year(text: str, place: Spot, *, evening: bool = False) -> tuple[dt.date, dt.date]:
    """The twelve months from the next morning on, or what is not past of a calendar year.

    A year that is all past is whole: it was asked for.
    """
    from terrain.sun.calendar import calendar_year, next_day, twelve_months

    nearest, year = next_day(place.lon_deg, place.lat_deg, evening=evening), _number(text)
    if year is None:
        return twelve_months(nearest)
    first, last = calendar_year(year)
    if not first < nearest <= last:
        return first, last
    halves = f"{_half(evening)}s of {year} before {short_day(nearest)}"
    aside(f"note: the {halves} are past and left out")
    return nearest, last


def year_meant(text: str, place: Spot, *, evening: bool = False) -> int:
    """A calendar year for all its days, or the one in which most of the next twelve months lie."""
    from terrain.sun.calendar import main_year

    year = _number(text)
    if year is None:
        year = main_year(days_of_year(text, place, evening=evening))
        aside(
            f"note: most of the next twelve months lie in {year}, so its days are shown; in the "
            "years beside it each shifts by a day at most"
        )
    return year


def _number(year: str) -> int | None:
    """The number of a calendar year; None for the twelve months to come."""
    if year.strip().casefold() == NEXT:
        return None
    try:
        return int(year)
    except ValueError as error:
        raise TerrainError(f"{year!r} is not a year: give one such as 2026, or {NEXT}") from error


def days_between(
    first: str | None,
    last: str | None,
    place: Spot,
    *,
    count: int | None = None,
    evening: bool = False,
) -> tuple[dt.date, dt.date]:
    """From a first day, or else the next morning, to a last, or else so many or twelve months."""
    from terrain.sun.calendar import calendar_year, next_day, span_of, twelve_months

    begins = (
        next_day(place.lon_deg, place.lat_deg, evening=evening)
        if first is None
        else day_meant(first, place)
    )
    # beyond the years that are known the calendar itself ends
    calendar_year(begins.year)
    if last is not None:
        return span_of((begins, day_meant(last, place)))
    return (begins, begins + dt.timedelta(days=count - 1)) if count else twelve_months(begins)
