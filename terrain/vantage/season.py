"""A season of mornings: which hill, from where, on which day, ranked together.

What does not hang on the day is found once: the tops of the raster and the mist for all hills, the
places that see a hill and their skylines for all days. Each day then sifts what is left, and its
best place is looked at in full, as `find_vantages` does it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import geopandas as gpd
import numpy as np
import pandas as pd

from terrain.errors import NoAnswer, NoGround, TerrainError
from terrain.ground.accuracy import Accuracy
from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.ground.relief.summits import DEFAULT_PROMINENCE_M
from terrain.ground.relief.tops import Tops, find_tops
from terrain.light.colour import colour_begins
from terrain.mist.surface import Mist, level_mist
from terrain.sun.twilight import twilight
from terrain.vantage.candidates import Limits, open_cells, passes_near, sift_day, with_skyline
from terrain.vantage.criteria import Criterion, add_scores, standard_criteria
from terrain.vantage.sea import Sea
from terrain.vantage.search import Row, answer_on, pick, vantage_row, with_starts
from terrain.vantage.sun_line import SunLine, sun_lines
from terrain.view.scene import make_scene

__all__ = ["plan_season"]

_MORE: Final = 3
"""As many times the usual number of looks are made before a day is given up."""

_NEVER: Final = (
    "wherever the sun rises near {} on these days, higher ground stands behind it, or the sun was "
    "up before over lower ground, or the view clears the ground between by too little"
)


def plan_season(
    dem: Dem,
    hills: Sequence[Hill] | gpd.GeoDataFrame,
    first_day: dt.date,
    last_day: dt.date,
    *,
    step_days: int = 1,
    mist_top_m: float | None = None,
    starts: Sequence[Spot] | None = None,
    limits: Limits | None = None,
    count: int | None = None,
    weights: Mapping[str, float] | None = None,
    accuracy: Accuracy | None = None,
    progress: Callable[[float], None] = lambda share: None,
) -> gpd.GeoDataFrame:
    """Mornings between two days, each a hill and the best place to see the sun appear behind it.

    dem: ground that holds the hills and the country round them. hills: the hills themselves, or a
    table from `find_summits`. first_day, last_day: dates at the hills, both included. step_days:
    from one day that is looked at to the next. mist_top_m: height of a level mist, none without.
    count: how many mornings, at most; all unless given. progress: called with the share done.
    starts, limits, weights and accuracy are those of `find_vantages`.

    Returns one row a hill and day that has a vantage, best first: `rank`, `day`, `hill`,
    `hill_lon_deg`, `hill_lat_deg`, `hill_height_m`, `colour_begins` (aware datetime), and the
    columns of `find_vantages`; the points (EPSG:4326) are the vantages. Every row has been looked
    at in full; on a day on which the four likeliest places of a hill fail that look, it has none.
    `attrs` holds `hills` (names in the order given), `first_day`, `last_day`, `step_days`, and
    `left_out`: from the name of each hill without a morning to why it has none.

    Raises NoAnswer, with what was lacking, where no hill has a morning; TerrainError for days,
    limits or weights that make no sense.
    """
    days = _days(first_day, last_day, step_days)
    named = _hills(hills)
    if count is not None and count < 1:
        raise TerrainError(f"{count} mornings are none: ask for 1 or more")
    search = _search(dem, mist_top_m, limits, weights, accuracy)
    found: list[Row] = []
    left_out: dict[str, str] = {}
    for number, hill in enumerate(named):
        before = len(found)
        try:
            for share, rows in search.mornings(hill, days):
                found += rows
                progress((number + share) / len(named))
        except (NoAnswer, NoGround) as error:
            left_out[hill.label] = str(error)
        else:
            if len(found) == before:
                left_out[hill.label] = _NEVER.format(hill.label)
        progress((number + 1) / len(named))
    if not found:
        raise NoAnswer(_why_none(left_out, days))
    table = search.scored(with_starts(pd.DataFrame(found), starts))
    table = table.sort_values(["score", "day"], ascending=[False, True], ignore_index=True)
    table = table.iloc[:count]
    table.insert(0, "rank", np.arange(1, len(table) + 1))
    points = gpd.points_from_xy(table["lon_deg"], table["lat_deg"])
    season = gpd.GeoDataFrame(table, geometry=points, crs="EPSG:4326")
    season.attrs = {
        "hills": [hill.label for hill in named],
        "first_day": first_day,
        "last_day": last_day,
        "step_days": step_days,
        "left_out": left_out,
    }
    return season


@dataclass(frozen=True, kw_only=True)
class _Search:
    """What all hills and all days have in common."""

    dem: Dem
    tops: Tops
    mist: Mist | None
    limits: Limits
    criteria: tuple[Criterion, ...]
    weights: Mapping[str, float] | None
    accuracy: Accuracy | None

    def mornings(self, hill: Hill, days: list[dt.date]) -> Iterator[tuple[float, list[Row]]]:
        """The share of the days that is done, and the morning of the last of them, if any."""
        scene = make_scene(self.dem, hill, mist=self.mist, tops=self.tops)
        cells = open_cells(scene, self.limits)
        lines = sun_lines(days, self.dem, hill)
        near = np.zeros(len(cells), dtype=bool)
        for line in lines:
            near |= passes_near(cells, line, self.limits)
        if not near.any():
            raise NoAnswer(
                f"no place that sees {hill.label} has the sun rise within "
                f"{self.limits.tolerance_deg} degrees of it on any of these days"
            )
        cells = with_skyline(scene, cells[near], self.limits.eye_m)
        sea = Sea(scene=scene)
        for done, line in enumerate(lines, start=1):
            yield done / len(lines), self.morning(sea, cells, line)

    def morning(self, sea: Sea, cells: pd.DataFrame, line: SunLine) -> list[Row]:
        """The best place of one hill on one day as a row, or none."""
        try:
            sifted = sift_day(sea.scene, cells, line, self.limits)
        except NoAnswer:
            return []
        ranked = self.scored(sifted).sort_values("score", ascending=False)
        looked: dict[Hashable, Row | None] = {}

        def take(cell: pd.Series) -> Row | None:
            # the second round begins with the cells of the first
            if cell.name not in looked:
                looked[cell.name] = self.full_look(sea, cell, line.day)
            return looked[cell.name]

        for count in (1, _MORE):
            found = pick(ranked, self.dem.cell_m, self.limits, count, take, lambda share: None)
            if found:
                best = int(self.scored(pd.DataFrame(found))["score"].argmax())
                return [_row(sea.scene.hill, line.day, found[best], self.limits.eye_m)]
        return []

    def full_look(self, sea: Sea, cell: pd.Series, day: dt.date) -> Row | None:
        """The row of a cell, or None where the full look does not bear its promise out."""
        spot = Spot(lon_deg=cell["lon_deg"], lat_deg=cell["lat_deg"], eye_m=self.limits.eye_m)
        answer = answer_on(sea.scene, spot, day, self.limits, self.accuracy)
        return None if answer is None else vantage_row(answer, cell) | sea.seen_from(answer.view)

    def scored(self, table: pd.DataFrame) -> pd.DataFrame:
        """The table with its scores."""
        return add_scores(table, self.criteria, self.weights)


def _search(
    dem: Dem,
    mist_top_m: float | None,
    limits: Limits | None,
    weights: Mapping[str, float] | None,
    accuracy: Accuracy | None,
) -> _Search:
    limits = limits or Limits()
    return _Search(
        dem=dem,
        tops=find_tops(dem),
        mist=None if mist_top_m is None else level_mist(dem, mist_top_m),
        limits=limits,
        criteria=standard_criteria(
            tolerance_deg=limits.tolerance_deg, max_slope_deg=limits.max_slope_deg
        ),
        weights=weights,
        accuracy=accuracy,
    )


def _days(first_day: dt.date, last_day: dt.date, step_days: int) -> list[dt.date]:
    if last_day < first_day:
        raise TerrainError(f"the last day, {last_day}, is before the first, {first_day}")
    if step_days < 1:
        raise TerrainError(f"from one day to the next is 1 day or more, got {step_days}")
    length = (last_day - first_day).days
    return [first_day + dt.timedelta(days=n) for n in range(0, length + 1, step_days)]


def _hills(hills: Sequence[Hill] | gpd.GeoDataFrame) -> list[Hill]:
    named = _from_summits(hills) if isinstance(hills, gpd.GeoDataFrame) else list(hills)
    if not named:
        raise TerrainError("a season needs hills: give one or more")
    return named


def _from_summits(summits: gpd.GeoDataFrame) -> list[Hill]:
    least_m = float(summits.attrs.get("min_prominence_m", DEFAULT_PROMINENCE_M))
    return [
        Hill(
            lon_deg=float(place.x),
            lat_deg=float(place.y),
            height_m=float(height_m),
            name=str(name),
            min_prominence_m=least_m,
        )
        for place, height_m, name in zip(
            summits.geometry, summits["height_m"], summits["name"], strict=True
        )
    ]


def _row(hill: Hill, day: dt.date, vantage: Row, eye_m: float) -> Row:
    light = twilight(
        day,
        lon_deg=vantage["lon_deg"],
        lat_deg=vantage["lat_deg"],
        height_m=vantage["height_m"] + eye_m,
    )
    return {
        "day": day,
        "hill": hill.label,
        "hill_lon_deg": hill.lon_deg,
        "hill_lat_deg": hill.lat_deg,
        "hill_height_m": hill.height_m,
        "colour_begins": colour_begins(light, vantage["appears"]),
    } | vantage


def _why_none(left_out: Mapping[str, str], days: list[dt.date]) -> str:
    label, reason = next(iter(left_out.items()))
    if len(left_out) == 1:
        return f"no morning from {days[0]} to {days[-1]}: {reason}"
    return (
        f"none of {len(left_out)} hills has a morning from {days[0]} to {days[-1]}; "
        f"{label}: {reason}"
    )
