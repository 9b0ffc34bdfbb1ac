"""A season of mornings: which hill, from where, on which day, ranked together.

What does not hang on the day is found once: the tops of the raster and the mist for all hills, the
places that see a hill and their skylines for all days. Each day then sifts what is left, and its
best place is looked at in full, as `find_vantages` does it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Hashable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Final

import geopandas as gpd
import numpy as np
import pandas as pd

from terrain.country import Country, country_of
from terrain.errors import NoAnswer, NoGround, TerrainError
from terrain.ground.accuracy import Accuracy
from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.ground.relief.summits import DEFAULT_PROMINENCE_M
from terrain.ground.tables import with_points
from terrain.light.colour import colour_begins
from terrain.mist.level import MistRange, level_mist
from terrain.mist.mist import Mist
from terrain.sun.sun_line import SunLine, sun_lines
from terrain.sun.twilight import twilight
from terrain.vantage.candidates import open_cells, passes_near, sift_day, with_skyline
from terrain.vantage.criteria import add_scores
from terrain.vantage.limits import Limits
from terrain.vantage.question import Question
from terrain.vantage.search import (
    Progress,
    Row,
    Search,
    answer_on,
    hill_columns,
    search_for,
    with_starts,
)
from terrain.vantage.tops import Seas, sift_tops
from terrain.view.backlight import Backlight
from terrain.view.scene import Scene

__all__ = ["plan_season"]

_MORE: Final = 3
"""As many times the usual number of looks are made before a day is given up."""

_NEVER: Final = (
    "wherever the sun rises near {} on these days, higher ground stands behind it, or the sun was "
    "up before over lower ground, or the view clears the ground between by too little"
)


def plan_season(
    ground: Dem | Country,
    hills: Sequence[Hill] | gpd.GeoDataFrame,
    first_day: dt.date,
    last_day: dt.date,
    *,
    step_days: int = 1,
    mist: Mist | MistRange | None = None,
    mist_top_m: float | None = None,
    starts: Sequence[Spot] | None = None,
    limits: Limits | None = None,
    count: int | None = None,
    weights: Mapping[str, float] | None = None,
    accuracy: Accuracy | None = None,
    refraction: float | None = None,
    progress: Progress = lambda share: None,
) -> gpd.GeoDataFrame:
    """Mornings between two days, each a hill and the best place to see the sun appear behind it.

    ground: holds the hills and the country round them. hills: the hills themselves, or a
    table from `find_summits`. first_day, last_day: dates at the hills, both included. step_days:
    from one day that is looked at to the next. mist: lies over the ground; mist_top_m: height of a
    level one, in its place.
    count: how many mornings, at most; all unless given. progress: called with the share done.
    starts, limits, weights, accuracy and refraction are those of `find_vantages`.

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
    asked = Question(limits=limits or Limits(), starts=starts or (), weights=weights)
    country = country_of(ground, refraction=refraction, accuracy=accuracy)
    if mist is None and mist_top_m is not None:
        mist = level_mist(country.dem, mist_top_m, levels=country.levels_m)
    found: list[Row] = []
    left_out: dict[str, str] = {}
    for number, hill in enumerate(named):
        before = len(found)
        try:
            search = search_for(country, hill, mist, asked)
            for share, rows in _mornings(search, days):
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
    table = asked.ranked(with_starts(pd.DataFrame(found), asked.starts))
    table = table.sort_values(["score", "day"], ascending=[False, True]).iloc[:count]
    season = with_points(table, ranked=True)
    season.attrs = {
        "hills": [hill.label for hill in named],
        "first_day": first_day,
        "last_day": last_day,
        "step_days": step_days,
        "left_out": left_out,
    }
    return season


def _mornings(search: Search, days: list[dt.date]) -> Iterator[tuple[float, list[Row]]]:
    """The share of the days that is done, and the morning of the last of them, if any."""
    hill, limits, scene = search.hill, search.asked.limits, search.sea.lowest
    cells = open_cells(scene, limits)
    lines = sun_lines(days, hill, scene.dem.grid.latitudes_deg)
    near = np.zeros(len(cells), dtype=bool)
    for line in lines:
        near |= passes_near(cells, line, limits)
    if not near.any():
        raise NoAnswer(
            f"no place that sees {hill.label} has the sun rise within "
            f"{limits.tolerance_deg} degrees of it on any of these days"
        )
    cells = with_skyline(scene, cells[near], limits.eye_m)
    for done, line in enumerate(lines, start=1):
        yield done / len(lines), _morning(search, cells, line)


def _morning(search: Search, cells: pd.DataFrame, line: SunLine) -> list[Row]:
    """The best place of one hill on one day as a row, or none."""
    asked, sea = search.asked, search.sea
    try:
        if isinstance(sea, Seas):
            sifted = sift_tops(sea, cells, line)
        else:
            sifted = sift_day(sea.scene, cells, line, asked.limits)
    except NoAnswer:
        return []
    ranked = asked.ranked(sifted)
    looked: dict[Hashable, Row | None] = {}

    def best(scene: Scene, cell: pd.Series) -> tuple[Row, Backlight] | None:
        answer = answer_on(scene, asked.spot_in(cell), line.day, asked.limits)
        return None if answer is None else ({}, answer)

    def take(cell: pd.Series) -> Row | None:
        # the second round begins with the cells of the first
        if cell.name not in looked:
            looked[cell.name] = search.row(cell, best)
        return looked[cell.name]

    for count in (1, _MORE):
        found = replace(search, asked=replace(asked, count=count)).pick([ranked], take)
        if found:
            scores = add_scores(pd.DataFrame(found), asked.criteria, asked.weights)["score"]
            row = found[int(np.argmax(scores))]
            return [_row(search.hill, line.day, row, asked.limits.eye_m)]
    return []


def _days(first_day: dt.date, last_day: dt.date, step_days: int) -> list[dt.date]:
    if last_day < first_day:
        raise TerrainError(f"the last day, {last_day}, is before the first, {first_day}")
    if step_days < 1:
        raise TerrainError(f"from one day to the next is 1 day or more, got {step_days}")
    length = (last_day - first_day).days
    return [first_day + dt.timedelta(days=n) for n in range(0, length + 1, step_days)]


def _hills(hills: Sequence[Hill] | gpd.GeoDataFrame) -> list[Hill]:
    named = hills_of(hills) if isinstance(hills, gpd.GeoDataFrame) else list(hills)
    if not named:
        raise TerrainError("a season needs hills: give one or more")
    return named


def hills_of(summits: gpd.GeoDataFrame) -> list[Hill]:
    """The hills of a table from `find_summits`, in its order."""
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
    colour = {"colour_begins": colour_begins(light, vantage["appears"])}
    return {"day": day} | hill_columns(hill, hill.label) | colour | vantage


def _why_none(left_out: Mapping[str, str], days: list[dt.date]) -> str:
    label, reason = next(iter(left_out.items()))
    if len(left_out) == 1:
        return f"no morning from {days[0]} to {days[-1]}: {reason}"
    return (
        f"none of {len(left_out)} hills has a morning from {days[0]} to {days[-1]}; "
        f"{label}: {reason}"
    )
