"""`terrain skyline`: what makes the horizon of a spot in each direction."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import terrain
from terrain.command.mist_asked import MistOptions
from terrain.command.options import Asked, Names, SpotPlace, option
from terrain.command.report import Column, line, print_json, progress, table
from terrain.command.save import PICTURE, TABLE, layers, picture, save_as
from terrain.errors import NoAnswer
from terrain.words.terminal import place

if TYPE_CHECKING:
    import geopandas as gpd
    from matplotlib.figure import Figure

    from terrain.command.area import Area

__all__ = ["skyline"]

_COLUMNS = (
    Column("azimuth °", lambda row: f"{row[0]:g}"),
    Column("altitude °", lambda row: f"{row[1]:.2f}"),
    Column("distance km", lambda row: f"{row[2] / 1000:.2f}"),
    Column("ground known to km", lambda row: f"{row[3] / 1000:.1f}"),
)


def skyline(
    *,
    spot: SpotPlace,
    step: Annotated[
        float, option("DEG", "Step of the table, degrees.", least=0.01, most=180.0)
    ] = 10.0,
    mist: MistOptions,
    names: Names = None,
    asked: Asked,
) -> None:
    """Show the skyline of a spot: altitude, distance, and how far the ground is known.

    With mist it is that of the ground and the mist's top together. Saves a picture (.png, .svg,
    .pdf) or every direction as points (.gpkg, .geojson, .csv).
    """
    files = asked.files(PICTURE, TABLE)
    area = asked.area(names)
    # the mist of the area's defaults belongs to a morning, a skyline to a place
    over, camera = mist.over(area, or_default=False), area.spot(spot)
    with progress("walking the skyline", quiet=asked.as_json) as done:
        dem = area.ground(camera)
        done(0.3)
        sea = over.hoped(dem)
        if sea is not None:
            _check_clear(dem, sea, camera)
        done(0.6)
        sky = terrain.skyline(dem if sea is None else sea.surface(dem), camera)
    fields = _fields(sky, step)
    if asked.as_json:
        print_json({"eye_height_m": sky.eye_height_m, **fields})
    else:
        title = f"Skyline from {spot}, camera at {sky.eye_height_m:.0f} m"
        table(title, _COLUMNS, zip(*fields.values(), strict=True))
        if sea is not None:
            line(f"Over {_with_top(sea)}, which hides what lies under it.")
        line("Azimuths are from true north. Ground beyond the raster is unknown, not flat.")
    save_as(
        files,
        {
            PICTURE: picture(lambda: _figure(area, dem, sea, sky)),
            TABLE: layers(lambda: _points(sky)),
        },
    )


def _fields(sky: terrain.Skyline, step: float) -> dict[str, list[Any]]:
    import numpy as np

    azimuths = np.arange(0.0, 360.0, step)
    return {
        "azimuth_deg": list(azimuths),
        "altitude_deg": list(sky.at(azimuths)),
        "distance_m": list(sky.distance_at(azimuths)),
        "known_to_m": list(sky.known_to_at(azimuths)),
    }


def _check_clear(dem: terrain.Dem, sea: terrain.Mist, camera: terrain.Spot) -> None:
    """NoAnswer where the spot lies under the mist: from there is no skyline."""
    depth_m = sea.depth_at(dem, camera)
    if depth_m == depth_m:
        raise NoAnswer(
            f"{place(camera.lat_deg, camera.lon_deg)} lies {depth_m:.0f} m under the mist with "
            f"its top at {sea.label}: choose a higher spot or less mist"
        )


def _figure(area: Area, dem: terrain.Dem, sea: terrain.Mist | None, sky: terrain.Skyline) -> Figure:
    from terrain.show.view.skyline import skyline_figure

    title, spot = "", sky.spot
    if sea is not None:
        title = (
            f"Skyline from {spot.name or place(spot.lat_deg, spot.lon_deg)} over {_with_top(sea)}"
        )
    return skyline_figure(
        dem if sea is None else sea.surface(dem),
        spot,
        title=title,
        sky=sky,
        summits=terrain.find_summits(dem, names=area.summits),
    )


def _points(sky: terrain.Skyline) -> dict[str, gpd.GeoDataFrame]:
    from terrain.show.files.export import skyline_table

    return {"skyline": skyline_table(sky)}


def _with_top(sea: terrain.Mist) -> str:
    return f"mist with its top at {sea.label}"
