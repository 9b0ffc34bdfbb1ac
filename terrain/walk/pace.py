"""How long a leg takes on foot, by its length on the map and the height it gains or loses.

A pace is any function of both that gives the time; these are the published ones. All are for an
ordinary walker on a path, by day, without rests. What else there is to know of how one walks, and
where one may, goes with the pace as a `Going`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import geopandas as gpd
import numpy as np
from numpy.typing import ArrayLike

from terrain.arrays import Flags, Floats
from terrain.errors import TerrainError

PATH_FACTOR: Final = 1.0 / 0.6
"""How much longer open ground takes than a path: Tobler's (1993) own factor of 0.6 in speed."""

MAX_SLOPE_DEG: Final = 35.0
"""Steepest ground to walk over without a path, degrees (common practice, no source): on cells of
25 m and more there are steeper places in it, and hands are wanted."""

DARK_FACTOR: Final = 1.25
"""How much longer a leg takes by the light of a lamp (common practice, no source)."""

Pace = Callable[[Floats, Floats], Floats]
"""distance_m on the map, rise_m (negative downhill), any one shape -> seconds, that shape."""

_HOUR_S: Final = 3600.0
_LEAST_S: Final = 1e-6
_GENTLE_DEG: Final = 5.0
_STEEP_DEG: Final = 12.0
_SLOPES: Final = np.linspace(-1.5, 1.5, 3001)
_CLOSER: Final = 4


def tobler(distance_m: ArrayLike, rise_m: ArrayLike) -> Floats:
    """Seconds for legs by Tobler's hiking function, 6 exp(-3.5 |slope + 0.05|) km/h.

    Fastest on a gentle descent; level ground goes at 5.04 km/h.

    Parameters
    ----------
    distance_m : array_like, metres
        On the map, of any shape.
    rise_m : array_like, metres
        Positive uphill; the two broadcast.

    Returns
    -------
    float array, seconds
        Of the shape to which they broadcast.

    References
    ----------
    Tobler, W. (1993), Three presentations on geographical analysis and modeling, NCGIA technical
    report 93-1.

    Examples
    --------
    >>> round(float(tobler(5000.0, 500.0)) / 3600.0, 3)
    1.409
    """
    distance, rise = _legs(distance_m, rise_m)
    slope = np.divide(rise, distance, out=np.zeros_like(rise), where=distance > 0.0)
    return distance / (6000.0 / _HOUR_S * np.exp(-3.5 * np.abs(slope + 0.05)))


def naismith(distance_m: ArrayLike, rise_m: ArrayLike) -> Floats:
    """Seconds for legs by Naismith's rule: an hour for 5 km, and one more for 600 m of ascent.

    Descent counts as level.

    Parameters
    ----------
    distance_m : array_like, metres
        On the map, of any shape.
    rise_m : array_like, metres
        Positive uphill; the two broadcast.

    Returns
    -------
    float array, seconds
        Of the shape to which they broadcast.

    References
    ----------
    Naismith, W. W. (1892), Scottish Mountaineering Club Journal 2, 136: three miles and 2000 feet,
    in the metres of today.

    Examples
    --------
    >>> float(naismith(5000.0, 300.0)) / 3600.0
    1.5
    """
    distance, rise = _legs(distance_m, rise_m)
    return distance * (_HOUR_S / 5000.0) + np.maximum(rise, 0.0) * (_HOUR_S / 600.0)


def langmuir(distance_m: ArrayLike, rise_m: ArrayLike) -> Floats:
    """Seconds for legs by Naismith's rule with Langmuir's corrections for descent.

    Ten minutes less for every 300 m of descent on ground of 5 to 12 degrees, ten minutes more for
    every 300 m on steeper ground.

    Parameters
    ----------
    distance_m : array_like, metres
        On the map, of any shape.
    rise_m : array_like, metres
        Positive uphill; the two broadcast.

    Returns
    -------
    float array, seconds
        Of the shape to which they broadcast.

    References
    ----------
    Langmuir, E. (1984), Mountaincraft and Leadership.

    Examples
    --------
    >>> [round(float(langmuir(d, -300.0)) / 60.0, 1) for d in (6000.0, 2000.0, 1000.0)]
    [72.0, 14.0, 22.0]
    """
    distance, rise = _legs(distance_m, rise_m)
    slope_deg = np.degrees(np.arctan2(np.maximum(-rise, 0.0), distance))
    correction_s = np.where(slope_deg > _STEEP_DEG, 600.0, -600.0) * (slope_deg >= _GENTLE_DEG)
    return naismith(distance, rise) + correction_s * np.maximum(-rise, 0.0) / 300.0


