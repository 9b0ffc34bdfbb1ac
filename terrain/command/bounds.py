"""What a number may be, asked in one way on a command line and in an area file."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from terrain.errors import TerrainError

# units in a message, by what the help calls them
UNITS: Final = {"M": "m", "KM": "km", "MM": "mm", "DEG": "degrees", "MIN": "minutes"} | {
    "°C": "°C",
    "KM/H": "km/h",
    "DAYS": "days",
}


@dataclass(frozen=True, kw_only=True)
class Bounds:
    """The least and the most that a number may be; above: that it must be more than the least."""

    least: float = -math.inf
    most: float = math.inf
    above: bool = False
    unit: str = ""

    def check(self, name: str, value: float) -> float:
        """The number; TerrainError, which calls it by a name, for one that is out of bounds."""
        try:
            value = float(value)
        except OverflowError as error:
            raise TerrainError(f"{name} is a number too long to be one: give {self}") from error
        if not math.isfinite(value):
            raise TerrainError(f"{name} {value} is no number to reckon with: give {self}")
        low = value <= self.least if self.above else value < self.least
        if low or value > self.most:
            raise TerrainError(f"{name} {value:g} cannot be: give {self}")
        return value

    def __str__(self) -> str:
        """In words: "0 m or more", "more than 0 up to 160 °"."""
        unit = f" {self.unit}" if self.unit else ""
        low, high = math.isfinite(self.least), math.isfinite(self.most)
        if low and high:
            return f"{'more than ' if self.above else ''}{self.least:g} to {self.most:g}{unit}"
        if low:
            return f"{'more than ' if self.above else ''}{self.least:g}{unit}" + (
                "" if self.above else " or more"
            )
        return f"{self.most:g}{unit} or less" if high else f"a plain number{unit and ' of'}{unit}"


HEIGHT_M: Final = Bounds(least=-500.0, most=9000.0, unit="m")
DEPTH_M: Final = Bounds(least=0.0, most=9000.0, above=True, unit="m")
SENSOR_MM: Final = Bounds(least=1.0, most=1000.0, unit="mm")
LENS_MM: Final = Bounds(least=1.0, most=10_000.0, unit="mm")
MOST_NAME: Final = 200


def number(name: str, text: str, bounds: Bounds | None = None) -> float:
    """The number that a text is; TerrainError where it is none or out of bounds."""
    try:
        value = float(text)
    except ValueError as error:
        raise TerrainError(f"{name} {text[:60]!r} is not a number") from error
    return (bounds or Bounds()).check(name, value)
