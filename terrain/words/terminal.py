"""What a terminal shows of moments: by the clock of the place, with its zone."""

from __future__ import annotations

import datetime as dt

from terrain.words.clocks import exact, spell

__all__ = ["clock", "plus_minus", "zone"]


def clock(moment: dt.datetime | None) -> str:
    """A moment to the nearest second as the local clock shows it, with the zone.

    >>> clock(dt.datetime(2026, 1, 5, 7, 12, 5, tzinfo=dt.timezone(dt.timedelta(hours=-2))))
    '07:12:05 (UTC-2)'
    """
    if moment is None:
        return "-"
    return f"{exact(moment)} ({zone(moment)})"


def zone(moment: dt.datetime) -> str:
    """The zone of a moment, by its letters or its distance from UTC."""
    name = moment.tzname() or ""
    if name.isalpha():
        return name
    hours = (moment.utcoffset() or dt.timedelta()).total_seconds() / 3600.0
    return f"UTC{hours:+g}"


def plus_minus(moment: dt.datetime | None, seconds: float) -> str:
    """A moment by the clock with its standard deviation, seconds."""
    return f"{clock(moment)} ± {spell(seconds)}"
