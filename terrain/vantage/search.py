"""What all searches share: full looks at likely cells, one row a vantage, the table."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Final

import geopandas as gpd
import pandas as pd

from terrain.country import Country
from terrain.errors import NoGround, NoSun
from terrain.ground.geodesy import wrap_deg
from terrain.ground.places import Hill, Spot
from terrain.ground.tables import with_points
from terrain.sun.clock import shifted
from terrain.vantage.access import Walks, walkable, walks_to, with_starts
from terrain.vantage.limits import Limits
from terrain.vantage.pick import Progress, Row, Take, pick
from terrain.vantage.question import Question
from terrain.vantage.sea import mist_share, sun_at_best
from terrain.vantage.tops import Seas
from terrain.view.backdrops import contrast
from terrain.view.backlight import Backlight, backlight
from terrain.view.columns import columns_of
from terrain.view.look import look_for_sun
from terrain.view.nearness import BestAt, Nearness, nearness
from terrain.view.scene import Scene
from terrain.view.states import best_pose
from terrain.view.toward import clearance_m, sight_of

_NIGHT: Final = dt.timedelta(hours=6)
"""A sun that goes so soon after midnight does so in the evening of the day before."""

Best = Callable[[Scene, pd.Series], "tuple[Row, Backlight | None]"]
"""From a scene and a cell to further columns of its row and what a full look found, if it did."""


@dataclass(frozen=True, kw_only=True)
class Search:
    """A hill over its mist, the walks to it, and what is asked of its vantages."""

    seas: Seas
    walks: Walks | None

    @property
    def hill(self) -> Hill:
        """The hill that is looked at."""
        return self.seas.hill

    @property
    def asked(self) -> Question:
        """What is asked."""
        return self.seas.asked

    @property
    def also(self) -> str:
        """What is asked beside the sun and the hill, for a reason why there is nothing."""
        walk = "" if self.walks is None else f" and {self.walks.label}"
        return f"{self.seas.also}{walk}"

    def within(self, cells: pd.DataFrame, days: Sequence[dt.date]) -> pd.DataFrame:
        """The cells that can be walked to in time on one of the days; NoAnswer where none can."""
        if self.walks is None:
            return cells
        return walkable(
            *(self.walks, self.seas.country, cells, self.hill, days),
            far_m=self.asked.limits.max_distance_m,
            evening=self.asked.evening,
        )

    def looks_on(self, day: dt.date) -> Take:
        """From a cell to its row by a full look on a day."""

        def best(scene: Scene, cell: pd.Series) -> tuple[Row, Backlight | None]:
            return {}, self._lit(scene, self.asked.spot_in(cell), day)

        return partial(self.row, best)

    def likeliest(self, cells: pd.DataFrame) -> list[pd.DataFrame]:
        """Cells by their quick values, the best first, those first that may show enough mist."""
        if "mist_share" not in cells:
            cells = self.seas.with_glimpse(cells)
        ranked = self.asked.in_order(cells).reset_index(drop=True)
        if "mist_share" not in ranked:
            return [ranked]
        short = ranked["mist_share"] < self.asked.limits.mist_share
        return [ranked[~short], ranked[short]]

    def _promising(self, cells: pd.DataFrame) -> list[pd.DataFrame]:
        """Ranked cells as they are, or looked at for mist and ranked again."""
        dry = self.seas.lowest.mist is None
        return [cells] if dry or cells.empty or "mist_share" in cells else self.likeliest(cells)

    def _lit(self, scene: Scene, spot: Spot, day: dt.date) -> Backlight | None:
        return lit_on(scene, spot, day, self.asked.limits, evening=self.asked.evening)

    def row(self, best: Best, cell: pd.Series) -> Row | None:
        """The row of a cell, or None where the full look does not bear its promise out."""
        spot = self.asked.spot_in(cell)
        chosen = self.seas.chosen(cell, spot)
        if chosen is None:
            return None
        sea, top = chosen
        first, answer = best(sea.scene, cell)
        if answer is None or not self.asked.limits.accepts(answer.view.backdrop):
            return None
        walk = {} if self.walks is None else self.walks.to(answer, cell)
        if walk is None:
            return None
        contact = answer.contact
        day = shifted(contact.appears, -_NIGHT if contact.evening else dt.timedelta()).date()

        def works(scene: Scene) -> bool:
            asked = self.asked
            return near_on(scene, spot, day, asked.limits, evening=asked.evening) is not None

        band = self.seas.band(cell, top, spot, works)
        seen = sea.seen_from(answer.view) | sea.framed(answer)
        pose = {"best_pose": str(best_pose(sea.scene, answer))}
        return first | vantage_row(answer, cell) | pose | seen | band | walk

    def pick(
        self,
        batches: Iterable[pd.DataFrame],
        take: Take,
        progress: Progress = lambda share: None,
        *,
        count: int | None = None,
        missed_share: float = 0.1,
        spread: bool = False,
    ) -> list[Row]:
        """As `pick`, for as many vantages as are asked for, unless another count is given.

        spread: about the hill, so that each offers something of its own.

        missed_share: of the distance between two, so far about a cell that fails no other is
        looked at: it says little of its neighbours; one that holds speaks for them all.
        """
        grid = self.seas.country.dem.grid
        apart_cells = self.asked.limits.apart_m / grid.cell_m
        return pick(
            (part for cells in batches for part in self._promising(cells)),
            take,
            count=count or self.asked.count,
            apart_cells=apart_cells,
            missed_cells=missed_share * apart_cells,
            about=grid.cell_of(self.hill.lon_deg, self.hill.lat_deg) if spread else None,
            progress=lambda share: progress(0.3 + 0.7 * share),
        )

    def table(self, found: list[Row]) -> gpd.GeoDataFrame:
        """The rows that were found as the answer, best first."""
        table = pd.DataFrame(found)
        if self.walks is None:
            table = with_starts(table, self.asked.starts)
        answer = with_points(self.asked.ranked(table), ranked=True)
        if self.walks is not None:
            answer.attrs["starts_left_out"] = dict(self.walks.left_out)
        return answer


def search_for(country: Country, hill: Hill, asked: Question) -> Search:
    """A search for the vantages of a hill, over a mist of any kind; errors of `find_vantages`."""
    seas = Seas(country=country, hill=hill, asked=asked)
    if asked.access is None:
        return Search(seas=seas, walks=None)
    far_m = asked.limits.max_distance_m
    walks = walks_to(country, hill, asked.starts, asked.access, far_m)
    return Search(seas=seas, walks=walks)


def answer_on(
    scene: Scene,
    spot: Spot,
    day: dt.date,
    limits: Limits,
    *,
    evening: bool = False,
) -> Backlight | None:
    """What a full look from a spot finds on a day, or None where the limits are not kept."""
    answer = lit_on(scene, spot, day, limits, evening=evening)
    if answer is None or scene.mist is None:
        return answer
    aim = answer.view.azimuth_deg, answer.view.altitude_deg
    share = mist_share(scene, spot, *aim, limits.field_deg)
    return answer if share >= limits.mist_share else None


def lit_on(
    scene: Scene, spot: Spot, day: dt.date, limits: Limits, *, evening: bool = False
) -> Backlight | None:
    """As `answer_on`, but for the mist in the frame."""
    near = near_on(scene, spot, day, limits, evening=evening)
    return None if near is None else backlight(scene, near.view, day, evening=evening)


def near_on(
    scene: Scene, spot: Spot, day: dt.date, limits: Limits, *, evening: bool = False
) -> Nearness | None:
    """The same, with no more told than how near the sun comes."""
    try:
        sight = sight_of(scene, spot)
        if not (sight.visible and sight.clearance_m >= limits.clearance_m):
            return None
        view = look_for_sun(scene, sight, day, within_deg=limits.tolerance_deg, evening=evening)
        if not limits.accepts(view.backdrop):
            return None
        near = nearness(scene, view, day, evening=evening)
    except (NoSun, NoGround):
        return None
    return near if near.within(limits.tolerance_deg) and is_sure(scene, near, limits) else None


def is_sure(scene: Scene, near: Nearness, limits: Limits) -> bool:
    """Whether no ground before the hill may belie the sun's appearance, where that is what counts.

    The line to it is to clear that ground. Ground beyond a hill that is seen against it does not
    count, nor does any where the sun passes near enough to the summit later.
    """
    view, touch, best = near.view, near.touch, near.best
    passes = best.which == BestAt.PASSAGE and best.away_deg <= limits.tolerance_deg
    if passes or not near.first_within(limits.tolerance_deg):
        return True
    if not view.on_skyline:
        touch = replace(touch, distance_m=min(touch.distance_m, view.distance_m))
    return clearance_m(scene, view.spot, touch) >= limits.clearance_m


def vantage_row(answer: Backlight, cell: pd.Series) -> Row:
    """What a full look found, as a row of the answer; cell: its quick values.

    Ground on the way that either of them finds unknown is unknown.
    """
    quick = {name: float(cell[name]) for name in ("stature_deg", "isolation_deg", "open_share")}
    known = answer.view.known_between and bool(cell["known_between"])
    if not known:
        quick |= {"stature_deg": math.nan}
    azimuth_deg, sun_deg = sun_at_best(answer)
    view = answer.view
    aside = wrap_deg(azimuth_deg - view.azimuth_deg) * math.cos(math.radians(sun_deg))
    sun = {
        "sun_deg": sun_deg,
        "sun_from_summit_deg": math.hypot(aside, sun_deg - view.altitude_deg),
        "contrast": contrast(view),
        "evening": answer.contact.evening,
    }
    return (
        columns_of(answer)
        | sun
        | quick
        | {
            "known_between": known,
            "known_behind": bool(cell["known_behind"]),
        }
    )


def hill_columns(hill: Hill, name: str) -> Row:
    """The columns that tell of a hill in tables with several."""
    return {
        "hill": name,
        "hill_lon_deg": hill.lon_deg,
        "hill_lat_deg": hill.lat_deg,
        "hill_height_m": hill.height_m,
    }
