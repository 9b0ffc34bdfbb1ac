"""`terrain summits`: which summits are in the raster, and how far each stands out."""

from __future__ import annotations

from typing import Annotated

import typer

from terrain.command.options import Count, Crs, Json, Names, Near, Rasters, Reach, Save, Unit

__all__ = ["summits"]


def summits(
    ground: Rasters,
    prominence: Annotated[
        float, typer.Option(metavar="M", help="Least prominence, metres.")
    ] = 30.0,
    near: Near = None,
    names: Names = None,
    count: Count = 25,
    crs: Crs = None,
    unit: Unit = None,
    reach: Reach = None,
    save: Save = None,
    as_json: Json = False,
) -> None:
    """List the summits of the ground with their height and prominence, highest first."""
    from terrain.command.load import area_of, ground_of
    from terrain.command.report import print_json, progress, table
    from terrain.command.save import PICTURE, TABLE, check_saves, save_as
    from terrain.errors import NoAnswer
    from terrain.ground.relief.summits import find_summits

    files = check_saves(save, PICTURE, TABLE)
    area = area_of(ground, crs=crs, unit=unit, names=names)
    around = None if near is None else area.place(near)
    with progress("finding summits", quiet=as_json) as done:
        dem = ground_of(area, around=around, reach_km=reach)
        done(0.2)
        found = find_summits(dem, min_prominence_m=prominence, names=names or area.summits)
    if found.empty:
        raise NoAnswer(f"no summit here has a prominence of {prominence:g} m: ask for less")
    if as_json:
        from terrain.command.report import rows_of

        print_json(rows_of(found))
    else:
        rows = [
            [
                str(number),
                row["name"] or "-",
                f"{row['height_m']:.0f}",
                f"{'at least ' if row['bounded'] else ''}{row['prominence_m']:.0f}",
                f"{row['col_height_m']:.0f}",
                f"{row.geometry.y:.4f}, {row.geometry.x:.4f}",
            ]
            for number, (_, row) in enumerate(found.head(count).iterrows(), start=1)
        ]
        summits_said = "1 summit" if len(found) == 1 else f"{len(found)} summits"
        title = f"{summits_said} of {prominence:g} m prominence or more"
        if len(found) > count:
            title += f", the {count} highest"
        table(title, ["no.", "name", "height m", "prominence m", "col m", "place"], rows)
    if not files:
        return
    from terrain.show.files.export import save_picture, save_table
    from terrain.show.map.map import MOST_SUMMITS, map_figure

    shown = found.head(MOST_SUMMITS)
    first = "the highest first" if len(shown) == len(found) else f"the {len(shown)} highest"
    least = ["≥: at least; what lies off the raster may make it more."]
    save_as(
        files,
        {
            PICTURE: lambda path: save_picture(
                map_figure(
                    dem,
                    title=area.name or "Summits",
                    subtitle=f"Summits of {prominence:g} m prominence or more, {first}",
                    summits=found,
                    notes=least if shown["bounded"].any() else [],
                ),
                path,
            ),
            TABLE: lambda path: save_table(found, path, layer="summits"),
        },
    )
