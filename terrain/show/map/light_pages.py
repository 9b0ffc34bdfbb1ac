"""The pictures of one morning's light: the map of its contours, and the light at each of them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Final

import pandas as pd

from terrain.errors import NoAnswer, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.light.arrival import Arrival
from terrain.light.valleys import Valley
from terrain.mist.mist import Mist
from terrain.show.map.extent import extent_round
from terrain.show.map.light import light_map_figure
from terrain.show.map.light_moment import light_frame
from terrain.show.map.lit_ground import LitGround
from terrain.words.clocks import short_day, zone_in_hours

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["LightPages"]

_MOST_CONTOURS: Final = 24
_STEPS_MIN: Final = (1.0, 2.0, 5.0, 10.0, 15.0, 20.0, 30.0, 60.0)


@dataclass(frozen=True, kw_only=True)
class LightPages:
    """What of the light of one morning is drawn.

    every_min: from one contour to the next; as suits the map unless given. around, across_m: the
    place in the middle of the pictures and how far round it they reach; unless both are given,
    the valleys are shown, or else all the ground.
    """

    area_name: str
    dem: Dem
    mist: Mist | None
    arrival: Arrival
    valleys: tuple[Valley, ...]
    every_min: float | None = None
    around: Spot | None = None
    across_m: float | None = None

    @cached_property
    def lit(self) -> LitGround:
        """What the pictures show."""
        extent = None
        if self.around is not None and self.across_m is not None:
            if not self.across_m > 0.0:
                raise TerrainError(f"a map that reaches {self.across_m / 1000.0:g} km is none")
            at, grid = self.around, self.dem.grid
            extent = extent_round(grid, at.lon_deg, at.lat_deg, self.across_m)
        return LitGround(
            dem=self.dem,
            arrival=self.arrival,
            mist=self.mist,
            valleys=self.valleys,
            extent=extent,
        )

    @cached_property
    def times(self) -> list[dt.datetime]:
        """The clock times of the contours: at the step asked for, or at one that suits the map."""
        shown = self.lit.cells.mask(self.dem.shape)
        steps = _STEPS_MIN if self.every_min is None else (self.every_min,)
        times: list[dt.datetime] = []
        for step in steps:
            times = self.arrival.clock_times(step, cells=shown)
            if len(times) <= _MOST_CONTOURS:
                break
        if not times:
            day = short_day(self.arrival.day)
            raise NoAnswer(f"the sun comes to no ground of the map on {day}: nothing to draw")
        return times

    def contours(self, table: pd.DataFrame, disc_words: str, notes: Sequence[str]) -> Figure:
        """The map whose contours are clock times.

        table: as `valley_times` has it of the valleys. disc_words: how much of the sun counts.
        """
        contours = self.times[:: -(-len(self.times) // (2 * _MOST_CONTOURS))]
        step = (contours[1] - contours[0]).total_seconds() / 60.0 if len(contours) > 1 else 0.0
        day, noon, coming = self.arrival.day, self.arrival.moment(43200.0), "when the sun comes"
        return light_map_figure(
            self.lit,
            contours,
            title=f"{self.area_name}: {coming}" if self.area_name else coming.capitalize(),
            subtitle=(
                f"{day:%A} {short_day(day)}, by the clock in {zone_in_hours(noon)}; "
                f"{disc_words}, a line every {step:g} min"
            ),
            table=table,
            notes=notes,
        )

    def moments(self) -> Iterator[tuple[str, Figure]]:
        """The light at the time of each contour, with a name for the time."""
        title = f"{self.area_name or 'The light'} on {short_day(self.arrival.day)}"
        for moment, name in zip(self.times, _names(self.times), strict=True):
            yield name, light_frame(self.lit, moment, title=title)


def _names(times: list[dt.datetime]) -> list[str]:
    """A name for each time by its clock, with seconds or the zone where it takes that.

    >>> _names([dt.datetime(2026, 10, 13, 6, 40, tzinfo=dt.UTC)])
    ['0640']
    """
    for pattern in ("%H%M", "%H%M%S"):
        names = [f"{time:{pattern}}" for time in times]
        if len(set(names)) == len(names):
            return names
    # clocks that are put back show an hour twice
    return [f"{time:%H%M%S%z}" for time in times]
