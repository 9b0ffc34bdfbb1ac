"""Where to stand: places that see a hill clear of the mist with the sun coming up behind it.

All of them, best first, or the best that can be walked to.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from contextlib import suppress
from typing import Any, Final

import geopandas as gpd
import pandas as pd

from terrain.country import Country, country_of
from terrain.errors import NoAnswer, TerrainError
from terrain.ground.accuracy import Accuracy
from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.mist.level import AnyMist
from terrain.sun.calendar import Span, span_of, twelve_months
from terrain.sun.clock import shifted
from terrain.sun.sun_line import sun_line
from terrain.vantage.access import Access
from terrain.vantage.limits import Limits
from terrain.vantage.miss import wider
from terrain.vantage.nearest import nearest_deg
from terrain.vantage.pick import Progress
from terrain.vantage.question import Question
from terrain.vantage.search import Search, search_for
from terrain.vantage.season import plan_season
from terrain.vantage.year import vantages_among
from terrain.walk.walk import quickest_walk

_SPOTS: Final = 3
_MORNINGS: Final = 20
"""So many of a season's best mornings are looked at for one that can be walked to in time."""


def find_vantages(
    ground: Dem | Country,
    hill: Hill,
    *,
    day: dt.date | None = None,
    year: int | Span | None = None,
    mist: AnyMist | None = None,
    starts: Sequence[Spot] | None = None,
    access: Access | None = None,
    passes: gpd.GeoDataFrame | None = None,
    limits: Limits | None = None,
    count: int = 10,
    weights: Mapping[str, float] | None = None,
    evening: bool = False,
    accuracy: Accuracy | None = None,
    refraction: float | None = None,
    progress: Progress = lambda share: None,
) -> gpd.GeoDataFrame:
    """Vantages from which the low sun stands behind a hill or over it, best first.

    Parameters
    ----------
    ground : Dem or Country
        The ground on which all of it is; a `Country` keeps what is worked out from it.
    hill : Hill
        The hill that is looked at.
    day : datetime.date, optional
        The date at the hill.
    year : int or tuple of datetime.date, optional
        In place of a day: the calendar year, or the first and the last day of a span, both
        included; and every vantage comes with its best day. They are spread about the hill and by
        how far they are: a place on another side of it goes before a somewhat better one that
        offers what another does.
    mist : Mist or MistRange, optional
        Lies over the ground, in place of one that the country has; without either any height will
        do; its top may be a range (see `mist_range`).
    starts : sequence of Spot, optional
        Where a walk can begin; the nearest is named for each vantage.
    access : Access, optional
        How far one will walk from a start; places farther off are left out.
    passes : geopandas.GeoDataFrame, optional
        As `passes` gives them for this ground, to be told which of them mist is seen to pour over.
    limits : Limits, optional
        What a vantage must keep to.
    count : int, optional
        How many vantages, at most.
    weights : mapping from str to float, optional
        Of the criteria, by name.
    evening : bool, optional
        The sun as it goes down in place of the sun as it comes up.
    accuracy : Accuracy, optional
        Errors of the inputs, one standard deviation of each, in place of the country's own.
    refraction : float, optional
        Coefficient k of terrestrial refraction, dimensionless, in place of the country's own.
    progress : callable, optional
        Called with the share done, 0 to 1.

    Returns
    -------
    geopandas.GeoDataFrame
        One row a vantage (points, EPSG:4326): its height, `appears` and `clears` (aware datetimes),
        what `check_backlight` found, and for each criterion of `terrain.vantage.question` its value
        and its score, with `score` over all. Every row has been looked at in full. `best` says
        whether the sun is best placed as it appears ("contact") or at another time while it stands
        low ("passage"), `best_at` when, `best_deg` how far from the summit, `sun_deg` how high,
        `best_pose` whether "over" the hill, "on the rim" or "elsewhere";
        `backdrop` what the summit is seen against, `backdrop_m` how far off. `known_between`
        says whether all ground on the way to the summit is known: where it is not, `stature_deg`
        and `clearance_m` are NaN, and what hangs on that ground scores 0; `sun_from_summit_deg` is
        how far from the summit the sun stands at its best, `contrast` how plainly the summit stands
        out of what is behind it, 1 as before sky. `known_behind`, whether
        no gap of the raster behind the hill may hold ground that stands over it: where it may,
        what hangs on that scores 0. Further

        - with a mist, of the view within 8 degrees of the summit, to the sides and up and down, or
          of the lens's: `mist_share`, of mist in what is seen of ground and mist, as areas in the
          view; `waterline`, `over_mist_deg` and `is_island`, as `picture` has them;
          `islands_in_view`, how many others than its own show 0.02 square degrees or more;
          `shallows_deg2`, area of shallows with tree tops that lie whole in that view, square
          degrees; and with passes `pours_in_view`, how many the mist is seen to pour over,
          `pours_over`, which
        - with a range of tops: `mist_top_m`, the top that all the rest of the row is about: the one
          hoped for, or the nearest to it at which the place works; `mist_from_m` and `mist_to_m`,
          the lowest and the highest top about it at which it works, and `mist_band_m` from one to
          the other. It works at a top if it keeps to the limits
        - with a lens: `fits_share`, how much of hill, mist and sun it takes in
        - with starts: `start`, the nearest, and `start_m`, how far that is as the crow flies; with
          access `start` is the one from which the walk in is quickest and `walk_min` its minutes by
          the clock, so as to be in place before the colour begins; `attrs["starts_left_out"]` says
          at which starts no walk begins, and why
        - with a year: `day`, the day of it that all the rest of the row is about; `spell_days`, on
          how many neighbouring days the sun appears within the tolerance; and `days`, all such days
          of the year as text, each of which has been looked at in full

    Raises
    ------
    NoAnswer
        Where there is none, with what was lacking.
    NoSun
        Where the sun does not rise.
    TerrainError
        For limits, weights or access that make no sense, and for a day and a year at once.

    Examples
    --------
    >>> import datetime as dt
    >>> import numpy as np
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(100, 0, 5e5, 0, -100, 6e6), shape=(61, 81))
    >>> row, col = np.mgrid[-30:31, -40:41]
    >>> cone = terrain.Dem(np.maximum(300.0 - 40.0 * np.hypot(row, col), 0.0), grid)
    >>> hill = terrain.hill_at(cone, *map(float, grid.lonlat(30, 40)), name="Cone")
    >>> found = terrain.find_vantages(cone, hill, day=dt.date(2025, 3, 30), count=2)
    >>> found[["distance_m", "best_deg"]].round(1).values.tolist()
    [[4002.9, 0.1], [3401.4, 0.0]]
    """
    asked = Question(
        limits=limits or Limits(),
        starts=starts or (),
        access=access,
        passes=passes,
        count=count,
        weights=weights,
        evening=evening,
    )
    country = country_of(ground, mist=mist, refraction=refraction, accuracy=accuracy)
    if day is not None and year is None:
        return _vantages_of_day(search_for(country, hill, asked), day, progress)
    if year is not None and day is None:
        search = search_for(country, hill, asked)
        return vantages_among(search, span_of(year), progress, evening=evening)
    raise TerrainError("vantages are for a day or for a year: give one of the two")


