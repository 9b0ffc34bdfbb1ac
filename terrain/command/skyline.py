"""`terrain skyline`: what makes the horizon of a spot in each direction."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import terrain
from terrain.command.area import Area, stand_on
from terrain.command.mist_asked import MistOptions
from terrain.command.options import Asked, Names, SpotPlace, option
from terrain.command.report import line, progress
from terrain.command.room import ONE_SPOT
from terrain.command.saves import PICTURE, TABLE
from terrain.command.tables import Column, table
from terrain.errors import NoAnswer
from terrain.words.figures import place

if TYPE_CHECKING:
    from matplotlib.figure import Figure


_COLUMNS = (
    Column("azimuth °", lambda row: f"{row[0]:g}"),
    Column("altitude °", lambda row: f"{round(row[1], 2) + 0.0:.2f}"),
    Column("distance km", lambda row: f"{row[2] / 1000:.2f}"),
    Column("ground known to km", lambda row: f"{row[3] / 1000:.1f}"),
)


def skyline(
    *,
    spot: SpotPlace,
    step: float = option(
        "DEG", "Step of the table, degrees.", least=0.01, most=180.0, default=10.0
    ),
    mist: MistOptions,
    names: Names = None,
    asked: Asked,
) -> None:
    """Show the skyline of a spot: altitude, distance, and how far the ground is known.

    With mist it is that of the ground and the mist's top together. Saves a picture (.png, .jpg,
    .webp, .svg, .pdf) or every direction as points (.gpkg, .geojson, .csv).
    """
    from terrain.words.spot import moved

    asked.check_saves(PICTURE, TABLE)
    area = asked.area(names, ONE_SPOT)
    # the mist of the area's defaults belongs to a morning, a skyline to a place
    over, given = mist.over(area, or_default=False), area.spot(spot)
    with progress("walking the skyline", quiet=asked.as_json) as done:
        country = over.laid_on(area.country_under_sky(given, only_there=True))
        camera = stand_on(country, area, given)
        _check_clear(country, camera)
        done(0.6)
        sky = terrain.skyline(country.seen, camera)
    fields = _fields(sky, step)

    def tell() -> None:
        title = f"Skyline from {spot}, camera at {sky.eye_height_m:.0f} m"
        table(title, _COLUMNS, zip(*fields.values(), strict=True))
        line(*moved(given, camera))
        if country.mist is not None:
            line(f"Over mist with its top at {country.mist.label}, which hides what lies under it.")
        line(
            "Azimuths are from true north. Ground beyond the raster is unknown, not flat: where "
            "the skyline lies farther off than it is known, it is the sea's horizon at the least."
        )

    asked.answer(
        fields=lambda: {"spot": camera, "eye_height_m": sky.eye_height_m, **fields},
        tell=tell,
        picture=lambda: _figure(area, country, sky),
        layers=lambda: {"skyline": terrain.skyline_table(sky)},
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


def _check_clear(country: terrain.Country, camera: terrain.Spot) -> None:
    """NoAnswer where the spot lies under the mist: from there is no skyline."""
    from terrain.view.scene import mist_under

    mist = country.mist
    if mist is None:
        return
    depth_m = mist.depth_at(country.dem, camera)
    if depth_m == depth_m:
        raise NoAnswer(
            f"{place(camera.lat_deg, camera.lon_deg)} lies {depth_m:.0f} m under the mist with "
            f"its top at {mist.label}: choose a higher spot or less mist",
            loosen=mist_under(mist, country.dem.height_at(camera.lon_deg, camera.lat_deg), depth_m),
        )


def _figure(area: Area, country: terrain.Country, sky: terrain.Skyline) -> Figure:
    title, spot = "", sky.spot
    if country.mist is not None:
        where = spot.name or place(spot.lat_deg, spot.lon_deg)
        title = f"Skyline from {where} over mist with its top at {country.mist.label}"
    return terrain.skyline_figure(
        country.dem,
        spot,
        title=title,
        sky=sky,
        mist=country.mist,
        summits=country.summits(names=area.summits),
    )
