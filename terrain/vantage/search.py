"""What the searches of a day and of a year share: full looks, one row a vantage, the table."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd

from terrain.constants import TERRESTRIAL_REFRACTION
from terrain.errors import NoGround, NoSun, TerrainError
from terrain.ground.accuracy import Accuracy
from terrain.ground.dem import Dem
from terrain.ground.geodesy import azimuth_and_distance
from terrain.ground.places import Hill, Spot
from terrain.mist.surface import Mist
from terrain.vantage.access import Access, Walks, start_name, walks_to
from terrain.vantage.candidates import Limits
from terrain.vantage.criteria import Criterion, add_scores, standard_criteria
from terrain.vantage.sea import Sea
from terrain.vantage.tops import MistRange, Seas
from terrain.view.backlight import Backlight, backlight
from terrain.view.scene import Scene, clearance_m, look

__all__ = [
    "LOOKS_PER_PLACE",
    "Row",
    "Search",
    "answer_on",
    "make_search",
    "pick",
    "vantage_row",
    "with_starts",
]

LOOKS_PER_PLACE: Final = 4

Row = dict[str, Any]
Best = Callable[[Scene, pd.Series], "tuple[Row, Backlight] | None"]
"""From a scene and a cell to further columns of its row and what a full look found, or None."""


@dataclass(frozen=True, kw_only=True)
class Search:
    """A hill, the mist about it, and what is asked of a vantage; as for `find_vantages`."""

    hill: Hill
    sea: Sea | Seas
    starts: Sequence[Spot] | None
    walks: Walks | None
    limits: Limits
    count: int
    weights: Mapping[str, float] | None
    accuracy: Accuracy | None

    @cached_property
    def criteria(self) -> tuple[Criterion, ...]:
        """What the vantages are judged by."""
        return standard_criteria(
            tolerance_deg=self.limits.tolerance_deg, max_slope_deg=self.limits.max_slope_deg
        )

    @property
    def also(self) -> str:
        """What is asked beside the sun and the hill, for a reason why there is nothing."""
        walk = "" if self.walks is None else f" and {self.walks.label}"
        return f"{self.sea.also}{walk}"

    def ranked(self, cells: pd.DataFrame) -> pd.DataFrame:
        """The cells with their scores, best first."""
        scored = add_scores(cells, self.criteria, self.weights)
        return scored.sort_values("score", ascending=False)

    def within(self, cells: pd.DataFrame, days: Sequence[dt.date]) -> pd.DataFrame:
        """The cells that can be walked to in time on one of the days; NoAnswer where none can."""
        return cells if self.walks is None else self.walks.within(cells, self.hill, days)

    def row(self, cell: pd.Series, best: Best) -> Row | None:
        """The row of a cell, or None where the full look does not bear its promise out."""
        spot = self.spot_of(cell)
        chosen = self.sea.chosen(cell, spot)
        if chosen is None:
            return None
        sea, top = chosen
        found = best(sea.scene, cell)
        if found is None:
            return None
        first, answer = found
        walk = {} if self.walks is None else self.walks.to(answer, cell)
        if walk is None:
            return None
        day = answer.contact.appears.date()

        def works(scene: Scene) -> bool:
            return answer_on(scene, spot, day, self.limits, self.accuracy) is not None

        band = self.sea.band(cell, top, spot, works)
        return first | vantage_row(answer, cell) | sea.seen_from(answer.view) | band | walk

    def table(self, found: list[Row]) -> gpd.GeoDataFrame:
        """The rows that were found as the answer, best first."""
        table = pd.DataFrame(found)
        if self.walks is None:
            table = with_starts(table, self.starts)
        table = self.ranked(table).reset_index(drop=True)
        table.insert(0, "rank", np.arange(1, len(table) + 1))
        points = gpd.points_from_xy(table["lon_deg"], table["lat_deg"])
        answer = gpd.GeoDataFrame(table, geometry=points, crs="EPSG:4326")
        if self.walks is not None:
            answer.attrs["starts_left_out"] = dict(self.walks.left_out)
        return answer

    def spot_of(self, cell: pd.Series) -> Spot:
        """Where a camera stands in a cell."""
        return Spot(lon_deg=cell["lon_deg"], lat_deg=cell["lat_deg"], eye_m=self.limits.eye_m)


def make_search(
    dem: Dem,
    hill: Hill,
    scene_of: Callable[..., Scene],
    *,
    mist: Mist | MistRange | None = None,
    starts: Sequence[Spot] | None = None,
    access: Access | None = None,
    passes: gpd.GeoDataFrame | None = None,
    limits: Limits | None = None,
    count: int = 10,
    weights: Mapping[str, float] | None = None,
    accuracy: Accuracy | None = None,
    refraction: float = TERRESTRIAL_REFRACTION,
) -> Search:
    """A search for the vantages of a hill; scene_of: `make_scene` or what does as it does.

    The other arguments and the errors are those of `find_vantages`.
    """
    limits = limits or Limits()
    sea: Sea | Seas
    if isinstance(mist, MistRange):
        bare = scene_of(dem, hill, refraction=refraction)
        sea = Seas(bare=bare, mists=mist, freeboard_m=limits.freeboard_m, passes=passes)
    else:
        sea = Sea(scene=scene_of(dem, hill, mist=mist, refraction=refraction), passes=passes)
    walks = None
    if access is not None:
        if not starts:
            raise TerrainError("access is by foot from a start, and none was given: give starts")
        walks = walks_to(dem, hill, starts, access, limits.max_distance_m)
    return Search(
        hill=hill,
        sea=sea,
        starts=starts,
        walks=walks,
        limits=limits,
        count=count,
        weights=weights,
        accuracy=accuracy,
    )


def pick(
    ranked: pd.DataFrame,
    cell_m: float,
    limits: Limits,
    count: int,
    take: Callable[[pd.Series], Row | None],
    progress: Callable[[float], None],
) -> list[Row]:
    """Full looks at the ranked cells, in order, until enough are found that stand apart.

    take: the row of a cell, or None where it fails.
    """
    found: list[Row] = []
    looks = 0
    row, col = ranked["row"].to_numpy(), ranked["col"].to_numpy()
    waiting = np.ones(len(ranked), dtype=bool)
    while waiting.any() and len(found) < count and looks < LOOKS_PER_PLACE * count:
        at = int(np.argmax(waiting))
        looks += 1
        vantage = take(ranked.iloc[at])
        # a cell that fails says little of its neighbours; one that holds speaks for them all
        apart_m = limits.apart_m if vantage else 0.1 * limits.apart_m
        cells_off = np.hypot(row - row[at], col - col[at])
        waiting &= cells_off * cell_m >= max(apart_m, cell_m / 2.0)
        if vantage:
            found.append(vantage)
        progress(0.3 + 0.7 * max(len(found) / count, looks / (LOOKS_PER_PLACE * count)))
    return found


def answer_on(
    scene: Scene, spot: Spot, day: dt.date, limits: Limits, accuracy: Accuracy | None
) -> Backlight | None:
    """What a full look from a spot finds on a day, or None where the limits are not kept."""
    view = look(scene, spot, day=day)
    if not (view.visible and view.on_skyline and view.clearance_m >= limits.clearance_m):
        return None
    try:
        answer = backlight(scene, view, day, accuracy=accuracy)
    except (NoSun, NoGround):
        return None
    if not answer.behind or abs(answer.offset_deg) > limits.tolerance_deg:
        return None
    sun = answer.contact
    below = clearance_m(scene, spot, sun.azimuth_deg, sun.altitude_deg, sun.distance_m)
    return None if below < limits.clearance_m else answer


def vantage_row(answer: Backlight, cell: pd.Series) -> Row:
    """What a full look found, as a row of the answer; cell: its quick values."""
    view, contact = answer.view, answer.contact
    return {
        "lon_deg": view.spot.lon_deg,
        "lat_deg": view.spot.lat_deg,
        "height_m": view.spot_height_m,
        "appears": contact.appears,
        "clears": contact.clears,
        "uncertainty_s": contact.uncertainty_s,
        "azimuth_deg": view.azimuth_deg,
        "altitude_deg": view.altitude_deg,
        "distance_m": view.distance_m,
        "offset_deg": answer.offset_deg,
        "offset_widths": answer.offset_widths,
        "uncertainty_deg": answer.uncertainty_deg,
        "freeboard_m": view.freeboard_m,
        "clearance_m": view.clearance_m,
        "slope_deg": view.slope_deg,
        "stature_deg": float(cell["stature_deg"]),
        "isolation_deg": float(cell["isolation_deg"]),
        "open_share": float(cell["open_share"]),
        "known_to_m": contact.known_to_m,
        "beyond_height_m": contact.beyond_height_m,
    }


def with_starts(table: pd.DataFrame, starts: Sequence[Spot] | None) -> pd.DataFrame:
    """The nearest start of each vantage and how far off it is as the crow flies."""
    if not starts:
        return table
    away = np.stack(
        [
            azimuth_and_distance(table["lon_deg"], table["lat_deg"], s.lon_deg, s.lat_deg)[1]
            for s in starts
        ]
    )
    nearest = away.argmin(axis=0)
    return table.assign(start=[start_name(starts[at]) for at in nearest], start_m=away.min(axis=0))