def _vantages_of_day(search: Search, day: dt.date, progress: Progress) -> gpd.GeoDataFrame:
    """The vantages of a search on a local day, best first; NoAnswer, NoSun as `find_vantages`."""
    seas, hill, limits = search.seas, search.hill, search.asked.limits
    latitudes = seas.country.dem.grid.latitudes_deg
    line = sun_line(day, hill, latitudes, evening=search.asked.evening)
    cells = search.within(seas.likely_on(seas.likely_places([line]), line), [day])
    progress(0.3)
    found = search.pick(search.likeliest(cells), search.looks_on(day), progress)
    if not found:
        against = "" if limits.against is None else f" against {limits.against}"
        raise NoAnswer(
            f"none of the likeliest of the places that promised it ({len(cells)}) has, in a full "
            f"look, the low sun within {limits.tolerance_deg} degrees of {hill.label}{against} on "
            f"{day} by a sure margin{search.also}: try another date",
            loosen=[*seas.less_mist, *wider(nearest_deg(search, cells, day), one_day=True)],
        )
    return search.table(found)


def choose_vantage(
    ground: Dem | Country,
    hill: Hill,
    start: Spot,
    among: tuple[dt.date, dt.date],
    *,
    mist: AnyMist | None = None,
    mist_top_m: float | None = None,
    access: Access | None = None,
    evening: bool = False,
    progress: Progress = lambda share: None,
) -> tuple[Spot, dt.date]:
    """The best vantage for a hill that can be walked to from a start, and the day that it is for.

    Parameters
    ----------
    ground : Dem or Country
        The ground on which all of it is; a `Country` keeps what is worked out from it.
    hill : Hill
        The hill that is looked at.
    start : Spot
        Where the walk begins.
    among : tuple of datetime.date
        The first and the last day, both included; of one day, of twelve months or of any other
        span the best morning is taken.
    mist : Mist or MistRange, optional
        Of any kind, in place of one that the country has.
    mist_top_m : float, optional
        Height of a level mist, metres, in its place.
    access : Access, optional
        How far one will walk.
    evening : bool, optional
        The sun as it goes down in place of the sun as it comes up.
    progress : callable, optional
        Called with the share done, 0 to 1.

    Returns
    -------
    spot : Spot
        The vantage.
    day : datetime.date
        Its day.

    Raises
    ------
    NoAnswer
        Where there is no vantage, or none of the best mornings can be walked to in time.
    NoSun
        Where the sun does not rise.
    TerrainError
        Where `find_vantages` and `plan_season` raise it, and for a mist that is given twice.

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
    >>> days = 2 * (dt.date(2025, 3, 30),)
    >>> place, morning = terrain.choose_vantage(cone, hill, spot, days)
    >>> morning in days, round(terrain.check_backlight(cone, place, hill, morning).offset_deg)
    (True, 0)
    """
    access, country = access or Access(), country_of(ground, mist=mist, mist_top_m=mist_top_m)
    first, last = among
    is_year = among == twelve_months(first)
    if first != last and not is_year:
        season = plan_season(
            country, [hill], first, last, starts=[start], evening=evening, progress=progress
        )
        return _in_reach(season.head(_MORNINGS), country.dem, start, access, among)
    asked = Question(starts=[start], access=access, evening=evening, count=_SPOTS)
    search = search_for(country, hill, asked)
    if is_year:
        best = vantages_among(search, among, progress, evening=evening, spread=False).iloc[0]
    else:
        best = _vantages_of_day(search, first, progress).iloc[0]
    return _spot(best), best["day"] if is_year else first


def _in_reach(
    mornings: pd.DataFrame, dem: Dem, start: Spot, access: Access, among: tuple[dt.date, dt.date]
) -> tuple[Spot, dt.date]:
    """The first of a season's mornings that can be walked to in time."""
    shortest_min = math.inf
    for _, row in mornings.iterrows():
        by = shifted(row["light_begins"].to_pydatetime(warn=False), -access.before_colour)
        with suppress(NoAnswer):
            walk = quickest_walk(dem, start, _spot(row), access, arrives=by)
            if walk.there_s / 60.0 <= access.within_min:
                return _spot(row), row["day"]
            shortest_min = min(shortest_min, walk.there_s / 60.0)
    raise NoAnswer(
        f"none of the best {len(mornings)} mornings from {among[0]} to {among[1]} is at a place "
        f"within {access.within_min:.0f} minutes on foot: allow more, or start elsewhere",
        loosen=[{"within_min": float(math.ceil(shortest_min))}] if shortest_min < math.inf else [],
    )


def _spot(row: Any) -> Spot:
    return Spot(lon_deg=float(row["lon_deg"]), lat_deg=float(row["lat_deg"]))
