"""A season of mornings: which hill, from where, on which day, ranked together.

What does not hang on the day is found once: the tops of the raster and the mist for all hills, the
places that see a hill and their skylines for all days. Each day then looks through what is left,
and its best place is looked at in full, as `find_vantages` does it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from typing import Any, Final, NamedTuple

import geopandas as gpd
import pandas as pd

from terrain.country import Country, country_of
from terrain.errors import NoAnswer, NoGround, TerrainError
from terrain.ground.accuracy import Accuracy
from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.ground.relief.summits import hill_in
from terrain.ground.tables import with_points
from terrain.mist.level import AnyMist
from terrain.processes import each_of
from terrain.sun.calendar import span_of
from terrain.sun.sun_line import SunLine, sun_lines
from terrain.sun.twilight import level_light
from terrain.vantage.access import Access, light_begins, with_starts
from terrain.vantage.limits import Limits
from terrain.vantage.pick import Progress, Row
from terrain.vantage.question import Question
from terrain.vantage.search import Search, hill_columns, search_for

_MORE: Final = 3
"""As many times the usual number of looks are made before a day is given up."""

_NEVER: Final = (
    "wherever the low sun is near {} on these days, it is hidden or on the wrong side of other "
    "ground, or the view clears the ground between by too little{}"
)


def plan_season(  # noqa: PLR0913
    ground: Dem | Country,
    hills: Sequence[Hill] | gpd.GeoDataFrame,
    first_day: dt.date,
    last_day: dt.date,
    *,
    step_days: int = 1,
    mist: AnyMist | None = None,
    mist_top_m: float | None = None,
    starts: Sequence[Spot] | None = None,
    access: Access | None = None,
    limits: Limits | None = None,
    count: int | None = None,
    weights: Mapping[str, float] | None = None,
    evening: bool = False,
    accuracy: Accuracy | None = None,
    refraction: float | None = None,
    processes: int = 1,
    progress: Progress = lambda share: None,
) -> gpd.GeoDataFrame:
    """Mornings between two days, each a hill and the best place for the low sun behind or over it.

    Parameters
    ----------
    ground : Dem or Country
        The ground on which all of it is; a `Country` keeps what is worked out from it.
    hills : sequence of Hill, or geopandas.GeoDataFrame
        The hills themselves, or a table from `find_summits`.
    first_day : datetime.date
        At the hills, included.
    last_day : datetime.date
        At the hills, included.
    step_days : int, optional
        From one day that is looked at to the next.
    mist : Mist or MistRange, optional
        Lies over the ground, in place of one that the country has.
    mist_top_m : float, optional
        Height of a level mist, metres, in its place.
    starts : sequence of Spot, optional
        As for `find_vantages`.
    access : Access, optional
        As for `find_vantages`.
    limits : Limits, optional
        As for `find_vantages`.
    count : int, optional
        How many mornings, at most; all unless given.
    weights : mapping from str to float, optional
        As for `find_vantages`.
    evening : bool, optional
        Evenings in place of mornings.
    accuracy : Accuracy, optional
        Errors of the inputs, one standard deviation of each, in place of the country's own.
    refraction : float, optional
        Coefficient k of terrestrial refraction, dimensionless, in place of the country's own.
    processes : int, optional
        How many may work on it at once, each on one core: this one, and others that end with it.
        They begin where there are hills for some ten seconds each; the answer is the same.
    progress : callable, optional
        Called with the share done, 0 to 1.

    Returns
    -------
    geopandas.GeoDataFrame
        One row a hill and day that has a vantage, best first: `rank`, `day`, `hill`,
        `hill_lon_deg`, `hill_lat_deg`, `hill_height_m`, `light_begins` (aware datetime: when the
        colour begins, of an evening the warm light), and those of `find_vantages`; the points
        (EPSG:4326) are the vantages. Every row has been looked at in full; on a day on which the
        four likeliest places of a hill fail that look, it has none. `attrs` holds `hills` (names in
        the order given), `first_day`, `last_day`, `step_days`, and `left_out`: from the name of
        each hill without a morning to why it has none.

    Raises
    ------
    NoAnswer
        Where no hill has a morning, with what was lacking.
    TerrainError
        For days, limits or weights that make no sense, and for a mist that is given twice.

    Examples
    --------
    >>> import datetime as dt
    >>> import numpy as np
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(100, 0, 5e5, 0, -100, 6e6), shape=(61, 81))
    >>> row, col = np.mgrid[-30:31, -40:41]
    >>> cone = terrain.Dem(np.maximum(300.0 - 40.0 * np.hypot(row, col), 0.0), grid)
    >>> hill = terrain.hill_at(cone, *map(float, grid.lonlat(30, 40)), name="Cone")
    >>> lon, lat = (float(part) for part in grid.lonlat(30, 10))
    >>> spot = terrain.Spot(lon_deg=lon, lat_deg=lat, name="the stile")
    >>> first, last = dt.date(2025, 3, 29), dt.date(2025, 3, 31)
    >>> season = terrain.plan_season(cone, [hill], first, last, step_days=2)
    >>> [f"{day:%d %B}" for day in sorted(season.day)]
    ['29 March', '31 March']
    """
    days = _days(first_day, last_day, step_days)
    named = list(hills)
    if isinstance(hills, gpd.GeoDataFrame):
        named = [hill_in(hills, number) for number in range(len(hills))]
    if not named:
        raise TerrainError("a season needs hills: give one or more")
    if count is not None and count < 1:
        raise TerrainError(f"{count} mornings are none: ask for 1 or more")
    if processes < 1:
        raise TerrainError(f"{processes} processes do nothing: ask for 1 or more")
    asked = Question(
        limits=limits or Limits(),
        starts=starts or (),
        access=access,
        weights=weights,
        evening=evening,
    )
    country = country_of(
        ground, mist=mist, mist_top_m=mist_top_m, refraction=refraction, accuracy=accuracy
    )
    every_hill = each_of(
        len(named),
        partial(_of_hill, country, named, asked, days),
        processes=processes,
        progress=progress,
    )
    found = [row for hill in every_hill for row in hill.rows]
    misses = [miss for hill in every_hill for miss in hill.misses]
    left_out = {
        hill.label: mornings.why_none
        for hill, mornings in zip(named, every_hill, strict=True)
        if mornings.why_none
    }
    if not found:
        # what brings one of several hills a morning is an answer
        raise NoAnswer(_why_none(left_out, days), loosen=misses)
    every = pd.DataFrame(found)
    table = asked.ranked(every if access is not None else with_starts(every, asked.starts))
    table = table.sort_values(["score", "day"], ascending=[False, True]).iloc[:count]
    season = with_points(table, ranked=True)
    season.attrs = {
        "hills": [hill.label for hill in named],
        "first_day": first_day,
        "last_day": last_day,
        "step_days": step_days,
        "left_out": left_out,
    }
    return season


class _Mornings(NamedTuple):
    """Those of one hill as rows; why it has no more, and what would be asked for one."""

    rows: list[Row]
    why_none: str = ""
    misses: Sequence[Mapping[str, Any]] = ()


def _of_hill(
    country: Country,
    hills: Sequence[Hill],
    asked: Question,
    days: list[dt.date],
    number: int,
    progress: Progress,
) -> _Mornings:
    """The mornings of one of the hills."""
    hill, rows = hills[number], list[Row]()
    try:
        search = search_for(country, hill, asked)
        for share, of_day in _mornings(search, days):
            rows += of_day
            progress(share)
    except (NoAnswer, NoGround) as error:
        return _Mornings(rows, str(error), error.loosen if isinstance(error, NoAnswer) else ())
    if rows:
        return _Mornings(rows)
    return _Mornings(rows, _NEVER.format(hill.label, search.also), search.seas.less_mist)


def _mornings(search: Search, days: list[dt.date]) -> Iterator[tuple[float, list[Row]]]:
    """The share of the days that is done, and the morning of the last of them, if any."""
    latitudes = search.seas.country.dem.grid.latitudes_deg
    lines = sun_lines(days, search.hill, latitudes, evening=search.asked.evening)
    cells = search.within(search.seas.likely_places(lines), days)
    for done, line in enumerate(lines, start=1):
        yield done / len(lines), _morning(search, cells, line)


def _morning(search: Search, cells: pd.DataFrame, line: SunLine) -> list[Row]:
    """The best place of one hill on one day as a row, or none."""
    asked = search.asked
    try:
        batches = search.likeliest(search.seas.likely_on(cells, line))
    except NoAnswer:
        return []
    look, looked = search.looks_on(line.day), dict[tuple[int, int], Row | None]()

    def row_of(cell: pd.Series) -> Row | None:
        if (at := (cell["row"], cell["col"])) not in looked:
            looked[at] = look(cell)
        return looked[at]

    # the second round begins with the cells of the first
    for count in (1, _MORE):
        found = search.pick(batches, row_of, count=count)
        if found:
            # one alone is the best without a score
            best = int(asked.scored(pd.DataFrame(found))["score"].argmax()) if found[1:] else 0
            return [_row(search.hill, line.day, found[best], asked.limits.eye_m)]
    return []


def _days(first_day: dt.date, last_day: dt.date, step_days: int) -> list[dt.date]:
    span_of((first_day, last_day))
    if step_days < 1:
        raise TerrainError(f"from one day to the next is 1 day or more, got {step_days}")
    length = (last_day - first_day).days
    return [first_day + dt.timedelta(days=n) for n in range(0, length + 1, step_days)]


def _row(hill: Hill, day: dt.date, vantage: Row, eye_m: float) -> Row:
    appears, best, evening = (vantage[name] for name in ("appears", "best_at", "evening"))
    level = level_light(
        day,
        lon_deg=vantage["lon_deg"],
        lat_deg=vantage["lat_deg"],
        height_m=vantage["height_m"] + eye_m,
        evening=evening,
    )
    begins = {"light_begins": light_begins(level, appears, best, evening=evening)}
    return {"day": day} | hill_columns(hill, hill.label) | begins | vantage


def _why_none(left_out: Mapping[str, str], days: list[dt.date]) -> str:
    label, reason = next(iter(left_out.items()))
    if len(left_out) == 1:
        return f"no morning from {days[0]} to {days[-1]}: {reason}"
    return (
        f"none of {len(left_out)} hills has a morning from {days[0]} to {days[-1]}; "
        f"{label}: {reason}"
    )
