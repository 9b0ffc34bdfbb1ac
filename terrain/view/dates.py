"""On which mornings or evenings of a year the sun is behind a hill, seen from one spot."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import numpy as np
import pandas as pd

from terrain.country import Country, country_of
from terrain.errors import NoGround, NoSun, TerrainError
from terrain.ground.accuracy import Accuracy
from terrain.ground.dem import Dem
from terrain.ground.geodesy import wrap_deg
from terrain.ground.places import Hill, Spot
from terrain.mist.mist import Mist
from terrain.sight.skyline import AZIMUTH_STEP_DEG
from terrain.sun.calendar import Span, span_of
from terrain.sun.path import SunPath, sun_paths
from terrain.view.backlight import backlight
from terrain.view.columns import columns_of
from terrain.view.look import View, look
from terrain.view.nearness import nearness
from terrain.view.reasons import hidden_by
from terrain.view.scene import Scene
from terrain.view.states import best_pose

_SAMPLE_S = 240.0
_NEAR_DEG = 1.0
_WIDER = 1.1


def backlit_dates(
    ground: Dem | Country,
    spot: Spot,
    hill: Hill,
    year: int | Span,
    *,
    tolerance_deg: float = 0.5,
    mist: Mist | None = None,
    accuracy: Accuracy | None = None,
    refraction: float | None = None,
    evening: bool = False,
    progress: Callable[[float], None] = lambda share: None,
) -> pd.DataFrame:
    """The mornings of a year, or of a span, on which the sun stands behind a hill or over it.

    Or the evenings on which it last appears there.

    Parameters
    ----------
    ground : Dem or Country
        The ground on which all of it is; a `Country` keeps what is worked out from it.
    spot : Spot
        Where the camera stands, and its height over the ground.
    hill : Hill
        The hill that is looked at.
    year : int or tuple of datetime.date
        Of the calendar, or the first and the last day of a span, both included.
    tolerance_deg : float, optional
        How far from the summit the sun appears behind the hill, at most, or how far its centre is
        from where the sky begins over the summit, at its nearest, degrees.
    mist : Mist, optional
        Lies over the ground, in place of one that the country has.
    accuracy : Accuracy, optional
        Errors of the inputs, one standard deviation of each, in place of the country's own.
    refraction : float, optional
        Coefficient k of terrestrial refraction, dimensionless, in place of the country's own.
    evening : bool, optional
        The evenings, as `sun_contact` has them.
    progress : callable, optional
        Called with the share done, 0 to 1.

    Returns
    -------
    pandas.DataFrame
        One row a morning, in order: `day`, `appears` and `clears` (aware datetimes), `offset_deg`,
        `offset_widths`, `uncertainty_deg`, `uncertainty_s`; `best`, "contact" where it is best
        placed as it appears, "passage" where it comes nearer later, `best_at`, when, `best_deg`,
        how far from the summit, `best_pose`, "over" the hill, "on the rim", "just hidden" or
        "elsewhere", and `rank` by the distance, 1 the nearest; `backdrop`, what the summit is
        seen against, and `backdrop_m`, how far off; of evenings also `evening`, which is true:
        there the sun `appears` for the last time. Empty where there is none;
        `attrs["hidden_by"]` says what hides the summit, "" where nothing does.
        A morning on which the ground toward the sun is unknown from the spot on has no row;
        `attrs["ground_unknown"]` lists those on which the sun passes near the summit.

    Raises
    ------
    NoGround
        Where the spot or the hill is off the known ground.
    NoAnswer
        Where either lies under the mist.
    TerrainError
        For a tolerance that is not above 0, days too far off for the earth's rotation to be known,
        and a last day before the first.

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
    ['30 March', '31 March', '01 April', '10 September', '11 September', '12 September']
    """
    if not tolerance_deg > 0.0:
        raise TerrainError(f"the tolerance must be above 0 degrees, got {tolerance_deg}")
    span = span_of(year)
    scene = Scene(country_of(ground, mist=mist, refraction=refraction, accuracy=accuracy), hill)
    view = look(scene, spot)
    days = _days_near(view, span, tolerance_deg, evening) if view.visible else []
    rows, unknown = [], []
    for number, day in enumerate(days, start=1):
        try:
            near = nearness(scene, view, day, evening=evening)
        except NoSun:
            continue
        except NoGround:
            unknown.append(day)
            continue
        if near.within(tolerance_deg):
            answer = backlight(scene, view, day, evening=evening)
            pose = {"best_pose": str(best_pose(scene, answer))}
            rows.append({"day": day, "evening": evening, **columns_of(answer), **pose})
        progress(number / len(days))
    table = pd.DataFrame(rows, columns=[*_COLUMNS, *["evening"] * evening])
    table["rank"] = table["best_deg"].rank(method="first").astype(int)
    table.attrs = {"hidden_by": hidden_by(view, hill), "ground_unknown": unknown}
    return table


_COLUMNS = (
    "day",
    "appears",
    "clears",
    "offset_deg",
    "offset_widths",
    "uncertainty_deg",
    "uncertainty_s",
    "best",
    "best_at",
    "best_deg",
    "best_pose",
    "backdrop",
    "backdrop_m",
    "rank",
)


def _days_near(view: View, span: Span, tolerance_deg: float, evening: bool) -> list[dt.date]:
    """The days of a span on which the sun passes the skyline anywhere near the summit."""
    first, last = span
    days = [first + dt.timedelta(days=n) for n in range((last - first).days + 1)]
    paths = sun_paths(
        days,
        lon_deg=view.spot.lon_deg,
        lat_deg=view.spot.lat_deg,
        height_m=view.skyline.eye_height_m,
        evening=evening,
    )
    about = _skyline_about(view, tolerance_deg)
    return [path.day for path in paths if _passes_near(view, path, tolerance_deg, about)]


def _passes_near(
    view: View, path: SunPath, tolerance_deg: float, about: tuple[float, float]
) -> bool:
    """Whether any sample of the day lies by a part of the skyline that is by the summit.

    From one sample to the nearer next the sun moves half a degree, and its disc reaches a quarter
    of one: the margin is wider than both together. The skyline counts as high and as low as it
    is anywhere about the summit, since on a steep one the sun appears beside where it was sampled.
    """
    azimuth, altitude = path.at(np.arange(0.0, path.length_s, _SAMPLE_S))
    aside = np.abs(wrap_deg(azimuth - view.azimuth_deg)) * np.cos(np.radians(altitude))
    low, high = about[0], about[1] + tolerance_deg
    near = aside <= _WIDER * tolerance_deg + _NEAR_DEG
    near &= (altitude >= low - _NEAR_DEG) & (altitude <= high + _NEAR_DEG)
    return bool(near.any())


def _skyline_about(view: View, tolerance_deg: float) -> tuple[float, float]:
    """The lowest and the highest of the skyline within a tolerance of the summit, degrees.

    Where no ground is known the horizontal stands in for it, as it does for the sun's appearance.
    """
    sky = view.skyline
    ground = np.nan_to_num(sky.altitude_deg, nan=0.0)
    aside = np.abs(wrap_deg(sky.azimuth_deg - view.azimuth_deg)) * np.cos(np.radians(ground))
    about = ground[aside <= _WIDER * tolerance_deg + AZIMUTH_STEP_DEG]
    at_summit = float(np.nan_to_num(sky.at(view.azimuth_deg), nan=0.0))
    return float(about.min(initial=at_summit)), float(about.max(initial=at_summit))
