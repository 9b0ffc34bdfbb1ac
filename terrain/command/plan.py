"""`terrain plan`: the timed plan of one morning, on the screen and as a sheet for the phone."""

from __future__ import annotations

import datetime as dt
import math
from typing import TYPE_CHECKING, Annotated, Any

import typer

from terrain.command.options import (
    Crs,
    Day,
    HillPlace,
    Json,
    MistTop,
    Rasters,
    Reach,
    Save,
    Unit,
)

if TYPE_CHECKING:
    from terrain.command.area import Area
    from terrain.ground.dem import Dem
    from terrain.ground.places import Hill, Spot
    from terrain.morning.plan import Kit, Plan

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
    mist_top: MistTop = None,
    drive: Annotated[
        float | None, typer.Option(metavar="MIN", help="Minutes from home to the start.")
    ] = None,
    settle: Annotated[
        float, typer.Option(metavar="MIN", min=0.0, help="Minutes in place before the colour.")
    ] = 10.0,
    air: Annotated[
        float | None,
        typer.Option(metavar="°C", help="Temperature that the forecast gives at sea level."),
    ] = None,
    wind: Annotated[
        float, typer.Option(metavar="KM/H", min=0.0, help="Wind that the forecast gives.")
    ] = 0.0,
    crs: Crs = None,
    unit: Unit = None,
    reach: Reach = None,
    save: Save = None,
    as_json: Json = False,
) -> None:
    """Plan a morning: when to leave, the walk in, the frame, the light, and what if not.

    Saves a sheet for the phone (.html), the way (.gpx), the times with alarms (.ics), or the
    places for other maps (.kml, .gpkg).
    """
    from terrain.command.load import area_of, day_of, ground_of, hill_of, hill_place, spot_of
    from terrain.command.report import print_json, progress
    from terrain.command.save import check_saves, save_as
    from terrain.ground.paths import read_paths
    from terrain.morning.cold import Air
    from terrain.morning.plan import plan_morning

    files = check_saves(save, SHEET, ROUTE, CALENDAR, EARTH, LAYERS)
    area = area_of(ground, crs=crs, unit=unit)
    day = day_of(area, date)
    begin = spot_of(area, _start_of(area, start))
    target = hill_place(area, hill)
    top = area.defaults.get("mist_top_m") if mist_top is None else mist_top
    with progress("planning the morning", quiet=as_json) as done:
        dem = ground_of(area, around=target, reach_km=reach)
        summit = hill_of(dem, target)
        camera = (
            spot_of(area, spot)
            if spot is not None
            else _best_spot(dem, summit, day, top, begin, lambda share: done(0.4 * share))
        )
        answer = plan_morning(
            dem,
            camera,
            summit,
            day,
            start=begin,
            mist_top_m=top,
            paths=None if area.paths is None else read_paths(area.paths),
            kit=_kit(area),
            air=None if air is None else Air(temperature_c=air, wind_kmh=wind),
            drive=None if drive is None else dt.timedelta(minutes=drive),
            settle=dt.timedelta(minutes=settle),
            progress=lambda share: done(0.4 + 0.6 * share),
        )
    if as_json:
        print_json(_fields(answer))
    else:
        _tell(answer)
    if not files:
        return
    from terrain.show.exchange import save_calendar, save_gpx, save_kml, save_plan_table
    from terrain.show.sheet import save_sheet

    with progress("drawing the sheet", quiet=as_json):
        save_as(
            files,
            {
                SHEET: lambda path: save_sheet(answer, path),
                ROUTE: lambda path: save_gpx(answer, path),
                CALENDAR: lambda path: save_calendar(answer, path),
                EARTH: lambda path: save_kml(answer, path),
                LAYERS: lambda path: save_plan_table(answer, path),
            },
        )


def _start_of(area: Area, text: str | None) -> str:
    from terrain.errors import TerrainError

    if text is not None:
        return text
    if len(area.starts) == 1:
        return next(iter(area.starts))
    known = f"; the area file knows {', '.join(area.starts)}" if area.starts else ""
    raise TerrainError(f"no start was given: add --start with a place{known}")


