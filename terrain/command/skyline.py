"""`terrain skyline`: what makes the horizon of a spot in each direction."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from terrain.command.options import (
    Crs,
    Json,
    MistCeiling,
    MistDepth,
    MistTop,
    Names,
    Rasters,
    Reach,
    Save,
    SpotPlace,
    Unit,
)

if TYPE_CHECKING:
    from terrain.ground.dem import Dem
    from terrain.ground.places import Spot
    from terrain.mist.mist import Mist

__all__ = ["skyline"]


def skyline(
    ground: Rasters,
    spot: SpotPlace,
    step: Annotated[
        float, typer.Option(metavar="DEG", min=0.01, max=180.0, help="Step of the table, degrees.")
    ] = 10.0,
    mist_top: MistTop = None,
    mist_depth: MistDepth = None,
    mist_ceiling: MistCeiling = None,
    names: Names = None,
    crs: Crs = None,
    unit: Unit = None,
    reach: Reach = None,
    save: Save = None,
    as_json: Json = False,
) -> None:
    """Show the skyline of a spot: altitude, distance, and how far the ground is known.

    With mist it is that of the ground and the mist's top together. Saves a picture (.png, .svg,
    .pdf) or every direction as points (.gpkg, .geojson, .csv).
    """
    import numpy as np

    from terrain.command.load import area_of, check_mist, ground_of, mist_of, spot_of
    from terrain.command.report import line, print_json, progress, table
    from terrain.command.save import PICTURE, TABLE, check_saves, save_as
    from terrain.sight.skyline import skyline as find_skyline

    files = check_saves(save, PICTURE, TABLE)
    check_mist(mist_top, mist_depth, mist_ceiling)
    area = area_of(ground, crs=crs, unit=unit, names=names)
    with progress("walking the skyline", quiet=as_json) as done:
        dem = ground_of(area, around=area.place(spot), reach_km=reach)
        done(0.3)
        camera = spot_of(area, spot)
        # the mist of the area's defaults belongs to a morning, a skyline to a place
        sea = None
        if mist_top is not None or mist_depth is not None:
            sea = mist_of(area, dem, mist_top, depth_m=mist_depth, ceiling_m=mist_ceiling)
        if sea is not None:
            _check_clear(dem, sea, camera)
        seen = dem if sea is None else sea.surface(dem)
        done(0.6)
        sky = find_skyline(seen, camera)
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
        if sea is not None:
            line(f"Over {_with_top(sea)}, which hides what lies under it.")
        line("Azimuths are from true north. Ground beyond the raster is unknown, not flat.")
    if not files:
        return
    from terrain.ground.relief.summits import find_summits
    from terrain.show.files.export import save_picture, save_table, skyline_table
    from terrain.show.view.skyline import skyline_figure

    save_as(
        files,
        {
            PICTURE: lambda path: save_picture(
                skyline_figure(
                    seen,
                    sky.spot,
                    title="" if sea is None else f"{_title(camera)} over {_with_top(sea)}",
                    sky=sky,
                    summits=find_summits(dem, names=names or area.summits),
                ),
                path,
            ),
            TABLE: lambda path: save_table(skyline_table(sky), path, layer="skyline"),
        },
    )


def _check_clear(dem: Dem, sea: Mist, camera: Spot) -> None:
    """NoAnswer where the spot lies under the mist: from there is no skyline."""
    from terrain.errors import NoAnswer

    depth_m = sea.depth_at(dem, camera)
    if depth_m == depth_m:
        raise NoAnswer(
            f"{camera.lat_deg:.4f}, {camera.lon_deg:.4f} lies {depth_m:.0f} m under the mist with "
            f"its top at {sea.label}: choose a higher spot or less mist"
        )


def _title(camera: Spot) -> str:
    return f"Skyline from {camera.name or f'{camera.lat_deg:.4f}, {camera.lon_deg:.4f}'}"


def _with_top(sea: Mist) -> str:
    return f"mist with its top at {sea.label}"
