"""The figures of a sheet in words: clock times, spans, distances, angles, places."""

from __future__ import annotations

import datetime as dt
import math
from zoneinfo import ZoneInfo

from terrain.ground.places import Spot
from terrain.sun.clock import at_local

__all__ = [
    "away",
    "clock",
    "distance",
    "exact",
    "in_place",
    "iso",
    "plus_minus",
    "signed",
    "to_second",
    "zone_of",
]


def to_second(moment: dt.datetime) -> dt.datetime:
    """A moment rounded to the whole second, as a clock shows it."""
    return (moment + dt.timedelta(seconds=0.5)).replace(microsecond=0)


def clock(moment: dt.datetime) -> str:
    """Hour and minute, as a clock without seconds shows a moment that is rounded to the second."""
    return f"{to_second(moment):%H:%M}"


def exact(moment: dt.datetime) -> str:
    """Hour, minute and second, rounded to the second."""
    return f"{to_second(moment):%H:%M:%S}"


def iso(moment: dt.datetime) -> str:
    """A moment rounded to the second, with its offset, as ISO 8601 has it."""
    return to_second(moment).isoformat(timespec="seconds")


def zone_of(moment: dt.datetime) -> str:
    """What the zone of a local moment is called, or its offset.

    >>> zone_of(dt.datetime(2025, 7, 1, 5, tzinfo=ZoneInfo("Europe/London")))
    'BST'
    """
    zone = moment.tzinfo
    if not isinstance(zone, ZoneInfo):
        return f"UTC{moment:%z}"
    return at_local(moment, zone).split()[-1].replace("-", "−")


def plus_minus(seconds: float) -> str:
    """A standard deviation: seconds up to a minute and a half, else minutes.

    >>> plus_minus(31.4), plus_minus(150.0)
    ('± 31 s', '± 2.5 min')
    """
    return f"± {seconds:.0f} s" if seconds < 90.0 else f"± {seconds / 60.0:.1f} min"


def distance(metres: float) -> str:
    """Kilometres to the tenth, or metres to the ten where it is less than one such tenth.

    >>> distance(2345.0), distance(32.0)
    ('2.3 km', '30 m')
    """
    return f"{metres / 1000.0:.1f} km" if metres >= 95.0 else f"{10 * round(metres / 10.0)} m"


def signed(degrees: float, decimals: int = 1) -> str:
    """An angle with its sign.

    >>> signed(-0.67), signed(-0.01)
    ('−0.7°', '0.0°')
    """
    # nothing is neither above nor below
    rounded = round(degrees, decimals) + 0.0
    return f"{rounded:{'+' if rounded else ''}.{decimals}f}°".replace("-", "−")


def away(widths: float) -> str:
    """How far beside something, in widths of the sun.

    >>> away(-0.72)
    '0.7 sun widths to the left'
    """
    if math.isnan(widths):
        return ""
    return f"{abs(widths):.1f} sun widths to the {'right' if widths > 0 else 'left'}"


def in_place(spot: Spot) -> str:
    """Latitude and longitude to about a metre, with the sign that other programs read.

    >>> in_place(Spot(lon_deg=-24.06420, lat_deg=54.4066))
    '54.40660, -24.06420'
    """
    return f"{spot.lat_deg:.5f}, {spot.lon_deg:.5f}"
