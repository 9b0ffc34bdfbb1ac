"""The mists of a desk in the words of its address: `level:280`, `valley:60:400` or `none`."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import terrain
from terrain.errors import TerrainError


@dataclass(frozen=True)
class MistSaid:
    """A mist as an address says it: level to a top, along the valley floors, or none."""

    top_m: float | None = None
    depth_m: float | None = None
    ceiling_m: float | None = None

    def over(self, country: terrain.Country) -> terrain.Mist | None:
        """The mist over some ground; errors of `level_mist` and `valley_mist`."""
        if self.top_m is not None:
            return terrain.level_mist(country.dem, self.top_m, levels=country.levels_m)
        if self.depth_m is not None:
            return terrain.valley_mist(country.dem, self.depth_m, ceiling_m=self.ceiling_m)
        return None

    @property
    def text(self) -> str:
        """The same in the words of an address."""
        if self.top_m is not None:
            return f"level:{self.top_m:g}"
        if self.depth_m is not None:
            ceiling = "" if self.ceiling_m is None else f"{self.ceiling_m:g}"
            return f"valley:{self.depth_m:g}:{ceiling}"
        return "none"

    @property
    def record(self) -> dict[str, Any] | None:
        """The same for the page."""
        if self.top_m is not None:
            return {"kind": "level", "top_m": self.top_m}
        if self.depth_m is not None:
            return {"kind": "valley", "depth_m": self.depth_m, "ceiling_m": self.ceiling_m}
        return None


def mist_said(text: str) -> MistSaid:
    """The mist of an address; TerrainError for another text.

    >>> mist_said("valley:60:400")
    MistSaid(top_m=None, depth_m=60.0, ceiling_m=400.0)
    """
    kind, *parts = text.split(":")
    try:
        numbers = [float(part) for part in parts if part]
    except ValueError:
        numbers = []
    if not all(map(math.isfinite, numbers)):
        numbers = []
    if kind == "none" and not parts:
        return MistSaid()
    if kind == "level" and len(numbers) == 1:
        return MistSaid(top_m=numbers[0])
    if kind == "valley" and len(numbers) in (1, 2):
        return MistSaid(depth_m=numbers[0], ceiling_m=numbers[1] if numbers[1:] else None)
    raise TerrainError(f"mist={text} is no mist: give level:M, valley:DEPTH:CEILING or none")
