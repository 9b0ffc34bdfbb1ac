"""`terrain light`: when direct sun reaches the ground, its valleys and the mist, on one morning."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Final

import typer

from terrain.command.options import (
    Crs,
    Day,
    Json,
    MistTop,
    Names,
    Near,
    Rasters,
    Reach,
    Save,
    Unit,
)

if TYPE_CHECKING:
    import datetime as dt

    from terrain.command.area import Area
    from terrain.command.light_files import Morning
    from terrain.ground.dem import Dem
    from terrain.light.valleys import Valley

__all__ = ["light"]


class Disc(StrEnum):
    """Which part of the sun's disc must be seen."""

    ANY = "any"
    HALF = "half"
    FULL = "full"


LIMB: Final = {Disc.ANY: 1.0, Disc.HALF: 0.0, Disc.FULL: -1.0}
"""The part that counts, in semi-diameters over the middle of the disc."""

_MOMENTS: Final = ("first_light", "lit_10", "lit_50", "lit_90", "last_light")


def light(
    ground: Rasters,
    date: Day = None,
    mist_top: MistTop = None,
    valley: Annotated[
        list[str] | None,
        typer.Option(
            metavar="PLACE",
            help="A valley, by its name among --areas or a place in it: a name, LAT,LON or "
            "NAME=LAT,LON. May be given more than once.",
        ),
    ] = None,
    areas: Annotated[
        Path | None,
        typer.Option(help="Outlines of valleys with a name each: GeoPackage or GeoJSON."),
    ] = None,
    valley_reach: Annotated[
        float, typer.Option(metavar="KM", help="How far a valley goes on about its place.")
    ] = 3.0,
    disc: Annotated[
        Disc, typer.Option(help="How much of the sun's disc must be seen: any, half, full.")
    ] = Disc.ANY,
    every: Annotated[
        float | None,
        typer.Option(
            metavar="MIN",
            help="Minutes from one contour to the next, and a picture of the light at each.",
            show_default="as suits the map, and no pictures",
        ),
    ] = None,
    near: Near = None,
    across: Annotated[
        float | None,
        typer.Option(
            "--map",
            metavar="KM",
            help="How far round --near the pictures reach.",
            show_default="the valleys asked for, or all that is read",
        ),
    ] = None,
    names: Names = None,
    crs: Crs = None,
    unit: Unit = None,
    reach: Reach = None,
    save: Save = None,
    as_json: Json = False,
) -> None:
    """Follow the first direct sun over ground and mist, and list when each valley is lit.

    Saves a map whose contours are clock times (.png, .svg, .pdf; with --every also the light at
    each time, beside it), the contours (.gpkg, .geojson), the share of each valley lit against
    time (.csv), or the moment at every cell (.tif).
    """
    from terrain.command.light_files import LINES, SHARES, Morning, write_files
    from terrain.command.load import area_of, day_of, ground_of, mist_of
    from terrain.command.report import progress
    from terrain.command.save import PICTURE, RASTER, check_saves
    from terrain.errors import TerrainError
    from terrain.light.arrival import light_arrival

    files = check_saves(save, PICTURE, LINES, SHARES, RASTER)
    if every is not None and not 0.0 < every < 1440.0:
        raise TerrainError(f"a picture every {every:g} minutes is none: give more than 0")
    if across is not None and near is None:
        raise TerrainError("--map says how far round --near the pictures reach: add --near PLACE")
    area = area_of(ground, crs=crs, unit=unit, names=names)
    day = day_of(area, date)
    around = None if near is None else area.place(near)
    with progress("following the light", quiet=as_json) as done:
        dem = ground_of(area, around=around, reach_km=reach)
        mist = mist_of(area, dem, mist_top)
        done(0.1)
        found = _valleys(area, dem, valley or [], areas, 1000.0 * valley_reach)
        arrival = light_arrival(
            dem,
            day,
            mist=mist,
            limb=LIMB[disc],
            progress=lambda share: done(0.1 + 0.9 * share),
        )
    morning = Morning(
        area_name=area.name,
        dem=dem,
        mist=mist,
        arrival=arrival,
        valleys=tuple(found),
        disc=disc.value,
        around=around,
        across_m=None if across is None else 1000.0 * across,
    )
    _show(morning, as_json=as_json)
    if files:
        write_files(files, morning, every)


def _valleys(
    area: Area, dem: Dem, names: list[str], areas: Path | None, reach_m: float
) -> list[Valley]:
    """The valleys asked for, or without any name all that are drawn; each once."""
    from terrain.ground.places import Spot
    from terrain.light.valleys import valley_about, valleys_in
    from terrain.mist.drainage import drain

    drawn = [] if areas is None else valleys_in(dem, areas)
    if not names:
        return drawn
    by_name = {valley.name.casefold(): valley for valley in drawn}
    drainage = None
    found: list[Valley] = []
    for name in dict.fromkeys(names):
        if name.casefold() in by_name:
            found.append(by_name[name.casefold()])
            continue
        own, _, where = name.rpartition("=")
        place = area.place(where)
        drainage = drain(dem) if drainage is None else drainage
        spot = Spot(lon_deg=place.lon_deg, lat_deg=place.lat_deg, name=own or place.name or where)
        found.append(valley_about(dem, spot, reach_m=reach_m, drainage=drainage))
    return found


def _show(morning: Morning, *, as_json: bool) -> None:
    """Print when each valley is lit, and what is left out."""
    from terrain.command.report import line, print_json, table

    rows = morning.table
    if as_json:
        print_json(morning.fields())
        return
    day = morning.arrival.day
    title = (
        f"First direct sun on {day:%A} {day.day} {day:%B %Y}, {morning.disc_words}, "
        f"by the clock in {morning.zone}"
    )
    headings = ("", "area km²", "first", "10 % lit", "half lit", "90 % lit", "last", "no sun",
                "not known", "beyond m")  # fmt: skip
    table(
        title,
        headings,
        [_row(str(name), row, morning.arrival.since) for name, row in rows.iterrows()],
    )
    line("beyond m: in nine tenths of it only hidden ground higher than this would delay the sun.")
    for words in morning.left_out():
        line(words)


def _row(name: str, row: Any, since: dt.datetime) -> list[str]:
    return [
        name,
        f"{row['area_km2']:.1f}",
        *(_clock(row[key], since) for key in _MOMENTS),
        _percent(row["never_share"]),
        _percent(row["unknown_share"]),
        f"{round(row['beyond_m'])}" if row["beyond_m"] == row["beyond_m"] else "-",
    ]


def _clock(moment: Any, since: dt.datetime) -> str:
    if moment != moment:
        return "-"
    return "all night" if moment == since else f"{moment.round('min'):%H:%M}"


def _percent(share: float) -> str:
    """A share in percent; `-` where there is none at all.

    >>> _percent(0.0), _percent(0.0004), _percent(0.125)
    ('-', '< 0.1 %', '12 %')
    """
    if share != share or share == 0.0:
        return "-"
    if share < 0.001:
        return "< 0.1 %"
    return f"{100.0 * share:.1f} %" if share < 0.1 else f"{100.0 * share:.0f} %"
