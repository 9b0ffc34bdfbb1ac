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
    MistTop,
    Rasters,
    Reach,
    Save,
    Unit,
    Year,
)
from terrain.errors import TerrainError

if TYPE_CHECKING:
    import geopandas as gpd

    from terrain.command.area import Area
    from terrain.ground.places import Spot
    from terrain.mist.surface import Mist

__all__ = ["NOTES", "near_starts", "subtitle", "table_rows", "vantages"]

NOTES = (
    "Clock times of the place.",
    "Computed from elevation data, not surveyed: check ground, access and weather.",
)

HEADINGS = (
    "no.",
    "place",
    "height m",
    "above mist m",
    "to hill km",
    "sun appears",
    "from summit",
    "slope °",
    "score",
)


def vantages(
    ground: Rasters,
    hill: HillPlace = None,
    date: Day = None,
    year: Year = None,
    mist_top: MistTop = None,
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
        mist_of,
        starts_of,
    )
    from terrain.command.report import line, print_json, progress, rows_of, table
    from terrain.command.save import PICTURE, TABLE, check_saves, save_as
    from terrain.morning.vantages import Limits, find_vantages

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
    area = area_of(ground, crs=crs, unit=unit)
    if date is not None and year is not None:
        raise TerrainError(f"--date {date} and --year {year} exclude each other: give one")
    day = None if year is not None else day_of(area, date)
    target = hill_place(area, hill)
    with progress("looking for vantages", quiet=as_json) as done:
        dem = ground_of(area, around=target, reach_km=reach)
        summit = hill_of(dem, target)
        sea = mist_of(area, dem, mist_top)
        found = find_vantages(
            dem,
            summit,
            day=day,
            year=year,
            mist=sea,
            starts=starts_of(area),
            limits=limits,
            count=count,
            weights=weights,
            progress=done,
        )
    when = f"in {year}" if day is None else f"on {day:%A %d %B %Y}"
    title = f"{len(found)} vantages for {summit.label} {when}"
    if as_json:
        print_json(rows_of(found))
    else:
        table(title, HEADINGS, table_rows(found))
        if "days" in found:
            table("Their mornings", ["no.", "days"], _days(found), left=("days",))
        line("Computed from elevation data, not surveyed: check the ground, the access and the")
        line("weather. Steep ground and edges are dangerous in the dark. Never look at the sun")
        line("through a lens. Next: terrain sunrise ... --spot LAT,LON --save view.png")
    if not files:
        return
    from terrain.show.export import save_picture, save_table
    from terrain.show.map import map_figure

    save_as(
        files,
        {
            PICTURE: lambda path: save_picture(
                map_figure(
                    dem,
                    title=f"{summit.label} at sunrise: where to stand",
                    subtitle=subtitle(found, when, sea),
                    mist=sea,
                    hill=summit,
                    vantages=found,
                    starts=near_starts(area, found),
                    notes=NOTES,
                ),
                path,
            ),
            TABLE: lambda path: save_table(found, path, layer="vantages"),
        },
    )


def subtitle(found: gpd.GeoDataFrame, when: str, sea: Mist | None) -> str:
    """What the map of vantages shows, in one line."""
    mist = "" if sea is None else f", mist up to {sea.label}"
    places = "one place" if len(found) == 1 else f"{len(found)} places"
    return f"{places} where the sun appears behind it {when}{mist}"


def near_starts(area: Area, found: gpd.GeoDataFrame) -> list[Spot]:
    """The starts that are nearest to some vantage: the ones a map need show."""
    from terrain.command.load import starts_of

    return [start for start in starts_of(area) if start.name in set(found.get("start", ()))]


def table_rows(found: gpd.GeoDataFrame) -> list[list[str]]:
    """The cells of the printed table, under `HEADINGS`."""
    from terrain.command.report import clock

    return [
        [
            str(row["rank"]),
            f"{row['lat_deg']:.4f}, {row['lon_deg']:.4f}",
            f"{row['height_m']:.0f}",
            f"{row['freeboard_m']:.0f}" if row["freeboard_m"] == row["freeboard_m"] else "-",
            f"{row['distance_m'] / 1000:.1f}",
            f"{row['day']:%d %b} {clock(row['appears'])}"
            if "day" in row
            else clock(row["appears"]),
            f"{abs(row['offset_deg']):.2f}° {'right' if row['offset_deg'] > 0 else 'left'}",
            f"{row['slope_deg']:.0f}",
            f"{row['score']:.2f}",
        ]
        for row in found.to_dict("records")
    ]


def _days(found: gpd.GeoDataFrame) -> list[list[str]]:
    return [[str(row["rank"]), row["days"]] for row in found.to_dict("records")]


def _weight(text: str) -> tuple[str, float]:
    name, _, value = text.partition("=")
    try:
        return name.strip(), float(value)
    except ValueError as error:
        raise TerrainError(f"{text!r} is not a weight: give NAME=W, as alignment=3") from error
