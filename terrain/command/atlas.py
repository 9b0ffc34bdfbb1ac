"""`terrain atlas`: for every cell of a tile, the days of a year with the sun behind a hill."""

from __future__ import annotations

from typing import Annotated

import typer

from terrain.command.options import (
    Crs,
    HillPlace,
    Json,
    MistCeiling,
    MistDepth,
    MistTop,
    Names,
    Rasters,
    Reach,
    Save,
    Unit,
    Year,
)

__all__ = ["atlas"]


def atlas(
    ground: Rasters,
    hill: HillPlace = None,
    year: Year = None,
    mist_top: MistTop = None,
    mist_depth: MistDepth = None,
    mist_ceiling: MistCeiling = None,
    within: Annotated[
        float, typer.Option(metavar="DEG", help="How far from the summit the sun may pass.")
    ] = 0.5,
    evening: Annotated[bool, typer.Option("--evening", help="Sunset in place of sunrise.")] = False,
    names: Names = None,
    crs: Crs = None,
    unit: Unit = None,
    reach: Reach = None,
    save: Save = None,
    as_json: Json = False,
) -> None:
    """Map the days of a year on which the sun passes behind a hill, for every cell at once.

    Saves a map whose colour is the date (.png, .svg, .pdf), or every band (.tif).
    """
    from terrain.command.load import area_of, check_mist, ground_of, hill_of, hill_place, mist_of
    from terrain.command.load import year_of as calendar_year
    from terrain.command.report import line, print_json, progress
    from terrain.command.save import PICTURE, RASTER, check_saves, save_as
    from terrain.year.atlas import backlight_atlas

    files = check_saves(save, PICTURE, RASTER)
    check_mist(mist_top, mist_depth, mist_ceiling)
    area = area_of(ground, crs=crs, unit=unit, names=names)
    wanted = calendar_year(area, year)
    target = hill_place(area, hill)
    with progress("working out a year of every cell", quiet=as_json) as done:
        dem = ground_of(area, around=target, reach_km=reach)
        done(0.3)
        summit = hill_of(dem, target)
        mist = mist_of(area, dem, mist_top, depth_m=mist_depth, ceiling_m=mist_ceiling)
        done(0.5)
        found = backlight_atlas(
            dem, summit, wanted, tolerance_deg=within, mist=mist, evening=evening
        )
        left_out = found.left_out()
    cell_km2 = (dem.cell_m / 1000.0) ** 2
    figures = {
        "sees_km2": float(found.sees.sum()) * cell_km2,
        "on_skyline_km2": float(found.on_skyline.sum()) * cell_km2,
        "backlit_km2": float(found.has_days.sum()) * cell_km2,
    }
    if as_json:
        print_json(
            {
                "hill": vars(summit),
                "year": wanted,
                "event": found.event,
                **figures,
                "left_out": vars(left_out),
            }
        )
    else:
        line(f"{summit.label}, {found.event} in {wanted}:")
        line(f"  its summit is seen from {figures['sees_km2']:.1f} km²,")
        line(f"  stands on the skyline from {figures['on_skyline_km2']:.1f} km²,")
        line(f"  with the sun behind it on some day from {figures['backlit_km2']:.1f} km².")
        line(left_out.sentence("the summit and behind it"))
        line("Whether the sun was up before over lower ground: terrain vantages --year says so.")
    if not files:
        return
    from terrain.show.files.export import save_picture, save_raster
    from terrain.show.map.atlas import atlas_figure

    title = f"{summit.label}: when the sun is behind it"
    over = "" if mist is None else f", mist up to {mist.label}"
    save_as(
        files,
        {
            PICTURE: lambda path: save_picture(
                atlas_figure(
                    dem,
                    found,
                    title=title,
                    subtitle=f"{found.event} in {wanted}{over}",
                    notes=[left_out.sentence("the summit and behind it")],
                    mist=mist,
                ),
                path,
            ),
            RASTER: lambda path: save_raster(found.bands(), dem.grid, path),
        },
    )
