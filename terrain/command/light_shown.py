"""What `terrain light` found on one morning, and what of it is to be shown."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final

import terrain
from terrain.errors import NoAnswer, TerrainError
from terrain.words.terminal import zone

if TYPE_CHECKING:
    import pandas as pd

    from terrain.show.map.extent import Frame

__all__ = ["MOST_CONTOURS", "LightShown", "SunPart"]

MOST_CONTOURS: Final = 24
_STEPS_MIN: Final = (1.0, 2.0, 5.0, 10.0, 15.0, 20.0, 30.0, 60.0)


class SunPart(StrEnum):
    """Which part of the sun's disc must be seen."""

    ANY = "any"
    HALF = "half"
    FULL = "full"


_PART_WORDS: Final = {
    SunPart.ANY: "any part of the disc",
    SunPart.HALF: "half of the disc",
    SunPart.FULL: "all of the disc",
}


@dataclass(frozen=True, kw_only=True)
class LightShown:
    """The light of one morning on some ground, and what is to be shown of it.

    around, across_m: the place in the middle of the pictures and how far round it they reach;
    unless both are given, the valleys are shown, or else all the ground.
    """

    area_name: str
    dem: terrain.Dem
    mist: terrain.Mist | None
    arrival: terrain.Arrival
    valleys: tuple[terrain.Valley, ...]
    disc: SunPart
    around: terrain.Spot | None
    across_m: float | None

    @property
    def disc_words(self) -> str:
        """How much of the sun counts."""
        return _PART_WORDS[self.disc]

    @property
    def day_words(self) -> str:
        """The date as one writes it."""
        return f"{self.arrival.day.day} {self.arrival.day:%B %Y}"

    @property
    def zone(self) -> str:
        """The zone of the clock at noon, by its letters or its distance from UTC."""
        return zone(self.arrival.moment(43200.0))

    @cached_property
    def everywhere(self) -> tuple[terrain.Valley, ...]:
        """The valleys, and after them all ground, or all mist and all ground clear of it."""
        from terrain.light.valleys import all_ground

        return (*self.valleys, *all_ground(self.dem, self.mist))

    @cached_property
    def table(self) -> pd.DataFrame:
        """When each is lit, as `terrain.valley_times` has it."""
        return terrain.valley_times(self.arrival, self.everywhere)

    @property
    def rows(self) -> list[dict[str, Any]]:
        """The rows of the table, each with its name."""
        return [{"name": str(name), **row} for name, row in self.table.iterrows()]

    @cached_property
    def frame_m(self) -> Frame:
        """What the pictures show, in map coordinates."""
        from terrain.show.map.extent import frame_round
        from terrain.show.map.light_ground import frame_of

        if self.around is None or self.across_m is None:
            return frame_of(self.dem, self.valleys)
        if not self.across_m > 0.0:
            raise TerrainError(f"a map that reaches {self.across_m / 1000.0:g} km is none")
        return frame_round(self.dem.grid, self.around.lon_deg, self.around.lat_deg, self.across_m)

    def times(self, every: float | None) -> list[dt.datetime]:
        """The clock times of the contours: at that step, or at one that suits the map."""
        from terrain.show.map.light_ground import cells_in

        shown = cells_in(self.dem, self.frame_m)
        steps = _STEPS_MIN if every is None else (every,)
        times: list[dt.datetime] = []
        for step in steps:
            times = self.arrival.clock_times(step, cells=shown)
            if len(times) <= MOST_CONTOURS:
                break
        if not times:
            raise NoAnswer(
                f"the sun comes to no ground of the map on {self.day_words}: nothing to draw"
            )
        return times

    def left_out(self) -> Iterator[str]:
        """What the answer does not hold, a sentence each."""
        area_km2, share = self.arrival.unknown()
        if area_km2:
            yield (
                f"Not known when: {area_km2:.1f} km², {100.0 * share:.2g} % of all, to which the "
                "sun comes over unknown ground alone."
            )
        yield self.arrival.left_out().sentence("the first sun")

    def fields(self) -> dict[str, Any]:
        """For scripts."""
        rows = [
            {key: None if value != value else value for key, value in row.items()}
            for row in self.rows
        ]
        return {
            "date": self.arrival.day,
            "disc": self.disc.value,
            "mist_top_m": None if self.mist is None else self.mist.range_m[1],
            "valleys": rows,
        }
