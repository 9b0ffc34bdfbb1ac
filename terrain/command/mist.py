"""`terrain mist`: which summits stand above a mist, and as what islands."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from terrain.command.options import (
    Count,
    Crs,
    Hollow,
    Json,
    MistCeiling,
    MistDepth,
    MistSources,
    Names,
    Near,
    Rasters,
    Reach,
    Save,
    Unit,
)

if TYPE_CHECKING:
    from terrain.command.area import Area

__all__ = ["mist"]


def mist(
    ground: Rasters,
    mist_top: Annotated[
        str | None,
        typer.Option(
            "--top",
            "--mist-top",
            metavar="M",
            help="Height of the mist's top, metres, or LOWEST:HIGHEST:STEP for several.",
        ),
    ] = None,
    mist_depth: MistDepth = None,
    mist_ceiling: MistCeiling = None,
    source: MistSources = None,
    hollow: Hollow = None,
    spot: Annotated[
        str | None,
        typer.Option(
            metavar="PLACE",
            help="Where you would stand: adds the width of the mist between its island and that "
            "of each summit.",
        ),
    ] = None,
    near: Near = None,
    prominence: Annotated[
        float, typer.Option(metavar="M", help="Least prominence of a summit, metres.")
    ] = 30.0,
    names: Names = None,
    count: Count = 25,
    crs: Crs = None,
    unit: Unit = None,
    reach: Reach = None,
    save: Save = None,
    as_json: Json = False,
) -> None:
    """Fill the valleys with mist and list the summits that stand clear of it.

    Level mist to a height (--top), or mist that slopes down with the valley floors (--depth).
    Saves a map (.png, .svg, .pdf), the islands (.gpkg, there with the mist's outline and where it
    pours over passes, .geojson, .csv), or the mist as a raster (.tif: its top and its depth).
    """
    from terrain.command.load import area_of, check_mist, ground_of, sources_of, spot_of
    from terrain.command.mist_asked import MistAsked
    from terrain.command.mist_report import show_mist
    from terrain.command.mist_sweep import show_sweep, tops_of
    from terrain.command.report import progress
    from terrain.command.save import PICTURE, RASTER, TABLE, check_saves
    from terrain.ground.relief.summits import find_summits

    files = check_saves(save, PICTURE, TABLE, RASTER)
    area = area_of(ground, crs=crs, unit=unit, names=names)
    sources = sources_of(area, source)
    check_mist(mist_top, mist_depth, mist_ceiling, sources)
    along = mist_depth is not None or any(own_m is not None for _, own_m in sources)
    _check_hollow(hollow, bool(sources), along)
    tops = [] if along else tops_of(_top_text(area, mist_top))
    around = None if near is None else area.place(near)
    camera = None if spot is None else spot_of(area, spot)
    with progress("reading the ground", quiet=as_json) as done:
        dem = ground_of(area, around=around, reach_km=reach)
        done(0.3)
        summits = find_summits(dem, min_prominence_m=prominence, names=names or area.summits)
    asked = MistAsked(
        area=area,
        dem=dem,
        summits=summits,
        sources=sources,
        tops_m=tops,
        depth_m=mist_depth,
        ceiling_m=mist_ceiling,
        hollow_m=hollow,
        spot=camera,
        least_pass_m=prominence,
    )
    show = show_sweep if len(tops) > 1 else show_mist
    show(asked, count=count, files=files, as_json=as_json)


def _top_text(area: Area, mist_top: str | None) -> str:
    from terrain.errors import TerrainError

    top = area.defaults.get("mist_top_m") if mist_top is None else mist_top
    if top is None:
        raise TerrainError(
            "no mist was given: add --top with the height of its top, or --depth with its depth "
            "over the valley floors, in metres"
        )
    return str(top)


def _check_hollow(hollow_m: float | None, has_sources: bool, along: bool) -> None:
    from terrain.errors import TerrainError

    if hollow_m is not None and (has_sources or along):
        other = "--from" if has_sources else "--mist-depth"
        raise TerrainError(
            f"--hollow {hollow_m:g} says where level mist wells up by itself, which it does not "
            f"with {other}: leave out one of the two"
        )
