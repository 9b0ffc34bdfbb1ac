"""`terrain light`: when direct sun reaches, or leaves, the ground, its valleys and the mist."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal

import typer

import terrain
from terrain.command.area import Area, middle_of
from terrain.command.mist_asked import MistOptions
from terrain.command.options import Asked, Day, Evening, Names, Near, option
from terrain.command.report import line, progress
from terrain.command.room import LIGHT
from terrain.command.saves import PICTURE, RASTER
from terrain.command.tables import Column, table
from terrain.errors import TerrainError
from terrain.words.clocks import long_day, zone_in_hours
from terrain.words.figures import percent, whole

if TYPE_CHECKING:
    from terrain.command.light_files import LightFound

_LINES: Final = (".gpkg", ".geojson")
_SHARES: Final = (".csv",)


_PARTS: Final = {
    "any": (1.0, "any part of the disc"),
    "half": (0.0, "half of the disc"),
    "full": (-1.0, "all of the disc"),
}
"""The part of the disc that counts, in semi-diameters over its middle, and in words."""

_MORNING: Final = {
    "first_light": "first",
    "lit_10": "10 % lit",
    "lit_50": "half lit",
    "lit_90": "90 % lit",
    "last_light": "last",
}
_EVENING: Final = {
    "first_shade": "shade from",
    "lit_90": "90 % lit",
    "lit_50": "half lit",
    "lit_10": "10 % lit",
    "last_light": "last sun",
}
"""The moments of a valley's row and their headings, by the clock."""


def light(
    *,
    date: Day = None,
    evening: Evening = False,
    mist: MistOptions,
    valley: list[str] | None = option(
        "PLACE",
        "A valley, by its name among --areas or a place in it: a name, LAT,LON or "
        "NAME=LAT,LON. May be given more than once.",
    ),
    areas: Path | None = typer.Option(
        None, help="Outlines of valleys with a name each: GeoPackage or GeoJSON."
    ),
    valley_reach: float = option(
        "KM", "How far a valley goes on about its place.", default=3.0, above=0.0, most=100.0
    ),
    disc: Literal["any", "half", "full"] = typer.Option(
        "any", help="How much of the sun's disc must be seen: any, half, full."
    ),
    every: float | None = option(
        "MIN",
        "Minutes from one contour to the next, and a sheet of small maps of the light.",
        shown="as suits the map, and no sheet",
        least=1.0,
        most=720.0,
    ),
    frames: bool = typer.Option(
        False, "--frames", help="With --every: a picture of the light at each time too."
    ),
    near: Near = None,
    across: float | None = option(
        "KM",
        "How far round --near the pictures reach.",
        "--map",
        shown="the valleys asked for, or all that is read",
        above=0.0,
        most=2000.0,
    ),
    names: Names = None,
    asked: Asked,
) -> None:
    """Follow the first direct sun over ground and mist, or of an evening the last.

    Lists when each valley is lit, or lies in shade for good. Saves a map whose contours are clock
    times (.png, .jpg, .webp, .svg, .pdf; with --every also a sheet of the light, beside it), the
    contours (.gpkg, .geojson), the share of each valley lit against time (.csv), or the moment
    at every cell (.tif).
    """
    from terrain.command.light_files import LightFound

    asked.check_saves(PICTURE, _LINES, _SHARES, RASTER)
    if across is not None and near is None:
        raise TerrainError("--map says how far round --near the pictures reach: add --near PLACE")
    area = asked.area(names, LIGHT, areas)
    over, (limb, disc_words) = mist.over(area), _PARTS[disc]
    around = None if near is None else area.spot(near)
    with progress("following the light", quiet=asked.as_json) as done:
        ground = area.country() if around is None else area.country_under_sky(around)
        country = over.laid_on(ground)
        day = area.day(date, around or middle_of(country), evening=evening)
        done(0.1)
        valleys = _valleys(area, country, valley or [], areas, 1000.0 * valley_reach)
        arrival = terrain.light_arrival(
            country,
            day,
            limb=limb,
            evening=evening,
            progress=lambda share: done(0.1 + 0.9 * share),
        )
    found = LightFound(
        area_name=area.name,
        country=country,
        arrival=arrival,
        valleys=tuple(valleys),
        disc_words=disc_words,
        every_min=every,
        frames=frames,
        around=around,
        across_m=None if across is None else 1000.0 * across,
    )
    if any(path.suffix.lower() in PICTURE for path in asked.save or []):
        found.check_frames()
    top_m = None if country.mist is None else country.mist.stated_top_m
    asked.answer(
        fields=lambda: {"date": day, "disc": disc, "mist_top_m": top_m, "valleys": found.rows},
        tell=lambda: _tell(found),
        layers=lambda: {"last_light" if evening else "first_light": found.lines()},
        raster=(arrival.bands, arrival.grid),
        others={PICTURE: found.draw, _SHARES: found.save_shares},
    )


def _valleys(
    area: Area, country: terrain.Country, names: list[str], areas: Path | None, reach_m: float
) -> list[terrain.Valley]:
    """The valleys asked for, or without any name all that are drawn; each once."""
    drawn = [] if areas is None else terrain.valleys_in(country.dem, areas)
    if not names:
        return drawn
    by_name = {valley.name.casefold(): valley for valley in drawn}
    found: list[terrain.Valley] = []
    for name in dict.fromkeys(names):
        valley = by_name.get(name.casefold())
        if valley is None:
            own, _, where = name.rpartition("=")
            spot = area.spot(where)
            named = replace(spot, name=own or spot.name or where)
            valley = terrain.valley_about(country, named, reach_m=reach_m)
        found.append(valley)
    return found


def _tell(found: LightFound) -> None:
    """Print when each valley is lit, and what is left out."""
    arrival = found.arrival
    which, columns, verb, turn = (
        ("Last", _EVENING, "take the sun sooner", (arrival.moment(arrival.length_s), "24:00"))
        if arrival.evening
        else ("First", _MORNING, "delay the sun", (arrival.since, "all night"))
    )
    table(
        f"{which} direct sun on {long_day(arrival.day)}, {found.disc_words}, "
        f"by the clock in {zone_in_hours(arrival.moment(43200.0))}",
        (
            Column("", lambda row: row["name"]),
            Column("area km²", lambda row: f"{row['area_km2']:.1f}"),
            *(Column(heading, partial(_moment, name, turn)) for name, heading in columns.items()),
            Column("no sun", lambda row: percent(row["never_share"])),
            Column("not known", lambda row: percent(row["unknown_share"])),
            Column("beyond m", lambda row: whole(row["beyond_m"])),
        ),
        found.rows,
    )
    line(
        f"beyond m: in nine tenths of it only hidden ground higher than this would {verb}.",
        *found.left_out(),
    )


def _moment(name: str, turn: tuple[dt.datetime, str], row: dict[str, Any]) -> str:
    """A moment of a row by the clock."""
    return _clock(row[name], *turn)


def _clock(moment: Any, turn: dt.datetime, night: str = "all night") -> str:
    """A moment of a table by the clock, `-` where it never comes.

    turn: of the night, at which the sun is up where the moment is that one; night: how that is put.
    """
    if moment != moment:
        return "-"
    return night if moment == turn else f"{moment.round('min'):%H:%M}"
