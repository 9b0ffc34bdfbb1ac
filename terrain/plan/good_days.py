"""The mornings or evenings on which the sun is behind a hill from one spot, best first."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass

from terrain.country import Country, country_of
from terrain.errors import NoAnswer, TerrainError
from terrain.ground.accuracy import Accuracy
from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.mist.mist import Mist
from terrain.vantage.limits import Limits
from terrain.view.dates import backlit_dates
from terrain.view.scene import Scene


@dataclass(frozen=True, kw_only=True)
class GoodDay:
    """A morning on which the sun appears behind the hill, or an evening on which it goes there.

    appears: it does, or in an evening is gone, an aware datetime in the place's zone;
    uncertainty_s: one standard deviation of it.
    offset_deg: from the summit, positive to the right; offset_widths: the same in widths of the
    sun; uncertainty_deg: one standard deviation of it.
    """

    day: dt.date
    appears: dt.datetime
    uncertainty_s: float
    offset_deg: float
    offset_widths: float
    uncertainty_deg: float


def good_days(
    ground: Dem | Country,
    spot: Spot,
    hill: Hill,
    among: tuple[dt.date, dt.date],
    *,
    tolerance_deg: float = Limits().tolerance_deg,
    mist: Mist | None = None,
    accuracy: Accuracy | None = None,
    evening: bool = False,
    progress: Callable[[float], None] = lambda share: None,
) -> tuple[GoodDay, ...]:
    """The days from a first to a last on which the sun appears behind a hill, best first.

    Or of evenings goes there. The best is the one on which it does so nearest to the summit.

    Parameters
    ----------
    ground : Dem or Country
        The ground on which all of it is; a `Country` keeps what is worked out from it.
    spot : Spot
        Where the camera stands, and its height over the ground.
    hill : Hill
        The hill that is looked at.
    among : tuple of datetime.date
        The first and the last day, both included.
    tolerance_deg : float, optional
        How far from the summit the sun appears, at most, degrees.
    mist : Mist, optional
        Lies over the ground, in place of one that the country has.
    accuracy : Accuracy, optional
        Errors of the inputs, one standard deviation of each, in place of the country's own.
    evening : bool, optional
        The evenings in place of the mornings.
    progress : callable, optional
        Called with the share done, 0 to 1.

    Returns
    -------
    tuple of GoodDay
        Each with its day and where the sun appears.

    Raises
    ------
    NoAnswer
        Where there is no such day, and where the spot or the hill lies under the mist.
    NoGround
        Where the spot or the hill is off the known ground.
    TerrainError
        For a last day before the first.

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
    >>> span = dt.date(2025, 3, 1), dt.date(2025, 4, 30)
    >>> [f"{good.day:%d %B}" for good in terrain.good_days(cone, spot, hill, span)]
    ['31 March', '30 March', '29 March', '01 April']
    """
    first, last = among
    country = country_of(ground, mist=mist, accuracy=accuracy)
    table = backlit_dates(
        country,
        spot,
        hill,
        among,
        tolerance_deg=tolerance_deg,
        evening=evening,
        progress=progress,
    )
    found = [
        GoodDay(
            day=row["day"],
            appears=row["appears"].to_pydatetime(warn=False),
            uncertainty_s=row["uncertainty_s"],
            offset_deg=row["offset_deg"],
            offset_widths=row["offset_widths"],
            uncertainty_deg=row["uncertainty_deg"],
        )
        for row in table.to_dict("records")
    ]
    if not found:
        part, does = ("evening", "go down") if evening else ("morning", "first appear")
        raise NoAnswer(
            f"on no {part} from {first} to {last} does the sun {does} within "
            f"{tolerance_deg:g} degrees of {hill.label} from {spot.lat_deg:.4f}, "
            f"{spot.lon_deg:.4f}: try other dates or another spot"
        )
    return tuple(sorted(found, key=lambda good: abs(good.offset_deg)))


def chosen_day(
    scene: Scene,
    spot: Spot,
    day: dt.date | None,
    among: tuple[dt.date, dt.date] | None,
    *,
    evening: bool = False,
) -> tuple[dt.date, tuple[GoodDay, ...]]:
    """The day given, or the best from a first to a last, and the other good ones."""
    if among is None:
        if day is None:
            raise TerrainError("no day was given to plan: give one, or a first and a last")
        return day, ()
    try:
        good = good_days(scene.country, spot, scene.hill, among, evening=evening)
    except NoAnswer:
        if day is None:
            raise
        good = ()
    chosen = day or good[0].day
    return chosen, tuple(other for other in good if other.day != chosen)
