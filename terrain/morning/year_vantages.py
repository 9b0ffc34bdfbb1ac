"""Where to stand for a hill, whatever the day: the vantages of a whole year, each with its days.

The atlas answers every cell at once; the cells that are fit to stand on are ranked by what does
not depend on the day, and the best are looked at in full on the days the atlas gives them.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.constants import SUN_SEMIDIAMETER_AT_1_AU_DEG, TERRESTRIAL_REFRACTION
from terrain.errors import NoAnswer
from terrain.ground.dem import Dem
from terrain.ground.geodesy import wrap_deg
from terrain.ground.places import Hill, Spot
from terrain.ground.slope import slope_deg
from terrain.mist.surface import Mist
from terrain.morning.accuracy import Accuracy
from terrain.morning.atlas import Atlas, atlas_of
from terrain.morning.backlight import Scene, backlight, clearance_m, look
from terrain.morning.confirm import as_ranges, days_that_hold, promised_days
from terrain.morning.criteria import add_scores, standard_criteria
from terrain.morning.hillscene import hill_scene
from terrain.morning.sift import Limits, freeboard_over, hidden_before, open_shares
from terrain.morning.vantages import vantage_row, with_starts
from terrain.sun.position import declination_deg
from terrain.sun.refraction import refraction_deg

__all__ = ["find_year_vantages"]

_LOOKS_PER_PLACE: Final = 4
_BATCH: Final = 200

Floats = NDArray[np.float64]


def find_year_vantages(
    dem: Dem,
    hill: Hill,
    *,
    year: int,
    mist: Mist | None = None,
    starts: Sequence[Spot] | None = None,
    limits: Limits | None = None,
    count: int = 10,
    weights: Mapping[str, float] | None = None,
    accuracy: Accuracy | None = None,
    refraction: float = TERRESTRIAL_REFRACTION,
    progress: Callable[[float], None] = lambda share: None,
) -> gpd.GeoDataFrame:
    """Vantages from which the sun first appears behind a hill on some day of a year, best first.

    year: of the calendar. The other arguments, the errors and the columns are those of
    `find_vantages`, and further `day`, the day of the year that all the rest of a row is about;
    `spell_days`, on how many neighbouring days the sun appears within the tolerance; and `days`,
    all such days of the year as text. Every row and every one of its days has been looked at in
    full.

    Raises NoAnswer, with what was lacking, where there is none.
    """
    limits = limits or Limits()
    criteria = standard_criteria(
        tolerance_deg=limits.tolerance_deg, max_slope_deg=limits.max_slope_deg
    )
    scene = hill_scene(dem, hill, mist=mist, refraction=refraction)
    atlas = atlas_of(scene, year, tolerance_deg=limits.tolerance_deg, eye_m=limits.eye_m)
    progress(0.2)
    cells = _standing_cells(scene, atlas, limits)
    ranked = add_scores(cells, criteria, weights).sort_values("score", ascending=False)
    apart = _best_of_blocks(ranked, max(int(limits.apart_m / dem.cell_m / 2.0), 1))
    found = _look_at_best(scene, atlas, apart, limits, count, accuracy, progress)
    if not found:
        raise NoAnswer(
            f"none of the best of {len(cells)} places that promised it has the sun appear within "
            f"{limits.tolerance_deg} degrees of {hill.label} in {year}: try another hill"
        )
    table = add_scores(with_starts(pd.DataFrame(found), starts), criteria, weights)
    table = table.sort_values("score", ascending=False, ignore_index=True)
    table.insert(0, "rank", np.arange(1, len(table) + 1))
    points = gpd.points_from_xy(table["lon_deg"], table["lat_deg"])
    return gpd.GeoDataFrame(table, geometry=points, crs="EPSG:4326")


def _standing_cells(scene: Scene, atlas: Atlas, limits: Limits) -> pd.DataFrame:
    """The cells that may be vantages on some day, with a quick value for each criterion."""
    name = scene.hill.label
    near = (atlas.distance_m >= limits.min_distance_m) & (atlas.distance_m <= limits.max_distance_m)
    if not near.any():
        raise NoAnswer(
            f"no place between {limits.min_distance_m:.0f} and {limits.max_distance_m:.0f} m "
            f"from {name} sees its summit"
        )
    promised = near & atlas.has_days
    if not promised.any():
        raise NoAnswer(
            f"no place that sees {name} on its skyline has the sun rise within "
            f"{limits.tolerance_deg} degrees of it on any day of {atlas.year}"
        )
    slope, freeboard = slope_deg(scene.dem), freeboard_over(scene)
    fit = promised & (slope <= limits.max_slope_deg)
    if scene.mist is not None:
        fit &= freeboard >= limits.freeboard_m
    if not fit.any():
        raise NoAnswer(
            f"every place with {name} before the rising sun is steeper than "
            f"{limits.max_slope_deg:.0f} degrees or less than {limits.freeboard_m:.0f} m above the "
            "mist: allow more, with care"
        )
    row, col = np.nonzero(fit)
    lon, lat = atlas.grid.lonlat(row, col)
    cells = pd.DataFrame(
        {
            "row": row,
            "col": col,
            "lon_deg": lon,
            "lat_deg": lat,
            "slope_deg": slope[fit],
            "freeboard_m": freeboard[fit],
            "distance_m": atlas.distance_m[fit],
            "azimuth_deg": atlas.azimuth_deg[fit],
            "altitude_deg": atlas.altitude_deg[fit],
            "stature_deg": atlas.stature_deg[fit],
            "isolation_deg": atlas.isolation_deg[fit],
            "day_of_year": _better_day(atlas)[fit],
        }
    )
    cells["declination_deg"] = _declination_deg(atlas.year, cells)
    altitude = cells["altitude_deg"].to_numpy(dtype=float)
    aside = wrap_deg(_rising_azimuth_deg(cells, altitude) - cells["azimuth_deg"])
    toward = atlas.grid.grid_azimuth_deg(cells["azimuth_deg"], lon, lat)
    return cells.assign(
        offset_deg=aside * np.cos(np.radians(altitude)),
        open_share=open_shares(scene, cells, toward, limits.eye_m),
    )


def _better_day(atlas: Atlas) -> NDArray[np.float32]:
    """(rows, cols) the best day of the longer spell."""
    goes_south = np.isnan(atlas.north_day) | (atlas.south_spell_days > atlas.north_spell_days)
    return np.where(goes_south, atlas.south_day, atlas.north_day)


def _best_of_blocks(ranked: pd.DataFrame, block_cells: int) -> pd.DataFrame:
    """The first of the cells in each square block of the raster, in the order they have."""
    block = pd.DataFrame({"row": ranked["row"] // block_cells, "col": ranked["col"] // block_cells})
    return ranked[~block.duplicated()]


def _rising_azimuth_deg(cells: pd.DataFrame, upper_limb_deg: Floats) -> Floats:
    """Azimuth of the sun on each cell's day as its upper limb rises through an altitude, (n,).

    Due north or south where it never does, but nearly.
    """
    apparent = np.maximum(upper_limb_deg, -3.0)
    true = np.radians(apparent - refraction_deg(apparent) - SUN_SEMIDIAMETER_AT_1_AU_DEG)
    lat = np.radians(cells["lat_deg"].to_numpy(dtype=float))
    sine = np.sin(np.radians(cells["declination_deg"].to_numpy(dtype=float)))
    cosine = (sine - np.sin(lat) * np.sin(true)) / (np.cos(lat) * np.cos(true))
    return np.asarray(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))


def _declination_deg(year: int, cells: pd.DataFrame) -> Floats:
    """The sun's declination about six in the morning of each cell's day, by the sun's own time."""
    days = np.arange(367)
    hours = 24.0 * days + 6.0 - float(cells["lon_deg"].mean()) / 15.0
    times = pd.Timestamp(year, 1, 1, tz="UTC") + pd.to_timedelta(hours, unit="h")
    return np.asarray(declination_deg(times)[cells["day_of_year"].to_numpy(dtype=int) - 1])


