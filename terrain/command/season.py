"""`terrain season`: a month of mornings, or a year, ranked together."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Annotated

import typer

from terrain.command.options import Count, Crs, Json, MistTop, Names, Rasters, Reach, Save, Unit

if TYPE_CHECKING:
    import geopandas as gpd

    from terrain.command.area import Area
    from terrain.ground.dem import Dem

__all__ = ["season"]

CALENDAR = (".ics",)


_MOST_LANES = 30
"""Hills in a picture: more make a page too long to look at."""


def season(
    ground: Rasters,
    first: Annotated[str, typer.Option("--from", metavar="YYYY-MM-DD", help="The first morning.")],
    last: Annotated[str, typer.Option("--to", metavar="YYYY-MM-DD", help="The last morning.")],
    hill: Annotated[
        list[str] | None,
        typer.Option(
            "--hill", metavar="NAME", help="A hill; repeatable. All named ones unless given."
        ),
    ] = None,
    mist_top: MistTop = None,
    step: Annotated[int, typer.Option(min=1, metavar="DAYS", help="From one day to the next.")] = 1,
    prominence: Annotated[
        float, typer.Option(metavar="M", help="Least prominence of a hill, metres.")
    ] = 60.0,
    names: Names = None,
    count: Count = 20,
    crs: Crs = None,
    unit: Unit = None,
    reach: Reach = None,
    save: Save = None,
    as_json: Json = False,
) -> None:
    """Rank hill, vantage and date together, so that a season of mornings can be planned.

    Saves the table (.gpkg, .geojson, .csv), a calendar with alarms (.ics), or a picture with
    the days across and the hills down (.png, .svg, .pdf).
    """
    from terrain.command.load import area_of, day_of, ground_of, starts_of
    from terrain.command.report import line, print_json, progress, rows_of, table
    from terrain.command.save import PICTURE, TABLE, check_saves, save_as
    from terrain.vantage.season import plan_season

    files = check_saves(save, PICTURE, TABLE, CALENDAR)
    area = area_of(ground, crs=crs, unit=unit, names=names)
    begin, end = day_of(area, first), day_of(area, last)
    top = area.defaults.get("mist_top_m") if mist_top is None else mist_top
    with progress("going through the mornings", quiet=as_json) as done:
        dem = ground_of(area, reach_km=reach)
        hills = _hills(dem, area, names, prominence, hill)
        found = plan_season(
            dem,
            hills,
            begin,
            end,
            step_days=step,
            mist_top_m=None if top is None else float(top),
            starts=starts_of(area),
            progress=done,
        )
    if as_json:
        print_json(rows_of(found))
    else:
        title = f"The best {min(count, len(found))} of {len(found)} mornings, {begin} to {end}"
        headings = ["no.", "morning", "hill", "stand at", "above mist m", "sun appears", "score"]
        table(title, headings, _rows(found.head(count)), left=("morning", "hill", "stand at"))
        for name, why in found.attrs["left_out"].items():
            line(f"{name}: none; {why}")
    if not files:
        return
    from terrain.show.chart.season import year_figure
    from terrain.show.files.calendar import save_calendar
    from terrain.show.files.export import save_picture, save_table

    title = f"{area.name or 'Mornings'}: which hill on which day"
    every = list(dict.fromkeys(found["hill"]))
    lanes = every[:_MOST_LANES]
    rest = len(every) - len(lanes)
    more = [f"The best {len(lanes)} of {len(every)} hills; a table (.csv) has all."] if rest else []
    save_as(
        files,
        {
            PICTURE: lambda path: save_picture(
                year_figure(
                    found,
                    title=title,
                    hills=lanes,
                    first_day=begin,
                    last_day=end,
                    step_days=step,
                    notes=more,
                ),
                path,
            ),
            TABLE: lambda path: save_table(found, path, layer="season"),
            CALENDAR: lambda path: save_calendar(found.head(count), path),
        },
    )


def _hills(
    dem: Dem, area: Area, names: object, prominence: float, wanted: list[str] | None
) -> gpd.GeoDataFrame:
    """The hills asked for by name, or all that have a name, or all of that prominence."""
    from terrain.errors import NoAnswer
    from terrain.ground.relief.summits import find_summits, hill_named

    found = find_summits(dem, min_prominence_m=prominence, names=names or area.summits)
    if wanted:
        chosen = {hill_named(found, name).name for name in wanted}
        return found[found["name"].isin(chosen)]
    named = found[found["name"] != ""]
    if found.empty:
        raise NoAnswer(f"no summit here has a prominence of {prominence:g} m: ask for less")
    return named if len(named) else found


def _rows(found: gpd.GeoDataFrame) -> list[list[str]]:
    from terrain.command.report import clock

    return [
        [
            str(row["rank"]),
            _day(row["day"]),
            row["hill"],
            f"{row['lat_deg']:.4f}, {row['lon_deg']:.4f}",
            f"{row['freeboard_m']:.0f}" if row["freeboard_m"] == row["freeboard_m"] else "-",
            clock(row["appears"]),
            f"{row['score']:.2f}",
        ]
        for row in found.to_dict("records")
    ]


def _day(day: dt.date) -> str:
    return f"{day:%a} {day.day} {day:%b %Y}"
