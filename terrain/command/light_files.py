"""What `terrain light` found on one morning or evening, and the files it writes of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import geopandas as gpd
import pandas as pd

import terrain
from terrain.command.report import saved
from terrain.errors import TerrainError
from terrain.light.valleys import all_ground
from terrain.show.files.rows import no_formula
from terrain.show.files.whole import whole_file
from terrain.words.figures import percent

if TYPE_CHECKING:
    from terrain.show.map.light import LightPages

_MOST_FRAMES: Final = 200
_SHARES_EVERY_MIN: Final = 5.0


@dataclass(frozen=True, kw_only=True)
class LightFound:
    """When the sun comes on one morning, or goes on one evening, in some valleys and everywhere.

    disc_words: how much of the sun counts. every_min: from one contour to the next; as suits the
    map unless given. around, across_m: the place in the middle of the pictures and how far round
    it they reach; unless both are given, the valleys are shown, or else all the ground. frames: a
    picture for each time besides the sheet of them.
    """

    area_name: str
    country: terrain.Country
    arrival: terrain.Arrival
    valleys: tuple[terrain.Valley, ...]
    disc_words: str
    every_min: float | None
    around: terrain.Spot | None
    across_m: float | None
    frames: bool = False

    @cached_property
    def everywhere(self) -> tuple[terrain.Valley, ...]:
        """The valleys, and all the ground."""
        return (*self.valleys, *all_ground(self.country))

    @cached_property
    def table(self) -> pd.DataFrame:
        """When each is lit, as `terrain.valley_times` has it."""
        return terrain.valley_times(self.arrival, self.everywhere)

    @property
    def rows(self) -> list[dict[str, Any]]:
        """The rows of the table, each with its name."""
        return [{"name": str(name), **row} for name, row in self.table.iterrows()]

    def left_out(self) -> Iterator[str]:
        """What the answer does not hold, a sentence each."""
        area_km2, share = self.arrival.unknown()
        which, where = (
            ("last", "where the sun goes behind")
            if self.arrival.evening
            else ("first", "to which the sun comes over")
        )
        if area_km2:
            yield (
                f"Not known when: {area_km2:.1f} km², {percent(share)} of all, {where} "
                "unknown ground alone."
            )
        yield self.arrival.left_out().sentence(f"the {which} sun")

    @cached_property
    def pages(self) -> LightPages:
        """What is drawn."""
        from terrain.show.map.extent import extent_round
        from terrain.show.map.light import LightPages

        shown = None
        if self.around is not None and self.across_m is not None:
            shown = extent_round(self.country.dem.grid, self.around, self.across_m)
        lit = terrain.LitGround(
            dem=self.country.dem,
            arrival=self.arrival,
            mist=self.country.mist,
            valleys=self.valleys,
            extent=shown,
        )
        return LightPages(area_name=self.area_name, lit=lit, every_min=self.every_min)

    def check_frames(self) -> None:
        """TerrainError where the pictures would be too many."""
        if self.every_min is not None and len(self.pages.times) > _MOST_FRAMES:
            raise TerrainError(
                f"a picture every {self.every_min:g} minutes makes {len(self.pages.times)} of "
                f"them: ask for fewer than {_MOST_FRAMES} by a wider step"
            )

    def draw(self, path: Path) -> None:
        """Draw the map of contours, and beside it the light at its times if a step was given."""
        times = self.table.iloc[: len(self.valleys)]
        figure = self.pages.contours(times, self.disc_words, list(self.left_out()))
        terrain.save_picture(figure, path)
        if self.every_min is None:
            return
        sheet = path.with_name(f"{path.stem}-sheet{path.suffix}")
        terrain.save_picture(self.pages.sheet(), sheet)
        saved(sheet)
        for name, figure in self.pages.moments() if self.frames else ():
            frame = path.with_name(f"{path.stem}-{name}{path.suffix}")
            terrain.save_picture(figure, frame)
            saved(frame)

    def lines(self) -> gpd.GeoDataFrame:
        """The contours, with their clock times."""
        lines = self.pages.lit.arrival.edges(self.pages.times)
        moments = list(lines["time"])
        clock = [f"{moment:%H:%M:%S}".removesuffix(":00") for moment in moments]
        lines = lines.assign(time=[moment.isoformat(timespec="seconds") for moment in moments])
        lines.insert(0, "clock", clock)
        return lines

    def save_shares(self, path: Path) -> None:
        """Write the share of each valley that is lit, against time."""
        times = self.arrival.clock_times(self.every_min or _SHARES_EVERY_MIN, share=1.0)
        shares = terrain.valley_shares(self.arrival, self.everywhere, times).round(4)
        shares.index = shares.index.map(lambda time: time.isoformat(timespec="seconds"))
        shares.columns = shares.columns.map(no_formula)
        with whole_file(path) as partial:
            shares.to_csv(partial, index_label="time")
