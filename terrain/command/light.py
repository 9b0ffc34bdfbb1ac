"""`terrain light`: when direct sun reaches the ground, its valleys and the mist, on one morning."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Final

import typer

import terrain
from terrain.command.light_shown import LightShown, SunPart
from terrain.command.mist_asked import MistOptions
from terrain.command.options import Asked, Day, Names, Near, option
from terrain.command.report import Column, line, print_json, progress, table
from terrain.command.save import PICTURE, RASTER
from terrain.errors import TerrainError
from terrain.words.terminal import long_day, whole

if TYPE_CHECKING:
    import datetime as dt

    from terrain.command.area import Area

__all__ = ["light"]

LIMB: Final = {SunPart.ANY: 1.0, SunPart.HALF: 0.0, SunPart.FULL: -1.0}
"""The part that counts, in semi-diameters over the middle of the disc."""


def light(
    *,
    date: Day = None,
    mist: MistOptions,
    valley: Annotated[
        list[str] | None,
        option(
            "PLACE",
            "A valley, by its name among --areas or a place in it: a name, LAT,LON or "
            "NAME=LAT,LON. May be given more than once.",
        ),
    ] = None,
    areas: Annotated[
        Path | None,
        typer.Option(help="Outlines of valleys with a name each: GeoPackage or GeoJSON."),
    ] = None,
    valley_reach: Annotated[float, option("KM", "How far a valley goes on about its place.")] = 3.0,
    disc: Annotated[
        SunPart, typer.Option(help="How much of the sun's disc must be seen: any, half, full.")
    ] = SunPart.ANY,
    every: Annotated[
        float | None,
        option(
            "MIN",
            "Minutes from one contour to the next, and a picture of the light at each.",
            shown="as suits the map, and no pictures",
        ),
    ] = None,
    near: Near = None,
    across: Annotated[
        float | None,
        option(
            "KM",
            "How far round --near the pictures reach.",
            "--map",
            shown="the valleys asked for, or all that is read",
        ),
    ] = None,
    names: Names = None,
    asked: Asked,
) -> None:
    """Follow the first direct sun over ground and mist, and list when each valley is lit.

    Saves a map whose contours are clock times (.png, .svg, .pdf; with --every also the light at
    each time, beside it), the contours (.gpkg, .geojson), the share of each valley lit against
    time (.csv), or the moment at every cell (.tif).
    """
    from terrain.command.light_files import LINES, SHARES, write_files

    files = asked.files(PICTURE, LINES, SHARES, RASTER)
    if every is not None and not 0.0 < every < 1440.0:
        raise TerrainError(f"a picture every {every:g} minutes is none: give more than 0")
    if across is not None and near is None:
        raise TerrainError("--map says how far round --near the pictures reach: add --near PLACE")
    area = asked.area(names)
    over, day = mist.over(area), area.day(date)
    around = None if near is None else area.spot(near)
    with progress("following the light", quiet=asked.as_json) as done:
        dem = area.ground(around)
        sea = over.hoped(dem)
        done(0.1)
        found = _valleys(area, dem, valley or [], areas, 1000.0 * valley_reach)
        arrival = terrain.light_arrival(
            dem,
            day,
            mist=sea,
            limb=LIMB[disc],
            progress=lambda share: done(0.1 + 0.9 * share),
        )
    shown = LightShown(
        area_name=area.name,
        dem=dem,
        mist=sea,
        arrival=arrival,
        valleys=tuple(found),
        disc=disc,
        around=around,
        across_m=None if across is None else 1000.0 * across,
    )
    if asked.as_json:
        print_json(shown.fields())
    else:
        _tell(shown)
    if files:
        write_files(files, shown, every)


def _valleys(
    area: Area, dem: terrain.Dem, names: list[str], areas: Path | None, reach_m: float
) -> list[terrain.Valley]:
    """The valleys asked for, or without any name all that are drawn; each once."""
    from dataclasses import replace

    from terrain.mist.drainage import drain

    drawn = [] if areas is None else terrain.valleys_in(dem, areas)
    if not names:
        return drawn
    by_name = {valley.name.casefold(): valley for valley in drawn}
    drainage = None
    found: list[terrain.Valley] = []
    for name in dict.fromkeys(names):
        if name.casefold() in by_name:
            found.append(by_name[name.casefold()])
            continue
        own, _, where = name.rpartition("=")
        spot = area.spot(where)
        drainage = drain(dem) if drainage is None else drainage
        named = replace(spot, name=own or spot.name or where)
        found.append(terrain.valley_about(dem, named, reach_m=reach_m, drainage=drainage))
    return found


def _tell(shown: LightShown) -> None:
    """Print when each valley is lit, and what is left out."""
    since = shown.arrival.since
    table(
        f"First direct sun on {long_day(shown.arrival.day)}, {shown.disc_words}, "
        f"by the clock in {shown.zone}",
        (
            Column("", lambda row: row["name"]),
            Column("area km²", lambda row: f"{row['area_km2']:.1f}"),
            Column("first", _clock("first_light", since)),
            Column("10 % lit", _clock("lit_10", since)),
            Column("half lit", _clock("lit_50", since)),
            Column("90 % lit", _clock("lit_90", since)),
            Column("last", _clock("last_light", since)),
            Column("no sun", lambda row: _percent(row["never_share"])),
            Column("not known", lambda row: _percent(row["unknown_share"])),
            Column("beyond m", lambda row: whole(row["beyond_m"])),
        ),
        shown.rows,
    )
    line("beyond m: in nine tenths of it only hidden ground higher than this would delay the sun.")
    for words in shown.left_out():
        line(words)


def _clock(key: str, since: dt.datetime) -> Callable[[Any], str]:
    """What a row says of a moment: `-` where it never comes."""

    def write(row: Any) -> str:
        moment = row[key]
        if moment != moment:
            return "-"
        return "all night" if moment == since else f"{moment.round('min'):%H:%M}"

    return write


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
