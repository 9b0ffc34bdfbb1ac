"""What an atlas promises of a cell, held against the whole skyline and the sun's full position."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Iterable
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from terrain.country import Country, country_of
from terrain.ground.dem import Dem
from terrain.ground.geodesy import destination, drop_m, wrap_deg
from terrain.ground.places import Spot
from terrain.ground.tables import with_points
from terrain.mist.mist import Mist
from terrain.sun.clock import local_zone
from terrain.sun.path import sun_path
from terrain.sun.refraction import refraction_deg, standard_pressure_hpa
from terrain.sun.triangle import azimuth_cosine, hour_angle
from terrain.view.rims import Rims
from terrain.view.scene import Scene, View, look, own_at
from terrain.year._days_kernels import PARALLAX
from terrain.year.atlas import Atlas
from terrain.year.tables import sun_year

__all__ = ["as_ranges", "confirm", "days_that_hold", "promised_days", "promised_offsets_deg"]

_MORE_DEG: Final = 0.3  # the sun meets the ground beside the summit, not the summit's altitude

Floats = NDArray[np.float64]


def confirm(
    atlas: Atlas,
    ground: Dem | Country,
    rows: ArrayLike,
    cols: ArrayLike,
    *,
    mist: Mist | None = None,
    progress: Callable[[float], None] = lambda share: None,
) -> gpd.GeoDataFrame:
    """What a full look from chosen cells leaves of the days that an atlas promises them.

    atlas: of this ground and this mist. rows, cols: (n,) of cells.
    progress: called with the share done.

    Returns one row a cell, in order (points, EPSG:4326): `row`, `col`, `lon_deg`, `lat_deg`;
    `promised_days`, how many the atlas gives; `sees` and `on_skyline` as the full look has them;
    `held_days`, how many days the sun does first appear (in the evening last disappear) behind
    the hill's own ground within the tolerance; `best_day` among them, None without any;
    `offset_deg` on it; and `days`, all of them as text. A day on which the sun was up before, over
    lower ground beside the hill, is no such day.

    Raises NoGround for a cell off the raster or on unknown ground, NoAnswer for one under the
    mist, TerrainError for the summit itself.
    """
    scene = Scene(country_of(ground, mist=mist, refraction=atlas.refraction), atlas.hill)
    cells = np.column_stack([np.atleast_1d(rows), np.atleast_1d(cols)]).astype(int).tolist()
    found = []
    for row, col in cells:
        found.append(_row(atlas, scene, row, col))
        progress(len(found) / len(cells))
    table = pd.DataFrame(found, columns=list(_COLUMNS))
    return with_points(table)


_COLUMNS = (
    *("row", "col", "lon_deg", "lat_deg", "promised_days", "sees", "on_skyline"),
    *("held_days", "best_day", "offset_deg", "days"),
)


def _row(atlas: Atlas, scene: Scene, row: int, col: int) -> dict[str, Any]:
    lon, lat = (float(part) for part in atlas.grid.lonlat(row, col))
    view = look(scene, Spot(lon_deg=lon, lat_deg=lat, eye_m=atlas.eye_m))
    held = days_that_hold(
        scene,
        view,
        promised_days(atlas, row, col),
        tolerance_deg=atlas.tolerance_deg,
        evening=atlas.evening,
    )
    best = min(held, key=lambda day: abs(held[day]), default=None)
    promised = np.nansum([atlas.north_spell_days[row, col], atlas.south_spell_days[row, col]])
    return {
        "row": row,
        "col": col,
        "lon_deg": lon,
        "lat_deg": lat,
        "promised_days": int(promised),
        "sees": view.visible,
        "on_skyline": view.on_skyline,
        "held_days": len(held),
        "best_day": best,
        "offset_deg": math.nan if best is None else held[best],
        "days": as_ranges(held),
    }


def promised_offsets_deg(atlas: Atlas, row: int, col: int) -> Floats:
    """How far from the summit the sun passes its altitude, on each date of the year, degrees.

    (days of the year,), positive to the right, by the formula of the atlas; NaN where the sun does
    not stand as high on its way up (in the evening down), and all NaN where the summit is not seen.
    """
    hill = atlas.hill
    tables = sun_year(atlas.year, local_zone(hill.lon_deg, hill.lat_deg))
    distance, altitude_deg = float(atlas.distance_m[row, col]), float(atlas.altitude_deg[row, col])
    lon_deg, lat_deg = (float(part) for part in atlas.grid.lonlat(row, col))
    lat, altitude = math.radians(lat_deg), math.radians(altitude_deg)
    eye = hill.height_m - distance * math.tan(altitude) - float(drop_m(distance, atlas.refraction))
    air = refraction_deg(altitude_deg, pressure_hpa=standard_pressure_hpa(eye))
    limb, limb_swing = (float(part) for part in tables.bounds[3:])
    day = np.arange(tables.clock.size)
    side = -1.0 if atlas.evening else 1.0
    # the declination of the moment hangs on the moment: twice round is enough
    share = np.full(day.size, 0.5 - side * 0.25 - lon_deg / 360.0)
    for _ in range(2):
        sine = tables.sine_at(day + share)
        true = altitude - math.radians(float(air)) - limb + limb_swing * sine
        true += PARALLAX * np.cos(true)
        cosine = azimuth_cosine(lat, true, sine)
        azimuth = np.arccos(np.where(np.abs(cosine) <= 1.0, cosine, np.nan))
        turned = 0.5 + side * hour_angle(lat, true, azimuth) / (2.0 * np.pi) - lon_deg / 360.0
        share = np.where(np.isnan(turned), share, turned)
    aside = wrap_deg(side * np.degrees(azimuth) - float(atlas.azimuth_deg[row, col]))
    found = np.full(day.size, np.nan)
    found[(day + np.floor(share + tables.clock).astype(int)) % day.size] = aside
    return found * math.cos(altitude)


def promised_days(
    atlas: Atlas, row: int, col: int, *, more_deg: float = _MORE_DEG
) -> list[dt.date]:
    """The dates on which the sun passes a cell's summit within the tolerance and `more_deg`."""
    start = dt.date(atlas.year, 1, 1)
    near = np.abs(promised_offsets_deg(atlas, row, col)) <= atlas.tolerance_deg + more_deg
    return [start + dt.timedelta(days=int(day)) for day in np.flatnonzero(near)]