def _best_spot(
    dem: Dem, hill: Hill, day: dt.date, top_m: float | None, start: Spot, progress: Any
) -> Spot:
    from terrain.ground.places import Spot
    from terrain.mist.surface import level_mist
    from terrain.morning.vantages import find_vantages

    mist = None if top_m is None else level_mist(dem, float(top_m))
    found = find_vantages(dem, hill, day=day, mist=mist, starts=[start], count=3, progress=progress)
    best = found.iloc[0]
    return Spot(lon_deg=best["lon_deg"], lat_deg=best["lat_deg"])


def _kit(area: Area) -> Kit:
    from terrain.errors import TerrainError
    from terrain.morning.lens import Sensor
    from terrain.morning.plan import Kit

    width, height = area.kit.get("sensor_mm", (36.0, 24.0))
    lenses = area.kit.get("lenses_mm", (24.0, 70.0, 200.0, 400.0))
    try:
        return Kit(
            sensor=Sensor(width_mm=float(width), height_mm=float(height)),
            lenses_mm=tuple(tuple(x) if isinstance(x, list) else float(x) for x in lenses),
        )
    except (TypeError, ValueError) as error:
        raise TerrainError(f"the [kit] of the area file cannot be used: {error}") from error


def _tell(answer: Plan) -> None:
    from terrain.command.report import clock, line, minutes, table

    rows = []
    for stage in answer.stages:
        about = "" if math.isnan(stage.plus_minus_s) else f"± {minutes(stage.plus_minus_s)}"
        rows.append([clock(stage.at), about, stage.name, stage.note])
    table(
        f"{answer.hill.label}, {answer.day:%A} {answer.day.day} {answer.day:%B %Y}, from "
        f"{answer.spot.name or f'{answer.spot.lat_deg:.4f}, {answer.spot.lon_deg:.4f}'}",
        ["time", "", "stage", "note"],
        rows,
        left=("time", "stage", "note"),
    )
    for other in answer.fall_backs:
        line(f"Mist at {other.mist_top_m:.0f} m: {_fall_back_text(other)}")
    if answer.fall_backs:
        line("")
    for caution in answer.cautions:
        line(f"- {caution}")


def _fall_back_text(other: Any) -> str:
    here = "stay" if other.stays else "do not count on this spot"
    if other.spot is None or other.walk is None:
        return f"{here}; {other.note}."
    return (
        f"{here}; {other.note}. Next best: {other.spot.lat_deg:.4f}, {other.spot.lon_deg:.4f}, "
        f"{other.walk.there_s / 60.0:.0f} min from the start."
    )


def _fields(answer: Plan) -> dict[str, Any]:
    walk, frame = answer.walk, answer.framing.frame
    return {
        "date": answer.day,
        "hill": vars(answer.hill),
        "spot": vars(answer.spot),
        "start": vars(answer.start),
        "mist_top_m": answer.mist_top_m,
        "stages": [vars(stage) for stage in answer.stages],
        "walk": {
            "there_s": walk.there_s,
            "back_s": walk.back_s,
            "dark_s": walk.dark_s,
            "length_m": walk.length_m,
            "ascent_m": walk.ascent_m,
            "off_path_m": walk.off_path_m,
            "steepest_deg": walk.steepest.slope_deg,
        },
        "frame": {
            "azimuth_deg": frame.azimuth_deg,
            "altitude_deg": frame.altitude_deg,
            "focal_mm": frame.focal_mm,
            "held": answer.framing.orientation,
            "hill_share": answer.framing.hill_share,
            "sun_mm": answer.framing.sun_mm,
            "sun_px": answer.framing.sun_px,
        },
        "fall_backs": [
            {
                "mist_top_m": other.mist_top_m,
                "stays": other.stays,
                "note": other.note,
                "spot": None if other.spot is None else vars(other.spot),
                "appears": other.appears,
                "walk_s": None if other.walk is None else other.walk.there_s,
            }
            for other in answer.fall_backs
        ],
        "cold": None if answer.cold is None else vars(answer.cold),
        "cautions": list(answer.cautions),
    }
