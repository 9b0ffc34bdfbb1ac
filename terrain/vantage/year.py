"""Where to stand for a hill, whatever the day: the vantages of a year or span, with their days.

The atlas answers every cell at once; the cells that are fit to stand on are ranked by what does
not depend on the day, and the best are looked at in full on the days the atlas gives them.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd

from terrain.arrays import Flags, Floats, Singles
from terrain.constants import SUN_SEMIDIAMETER_AT_1_AU_DEG
from terrain.errors import NoAnswer
from terrain.sun.calendar import Span, main_year, span_label
from terrain.sun.position import declination_deg
from terrain.sun.refraction import refraction_deg
from terrain.sun.triangle import azimuth_cosine
from terrain.vantage import candidates
from terrain.vantage.against import against_backdrop, with_backdrop
from terrain.vantage.gaps import with_gaps_behind
from terrain.vantage.limits import Limits
from terrain.vantage.miss import all_steep, none_above, none_sees, wider
from terrain.vantage.nearest import nearest_of_year_deg
from terrain.vantage.pick import Progress, Row
from terrain.vantage.search import Search, is_sure
from terrain.view.backlight import Backlight, backlight
from terrain.view.look import look
from terrain.view.nearness import UP_TO_DEG, nearness
from terrain.view.scene import Scene
from terrain.year.atlas import Atlas, atlas_of
from terrain.year.confirm import as_ranges, held_days, runs

_BATCH: Final = 200
_A_DAY_DEG: Final = 0.4
"""So far the sun moves north or south from one day to the next, at most."""


def vantages_among(
    search: Search,
    among: Span,
    progress: Progress,
    *,
    evening: bool = False,
    spread: bool = True,
) -> gpd.GeoDataFrame:
    """The vantages of a search from a first day to a last; NoAnswer as `find_vantages`.

    spread: about the hill, not its best side alone.

    Of the mornings or of the evenings. The atlas is that of the calendar year in which most of the
    days lie: from one year to the next a cell's days shift by one at most. The days of a row are
    those of their own years.
    """
    limits, scene = search.asked.limits, search.seas.lowest
    year = main_year(among)
    atlas = atlas_of(
        scene, year, tolerance_deg=limits.tolerance_deg, evening=evening, eye_m=limits.eye_m
    )
    atlas = _with_days_among(atlas, among)
    progress(0.2)
    cells = search.seas.with_own_tops(_standing_cells(scene, atlas, limits, among))
    if limits.against is not None:
        parts = search.seas.by_top(cells)
        cells = pd.concat([with_backdrop(over, part, limits) for over, part in parts])
        cells = against_backdrop(search.hill, cells, limits)
    # between the dawns of the solstices lie all others
    cells = search.within(cells, [dt.date(year, 6, 21), dt.date(year, 12, 21)])
    block_cells = max(int(limits.apart_m / atlas.grid.cell_m / 2.0), 1)
    apart = _best_of_blocks(search.asked.ranked(cells), block_cells)
    found = search.pick(
        (_shown(search, atlas, apart[at : at + _BATCH]) for at in range(0, len(apart), _BATCH)),
        partial(search.row, partial(_best_day, search, atlas, among)),
        progress,
        missed_share=0.0,
        spread=spread,
    )
    if not found:
        raise NoAnswer(
            f"none of the best of the places that promised it ({len(cells)}) has the low sun "
            f"within {limits.tolerance_deg} degrees of {search.hill.label} in {span_label(among)}"
            f"{search.also}: try another hill",
            loosen=[*search.seas.less_mist, *_wider(search, atlas, among, apart)],
        )
    return search.table(found)


def _wider(
    search: Search, atlas: Atlas, among: Span, cells: pd.DataFrame
) -> list[Mapping[str, Any]]:
    closest_deg = nearest_of_year_deg(search, atlas, among, cells)
    return wider(closest_deg) if closest_deg > atlas.tolerance_deg else []


def no_day(atlas: Atlas, near: Flags, among: Span) -> NoAnswer:
    """That the sun passes the summit from no place on any day, and by how much it misses.

    near: (rows, cols) the places at a fit distance. So much farther north or south the sun would
    have to stand than it does; places on the other side of the hill have it at the other end of the
    day.
    """
    if not near.any():
        return NoAnswer(f"the summit of {atlas.hill.label} is seen from no other place")
    azimuth, sky = np.radians(atlas.azimuth_deg[near]), np.radians(atlas.sky_from_deg[near])
    lat = np.radians(atlas.grid.lonlat(*np.nonzero(near))[1])
    # the triangle of pole, zenith and sun
    sine = np.sin(lat) * np.sin(sky) + np.cos(lat) * np.cos(sky) * np.cos(azimuth)
    needs = np.degrees(np.arcsin(np.clip(sine, -1.0, 1.0)))
    has = declination_deg(pd.date_range(*among, tz="UTC") + pd.Timedelta(hours=12))
    misses = np.maximum(np.maximum(needs - has.max(), has.min() - needs), 0.0)
    ours = (np.sin(azimuth) < 0.0) == atlas.evening
    closest, other = (float(np.min(misses[side], initial=np.inf)) for side in (ours, ~ours))
    said = f"the closest misses by about {closest:.1f} degrees"
    if np.isinf(closest):
        said = f"they all look toward the {'east' if atlas.evening else 'west'}"
    turned: list[Mapping[str, Any]] = [{"evening": not atlas.evening}] if other == 0.0 else []
    return NoAnswer(
        f"no place that sees {atlas.hill.label} has the sun pass within {atlas.tolerance_deg:g} "
        f"degrees of it on any day of {span_label(among)}: {said}",
        loosen=[*wider(closest + _A_DAY_DEG), *turned],
    )


def _with_days_among(atlas: Atlas, among: Span) -> Atlas:
    """The atlas without the spells that have no day in a span, nor the day before it or after."""
    jan_1, jan_1_next = (dt.date(atlas.year + more, 1, 1) for more in (0, 1))
    year_days = (jan_1_next - jan_1).days
    begins, length = 1 + (among[0] - jan_1).days, (among[1] - among[0]).days

    kept: dict[str, Any] = {}
    for way in ("north", "south"):
        names = f"{way}_day", f"{way}_spell_days"
        day, spell_days = (getattr(atlas, name) for name in names)
        into = (day - begins) % year_days
        outside = np.minimum(into - length, year_days - into) > spell_days + 1.0
        kept |= {
            name: np.where(outside, np.float32(np.nan), getattr(atlas, name)) for name in names
        }
    return replace(atlas, **kept)


def _standing_cells(scene: Scene, atlas: Atlas, limits: Limits, among: Span) -> pd.DataFrame:
    """The cells that may be vantages on some day, with a quick value for each criterion."""
    country = scene.country
    near = limits.holds_distance(atlas.distance_m)
    if not near.any():
        sees, fit = ~np.isnan(atlas.distance_m), candidates.fit_to_stand(country, limits)
        raise none_sees(scene.hill, limits, atlas.distance_m, sees, fit)
    promised = near & atlas.has_days
    if not promised.any():
        raise no_day(atlas, near, among)
    above = promised & candidates.clear_of_mist(country, limits)
    if not above.any():
        raise none_above(scene.hill, limits, country, promised)
    fit = above & (country.slope_deg <= limits.max_slope_deg)
    if not fit.any():
        raise all_steep(scene.hill, limits, country.slope_deg[above])
    cells = candidates.cells_where(
        fit,
        country,
        distance_m=atlas.distance_m,
        azimuth_deg=atlas.azimuth_deg,
        altitude_deg=atlas.altitude_deg,
        stature_deg=atlas.stature_deg,
        isolation_deg=atlas.isolation_deg,
        sun_deg=atlas.sky_from_deg,
        sun_from_summit_deg=atlas.sky_from_deg - atlas.altitude_deg,
        day_of_year=_better_day(atlas),
    )
    cells["known_between"] = candidates.known_to_hill(scene.dem, cells, cells["azimuth_deg"])
    cells = candidates.with_openness(scene, cells, limits.eye_m)
    return with_gaps_behind(country, cells, cells["sun_deg"], limits.eye_m)


def _better_day(atlas: Atlas) -> Singles:
    """(rows, cols) the best day of the longer spell."""
    goes_south = np.isnan(atlas.north_day) | (atlas.south_spell_days > atlas.north_spell_days)
    return np.where(goes_south, atlas.south_day, atlas.north_day)


def _best_of_blocks(ranked: pd.DataFrame, block_cells: int) -> pd.DataFrame:
    """The first of the cells in each square block of the raster, in the order they have."""
    return ranked[~(ranked[["row", "col"]] // block_cells).duplicated()]


def _azimuth_deg(cells: pd.DataFrame, evening: bool, upper_limb_deg: Floats) -> Floats:
    """Azimuth of the sun on each cell's day as its upper limb passes an altitude, (n,).

    Due north or south where it never does, but nearly. cells: with `declination_deg`.
    """
    apparent = np.maximum(upper_limb_deg, -3.0)
    true = np.radians(apparent - refraction_deg(apparent) - SUN_SEMIDIAMETER_AT_1_AU_DEG)
    lat = np.radians(cells["lat_deg"].to_numpy(dtype=float))
    sine = np.sin(np.radians(cells["declination_deg"].to_numpy(dtype=float)))
    cosine = azimuth_cosine(lat, true, sine)
    side = np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0)))
    return np.asarray(-side if evening else side)


def _declination_deg(year: int, cells: pd.DataFrame, hour: float) -> Floats:
    """The sun's declination about an hour of each cell's day, by the sun's own time."""
    days = np.arange(367)
    hours = 24.0 * days + hour - float(cells["lon_deg"].mean()) / 15.0
    times = pd.Timestamp(year, 1, 1, tz="UTC") + pd.to_timedelta(hours, unit="h")
    return np.asarray(declination_deg(times)[cells["day_of_year"].to_numpy(dtype=int) - 1])


