"""`terrain hills`: which hills of the whole tile have the sun behind them on one morning."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from terrain.command.options import (
    Count,
    Crs,
    Day,
    Json,
    MistCeiling,
    MistDepth,
    MistTop,
    Names,
    Near,
    Rasters,
    Reach,
    Save,
    Unit,
)

if TYPE_CHECKING:
    import geopandas as gpd

__all__ = ["hills"]

_HEADINGS = (
    "no.",
    "hill",
    "hill m",
    "stand at",
    "height m",
    "above mist m",
    "apart km",
    "sun appears",
    "from summit",
    "known km",
    "score",
)


def hills(
    ground: Rasters,
    date: Day = None,
    mist_top: MistTop = None,
    mist_depth: MistDepth = None,
    mist_ceiling: MistCeiling = None,
    within: Annotated[
        float, typer.Option(metavar="DEG", help="How far from the summit the sun may appear.")
    ] = 1.0,
    prominence: Annotated[
        float, typer.Option(metavar="M", help="Least prominence of a hill, metres.")
    ] = 60.0,
    farthest: Annotated[
        float, typer.Option(metavar="KM", help="Greatest distance to the summit.")
    ] = 15.0,
    near: Near = None,
    names: Names = None,
    count: Count = 15,
    crs: Crs = None,
    unit: Unit = None,
    reach: Reach = None,
    save: Save = None,
    as_json: Json = False,
) -> None:
    """For one morning, rank hills and the places to see them from with the sun behind.

    Every summit and every cell of the ground is considered. Saves the table (.gpkg, .geojson,
    .csv).
    """
    from terrain.command.load import area_of, check_mist, day_of, ground_of, mist_of
    from terrain.command.report import line, print_json, progress, rows_of, table
    from terrain.command.save import TABLE, check_saves, save_as
    from terrain.ground.relief.summits import find_summits
    from terrain.vantage.limits import Limits
    from terrain.vantage.pairs import backlit_pairs

    files = check_saves(save, TABLE)
    check_mist(mist_top, mist_depth, mist_ceiling)
    limits = Limits(tolerance_deg=within, max_distance_m=1000.0 * farthest)
    area = area_of(ground, crs=crs, unit=unit, names=names)
    day = day_of(area, date)
    around = None if near is None else area.place(near)
    with progress("taking the sun round the tile", quiet=as_json) as done:
        dem = ground_of(area, around=around, reach_km=reach)
        summits = find_summits(dem, min_prominence_m=prominence, names=names or area.summits)
        found = backlit_pairs(
            dem,
            summits,
            day,
            mist=mist_of(area, dem, mist_top, depth_m=mist_depth, ceiling_m=mist_ceiling),
            limits=limits,
            count=count,
            progress=done,
        )
    if as_json:
        print_json(rows_of(found))
    else:
        title = f"{len(found)} hills with the sun behind them on {day:%A} {day.day} {day:%B %Y}"
        table(title, _HEADINGS, _rows(found), left=("hill", "stand at"))
        line(found.attrs["left_out"].sentence("the sun as it comes over"))
    if not files:
        return
    from terrain.show.files.export import save_table

    save_as(files, {TABLE: lambda path: save_table(found, path, layer="hills")})


def _rows(found: gpd.GeoDataFrame) -> list[list[str]]:
    from terrain.command.report import clock

    return [
        [
            str(row["rank"]),
            row["hill"] or f"{row['hill_lat_deg']:.4f}, {row['hill_lon_deg']:.4f}",
            f"{row['hill_height_m']:.0f}",
            f"{row['lat_deg']:.4f}, {row['lon_deg']:.4f}",
            f"{row['height_m']:.0f}",
            f"{row['freeboard_m']:.0f}" if row["freeboard_m"] == row["freeboard_m"] else "-",
            f"{row['distance_m'] / 1000:.1f}",
            clock(row["appears"]),
            f"{abs(row['offset_deg']):.2f}° {'right' if row['offset_deg'] > 0 else 'left'}",
            f"{row['known_to_m'] / 1000:.1f}",
            f"{row['score']:.2f}",
        ]
        for row in found.to_dict("records")
    ]
