"""The arguments and options that the commands share, each written once."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

__all__ = [
    "Count",
    "Crs",
    "Day",
    "HillPlace",
    "Hollow",
    "Json",
    "MistCeiling",
    "MistDepth",
    "MistSources",
    "MistTop",
    "Names",
    "Near",
    "Rasters",
    "Reach",
    "Save",
    "SpotPlace",
    "Unit",
    "Year",
]

Rasters = Annotated[
    list[Path],
    typer.Argument(
        metavar="GROUND...",
        help="An area file (.toml), or elevation rasters; several rasters are one mosaic.",
        show_default=False,
    ),
]
Crs = Annotated[
    str | None,
    typer.Option(help="Coordinate reference system, where the raster does not say: EPSG:27700."),
]
Unit = Annotated[
    str | None, typer.Option(help="Unit of the heights: metre or foot.", show_default="metre")
]
Reach = Annotated[
    float | None,
    typer.Option(
        "--reach",
        metavar="KM",
        help="How far round the place the ground is read.",
        show_default="60",
    ),
]
Near = Annotated[
    str | None,
    typer.Option(metavar="PLACE", help="Only round this place, within the reach."),
]
Names = Annotated[
    Path | None,
    typer.Option(help="Named summits and places: GeoJSON, GeoPackage, or CSV (name, lat, lon)."),
]
SpotPlace = Annotated[
    str,
    typer.Option("--spot", metavar="PLACE", help="Where the camera stands: LAT,LON or a name."),
]
HillPlace = Annotated[
    str | None,
    typer.Option("--hill", metavar="PLACE", help="The hill: its name, or LAT,LON near its summit."),
]
Day = Annotated[
    str | None,
    typer.Option("--date", metavar="YYYY-MM-DD", help="The date at the place."),
]
Year = Annotated[int | None, typer.Option("--year", help="The calendar year at the place.")]
MistTop = Annotated[
    float | None,
    typer.Option("--mist-top", "--top", metavar="M", help="Height of the mist's top, metres."),
]
MistDepth = Annotated[
    float | None,
    typer.Option(
        "--mist-depth",
        "--depth",
        metavar="M",
        help="In place of a level top: mist that lies so deep over the valley floors and slopes "
        "down with them, metres.",
    ),
]
MistCeiling = Annotated[
    float | None,
    typer.Option(
        "--mist-ceiling",
        "--ceiling",
        metavar="M",
        help="Height that such mist never rises above (the inversion), metres.",
    ),
]
MistSources = Annotated[
    list[str] | None,
    typer.Option(
        "--from",
        metavar="PLACE",
        help="Where the mist comes from, instead of everywhere; PLACE=M gives mist along valley "
        "floors its own depth there. May be given more than once.",
        show_default=False,
    ),
]
Hollow = Annotated[
    float | None,
    typer.Option(
        "--hollow",
        metavar="M",
        help="Level mist wells up by itself in closed hollows deeper than this; shallower ones "
        "are as often faults of the raster.",
        show_default="10",
    ),
]
Count = Annotated[int, typer.Option("--count", min=1, help="How many to show.")]
Save = Annotated[
    list[Path] | None,
    typer.Option(
        "--save",
        metavar="FILE",
        help="Write the result; the ending says how. May be given more than once.",
        show_default=False,
    ),
]
Json = Annotated[bool, typer.Option("--json", help="Print JSON for scripts, and nothing else.")]
