"""Which vantage to plan for, where none was named: the best one that can be walked to."""

from __future__ import annotations

import datetime as dt
from contextlib import suppress
from functools import partial
from typing import Any, Final

import pandas as pd

from terrain.country import Country, country_of
from terrain.errors import NoAnswer
from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.mist.level import AnyMist
from terrain.sun.clock import shifted
from terrain.vantage.access import Access
from terrain.vantage.find import find_vantages
from terrain.vantage.search import Progress
from terrain.vantage.season import plan_season
from terrain.walk.walk import quickest_walk

__all__ = ["choose_vantage"]

_SPOTS: Final = 3
_MORNINGS: Final = 20
"""So many of a season's best mornings are looked at for one that can be walked to in time."""


def choose_vantage(
    ground: Dem | Country,
    hill: Hill,
    start: Spot,
    among: tuple[dt.date, dt.date],
    *,
    mist: AnyMist | None = None,
    mist_top_m: float | None = None,
    access: Access | None = None,
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
        The first and the last day, both included; of one day, of a calendar year or of any other
        span the best morning is taken.
    mist : Mist or MistRange, optional
        Of any kind, in place of one that the country has.
    mist_top_m : float, optional
        Height of a level mist, metres, in its place.
    access : Access, optional
        How far one will walk.
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
        Where `find_vantages` and `plan_season` raise it.

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
    >>> day = dt.date(2025, 3, 30)
    >>> place, morning = terrain.choose_vantage(cone, hill, spot, (day, day))
    >>> morning == day, round(terrain.check_backlight(cone, place, hill, morning).offset_deg)
    (True, 0)
    """
    access, country = access or Access(), country_of(ground, mist=mist)
    if mist_top_m is not None:
        country = country.under_level(mist_top_m)
    first, last = among
    is_year = (first.month, first.day) == (1, 1) and last == dt.date(first.year, 12, 31)
    if first != last and not is_year:
        return _of_season(country, hill, start, among, access, progress)
    search = partial(
        find_vantages,
        country,
        hill,
        starts=[start],
        access=access,
        count=_SPOTS,
        progress=progress,
    )
    best = (search(year=first.year) if is_year else search(day=first)).iloc[0]
    return _spot(best), best["day"] if is_year else first


def _of_season(
    country: Country,
    hill: Hill,
    start: Spot,
    among: tuple[dt.date, dt.date],
    access: Access,
    progress: Progress,
) -> tuple[Spot, dt.date]:
    season = plan_season(country, [hill], *among, starts=[start], progress=progress)
    mornings = season.head(_MORNINGS)
    for _, row in mornings.iterrows():
        with suppress(NoAnswer):
            if _walk_min(country.dem, start, row, access) <= access.within_min:
                return _spot(row), row["day"]
    raise NoAnswer(
        f"none of the best {len(mornings)} mornings from {among[0]} to {among[1]} is at a place "
        f"within {access.within_min:.0f} minutes on foot: allow more, or start elsewhere"
    )


def _walk_min(dem: Dem, start: Spot, row: pd.Series, access: Access) -> float:
    """Minutes of the walk in to a row's vantage, by the clock."""
    colour: dt.datetime = row["colour_begins"].to_pydatetime(warn=False)
    by = shifted(colour, -access.before_colour)
    return quickest_walk(dem, start, _spot(row), access, arrives=by).there_s / 60.0


def _spot(row: Any) -> Spot:
    return Spot(lon_deg=float(row["lon_deg"]), lat_deg=float(row["lat_deg"]))
