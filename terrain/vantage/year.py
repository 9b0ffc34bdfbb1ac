"""Where to stand for a hill, whatever the day: the vantages of a whole year, each with its days.

The atlas answers every cell at once; the cells that are fit to stand on are ranked by what does
not depend on the day, and the best are looked at in full on the days the atlas gives them.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import Final

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.constants import SUN_SEMIDIAMETER_AT_1_AU_DEG, TERRESTRIAL_REFRACTION
from terrain.errors import NoAnswer
from terrain.ground.accuracy import Accuracy
from terrain.ground.dem import Dem
from terrain.ground.geodesy import wrap_deg
from terrain.ground.places import Hill, Spot
from terrain.ground.relief.slope import slope_deg
from terrain.mist.surface import Mist
from terrain.sun.position import declination_deg
from terrain.sun.refraction import refraction_deg
from terrain.vantage.access import Access
from terrain.vantage.candidates import Limits, freeboard_over, hidden_before, open_shares
from terrain.vantage.sea import Sea
from terrain.vantage.search import LOOKS_PER_PLACE, Row, Search, make_search
from terrain.vantage.tops import MistRange, Seas
from terrain.view.backlight import Backlight, backlight
from terrain.view.hillscene import hill_scene
from terrain.view.scene import Scene, clearance_m, look
from terrain.year.atlas import Atlas, atlas_of
from terrain.year.confirm import as_ranges, days_that_hold, promised_days

__all__ = ["find_year_vantages"]

_BATCH: Final = 200

Floats = NDArray[np.float64]


def find_year_vantages(
    dem: Dem,
    hill: Hill,
    *,
    year: int,
    mist: Mist | MistRange | None = None,
    starts: Sequence[Spot] | None = None,
    access: Access | None = None,
    passes: gpd.GeoDataFrame | None = None,
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
    search = make_search(
        dem,
        hill,
        hill_scene,
        mist=mist,
        starts=starts,
        access=access,
        passes=passes,
        limits=limits,
        count=count,
        weights=weights,
        accuracy=accuracy,
        refraction=refraction,
    )
    limits, sea = search.limits, search.sea
    # what is not seen over the lowest mist is not seen over a higher one
    scene = sea.at(sea.tops_m[0]).scene if isinstance(sea, Seas) else sea.scene
    atlas = atlas_of(scene, year, tolerance_deg=limits.tolerance_deg, eye_m=limits.eye_m)
    progress(0.2)
    cells = _standing_cells(scene, atlas, limits)
    if isinstance(sea, Seas):
        cells = sea.with_own_tops(cells)
    cells = search.within(cells, _solstices(year))
    apart = _best_of_blocks(search.ranked(cells), max(int(limits.apart_m / dem.cell_m / 2.0), 1))
    found = _look_at_best(search, atlas, apart, progress)
    if not found:
        raise NoAnswer(
            f"none of the best of {len(cells)} places that promised it has the sun appear within "
            f"{limits.tolerance_deg} degrees of {hill.label} in {year}{search.also}: "
            "try another hill"
        )
    return search.table(found)


def _solstices(year: int) -> list[dt.date]:
    """The days between whose dawns all others lie."""
    return [dt.date(year, 6, 21), dt.date(year, 12, 21)]


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
    search: Search, atlas: Atlas, ranked: pd.DataFrame, progress: Callable[[float], None]
) -> list[Row]:
    """Full looks at the ranked cells, in order, until enough are found that stand apart."""
    found: list[Row] = []
    taken: list[tuple[int, int]] = []
    looks, most = 0, LOOKS_PER_PLACE * search.count
    cell_m = atlas.grid.cell_m
    for start in range(0, len(ranked), _BATCH):
        for _, cell in _hidden(search, ranked.iloc[start : start + _BATCH]).iterrows():
            if len(found) >= search.count or looks >= most:
                return found
            here = int(cell["row"]), int(cell["col"])
            if any(np.hypot(here[0] - row, here[1] - col) * cell_m < search.limits.apart_m
                   for row, col in taken):  # fmt: skip
                continue
            looks += 1
            vantage = search.row(cell, partial(_best_day, search, atlas))
            if vantage:
                found.append(vantage)
                taken.append(here)
            progress(0.3 + 0.7 * max(len(found) / search.count, looks / most))
    return found


def _hidden(search: Search, cells: pd.DataFrame) -> pd.DataFrame:
    """Those of the cells from which the sun was not up before on their days."""
    sea, eye_m = search.sea, search.limits.eye_m
    if isinstance(sea, Sea):
        rising = partial(_rising_azimuth_deg, cells)
        return cells[hidden_before(sea.scene, cells, rising, eye_m)]
    hidden = pd.Series(data=False, index=cells.index)
    for top in cells["mist_top_m"].unique():
        part = cells[cells["mist_top_m"] == top]
        rising = partial(_rising_azimuth_deg, part)
        hidden[part.index] = hidden_before(sea.at(float(top)).scene, part, rising, eye_m)
    return cells[hidden]


def _best_day(
    search: Search, atlas: Atlas, scene: Scene, cell: pd.Series
) -> tuple[Row, Backlight] | None:
    """The best day of a cell and what a full look finds on it, or None where none holds."""
    limits, spot = search.limits, search.spot_of(cell)
    view = look(scene, spot)
    if view.clearance_m < limits.clearance_m:
        return None
    held = days_that_hold(
        scene,
        view,
        promised_days(atlas, int(cell["row"]), int(cell["col"])),
        tolerance_deg=limits.tolerance_deg,
        accuracy=search.accuracy,
    )
    for day in sorted(held, key=lambda day: abs(held[day])):
        answer = backlight(scene, view, day, accuracy=search.accuracy)
        sun = answer.contact
        below = clearance_m(scene, spot, sun.azimuth_deg, sun.altitude_deg, sun.distance_m)
        if below >= limits.clearance_m:
            spell = _spell_about(day, held)
            return {"day": day, "spell_days": len(spell), "days": as_ranges(held)}, answer
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
