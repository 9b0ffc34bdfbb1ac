"""The options of a walk to where one stands, and the access that they ask for."""

from __future__ import annotations

from dataclasses import dataclass

import terrain
from terrain.command.area import Area
from terrain.command.options import option
from terrain.errors import TerrainError


@dataclass(frozen=True, kw_only=True)
class WalkOptions:
    """What a command line can say of the way to a vantage."""

    walk: float | None = option(
        "MIN",
        "Only places within so many minutes' walk of a start, in the dark, so as to be "
        "there before the colour begins; in an evening before the warm light.",
        above=0.0,
        most=1440.0,
    )
    start: list[str] | None = option(
        "PLACE",
        "Where a walk can begin; repeatable. The starts of the area unless given.",
        shown=False,
    )

    def starts(self, area: Area) -> list[terrain.Spot]:
        """Where a walk can begin; TerrainError where a walk is asked for and none can."""
        begins = area.starts_of(self.start)
        if self.walk is not None and not begins:
            raise TerrainError(
                "--walk needs a start: add --start with a place, or [starts] to the area"
            )
        return begins

    def access(self, area: Area, country: terrain.Country) -> terrain.Access | None:
        """How far one will walk; None where any place will do."""
        if self.walk is None:
            return None
        return terrain.Access(within_min=self.walk, paths=area.ways(), water=country.water)