def _look_at_best(
    scene: Scene,
    atlas: Atlas,
    ranked: pd.DataFrame,
    limits: Limits,
    count: int,
    accuracy: Accuracy | None,
    progress: Callable[[float], None],
) -> list[dict[str, Any]]:
    """Full looks at the ranked cells, in order, until enough are found that stand apart."""
    found: list[dict[str, Any]] = []
    taken: list[tuple[int, int]] = []
    looks = 0
    for start in range(0, len(ranked), _BATCH):
        batch = ranked.iloc[start : start + _BATCH]
        batch = batch[
            hidden_before(scene, batch, partial(_rising_azimuth_deg, batch), limits.eye_m)
        ]
        for _, cell in batch.iterrows():
            if len(found) >= count or looks >= _LOOKS_PER_PLACE * count:
                return found
            here = int(cell["row"]), int(cell["col"])
            if any(np.hypot(here[0] - row, here[1] - col) * scene.dem.cell_m < limits.apart_m
                   for row, col in taken):  # fmt: skip
                continue
            looks += 1
            vantage = _vantage(scene, atlas, cell, limits, accuracy)
            if vantage:
                found.append(vantage)
                taken.append(here)
            progress(0.3 + 0.7 * max(len(found) / count, looks / (_LOOKS_PER_PLACE * count)))
    return found


def _vantage(
    scene: Scene, atlas: Atlas, cell: pd.Series, limits: Limits, accuracy: Accuracy | None
) -> dict[str, Any] | None:
    """A row of the answer, or None where the full look does not bear the promise out."""
    spot = Spot(lon_deg=cell["lon_deg"], lat_deg=cell["lat_deg"], eye_m=limits.eye_m)
    view = look(scene, spot)
    if view.clearance_m < limits.clearance_m:
        return None
    held = days_that_hold(
        scene,
        view,
        promised_days(atlas, int(cell["row"]), int(cell["col"])),
        tolerance_deg=limits.tolerance_deg,
        accuracy=accuracy,
    )
    for day in sorted(held, key=lambda day: abs(held[day])):
        answer = backlight(scene, view, day, accuracy=accuracy)
        sun = answer.contact
        below = clearance_m(scene, spot, sun.azimuth_deg, sun.altitude_deg, sun.distance_m)
        if below >= limits.clearance_m:
            spell = _spell_about(day, held)
            row = vantage_row(answer, cell)
            return {"day": day, "spell_days": len(spell), "days": as_ranges(held)} | row
    return None


def _spell_about(day: dt.date, days: Mapping[dt.date, float]) -> list[dt.date]:
    """The unbroken run of days that holds a day."""
    one = dt.timedelta(days=1)
    first = last = day
    while first - one in days:
        first -= one
    while last + one in days:
        last += one
    return [first + n * one for n in range((last - first).days + 1)]
