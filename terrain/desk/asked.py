"""What a request of the page asks for, each part checked as it is read."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from terrain.errors import TerrainError

_ENDS: Final = ("morning", "evening")


@dataclass(frozen=True)
class Asked:
    """The parts of a request by their names; TerrainError in one line for one that is none."""

    said: Mapping[str, str]

    def text(self, name: str, default: str | None = None) -> str:
        """A part as it was given, or else its default."""
        value = self.said.get(name) or default
        if value is None:
            raise TerrainError(f"{name}= was not given")
        return value

    def number(
        self, name: str, default: float | None = None, *, least: float, most: float
    ) -> float:
        """A part that is a number within bounds."""
        text = self.text(name, None if default is None else repr(default))
        try:
            value = float(text)
        except ValueError:
            value = math.nan
        if not least <= value <= most:
            raise TerrainError(f"{name}={text} is not a number from {least:g} to {most:g}")
        return value

    def whole(self, name: str, *, least: int, most: int) -> int:
        """A part that is a whole number within bounds."""
        value = self.number(name, least=least, most=most)
        if value != int(value):
            raise TerrainError(f"{name}={value:g} is not a whole number")
        return int(value)

    def flag(self, name: str) -> bool:
        """Whether a part is 1; 0 where it is not given."""
        return self.whole(name, least=0, most=1) == 1 if self.said.get(name) else False

    def day(self, name: str = "date") -> dt.date:
        """A part that is a date."""
        text = self.text(name)
        try:
            return dt.date.fromisoformat(text)
        except ValueError:
            raise TerrainError(f"{name}={text} is not a date: give YYYY-MM-DD") from None

    @property
    def evening(self) -> bool:
        """Whether the evening is asked about, by `end`; the morning unless given."""
        end = self.text("end", _ENDS[0])
        if end not in _ENDS:
            raise TerrainError(f"end={end} is neither {' nor '.join(_ENDS)}")
        return end == _ENDS[1]
