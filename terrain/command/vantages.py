"""`terrain vantages`: where to stand for a hill above the mist with the low sun behind it."""

from __future__ import annotations

import datetime as dt
from contextlib import suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING

import typer

import terrain
from terrain.command import options
from terrain.command.area import Area, hill_on
from terrain.command.bounds import Bounds
from terrain.command.days import days_of_year
from terrain.command.further import again
from terrain.command.mist_asked import MistAsked, MistOptions, top_option, trees_of
from terrain.command.options import option
from terrain.command.report import progress
from terrain.command.room import VANTAGES
from terrain.command.saves import PICTURE, TABLE
from terrain.command.walk_asked import WalkOptions
from terrain.command.wanted import Wanted
from terrain.errors import NoAnswer, TerrainError
from terrain.words.clocks import long_day
from terrain.words.figures import count_of
from terrain.words.records import rows_of

if TYPE_CHECKING:
    import geopandas as gpd


@dataclass(frozen=True, kw_only=True)
class _MistOptions(MistOptions):
    """The options of a mist that vantages are ranked by."""

    mist_top: str | None = top_option(
        "where it is not known for sure: places that work over more of the range rank higher."
    )


def vantages(
    *,
    hill: options.HillPlace = None,
    date: options.Day = None,
    year: options.YearInstead = None,
    mist: _MistOptions,
    trees: options.Trees = "5:15",
    wanted: Wanted,
    pours: bool = typer.Option(
        False, "--pours", help="Also look for passes in view that the mist pours over."
    ),
    walks: WalkOptions,
    within: options.Within = 1.0,
    freeboard: float = option(
        "M", "Least height of a vantage above the mist.", default=20.0, least=0.0, most=9000.0
    ),
    steepest: float = option(
        "DEG", "Steepest ground to stand on.", default=25.0, above=0.0, most=90.0
    ),
    nearest: float = option(
        "KM", "Least distance to the summit.", default=0.8, least=0.0, most=500.0
    ),
    farthest: options.Farthest = 15.0,
    apart: float = option(
        "M", "Least distance between two vantages.", default=300.0, least=0.0, most=500_000.0
    ),
    weight: list[str] | None = option(
        "NAME=W", "Weight of a criterion, as alignment=3; repeatable."
    ),
    count: options.Count = 10,
    names: options.Names = None,
    asked: options.Asked,
) -> None:
    """Rank the places that see a hill clear of the mist with the low sun behind it or over it.

    Saves a map (.png, .jpg, .webp, .svg, .pdf) or the vantages with every value (.gpkg,
    there with the lines of sight and the outline of the mist, .geojson, .csv).
    """
    from terrain.command.vantages_report import tell
    from terrain.sun.calendar import span_label

    asked.check_saves(PICTURE, TABLE)
    weights = dict(_weight(text) for text in weight or [])
    area = asked.area(names, VANTAGES)
    limits = wanted.limits(
        area,
        tolerance_deg=within,
        freeboard_m=freeboard,
        max_slope_deg=steepest,
        min_distance_m=1000.0 * nearest,
        max_distance_m=1000.0 * farthest,
        apart_m=apart,
        trees_m=trees_of(trees),
    )
    if date is not None and year is not None:
        raise TerrainError(f"--date {date} and --year {year} exclude each other: give one")
    place, over, begins = area.hill_place(hill), mist.over(area), walks.starts(area)
    day, among, when = None, None, ""
    if year is None:
        day = area.day(date, place)
        when = f"on {long_day(day)}"
    else:
        among = days_of_year(year, place)
        when = f"in {span_label(among)}"
    with progress("looking for vantages", quiet=asked.as_json) as done:
        country = area.country_under_sky(place)
        summit, sea = hill_on(country, place), over.of(country)
        access = walks.access(area, country)
        found = terrain.find_vantages(
            country,
            summit,
            day=day,
            year=among,
            mist=sea,
            starts=begins,
            access=access,
            passes=_passes(area, country, over) if pours and sea is not None else None,
            limits=limits,
            count=count,
            weights=weights,
            evening=wanted.evening,
            progress=done,
        )
    title = f"{count_of(len(found), 'vantage')} for {summit.label} {when}"
    late = [*mist.words, *["--evening"] * wanted.evening, "--save", "view.png"]
    asked.answer(
        fields=lambda: rows_of(found),
        tell=lambda: tell(
            found, title, sea, again(asked, "sunrise", names, *_first(found, day, place), *late)
        ),
        picture=lambda: terrain.vantages_map(
            country.dem,
            summit,
            found,
            when=when,
            mist=sea,
            starts=begins,
            paths=None if access is None else access.paths,
            trees_m=limits.trees_m,
            named=area.all_named,
            views=terrain.small_views(country, summit, found, mist=sea),
        ),
        layers=lambda: _layers(found, summit, country, sea),
    )


def _layers(
    found: gpd.GeoDataFrame,
    hill: terrain.Hill,
    country: terrain.Country,
    sea: terrain.Mist | terrain.MistRange | None,
) -> dict[str, gpd.GeoDataFrame]:
    """The vantages, the lines of sight to the summit, and the mist, of a range that hoped for."""
    from terrain.ground.tables import lines_to

    layers = {"vantages": found, "sight_lines": lines_to(found[["rank"]], found, hill)}
    mist = sea.hoped if isinstance(sea, terrain.MistRange) else sea
    if mist is not None:
        layers["mist"] = mist.shoreline(country.dem, min_area_km2=0.001)
    return layers


def _first(found: gpd.GeoDataFrame, day: dt.date | None, hill: terrain.Spot) -> list[str]:
    """The first vantage, its hill and its day as options."""
    best = found.iloc[0]
    return [
        *("--spot", f"{best['lat_deg']:.5f},{best['lon_deg']:.5f}"),
        *("--hill", hill.name or f"{hill.lat_deg:.5f},{hill.lon_deg:.5f}"),
        *("--date", f"{best['day'] if day is None else day:%Y-%m-%d}"),
    ]


def _passes(area: Area, country: terrain.Country, over: MistAsked) -> gpd.GeoDataFrame | None:
    """The passes of the ground with names where the area has names of summits; None without any."""
    summits = country.summits(names=area.summits)
    with suppress(NoAnswer):
        return terrain.passes(country.dem, summits=summits, seeds=over.seeds)
    return None


def _weight(text: str) -> tuple[str, float]:
    name, _, value = text.partition("=")
    try:
        weight = float(value)
    except ValueError as error:
        raise TerrainError(f"{text[:60]!r} is not a weight: give NAME=W, as alignment=3") from error
    Bounds(least=0.0, most=1e6).check(f"the weight of {name.strip()[:60]}", weight)
    return name.strip(), weight
