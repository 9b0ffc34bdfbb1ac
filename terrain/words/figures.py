"""Figures in words: distances, angles, places."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from terrain.ground.places import Spot

_EIGHTHS = (
    *("north", "north-east", "east", "south-east"),
    *("south", "south-west", "west", "north-west"),
)


def distance(metres: float) -> str:
    """Kilometres to the tenth, or metres to the ten where it is less than one such tenth.

    >>> distance(2345.0), distance(32.0)
    ('2.3 km', '30 m')
    """
    return f"{metres / 1000.0:.1f} km" if metres >= 95.0 else f"{10 * round(metres / 10.0)} m"


def against(row: Mapping[str, Any]) -> str:
    """What the summit stands against in a row of a table, and how far off that is.

    >>> against({"backdrop": "ground", "backdrop_m": 20400.0}), against({"backdrop": "sky"})
    ('ground, 20.4 km', 'sky')
    """
    if row["backdrop"] == "sky":
        return str(row["backdrop"])
    return f"{row['backdrop']}, {distance(row['backdrop_m'])}"


def top_name(name: str, height_m: float) -> str:
    """What a top is called, by its height where it has no name.

    >>> top_name("", 811.7)
    'top 812'
    """
    return name or f"top {height_m:.0f}"


def signed(degrees: float, decimals: int = 1) -> str:
    """An angle with its sign.

    >>> signed(-0.67), signed(-0.01)
    ('−0.7°', '0.0°')
    """
    # nothing is neither above nor below
    rounded = round(degrees, decimals) + 0.0
    return f"{rounded:{'+' if rounded else ''}.{decimals}f}°".replace("-", "−")


def celsius(degrees: float) -> str:
    """A temperature to the whole degree.

    >>> celsius(-1.2), celsius(-0.2)
    ('−1 °C', '0 °C')
    """
    return f"{round(degrees) + 0:.0f} °C".replace("-", "−")


def eighth(azimuth_deg: float) -> str:
    """The nearest of the eight chief directions.

    >>> eighth(350.0), eighth(140.0)
    ('north', 'south-east')
    """
    return _EIGHTHS[round(azimuth_deg / 45.0) % 8]


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


def spot_label(spot: Spot, kind: str) -> str:
    """The name of a spot, or else what it is and where.

    >>> spot_label(Spot(lon_deg=-24.0, lat_deg=54.4), "start")
    'start at 54.4000, -24.0000'
    """
    return spot.name or f"{kind} at {spot.lat_deg:.4f}, {spot.lon_deg:.4f}"


def capital(words: str) -> str:
    """Words with a capital at the beginning.

    >>> capital("mist pours over")
    'Mist pours over'
    """
    return words[:1].upper() + words[1:]


def sentence(words: str) -> str:
    """Words with a capital at the beginning, and a full stop.

    >>> sentence("mist pours over")
    'Mist pours over.'
    """
    return f"{capital(words)}."


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


def whole(value: float) -> str:
    """A number without decimals, `-` where it is not known.

    >>> whole(12.6), whole(-0.3), whole(float("nan"))
    ('13', '0', '-')
    """
    # nothing is neither above nor below
    return f"{round(value, 0) + 0.0:.0f}" if value == value else "-"


def count_of(number: int, thing: str, several: str = "") -> str:
    """A number of things in words.

    >>> count_of(1, "island"), count_of(2, "pass", "passes")
    ('1 island', '2 passes')
    """
    return f"{number} {thing if number == 1 else several or f'{thing}s'}"


def first_of(number: int, count: int, which: str = "first") -> str:
    """What a title says where a table shows only so many of a number of things.

    >>> first_of(45, 20, "highest"), first_of(3, 20)
    (', the 20 highest', '')
    """
    return f", the {count} {which}" if number > count else ""


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


def credit_note(credit: str) -> list[str]:
    """A line that names whom the ground is owed to; none where it is owed to nobody.

    >>> credit_note("© the surveyors")
    ['Ground: © the surveyors.']
    """
    return [sentence(f"Ground: {credit}")] if credit else []
