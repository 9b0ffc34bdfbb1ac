"""`terrain mist`: which summits stand above a mist of a given height, and as what islands."""

from __future__ import annotations

from typing import Annotated

import typer

from terrain.command.options import Count, Crs, Json, Names, Near, Rasters, Reach, Save, Unit

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
    source: Annotated[
        list[str] | None,
        typer.Option(
            "--from",
            metavar="PLACE",
            help="Where the mist comes from; by default every outlet and the lowest ground.",
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
    """Fill the valleys with mist to a height and list the summits that stand clear of it.

    Saves a map (.png, .svg, .pdf), the islands (.gpkg, .geojson, .csv), or the mist itself as a
    raster (.tif: its top and its depth).
    """
    from terrain.command.load import area_of, ground_of, spot_of
    from terrain.command.mist_sweep import show_sweep, tops_of
    from terrain.command.report import print_json, progress, rows_of, table
    from terrain.command.save import PICTURE, RASTER, TABLE, check_saves, save_as
    from terrain.errors import TerrainError
    from terrain.ground.summits import find_summits
    from terrain.mist.islands import islands
    from terrain.mist.surface import level_mist

    files = check_saves(save, PICTURE, TABLE, RASTER)
    area = area_of(ground, crs=crs, unit=unit)
    top = area.defaults.get("mist_top_m") if mist_top is None else mist_top
    if top is None:
        raise TerrainError("no height of mist was given: add --top with its top in metres")
    tops = tops_of(str(top))
    around = None if near is None else area.place(near)
    seeds = [spot_of(area, text) for text in source] if source else None
    with progress("filling valleys", quiet=as_json) as done:
        dem = ground_of(area, around=around, reach_km=reach)
        done(0.2)
        summits = find_summits(dem, min_prominence_m=prominence, names=names or area.summits)
        done(0.5)
        if len(tops) > 1:
            show_sweep(
                dem,
                summits,
                tops,
                seeds=seeds,
                title=area.name or "Rising mist",
                count=count,
                files=files,
                as_json=as_json,
            )
            return
        sea = level_mist(dem, tops[0], seeds=seeds)
        done(0.8)
        found = islands(dem, sea, summits)
    if as_json:
        print_json({"mist_top_m": tops[0], "islands": rows_of(found)})
    else:
        rows = [
            [
                str(number),
                row["name"] or f"{row.geometry.y:.4f}, {row.geometry.x:.4f}",
                f"{row['height_m']:.0f}",
                f"{row['freeboard_m']:.0f}",
                str(row["island"]),
                f"{'over ' if row['touches_edge'] else ''}{row['island_area_km2']:.2f}",
                f"{row['shore_width_m']:.0f}",
                f"{row['strait_m']:.0f}" if row["strait_m"] == row["strait_m"] else "-",
            ]
            for number, (_, row) in enumerate(found.head(count).iterrows(), start=1)
        ]
        title = (
            f"{len(found)} of {len(summits)} summits stand above mist with its top at "
            f"{tops[0]:g} m, on {found['island'].nunique()} islands"
        )
        headings = ["no.", "summit", "height m", "above mist m", "island", "area km²"]
        table(title, [*headings, "shore m", "next island m"], rows)
    if not files:
        return
    from terrain.show.export import save_picture, save_raster, save_table
    from terrain.show.key import island_key
    from terrain.show.map import MOST_SUMMITS, map_figure

    save_as(
        files,
        {
            PICTURE: lambda path: save_picture(
                map_figure(
                    dem,
                    title=area.name or "Sea of mist",
                    subtitle=f"Summits that stand above mist with its top at {sea.label}",
                    mist=sea,
                    summits=found,
                    key=island_key(found.head(MOST_SUMMITS)),
                ),
                path,
            ),
            TABLE: lambda path: save_table(found, path, layer="islands"),
            RASTER: lambda path: save_raster(
                {"top of the mist, m": sea.top_m, "depth of the mist, m": sea.depth(dem)},
                dem.grid,
                path,
            ),
        },
    )
