"""`terrain plan`: the timed plan of one morning, on the screen and as a sheet for the phone."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Annotated

import typer

from terrain.command.kit import Lenses, SensorSize
from terrain.command.options import (
    Crs,
    Day,
    HillPlace,
    Json,
    MistTop,
    Names,
    Rasters,
    Reach,
    Save,
    Unit,
    Year,
)

if TYPE_CHECKING:
    from terrain.command.area import Area

__all__ = ["plan"]

SHEET = (".html",)
ROUTE = (".gpx",)
CALENDAR = (".ics",)
EARTH = (".kml",)
LAYERS = (".gpkg",)


def plan(
    ground: Rasters,
    start: Annotated[
        str | None,
        typer.Option(metavar="PLACE", help="Where the walk begins: LAT,LON or a name."),
    ] = None,
    spot: Annotated[
        str | None,
        typer.Option(
            metavar="PLACE", help="Where the camera stands; the best vantage unless given."
        ),
    ] = None,
    hill: HillPlace = None,
    date: Day = None,
    year: Year = None,
    first: Annotated[
        str | None,
        typer.Option("--from", metavar="YYYY-MM-DD", help="First day to choose the best of."),
    ] = None,
    last: Annotated[
        str | None,
        typer.Option("--to", metavar="YYYY-MM-DD", help="Last day to choose the best of."),
    ] = None,
    mist_top: MistTop = None,
    walk: Annotated[
        float, typer.Option(metavar="MIN", help="Longest walk in, where no spot is given.")
    ] = 120.0,
    drive: Annotated[
        float | None, typer.Option(metavar="MIN", min=0.0, help="Minutes from home to the start.")
    ] = None,
    settle: Annotated[
        float, typer.Option(metavar="MIN", min=0.0, help="Minutes in place before the colour.")
    ] = 10.0,
    lens: Lenses = None,
    sensor: SensorSize = None,
    air: Annotated[
        float | None, typer.Option(metavar="°C", help="Temperature that the forecast gives.")
    ] = None,
    air_height: Annotated[
        float, typer.Option(metavar="M", help="Height that this temperature is given for.")
    ] = 0.0,
    lapse: Annotated[
        float,
        typer.Option(
            metavar="°C",
            help="Fall of temperature over 100 m of height; below 0 under an inversion.",
        ),
    ] = 0.65,
    wind: Annotated[
        float, typer.Option(metavar="KM/H", min=0.0, help="Wind that the forecast gives.")
    ] = 0.0,
    names: Names = None,
    crs: Crs = None,
    unit: Unit = None,
    reach: Reach = None,
    save: Save = None,
    as_json: Json = False,
) -> None:
    """Plan a morning: when to leave, the walk in, the frame, the light, and what if not.

    With --year, or --from and --to, in place of --date, the best morning is planned and the other
    good ones are listed. Saves a sheet for the phone (.html), the way (.gpx), the times with
    alarms (.ics), or the places for other maps (.kml, .gpkg).
    """
    from terrain.command.kit import kit_of
    from terrain.command.load import area_of, ground_of, hill_of, hill_place, spot_of
    from terrain.command.plan_report import plan_fields, tell_plan
    from terrain.command.report import print_json, progress
    from terrain.command.save import check_saves, save_as
    from terrain.errors import NoAnswer
    from terrain.ground.features.paths import read_paths
    from terrain.ground.relief.water import level_water
    from terrain.plan.cold import Air
    from terrain.plan.morning import plan_morning
    from terrain.vantage.access import Access
    from terrain.vantage.choose import choose_vantage

    files = check_saves(save, SHEET, ROUTE, CALENDAR, EARTH, LAYERS)
    area = area_of(ground, crs=crs, unit=unit, names=names)
    among = _days(area, date, year, first, last)
    day = among[0] if among[0] == among[1] else None
    begin = spot_of(area, _start_of(area, start))
    target = hill_place(area, hill)
    top = area.defaults.get("mist_top_m") if mist_top is None else mist_top
    kit = kit_of(area, lens, sensor)
    weather = None
    if air is not None:
        weather = Air(
            temperature_c=air, wind_kmh=wind, at_height_m=air_height, lapse_k_per_m=lapse / 100.0
        )
    paths = None if area.paths is None else read_paths(area.paths)
    with progress("planning the morning", quiet=as_json) as done:
        dem = ground_of(area, around=target, reach_km=reach)
        summit = hill_of(dem, target)
        water = level_water(dem)
        if spot is not None:
            camera = spot_of(area, spot)
        else:
            try:
                camera, day = choose_vantage(
                    dem,
                    summit,
                    begin,
                    among,
                    mist_top_m=top,
                    access=Access(within_min=walk, settle_min=settle, paths=paths, water=water),
                    progress=lambda share: done(0.4 * share),
                )
            except NoAnswer as error:
                raise NoAnswer(f"{error} (--walk allows more minutes, --spot any place)") from error
        answer = plan_morning(
            dem,
            camera,
            summit,
            day,
            start=begin,
            among=among if among[0] < among[1] else None,
            mist_top_m=top,
            paths=paths,
            water=water,
            kit=kit,
            air=weather,
            drive=None if drive is None else dt.timedelta(minutes=drive),
            settle=dt.timedelta(minutes=settle),
            progress=lambda share: done(0.4 + 0.6 * share),
        )
    if as_json:
        print_json(plan_fields(answer))
    else:
        tell_plan(answer)
    if not files:
        return
    from terrain.show.files.exchange import save_calendar, save_gpx, save_kml, save_plan_table
    from terrain.show.sheet.sheet import save_sheet

    with progress("drawing the sheet", quiet=as_json):
        save_as(
            files,
            {
                SHEET: lambda path: save_sheet(answer, path, paths=paths),
                ROUTE: lambda path: save_gpx(answer, path),
                CALENDAR: lambda path: save_calendar(answer, path),
                EARTH: lambda path: save_kml(answer, path),
                LAYERS: lambda path: save_plan_table(answer, path),
            },
        )


def _days(
    area: Area, date: str | None, year: int | None, first: str | None, last: str | None
) -> tuple[dt.date, dt.date]:
    """The first and the last of the days to choose the best of; the same where one is given."""
    from terrain.command.load import day_of
    from terrain.errors import TerrainError

    spans = [date is not None, year is not None, first is not None or last is not None]
    if sum(spans) > 1:
        raise TerrainError("--date, --year, and --from with --to exclude each other: give one")
    if year is not None:
        if not dt.MINYEAR <= year <= dt.MAXYEAR:
            raise TerrainError(f"{year} is not a year")
        return dt.date(year, 1, 1), dt.date(year, 12, 31)
    if first is not None or last is not None:
        if first is None or last is None:
            raise TerrainError("--from and --to belong together: give both")
        begins, ends = day_of(area, first), day_of(area, last)
        if ends < begins:
            raise TerrainError(f"the last day, {ends}, is before the first, {begins}")
        return begins, ends
    if date is None and area.default_date() is None:
        raise TerrainError(
            "no date was given: add --date YYYY-MM-DD, or --year, or --from and --to, for the best"
        )
    day = day_of(area, date)
    return day, day


def _start_of(area: Area, text: str | None) -> str:
    from terrain.errors import TerrainError

    if text is not None:
        return text
    if len(area.starts) == 1:
        return next(iter(area.starts))
    known = f"; the area file knows {', '.join(area.starts)}" if area.starts else ""
    raise TerrainError(f"no start was given: add --start with a place{known}")