def din_33466(distance_m: ArrayLike, rise_m: ArrayLike) -> Floats:
    """Seconds for legs by DIN 33466: 4 km/h along, 300 m/h up, 500 m/h down.

    Of the times along and up or down, the longer counts in full and the shorter by half. Leg by leg
    that is never less than for the sums of a whole route, and more where level and steep legs
    alternate.

    Parameters
    ----------
    distance_m : array_like, metres
        On the map, of any shape.
    rise_m : array_like, metres
        Positive uphill; the two broadcast.

    Returns
    -------
    float array, seconds
        Of the shape to which they broadcast.

    References
    ----------
    DIN 33466, signposts for hiking paths, as the German and Austrian Alpine clubs' handbook of
    paths gives it.

    Examples
    --------
    >>> round(float(din_33466(8000.0, 900.0)) / 3600.0, 3)
    4.0
    """
    distance, rise = _legs(distance_m, rise_m)
    along_s = distance * (_HOUR_S / 4000.0)
    upright_s = np.where(rise > 0.0, rise * (_HOUR_S / 300.0), -rise * (_HOUR_S / 500.0))
    return np.maximum(along_s, upright_s) + 0.5 * np.minimum(along_s, upright_s)


def time_s(pace: Pace, distance_m: ArrayLike, rise_m: ArrayLike) -> Floats:
    """Seconds for legs by any pace; ValueError where it gives none, a negative or no number."""
    distance, rise = _legs(distance_m, rise_m)
    seconds = np.asarray(pace(distance, rise), dtype=float)
    if seconds.shape != distance.shape or not np.all(seconds >= 0.0):
        name, least_s = getattr(pace, "__name__", repr(pace)), np.min(seconds, initial=np.inf)
        raise ValueError(
            f"the pace {name} must give a time of 0 s or more for each of {distance.shape} legs, "
            f"got {seconds.shape} of {least_s} s and more"
        )
    return seconds


def fastest_m_s(pace: Pace) -> float:
    """The greatest speed over the map that a pace reaches on any slope, metres a second.

    >>> round(fastest_m_s(tobler) * 3.6, 2), round(fastest_m_s(din_33466) * 3.6, 2)
    (6.0, 4.0)
    """
    slopes, legs_m = _SLOPES, np.full_like(_SLOPES, 100.0)
    for _ in range(_CLOSER):  # a pace may turn, or break off, between two of them
        speed_m_s = legs_m / time_s(pace, legs_m, legs_m * slopes)
        best = int(np.argmax(speed_m_s))
        around = slopes[max(best - 1, 0)], slopes[min(best + 1, slopes.size - 1)]
        slopes = np.linspace(*around, slopes.size)
    return float(speed_m_s[best])


@dataclass(frozen=True, kw_only=True, eq=False)
class Going:
    """How one walks, and where one may.

    paths: lines in EPSG:4326, open whatever lies under them; ground off them is open ground, all
    of it without paths. water: (rows, cols) of the ground, closed. pace: time on a path by day.
    path_factor: how many times as long open ground takes. max_slope_deg: steeper open ground is
    closed, and so are steeper steps. dark_factor: how many times as long it takes before civil
    dawn. TerrainError for a factor below 1 and a slope not within 0 to 90 degrees.
    """

    paths: gpd.GeoDataFrame | None = None
    water: Flags | None = None
    pace: Pace = tobler
    path_factor: float = PATH_FACTOR
    max_slope_deg: float = MAX_SLOPE_DEG
    dark_factor: float = DARK_FACTOR

    def __post_init__(self) -> None:
        if not 1.0 <= self.path_factor < np.inf:
            raise TerrainError(
                f"open ground takes 1 or more times as long as a path, not {self.path_factor}"
            )
        if not 0.0 < self.max_slope_deg < 90.0:
            raise TerrainError(
                "the steepest ground to walk on must be between 0 and 90 degrees, "
                f"got {self.max_slope_deg}"
            )
        if not 1.0 <= self.dark_factor < np.inf:
            raise TerrainError(
                f"a walk in the dark takes 1 or more times as long, not {self.dark_factor}"
            )

    def seconds(self, distance_m: Floats, rise_m: Floats, on_path: Flags | bool) -> Floats:
        """Time for legs by day, on a path or off it; all arguments of one shape."""
        factor = np.where(on_path, 1.0, self.path_factor)
        return np.maximum(time_s(self.pace, distance_m, rise_m) * factor, _LEAST_S)


def _legs(distance_m: ArrayLike, rise_m: ArrayLike) -> tuple[Floats, Floats]:
    distance, rise = np.broadcast_arrays(
        np.asarray(distance_m, dtype=float), np.asarray(rise_m, dtype=float)
    )
    return distance, rise
