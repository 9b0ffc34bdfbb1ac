"""`terrain skyline`: what makes the horizon of a spot in each direction."""

from __future__ import annotations

from typing import Annotated

import typer

from terrain.command.options import Crs, Json, Names, Rasters, Reach, Save, SpotPlace, Unit

__all__ = ["skyline"]


def skyline(
    ground: Rasters,
    spot: SpotPlace,
    step: Annotated[
        float, typer.Option(metavar="DEG", min=0.01, max=180.0, help="Step of the table, degrees.")
    ] = 10.0,
    names: Names = None,
    crs: Crs = None,
    unit: Unit = None,
    reach: Reach = None,
    save: Save = None,
    as_json: Json = False,
) -> None:
    """Show the skyline of a spot: altitude, distance, and how far the ground is known.

    Saves a picture (.png, .svg, .pdf) or every direction as points (.gpkg, .geojson, .csv).
    """
    import numpy as np

    from terrain.command.load import area_of, ground_of, spot_of
    from terrain.command.report import line, print_json, progress, table
    from terrain.command.save import PICTURE, TABLE, check_saves, save_as
    from terrain.sight.skyline import skyline as find_skyline

    files = check_saves(save, PICTURE, TABLE)
    area = area_of(ground, crs=crs, unit=unit)
    with progress("walking the skyline", quiet=as_json) as done:
        dem = ground_of(area, around=area.place(spot), reach_km=reach)
        done(0.5)
        sky = find_skyline(dem, spot_of(area, spot))
    azimuths = np.arange(0.0, 360.0, step)
    fields = {
        "azimuth_deg": azimuths,
        "altitude_deg": sky.at(azimuths),
        "distance_m": sky.distance_at(azimuths),
        "known_to_m": sky.known_to_at(azimuths),
    }
    if as_json:
        print_json({"eye_height_m": sky.eye_height_m, **{k: list(v) for k, v in fields.items()}})
    else:
        rows = [
            [f"{a:g}", f"{h:.2f}", f"{d / 1000:.2f}", f"{k / 1000:.1f}"]
            for a, h, d, k in zip(*fields.values(), strict=True)
        ]
        table(
            f"Skyline from {spot}, camera at {sky.eye_height_m:.0f} m",
            ["azimuth °", "altitude °", "distance km", "ground known to km"],
            rows,
        )
        line("Azimuths are from true north. Ground beyond the raster is unknown, not flat.")
    if not files:
        return
    from terrain.ground.summits import find_summits
    from terrain.show.export import save_picture, save_table, skyline_table
    from terrain.show.skyline import skyline_figure

    save_as(
        files,
        {
            PICTURE: lambda path: save_picture(
                skyline_figure(
                    dem,
                    sky.spot,
                    sky=sky,
                    summits=find_summits(dem, names=names or area.summits),
                ),
                path,
            ),
            TABLE: lambda path: save_table(skyline_table(sky), path, layer="skyline"),
        },
    )
