"""`terrain dates`: on which mornings of a year the sun rises behind the hill, from one spot."""

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
    SpotPlace,
    Unit,
    Year,
)

__all__ = ["dates"]


def dates(
    ground: Rasters,
    spot: SpotPlace,
    hill: HillPlace = None,
    year: Year = None,
    within: Annotated[
        float, typer.Option(metavar="DEG", help="How far from the summit, at most, degrees.")
    ] = 0.5,
    mist_top: MistTop = None,
    mist_depth: MistDepth = None,
    mist_ceiling: MistCeiling = None,
    names: Names = None,
    crs: Crs = None,
    unit: Unit = None,
    reach: Reach = None,
    as_json: Json = False,
) -> None:
    """List the mornings of a year on which the sun first appears behind the hill."""
    from terrain.command.load import (
        area_of,
        ground_of,
        hill_of,
        hill_place,
        mist_of,
        spot_of,
    )
    from terrain.command.load import year_of as calendar_year
    from terrain.command.report import clock, minutes, print_json, progress, table
    from terrain.errors import NoAnswer
    from terrain.view.dates import backlit_dates

    area = area_of(ground, crs=crs, unit=unit, names=names)
    target = hill_place(area, hill)
    wanted = calendar_year(area, year)
    with progress("going through the year", quiet=as_json) as done:
        dem = ground_of(area, around=area.place(spot), reach_km=reach)
        summit = hill_of(dem, target)
        found = backlit_dates(
            dem,
            spot_of(area, spot),
            summit,
            wanted,
            tolerance_deg=within,
            mist=mist_of(area, dem, mist_top, depth_m=mist_depth, ceiling_m=mist_ceiling),
            progress=done,
        )
    if found.empty:
        raise NoAnswer(
            f"on no morning of {wanted} does the sun first appear within {within:g} degrees of "
            f"{summit.label} from {spot}"
        )
    if as_json:
        print_json(found.to_dict("records"))
        return
    rows = [
        [
            f"{row['day']:%a %d %b %Y}",
            f"{clock(row['appears'])} ± {minutes(row['uncertainty_s'])}",
            f"{abs(row['offset_deg']):.2f}° {'right' if row['offset_deg'] > 0 else 'left'}",
            f"± {row['uncertainty_deg']:.2f}°",
            f"{abs(row['offset_widths']):.1f}",
        ]
        for row in found.to_dict("records")
    ]
    mornings = "1 morning" if len(found) == 1 else f"{len(found)} mornings"
    table(
        f"{mornings} of {wanted} with the sun behind {summit.label}",
        ["morning", "sun appears", "from the summit", "", "sun widths"],
        rows,
    )
