"""Where to stand: places that see a hill clear of the mist with the sun coming up behind it.

The cells of the tile are sifted (`terrain.morning.sift`), scored (`criteria`), and the best of
them, spread out, looked at again with nothing left out (`backlight`).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd

from terrain.constants import TERRESTRIAL_REFRACTION
from terrain.errors import NoAnswer, NoGround, NoSun, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.geodesy import azimuth_and_distance
from terrain.ground.places import Hill, Spot
from terrain.mist.surface import Mist
from terrain.morning.accuracy import Accuracy
from terrain.morning.backlight import (
    Backlight,
    Scene,
    backlight,
    clearance_m,
    look,
    make_scene,
)
from terrain.morning.criteria import add_scores, standard_criteria
from terrain.morning.sift import Limits, sift
from terrain.morning.sunline import sun_line

__all__ = ["Limits", "find_vantages", "look_at_best", "vantage_row", "with_starts"]

_LOOKS_PER_PLACE = 4


def find_vantages(
    dem: Dem,
    hill: Hill,
    *,
    day: dt.date | None = None,
    year: int | None = None,
    mist: Mist | None = None,
    starts: Sequence[Spot] | None = None,
    limits: Limits | None = None,
    count: int = 10,
    weights: Mapping[str, float] | None = None,
    accuracy: Accuracy | None = None,
    refraction: float = TERRESTRIAL_REFRACTION,
    progress: Callable[[float], None] = lambda share: None,
) -> gpd.GeoDataFrame:
    """Vantages from which the sun first appears behind a hill, best first.

    dem: ground that holds the hill and the country round it. day: the date at the hill; or else
    year: the calendar year, and every vantage comes with its best day (see
    `terrain.morning.year_vantages` for its further columns). mist: lies over the ground; without
    it any height will do. starts: where a walk can begin; the
    nearest is named for each vantage. limits: what a vantage must keep to. count: how many, at
    most. weights: of the criteria, by name. progress: called with the share done, 0 to 1.

    Returns one row a vantage (points, EPSG:4326): its height, `appears` and `clears` (aware
    datetimes), what `check_backlight` found, and for each criterion of `terrain.morning.criteria`
    its value and its score, with `score` over all. Every row has been looked at in full.

    Raises NoAnswer, with what was lacking, where there is none; NoSun where the sun does not
    rise; TerrainError for limits or weights that make no sense.
    """
    if year is not None and day is None:
        # it builds on this module
        from terrain.morning.year_vantages import find_year_vantages

        return find_year_vantages(
            dem,
            hill,
            year=year,
            mist=mist,
            starts=starts,
            limits=limits,
            count=count,
            weights=weights,
            accuracy=accuracy,
            refraction=refraction,
            progress=progress,
        )
    if day is None or year is not None:
        raise TerrainError("vantages are for a day or for a year: give one of the two")
    limits = limits or Limits()
    criteria = standard_criteria(
        tolerance_deg=limits.tolerance_deg, max_slope_deg=limits.max_slope_deg
    )
    scene = make_scene(dem, hill, mist=mist, refraction=refraction)
    line = sun_line(day, dem, hill)
    sifted = sift(scene, line, limits)
    progress(0.3)
    ranked = add_scores(sifted, criteria, weights).sort_values("score", ascending=False)
    found = look_at_best(scene, ranked, day, limits, count, accuracy, progress)
    if not found:
        raise NoAnswer(
            f"none of the likeliest of {len(sifted)} places that promised it has, in a full look, "
            f"the sun appear within {limits.tolerance_deg} degrees of {hill.label} on {day} by a "
            "sure margin: try another date"
        )
    table = add_scores(with_starts(pd.DataFrame(found), starts), criteria, weights)
    table = table.sort_values("score", ascending=False, ignore_index=True)
    table.insert(0, "rank", np.arange(1, len(table) + 1))
    points = gpd.points_from_xy(table["lon_deg"], table["lat_deg"])
    return gpd.GeoDataFrame(table, geometry=points, crs="EPSG:4326")


def look_at_best(
    scene: Scene,
    ranked: pd.DataFrame,
    day: dt.date,
    limits: Limits,
    count: int,
    accuracy: Accuracy | None,
    progress: Callable[[float], None],
) -> list[dict[str, Any]]:
    """Full looks at the ranked cells, in order, until enough are found that stand apart."""
    found: list[dict[str, Any]] = []
    looks = 0
    row, col = ranked["row"].to_numpy(), ranked["col"].to_numpy()
    waiting = np.ones(len(ranked), dtype=bool)
    while waiting.any() and len(found) < count and looks < _LOOKS_PER_PLACE * count:
        at = int(np.argmax(waiting))
        cell = ranked.iloc[at]
        looks += 1
        vantage = _vantage(scene, cell, day, limits, accuracy)
        # a cell that fails says little of its neighbours; one that holds speaks for them all
        apart_m = limits.apart_m if vantage else 0.1 * limits.apart_m
        cells_off = np.hypot(row - row[at], col - col[at])
        waiting &= cells_off * scene.dem.cell_m >= max(apart_m, scene.dem.cell_m / 2.0)
        if vantage:
            found.append(vantage)
        progress(0.3 + 0.7 * max(len(found) / count, looks / (_LOOKS_PER_PLACE * count)))
    return found


def _vantage(
    scene: Scene, cell: pd.Series, day: dt.date, limits: Limits, accuracy: Accuracy | None
) -> dict[str, Any] | None:
    """A row of the answer, or None where the full look does not bear the promise out."""
    spot = Spot(lon_deg=cell["lon_deg"], lat_deg=cell["lat_deg"], eye_m=limits.eye_m)
    view = look(scene, spot)
    if not (view.visible and view.on_skyline):
        return None
    try:
        answer = backlight(scene, view, day, accuracy=accuracy)
    except (NoSun, NoGround):
        return None
    if not answer.behind or abs(answer.offset_deg) > limits.tolerance_deg:
        return None
    sun = answer.contact
    below = clearance_m(scene, spot, sun.azimuth_deg, sun.altitude_deg, sun.distance_m)
    return None if min(view.clearance_m, below) < limits.clearance_m else vantage_row(answer, cell)


def vantage_row(answer: Backlight, cell: pd.Series) -> dict[str, Any]:
    """What a full look found, as a row of the answer; cell: its quick values."""
    view, contact = answer.view, answer.contact
    return {
        "lon_deg": view.spot.lon_deg,
        "lat_deg": view.spot.lat_deg,
        "height_m": view.spot_height_m,
        "appears": contact.appears,
        "clears": contact.clears,
        "uncertainty_s": contact.uncertainty_s,
        "azimuth_deg": view.azimuth_deg,
        "altitude_deg": view.altitude_deg,
        "distance_m": view.distance_m,
        "offset_deg": answer.offset_deg,
        "offset_widths": answer.offset_widths,
        "uncertainty_deg": answer.uncertainty_deg,
        "freeboard_m": view.freeboard_m,
        "clearance_m": view.clearance_m,
        "slope_deg": view.slope_deg,
        "stature_deg": float(cell["stature_deg"]),
        "isolation_deg": float(cell["isolation_deg"]),
        "open_share": float(cell["open_share"]),
        "known_to_m": contact.known_to_m,
        "beyond_height_m": contact.beyond_height_m,
    }


def with_starts(table: pd.DataFrame, starts: Sequence[Spot] | None) -> pd.DataFrame:
    """The nearest start of each vantage and how far off it is as the crow flies."""
    if not starts:
        return table
    away = np.stack(
        [
            azimuth_and_distance(table["lon_deg"], table["lat_deg"], s.lon_deg, s.lat_deg)[1]
            for s in starts
        ]
    )
    nearest = away.argmin(axis=0)
    names = [starts[i].name or f"{starts[i].lat_deg:.4f}, {starts[i].lon_deg:.4f}" for i in nearest]
    return table.assign(start=names, start_m=away.min(axis=0))
