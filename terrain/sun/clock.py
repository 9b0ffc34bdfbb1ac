"""The clock on the wall at a place: its time zone, and when its calendar days begin and end.

A local day is 24 hours long, 23 or 25 where the clocks change, and nothing at all where a zone
has moved across the date line. It runs from the first instant that bears its date to the first
that bears the next one.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from functools import cache, lru_cache
from typing import Final
from zoneinfo import ZoneInfo

from terrain.compiling import compiled_when_called
from terrain.errors import TerrainError
from terrain.ground.places import check_place

# what it compiles takes a second, and is called near the border of a zone alone
with compiled_when_called():
    from timezonefinder import TimezoneFinder

_FIRST_YEAR: Final = 1900
_LAST_YEAR: Final = 2200


@lru_cache(maxsize=4096)
def local_zone(lon_deg: float, lat_deg: float) -> ZoneInfo:
    """The time zone in use at a place, found without a network; out at sea one of whole hours.

    lon_deg, lat_deg: WGS 84 degrees. Raises TerrainError for a place that is not on the earth.
    Source: the time zone boundaries that come with timezonefinder.

    >>> local_zone(-24.0, 54.4).key
    'Etc/GMT+2'
    """
    check_place(lon_deg, lat_deg)
    name = _finder().timezone_at(lng=lon_deg, lat=lat_deg)
    if name is None:
        raise TerrainError(f"no time zone is known at {lat_deg:g}, {lon_deg:g}")
    return ZoneInfo(name)


@cache
def _finder() -> TimezoneFinder:
    """The finder of time zones, which takes most of a second to make."""
    return TimezoneFinder()


def local_day(day: date, zone: ZoneInfo) -> tuple[datetime, datetime]:
    """The first instant of a calendar day and the first of the next one, both in UTC.

    day: the date on the calendar at the place. Raises TerrainError for a date that the zone has
    skipped, or that lies too far off for the earth's rotation to be known (before 1900, after
    2200).

    >>> start, end = local_day(date(2025, 3, 30), ZoneInfo("Europe/London"))
    >>> end - start
    datetime.timedelta(seconds=82800)
    """
    if not _FIRST_YEAR <= day.year <= _LAST_YEAR:
        raise TerrainError(f"{day:%Y-%m-%d} is not between {_FIRST_YEAR} and {_LAST_YEAR}")
    start, end = _first_instant(day, zone), _first_instant(day + timedelta(days=1), zone)
    if start == end:
        raise TerrainError(f"there was no {day:%Y-%m-%d} in {zone.key}: the calendar skipped it")
    return start, end


def _first_instant(day: date, zone: ZoneInfo) -> datetime:
    """The first instant whose date in the zone is `day` or later, in UTC."""
    midnight = datetime.combine(day, time(), tzinfo=zone)
    reached = midnight.astimezone(UTC)
    if reached.astimezone(zone).replace(tzinfo=None) == midnight.replace(tzinfo=None):
        return reached
    # The clocks jumped over this midnight. Reckoned by the clock from after the jump (fold=1) it
    # lies before the jump, by the clock from before it lies at the jump or after: halve between.
    before = midnight.replace(fold=1).astimezone(UTC)
    while reached - before > timedelta(seconds=1):
        middle = before + timedelta(seconds=(reached - before) // timedelta(seconds=2))
        if middle.astimezone(zone).date() < day:
            before = middle
        else:
            reached = middle
    return reached


def shifted(moment: datetime, by: timedelta) -> datetime:
    """A moment so much later, by the clock of its own zone, over any change of that clock.

    Adding a time span to an aware datetime counts on the wall's clock, which skips or repeats an
    hour where the clocks change; here the span is real time. moment: timezone-aware.

    >>> before = datetime(2026, 3, 29, 4, 40, tzinfo=ZoneInfo("Europe/London"))
    >>> f"{shifted(before, timedelta(hours=-4)):%d %H:%M %Z}"
    '28 23:40 GMT'
    """
    return (moment.astimezone(UTC) + by).astimezone(moment.tzinfo)
