"""Places and moments in words, for files that other programs read."""

from __future__ import annotations

import datetime as dt

from terrain.ground.places import Spot

__all__ = ["clock", "plain", "spot_label"]


def clock(moment: dt.datetime) -> str:
    """A moment by the clock of its zone to the nearest second, with how far that is ahead of UTC.

    >>> from zoneinfo import ZoneInfo
    >>> summer = dt.datetime(2026, 10, 25, 0, 59, 59, 700000, tzinfo=dt.UTC)
    >>> clock(summer.astimezone(ZoneInfo("Europe/London")))
    '01:00:00+00:00'
    """
    nearest = moment.astimezone(dt.UTC) + dt.timedelta(seconds=0.5)
    return nearest.astimezone(moment.tzinfo).isoformat(timespec="seconds").partition("T")[2]


def plain(text: str) -> str:
    """A text without the control characters that XML and calendars cannot hold.

    >>> plain("Great\\x00\\tHoo\\n623 m")
    'Great Hoo\\n623 m'
    """
    spaced = "".join(" " if letter.isspace() and letter != "\n" else letter for letter in text)
    return "".join(letter for letter in spaced if letter.isprintable() or letter == "\n")


def spot_label(spot: Spot, kind: str) -> str:
    """The name of a spot, or else what it is and where.

    >>> spot_label(Spot(lon_deg=-24.0, lat_deg=54.4), "start")
    'start at 54.4000, -24.0000'
    """
    return spot.name or f"{kind} at {spot.lat_deg:.4f}, {spot.lon_deg:.4f}"
