"""On which mornings of a year the sun comes up behind a hill, seen from one spot."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import numpy as np
import pandas as pd

from terrain.country import Country, country_of
from terrain.errors import NoSun, TerrainError
from terrain.ground.accuracy import Accuracy
from terrain.ground.dem import Dem
from terrain.ground.geodesy import wrap_deg
from terrain.ground.places import Hill, Spot
from terrain.mist.mist import Mist
from terrain.sun.path import SunPath, sun_paths
from terrain.view.backlight import backlight, columns_of
from terrain.view.look import View, look
from terrain.view.scene import Scene

_FIRST_YEAR, _LAST_YEAR = 1900, 2199
_SAMPLE_S = 240.0
_NEAR_AZIMUTH_DEG = 2.0
_NEAR_ALTITUDE_DEG = 1.5


def backlit_dates(
    ground: Dem | Country,
    spot: Spot,
    hill: Hill,
    year: int,
    *,
    tolerance_deg: float = 0.5,
    mist: Mist | None = None,
    accuracy: Accuracy | None = None,
    refraction: float | None = None,
    progress: Callable[[float], None] = lambda share: None,
) -> pd.DataFrame:
    """The mornings of a calendar year on which the sun first appears behind the hill.

    Parameters
    ----------
    ground : Dem or Country
        The ground on which all of it is; a `Country` keeps what is worked out from it.
    spot : Spot
        Where the camera stands, and its height over the ground.
    hill : Hill
        The hill that is looked at.
    year : int
        Of the calendar.
    tolerance_deg : float, optional
        How far from the summit the sun appears, at most, degrees.
    mist : Mist, optional
        Lies over the ground, in place of one that the country has.
    accuracy : Accuracy, optional
        Errors of the inputs, one standard deviation of each, in place of the country's own.
    refraction : float, optional
        Coefficient k of terrestrial refraction, dimensionless, in place of the country's own.
    progress : callable, optional
        Called with the share done, 0 to 1.

    Returns
    -------
    pandas.DataFrame
        One row a morning, in order: `day`, `appears` and `clears` (aware datetimes), `offset_deg`,
        `offset_widths`, `uncertainty_deg`, `uncertainty_s`. Empty where there is none.

    Raises
    ------
    NoGround
        Where the spot or the hill is off the known ground.
    NoAnswer
        Where either lies under the mist.
    TerrainError
        For a tolerance that is not above 0, or a year too far off for the earth's rotation to be
        known.

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
    >>> mornings = terrain.backlit_dates(cone, spot, hill, 2025)
    >>> [f"{day:%d %B}" for day in mornings.day]
    ['30 March', '31 March', '12 September']
    """
    if not tolerance_deg > 0.0:
        raise TerrainError(f"the tolerance must be above 0 degrees, got {tolerance_deg}")
    if not _FIRST_YEAR <= year <= _LAST_YEAR:
        raise TerrainError(f"the year must be {_FIRST_YEAR} to {_LAST_YEAR}, got {year}")
    scene = Scene(country_of(ground, mist=mist, refraction=refraction, accuracy=accuracy), hill)
    view = look(scene, spot)
    days = _days_near(view, year, tolerance_deg) if view.on_skyline else []
    rows = []
    for number, day in enumerate(days, start=1):
        try:
            answer = backlight(scene, view, day)
        except NoSun:
            continue
        if answer.behind and abs(answer.offset_deg) <= tolerance_deg:
            rows.append({"day": day, **columns_of(answer)})
        progress(number / len(days))
    return pd.DataFrame(rows, columns=list(_COLUMNS))


_COLUMNS = (
    "day",
    "appears",
    "clears",
    "offset_deg",
    "offset_widths",
    "uncertainty_deg",
    "uncertainty_s",
)


def _days_near(view: View, year: int, tolerance_deg: float) -> list[dt.date]:
    """The days on which the sun passes the skyline anywhere near the summit."""
    first = dt.date(year, 1, 1)
    days = [first + dt.timedelta(days=n) for n in range((dt.date(year + 1, 1, 1) - first).days)]
    paths = sun_paths(
        days,
        lon_deg=view.spot.lon_deg,
        lat_deg=view.spot.lat_deg,
        height_m=view.skyline.eye_height_m,
    )
    return [path.day for path in paths if _passes_near(view, path, tolerance_deg)]


def _passes_near(view: View, path: SunPath, tolerance_deg: float) -> bool:
    """Whether any sample of the day lies by the summit and by the skyline.

    In four minutes the sun moves a degree, and its disc reaches a quarter of one: the margins
    are wider than both together.
    """
    azimuth, altitude = path.at(np.arange(0.0, path.length_s, _SAMPLE_S))
    aside = np.abs(wrap_deg(azimuth - view.azimuth_deg)) * np.cos(np.radians(altitude))
    over = np.abs(altitude - view.skyline.at(azimuth))
    near = (aside <= tolerance_deg + _NEAR_AZIMUTH_DEG) & (over <= _NEAR_ALTITUDE_DEG)
    return bool(near.any())
