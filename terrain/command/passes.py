"""`terrain passes`: where valleys meet, and at what height mist pours from one into the next."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from terrain.command.options import (
    Count,
    Crs,
    Hollow,
    Json,
    Names,
    Near,
    Rasters,
    Reach,
    Save,
    Unit,
)

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
            help="Where the mist comes from; by default every edge and every deeper hollow.",
        ),
    ] = None,
    hollow: Hollow = None,
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
    """List the passes between valleys, lowest first, and where rising mist pours over them.

    Saves a map with the way it pours (.png, .svg, .pdf) or the passes (.gpkg, there with the ways
    down as lines, .geojson, .csv).
    """
    from terrain.command.load import area_of, ground_of, spot_of
    from terrain.command.report import line, print_json, progress, rows_of, table
    from terrain.command.save import PICTURE, TABLE, check_saves, save_as
    from terrain.errors import TerrainError
    from terrain.ground.relief.summits import find_summits
    from terrain.mist.flood import MIN_HOLLOW_M, flood_levels
    from terrain.mist.passes import describe_pass
    from terrain.mist.passes import passes as find_passes

    files = check_saves(save, PICTURE, TABLE)
    area = area_of(ground, crs=crs, unit=unit, names=names)
    around = None if near is None else area.place(near)
    seeds = [spot_of(area, text) for text in source] if source else None
    if hollow is not None and seeds:
        raise TerrainError(
            f"--hollow {hollow:g} says where mist wells up by itself, which it does not with "
            "--from: leave out one of the two"
        )
    with progress("finding the passes", quiet=as_json) as done:
        dem = ground_of(area, around=around, reach_km=reach)
        done(0.2)
        summits = find_summits(dem, min_prominence_m=depth, names=names or area.summits)
        done(0.4)
        levels = flood_levels(
            dem, seeds=seeds, min_hollow_m=MIN_HOLLOW_M if hollow is None else hollow
        )
        found = find_passes(dem, summits=summits, min_depth_m=depth, levels=levels)
        # those asked about first: the table and the map show the head of it
        found = found.sort_values("pours", ascending=False, kind="stable", ignore_index=True)
    if as_json:
        print_json(rows_of(found))
    else:
        rows = [
            _row(number, row, pours=bool(found["pours"].any()))
            for number, (_, row) in enumerate(found.head(count).iterrows(), 1)
        ]
        headings = ["no.", "pass", "height m", "fills first", "then", "place"]
        if found["pours"].any():
            headings.insert(5, "pours at m")
        left = ("pass", "fills first", "then", "place")
        title = "1 pass" if len(found) == 1 else f"{len(found)} passes"
        table(title, headings, rows, left=left)
        if not found["pours"].any():
            line(
                "Mist that rises everywhere at once pours over none of them: --from PLACE says "
                "where it comes from."
            )
        for _, row in found[found["pours"]].head(count).iterrows():
            words = describe_pass(row)
            line(f"{words[:1].upper()}{words[1:]}.")
    if not files:
        return
    from terrain.show.files.export import save_layers, save_picture
    from terrain.show.map.map import MOST_SUMMITS, map_figure
    from terrain.show.map.pouring_marks import Pours
    from terrain.show.paper.key import pass_key

    shown = found.head(min(count, MOST_SUMMITS))
    ways = _ways(dem, shown)
    order = "The lowest passes between them"
    if found["pours"].any():
        order = "Passes that mist pours over, then the lowest"
    # row labels of the summits mean nothing in a file
    plain = found.drop(columns=["summit_a", "summit_b"])
    save_as(
        files,
        {
            PICTURE: lambda path: save_picture(
                map_figure(
                    dem,
                    title=f"{area.name or 'Passes'}: where valleys meet",
                    subtitle=f"{order}, and the side that fills first",
                    summits=shown,
                    key=pass_key(shown),
                    pours=Pours(ways=ways) if len(ways) else None,
                ),
                path,
            ),
            TABLE: lambda path: save_layers({"passes": plain, "pours": _ways(dem, found)}, path),
        },
    )


def _row(number: int, row: gpd.GeoSeries, *, pours: bool) -> list[str]:
    at = f"{row['pours_at_m']:.0f}" if row["pours"] else "-"
    return [
        str(number),
        row["name"] or "-",
        f"{row['height_m']:.0f}",
        row["side_a"],
        row["side_b"],
        *([at] if pours else []),
        f"{row.geometry.y:.4f}, {row.geometry.x:.4f}",
    ]


def _ways(dem: Dem, found: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    from terrain.mist.pouring import pouring_paths

    return pouring_paths(dem, found[found["pours"]])
