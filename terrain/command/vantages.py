"""`terrain vantages`: where to stand for a hill above the mist with the sunrise behind it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from terrain.command.options import (
    Count,
    Crs,
    Day,
    HillPlace,
    Json,
    MistCeiling,
    MistDepth,
    MistSources,
    Names,
    Rasters,
    Reach,
    Save,
    Unit,
    Year,
)
from terrain.command.vantages_report import (
    HEADINGS,
    NOTES,
    near_starts,
    range_note,
    shown_starts,
    subtitle,
    table_rows,
    tell,
)
from terrain.errors import NoAnswer, TerrainError

if TYPE_CHECKING:
    import geopandas as gpd

    from terrain.command.area import Area
    from terrain.command.load import Sources
    from terrain.ground.dem import Dem
    from terrain.ground.places import Spot
    from terrain.mist.level import MistRange
    from terrain.mist.mist import Mist
    from terrain.vantage.access import Access

__all__ = ["HEADINGS", "NOTES", "near_starts", "subtitle", "table_rows", "vantages"]


def vantages(
    ground: Rasters,
    hill: HillPlace = None,
    date: Day = None,
    year: Year = None,
    mist_top: Annotated[
        str | None,
        typer.Option(
            "--mist-top",
            "--top",
            metavar="M",
            help="Height of the mist's top, metres, or LOWEST:HIGHEST:STEP where it is not known "
            "for sure: places that work over more of the range rank higher.",
        ),
    ] = None,
    mist_depth: MistDepth = None,
    mist_ceiling: MistCeiling = None,
    source: MistSources = None,
    pours: Annotated[
        bool, typer.Option("--pours", help="Also look for passes in view that the mist pours over.")
    ] = False,
    walk: Annotated[
        float | None,
        typer.Option(
            metavar="MIN",
            help="Only places within so many minutes' walk of a start, in the dark, so as to be "
            "there before the colour begins.",
        ),
    ] = None,
    start: Annotated[
        list[str] | None,
        typer.Option(
            metavar="PLACE",
            help="Where a walk can begin; repeatable. The starts of the area unless given.",
            show_default=False,
        ),
    ] = None,
    within: Annotated[
        float, typer.Option(metavar="DEG", help="How far from the summit the sun may appear.")
    ] = 1.0,
    freeboard: Annotated[
        float, typer.Option(metavar="M", help="Least height of a vantage above the mist.")
    ] = 20.0,
    steepest: Annotated[
        float, typer.Option(metavar="DEG", help="Steepest ground to stand on.")
    ] = 25.0,
    nearest: Annotated[
        float, typer.Option(metavar="KM", help="Least distance to the summit.")
    ] = 0.8,
    farthest: Annotated[
        float, typer.Option(metavar="KM", help="Greatest distance to the summit.")
    ] = 15.0,
    apart: Annotated[
        float, typer.Option(metavar="M", help="Least distance between two vantages.")
    ] = 300.0,
    weight: Annotated[
        list[str] | None,
        typer.Option(metavar="NAME=W", help="Weight of a criterion, as alignment=3; repeatable."),
    ] = None,
    count: Count = 10,
    names: Names = None,
    crs: Crs = None,
    unit: Unit = None,
    reach: Reach = None,
    save: Save = None,
    as_json: Json = False,
) -> None:
    """Rank the places that see a hill clear of the mist with the sun appearing behind it.

    Saves a map (.png, .svg, .pdf) or the vantages with every value (.gpkg, .geojson, .csv).
    """
    from terrain.command.load import (
        area_of,
        day_of,
        ground_of,
        hill_of,
        hill_place,
        sources_of,
        spot_of,
        starts_of,
    )
    from terrain.command.report import print_json, progress, rows_of
    from terrain.command.save import PICTURE, TABLE, check_saves, save_as
    from terrain.vantage.find import find_vantages
    from terrain.vantage.limits import Limits

    files = check_saves(save, PICTURE, TABLE)
    limits = Limits(
        tolerance_deg=within,
        freeboard_m=freeboard,
        max_slope_deg=steepest,
        min_distance_m=1000.0 * nearest,
        max_distance_m=1000.0 * farthest,
        apart_m=apart,
    )
    weights = dict(_weight(text) for text in weight or [])
    area = area_of(ground, crs=crs, unit=unit, names=names)
    if date is not None and year is not None:
        raise TerrainError(f"--date {date} and --year {year} exclude each other: give one")
    day = None if year is not None else day_of(area, date)
    target = hill_place(area, hill)
    sources = sources_of(area, source)
    begins = [spot_of(area, text) for text in start] if start else starts_of(area)
    _check_walk(walk, begins)
    with progress("looking for vantages", quiet=as_json) as done:
        dem = ground_of(area, around=target, reach_km=reach)
        summit = hill_of(dem, target)
        sea = _sea_of(area, dem, mist_top, mist_depth, mist_ceiling, sources)
        found = find_vantages(
            dem,
            summit,
            day=day,
            year=year,
            mist=sea,
            starts=begins,
            access=None if walk is None else _access(area, dem, walk),
            passes=_passes(area, dem, sources) if pours and sea is not None else None,
            limits=limits,
            count=count,
            weights=weights,
            progress=done,
        )
    when = f"in {year}" if day is None else f"on {day:%A %d %B %Y}"
    if as_json:
        print_json(rows_of(found))
    else:
        vantages_said = "1 vantage" if len(found) == 1 else f"{len(found)} vantages"
        tell(found, f"{vantages_said} for {summit.label} {when}", sea)
    if not files:
        return
    from terrain.ground.features.paths import read_paths
    from terrain.show.files.export import save_picture, save_table
    from terrain.show.map.map import map_figure

    with_paths = walk is not None and area.paths is not None
    save_as(
        files,
        {
            PICTURE: lambda path: save_picture(
                map_figure(
                    dem,
                    title=f"{summit.label} at sunrise: where to stand",
                    subtitle=subtitle(found, when, sea),
                    mist=_drawn(sea),
                    hill=summit,
                    vantages=found,
                    starts=shown_starts(begins, found),
                    paths=read_paths(area.paths) if with_paths and area.paths else None,
                    notes=(*range_note(sea), *NOTES),
                ),
                path,
            ),
            TABLE: lambda path: save_table(found, path, layer="vantages"),
        },
    )


def _check_walk(walk: float | None, begins: list[Spot]) -> None:
    if walk is None:
        return
    if not walk > 0.0:
        raise TerrainError(f"--walk {walk:g} is no time to walk in: give minutes above 0")
    if not begins:
        raise TerrainError(
            "--walk needs a start: add --start with a place, or [starts] to the area"
        )


def _sea_of(
    area: Area,
    dem: Dem,
    top: str | None,
    depth_m: float | None,
    ceiling_m: float | None,
    sources: Sources,
) -> Mist | MistRange | None:
    """The mist that the options ask for, with one top or with a range of them."""
    from terrain.command.load import check_mist, mist_of
    from terrain.command.mist_sweep import tops_of
    from terrain.mist.level import mist_range

    check_mist(top, depth_m, ceiling_m, sources)
    tops = [] if top is None else tops_of(top)
    if len(tops) > 1:
        return mist_range(dem, tops, seeds=[spot for spot, _ in sources] or None)
    return mist_of(
        area, dem, tops[0] if tops else None, depth_m=depth_m, ceiling_m=ceiling_m, sources=sources
    )


def _drawn(sea: Mist | MistRange | None) -> Mist | None:
    """The mist that a map shows: of a range the one hoped for."""
    from terrain.mist.level import MistRange

    return sea.mist(sea.hoped_m) if isinstance(sea, MistRange) else sea


def _access(area: Area, dem: Dem, walk: float) -> Access:
    from terrain.ground.features.paths import read_paths
    from terrain.ground.relief.water import level_water
    from terrain.vantage.access import Access

    paths = None if area.paths is None else read_paths(area.paths)
    return Access(within_min=walk, paths=paths, water=level_water(dem))


def _passes(area: Area, dem: Dem, sources: Sources) -> gpd.GeoDataFrame | None:
    """The passes of the ground with names where the area has names of summits; None without any."""
    from terrain.ground.relief.summits import find_summits
    from terrain.mist.passes import passes

    summits = find_summits(dem, names=area.summits)
    try:
        return passes(dem, summits=summits, seeds=[spot for spot, _ in sources] or None)
    except NoAnswer:
        return None


def _weight(text: str) -> tuple[str, float]:
    name, _, value = text.partition("=")
    try:
        return name.strip(), float(value)
    except ValueError as error:
        raise TerrainError(f"{text!r} is not a weight: give NAME=W, as alignment=3") from error
