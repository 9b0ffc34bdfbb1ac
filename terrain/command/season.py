"""`terrain season`: a month of mornings, or a year, ranked together."""

from __future__ import annotations

from typing import TYPE_CHECKING

import terrain
from terrain.command import options
from terrain.command.area import Area, hill_on, middle_of, none_so_prominent
from terrain.command.columns import against, at_clock, best, metres, of_mist, score, stands
from terrain.command.days import days_between
from terrain.command.mist_asked import MistOptions, trees_of
from terrain.command.options import option
from terrain.command.report import line, progress
from terrain.command.room import SEASON, Room
from terrain.command.saves import CALENDAR, PICTURE, TABLE
from terrain.command.tables import Column, table
from terrain.command.walk_asked import WalkOptions
from terrain.command.wanted import Wanted
from terrain.words.figures import count_of, first_of
from terrain.words.records import rows_of

if TYPE_CHECKING:
    import geopandas as gpd
    from matplotlib.figure import Figure

    from terrain.mist.level import AnyMist


_DAYS = 31
"""The mornings of a season that has no last one: more of them take minutes for each hill."""

_MOST_LANES = 30
"""Hills in a picture: more make a page too long to look at."""


def _columns(found: gpd.GeoDataFrame, part: str) -> tuple[Column, ...]:
    return (
        Column(part, lambda row: f"{row['day']:%a} {row['day'].day} {row['day']:%b %Y}", left=True),
        Column("hill", lambda row: row["hill"], left=True),
        stands("stand at", left=True),
        metres("above mist m", "freeboard_m"),
        at_clock("sun gone" if part == "evening" else "sun appears", "appears"),
        best(),
        against(),
        *of_mist(found),
        score(),
    )


def season(
    *,
    first: options.FirstDay = None,
    last: str | None = option(
        "DAY", "The last day, as --date has it.", "--to", shown=f"{_DAYS} days in all"
    ),
    hill: list[str] | None = option(
        "PLACE",
        "A hill: its name, or LAT,LON near its summit; repeatable. All named ones unless given.",
    ),
    mist: MistOptions,
    trees: options.Trees = "5:15",
    wanted: Wanted,
    walks: WalkOptions,
    within: options.Within = 1.0,
    day_step: int = option("DAYS", "From one day to the next.", least=1, most=366, default=1),
    prominence: options.Prominence = 30.0,
    names: options.Names = None,
    count: options.Count = 20,
    asked: options.Asked,
) -> None:
    """Rank hill, vantage and date together, so that a season of mornings can be planned.

    Or with --evening of evenings.

    Saves the table (.gpkg, .geojson, .csv), a calendar with alarms (.ics), or a picture with
    the days across and the hills down (.png, .jpg, .webp, .svg, .pdf).
    """
    from terrain.words.vantages import range_lines, unknown_lines

    asked.check_saves(PICTURE, TABLE, CALENDAR)
    area = asked.area(names, SEASON)
    over, limits = (
        mist.over(area),
        wanted.limits(area, tolerance_deg=within, trees_m=trees_of(trees)),
    )
    begins = walks.starts(area)
    with progress("going through the mornings", quiet=asked.as_json) as done:
        country = area.country()
        begin, end = days_between(first, last, middle_of(country), count=_DAYS)
        sea = over.of(country)
        room = Room(work=SEASON, memory_gb=asked.memory)
        found = terrain.plan_season(
            country,
            _hills(country, area, prominence, hill or []),
            begin,
            end,
            step_days=day_step,
            mist=sea,
            starts=begins,
            access=walks.access(area, country),
            limits=limits,
            evening=wanted.evening,
            processes=room.processes(country.dem.heights_m.size),
            progress=done,
        )

    def tell() -> None:
        part = "evening" if wanted.evening else "morning"
        many = count_of(len(found), part) + first_of(len(found), count, "best")
        table(
            f"{many}, {begin} to {end}",
            _columns(found, part),
            rows_of(found.head(count)),
            numbered=True,
        )
        line(*range_lines(sea), *unknown_lines(found.head(count)))
        for name, why in found.attrs["left_out"].items():
            line(f"{name}: none; {why}")

    asked.answer(
        fields=lambda: rows_of(found),
        tell=tell,
        picture=lambda: _picture(found, area.name or "Mornings", sea),
        layers=lambda: {"season": found},
        others={CALENDAR: lambda path: terrain.save_calendar(found.head(count), path)},
    )


def _hills(
    country: terrain.Country, area: Area, prominence: float, wanted: list[str]
) -> gpd.GeoDataFrame | list[terrain.Hill]:
    """The hills asked for, or all that have a name, or all of that prominence."""
    from terrain.ground.relief.summits import summits_called

    if wanted:
        return [hill_on(country, area.hill_place(text)) for text in wanted]
    found = country.summits(min_prominence_m=prominence, names=area.summits)
    if found.empty:
        raise none_so_prominent(country, prominence)
    return summits_called(found, [])


def _picture(found: gpd.GeoDataFrame, of: str, sea: AnyMist | None) -> Figure:
    from terrain.words.clocks import days_from_to

    every = list(dict.fromkeys(found["hill"]))
    lanes = every[:_MOST_LANES]
    days = found.attrs["first_day"], found.attrs["last_day"]
    over = "" if sea is None else f", mist up to {sea.label}"
    rest = len(every) - len(lanes)
    more = [f"The best {len(lanes)} of {len(every)} hills; a table (.csv) has all."] if rest else []
    return terrain.season_figure(
        found,
        title=f"{of}: which hill on which day, {days_from_to(*days)}{over}",
        hills=lanes,
        first_day=days[0],
        last_day=days[1],
        step_days=found.attrs["step_days"],
        notes=more,
    )
