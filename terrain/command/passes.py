"""`terrain passes`: where valleys meet, and at what height mist pours from one into the next."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from terrain.command.options import Count, Crs, Json, Names, Near, Rasters, Reach, Save, Unit

if TYPE_CHECKING:
    import geopandas as gpd

    from terrain.ground.dem import Dem

__all__ = ["passes"]


def passes(
    ground: Rasters,
    source: Annotated[
        list[str] | None,
        typer.Option(
            "--from",
            metavar="PLACE",
            help="Where the mist comes from; by default every outlet and every closed hollow.",
        ),
    ] = None,
    depth: Annotated[
        float, typer.Option(metavar="M", help="Least fall from the lower hill beside it, metres.")
    ] = 60.0,
    near: Near = None,
    names: Names = None,
    count: Count = 20,
    crs: Crs = None,
    unit: Unit = None,
    reach: Reach = None,
    save: Save = None,
    as_json: Json = False,
) -> None:
    """List the passes between valleys, lowest first, and where mist would pour over them.

    Saves a map with the way it pours (.png, .svg, .pdf) or the passes (.gpkg, .geojson, .csv).
    """
    from terrain.command.load import area_of, ground_of, spot_of
    from terrain.command.report import line, print_json, progress, rows_of, table
    from terrain.command.save import PICTURE, TABLE, check_saves, save_as
    from terrain.ground.summits import find_summits
    from terrain.mist.passes import describe_pass
    from terrain.mist.passes import passes as find_passes

    files = check_saves(save, PICTURE, TABLE)
    area = area_of(ground, crs=crs, unit=unit)
    around = None if near is None else area.place(near)
    seeds = [spot_of(area, text) for text in source] if source else None
    with progress("finding the passes", quiet=as_json) as done:
        dem = ground_of(area, around=around, reach_km=reach)
        done(0.2)
        summits = find_summits(dem, min_prominence_m=depth, names=names or area.summits)
        done(0.4)
        found = find_passes(dem, summits=summits, min_depth_m=depth, seeds=seeds)
    if as_json:
        print_json(rows_of(found))
    else:
        rows = [
            _row(number, row) for number, (_, row) in enumerate(found.head(count).iterrows(), 1)
        ]
        headings = ["no.", "pass", "height m", "between", "place"]
        table(f"{len(found)} passes", headings, rows, left=("pass", "between", "place"))
        for _, row in found[found["pours"]].head(count).iterrows():
            line(f"{describe_pass(row)}.".capitalize())
    if not files:
        return
    from terrain.show.export import save_picture, save_table
    from terrain.show.key import pass_key
    from terrain.show.map import map_figure

    shown = found.head(count)
    pours = _pours(dem, shown)
    way = "" if pours is None else "; a dashed line is the way mist pours down"
    save_as(
        files,
        {
            PICTURE: lambda path: save_picture(
                map_figure(
                    dem,
                    title=f"{area.name or 'Passes'}: where valleys meet",
                    subtitle=f"The lowest passes between them{way}",
                    summits=shown,
                    paths=pours,
                    key=pass_key(shown),
                ),
                path,
            ),
            TABLE: lambda path: save_table(found, path, layer="passes"),
        },
    )


def _row(number: int, row: gpd.GeoSeries) -> list[str]:
    return [
        str(number),
        row["name"] or "-",
        f"{row['height_m']:.0f}",
        f"{row['side_a']} and {row['side_b']}",
        f"{row.geometry.y:.4f}, {row.geometry.x:.4f}",
    ]


def _pours(dem: Dem, shown: gpd.GeoDataFrame) -> gpd.GeoDataFrame | None:
    import geopandas as gpd

    from terrain.mist.passes import pour_path

    lines = [pour_path(dem, row) for _, row in shown[shown["pours"]].iterrows()]
    return gpd.GeoDataFrame(geometry=lines, crs="EPSG:4326") if lines else None