def days_that_hold(
    scene: Scene,
    view: View,
    days: Iterable[dt.date],
    *,
    tolerance_deg: float,
    evening: bool = False,
) -> dict[dt.date, float]:
    """Those of the days on which the sun meets the hill's own ground near its summit.

    From the day to the distance from the summit, degrees, positive to the right. None where the
    summit is not on the skyline of the view.
    """
    if not (view.visible and view.on_skyline):
        return {}
    offsets = {day: _offset_deg(scene, view, day, evening) for day in days}
    return {day: aside for day, aside in offsets.items() if abs(aside) <= tolerance_deg}


def as_ranges(days: Iterable[dt.date]) -> str:
    """Days in order as text, neighbours drawn together.

    >>> as_ranges([dt.date(2025, 4, 3), dt.date(2025, 4, 4), dt.date(2025, 9, 8)])
    '2025-04-03..2025-04-04, 2025-09-08'
    """
    runs: list[list[dt.date]] = []
    for day in sorted(days):
        if runs and day - runs[-1][-1] == dt.timedelta(days=1):
            runs[-1].append(day)
        else:
            runs.append([day])
    return ", ".join(f"{run[0]}..{run[-1]}" if len(run) > 1 else f"{run[0]}" for run in runs)


def _offset_deg(scene: Scene, view: View, day: dt.date, evening: bool) -> float:
    """From the summit to where the sun first appears, or last disappears; NaN beside the hill."""
    sky, spot = view.skyline, view.spot
    path = sun_path(day, lon_deg=spot.lon_deg, lat_deg=spot.lat_deg, height_m=sky.eye_height_m)
    azimuth = Rims(skyline=sky, path=path).meeting_azimuth(evening=evening)
    if azimuth is None or not math.isfinite(float(sky.at(azimuth))):
        return math.nan
    distance_m = float(sky.distance_at(azimuth))
    if not own_at(scene, *destination(spot.lon_deg, spot.lat_deg, azimuth, distance_m)):
        return math.nan
    level = math.cos(math.radians(float(sky.at(azimuth))))
    return float(wrap_deg(azimuth - view.azimuth_deg)) * level
