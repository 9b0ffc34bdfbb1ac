"""What the heading of a column in a sounding means: which quantity, and in which unit."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Quantity:
    """What a column may hold.

    key: our name for it, its unit included. names: the words it goes by in headings, spaces
        between them. units: from each unit it comes in, as the unit library calls it, to its
        spellings; ours first.
    example: a heading as one may write it.
    """

    key: str
    names: str
    units: dict[str, str]
    example: str


@dataclass(frozen=True, kw_only=True)
class Meaning:
    """The quantity of a heading and its unit, or what is wrong with the unit."""

    quantity: Quantity
    unit: str = ""
    trouble: str = ""

    def convert(self, values: Floats) -> Floats:
        """Values in the heading's unit, (lines,), in our unit."""
        ours = next(iter(self.quantity.units))
        if self.unit == ours:
            return values
        # loading the unit library takes over half a second
        from metpy.units import units

        converted = units.Quantity(values, self.unit).to(ours)
        return np.asarray(converted.magnitude, dtype=np.float64)


_TEMPERATURES: Final = {
    "degC": "c degc celsius degreec degreecelsius degreescelsius",
    "kelvin": "k kelvin degk",
    "degF": "f degf fahrenheit degreef degreesfahrenheit",
}

QUANTITIES: Final = (
    Quantity(
        key="pressure_hpa",
        names="pressure pres press airpressure p",
        units={
            "hectopascal": "hpa mb mbar millibar millibars",
            "pascal": "pa",
            "kilopascal": "kpa",
        },
        example="pressure_hPa",
    ),
    Quantity(
        key="height_m",
        names="height hght hgt geopotentialheight gph altitude alt elevation z",
        units={
            "meter": "m gpm metre metres meter meters",
            "kilometer": "km gpkm",
            "foot": "ft foot feet",
        },
        example="height_m",
    ),
    Quantity(
        key="temperature_c",
        names="temperature temp tmp airtemperature t",
        units=_TEMPERATURES,
        example="temperature_C",
    ),
    Quantity(
        key="dewpoint_c",
        names="dewpoint dewpointtemperature dwpt dewp td",
        units=_TEMPERATURES,
        example="dewpoint_C",
    ),
    Quantity(
        key="humidity_percent",
        names="relativehumidity humidity relh rh",
        units={"percent": "% percent pct", "dimensionless": "1 fraction"},
        example="humidity_%",
    ),
    Quantity(
        key="wind_speed_ms",
        names="windspeed wspd sknt sped speed wind ff",
        units={
            "meter/second": "m/s ms ms-1 mps",
            "knot": "kt kts kn knot knots",
            "kilometer/hour": "km/h kmh kmh-1 kph",
            "mile/hour": "mph",
        },
        example="wind speed_m/s",
    ),
    Quantity(
        key="wind_from_deg",
        names="winddirection windfrom wdir drct direction dd",
        units={"degree": "deg degree degrees degt degtrue degreestrue"},
        example="wind direction_deg",
    ),
)

# what goes without saying: a bearing is in degrees, and one name has its unit in it
_UNSAID: Final = {"sknt": "knot"} | dict.fromkeys(QUANTITIES[-1].names.split(), "degree")


def meaning_of(heading: str) -> Meaning | None:
    """The quantity and unit of a heading, None where it names nothing that is needed here.

    The unit stands in brackets or after a space, underscore, comma or colon.

    >>> [meaning_of(text).unit for text in ("dew point_C", "wind speed (m s-1)", "DRCT")]
    ['degC', 'meter/second', 'degree']
    >>> meaning_of("temperature").trouble
    "the column 'temperature' does not say its unit: write it like temperature_C"
    >>> meaning_of("ice point temperature_C") is None
    True
    """
    for name, unit_text, is_sure in _readings(heading.strip()):
        word = re.sub(r"[\s_.\-]", "", name.casefold())
        for quantity in QUANTITIES:
            if word in quantity.names.split():
                meaning = _with_unit(quantity, heading, unit_text or _UNSAID.get(word, ""))
                # `pressure change_hPa` is another column, not pressure in `change_hPa`
                if not meaning.trouble or is_sure:
                    return meaning
    return None


def _readings(heading: str) -> Iterator[tuple[str, str, bool]]:
    """The ways to part a heading into name and unit, and whether that must be a unit."""
    yield heading, "", True
    bracketed = re.fullmatch(r"(.+?)\s*[\[(](.*)[\])]", heading)
    if bracketed:
        yield bracketed[1], bracketed[2], True
    gaps = list(re.finditer(r"[\s_,:]+(?:/\s*)?", heading))
    for gap in gaps:
        yield heading[: gap.start()], heading[gap.end() :], gap is gaps[-1]


def _with_unit(quantity: Quantity, heading: str, unit_text: str) -> Meaning:
    word = re.sub(r"[\s^*·.°]", "", unit_text.casefold())
    for unit, spelt in quantity.units.items():
        if word in spelt.split():
            return Meaning(quantity=quantity, unit=unit)
    trouble = f"the column {heading!r} does not say its unit: write it like {quantity.example}"
    if unit_text:
        known = ", ".join(spelt.split()[0] for spelt in quantity.units.values())
        trouble = f"the column {heading!r} has a unit that is not known, {unit_text!r}: use {known}"
    return Meaning(quantity=quantity, trouble=trouble)