def _shown(search: Search, atlas: Atlas, cells: pd.DataFrame) -> pd.DataFrame:
    """Those of the cells whose sun is low, or was not up before on their days (after, at dusk)."""
    eye_m, evening = atlas.eye_m, atlas.evening
    shown = cells["sun_deg"] <= UP_TO_DEG + atlas.tolerance_deg
    high = cells[~shown]
    if high.empty:
        return cells
    day_deg = _declination_deg(atlas.year, high, 18.0 if evening else 6.0)
    high = high.assign(declination_deg=day_deg, altitude_deg=high["sun_deg"])
    for scene, part in search.seas.by_top(high):
        passing = partial(_azimuth_deg, part, evening)
        shown[part.index] = candidates.hidden_before(scene, part, passing, eye_m)
    return cells[shown]


def _best_day(
    search: Search, atlas: Atlas, among: Span, scene: Scene, cell: pd.Series
) -> tuple[Row, Backlight | None]:
    """The best day of a cell, and what a full look finds on it; None where none holds."""
    limits = search.asked.limits
    view = look(scene, search.asked.spot_in(cell))
    if view.clearance_m < limits.clearance_m or not limits.accepts(view.backdrop):
        return {}, None
    held = held_days(atlas, scene, view, among)
    for day in sorted(held, key=lambda day: held[day]):
        if is_sure(scene, nearness(scene, view, day, evening=atlas.evening), limits):
            answer = backlight(scene, view, day, evening=atlas.evening)
            spell = next(run for run in runs(held) if day in run)
            return {"day": day, "spell_days": len(spell), "days": as_ranges(held)}, answer
    return {}, None
