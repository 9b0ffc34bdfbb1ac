"""A slow twin of the year atlas, cell by cell and day by day, that shares no code with it.

line   The straight line on the grid through a cell and the summit, sampled every twentieth of a
       cell on both sides, bilinear (ndimage); no rays, no hulls.
days   astropy's apparent places of the sun four times a day, turned into altitude and azimuth
       every three minutes; refraction in the true altitude by Saemundsson (Meeus, Astronomical
       Algorithms, eq. 16.4). For each calendar day: where the upper limb passes the altitude of the
       summit. No declination is solved for.
"""

from __future__ import annotations

import datetime as dt
import math
import warnings
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple
from zoneinfo import ZoneInfo

import astropy.units as u
import numpy as np
from astropy.coordinates import TETE, get_sun
from astropy.time import Time
from astropy.utils.iers import conf as iers_conf
from numpy.typing import NDArray
from pyproj import Geod
from scipy.ndimage import map_coordinates

from terrain.ground.dem import Dem
from terrain.ground.places import Hill

Floats = NDArray[np.float64]

GEOD = Geod(ellps="WGS84")
RADIUS_M = 6_371_000.0
PARALLAX_DEG = 8.794 / 3600.0
SUN_RADIUS_KM, AU_KM = 695_990.0, 149_597_870.7
STEP_S = 180.0
NEAR_DEG = 6.0  # a sun that passes within 3 degrees of a point is no farther above or below it


@dataclass(frozen=True)
class Toward:
    """A summit from a cell: azimuth, altitude and distance, over true ground."""

    azimuth_deg: float
    altitude_deg: float
    distance_m: float
    eye_height_m: float
    lon_deg: float
    lat_deg: float


def toward(dem: Dem, hill: Hill, row: int, col: int, eye_m: float = 1.7) -> Toward:
    lon, lat = (float(part) for part in dem.grid.lonlat(row, col))
    azimuth, _, distance = GEOD.inv(lon, lat, hill.lon_deg, hill.lat_deg)
    eye = float(dem.heights_m[row, col]) + eye_m
    fall = distance**2 * 0.87 / (2.0 * RADIUS_M)
    altitude = math.degrees(math.atan2(hill.height_m - fall - eye, distance))
    return Toward(azimuth % 360.0, altitude, distance, eye, lon, lat)


def before_and_behind(
    dem: Dem, own: NDArray[np.bool_], hill: Hill, row: int, col: int, eye_m: float = 1.7
) -> tuple[float, float, float]:
    """Altitudes (degrees) of other ground before the hill, other behind it, and own behind it."""
    to_row, to_col = (float(part) for part in dem.grid.rowcol(hill.lon_deg, hill.lat_deg))
    length = math.hypot(to_row - row, to_col - col)
    cells = np.arange(0.05, 2.0 * max(dem.shape) + 1.0, 0.05)
    rows = row + cells * (to_row - row) / length
    cols = col + cells * (to_col - col) / length
    inside = (rows >= 0) & (rows <= dem.shape[0] - 1) & (cols >= 0) & (cols <= dem.shape[1] - 1)
    cells, rows, cols = cells[inside], rows[inside], cols[inside]
    z = map_coordinates(dem.heights_m.astype(float), [rows, cols], order=1, mode="nearest")
    mine = own[np.rint(rows).astype(int), np.rint(cols).astype(int)]
    away = cells * dem.cell_m
    eye = float(dem.heights_m[row, col]) + eye_m
    slope = (z - eye) / away - away * 0.87 / (2.0 * RADIUS_M)
    known = ~np.isnan(z)
    before, behind = cells < length, cells > length
    return tuple(
        math.degrees(math.atan(float(np.max(slope[part & known], initial=-math.inf))))
        for part in (before & ~mine, behind & ~mine, behind & mine)
    )  # type: ignore[return-value]


class Steps(NamedTuple):
    """The sun of a year, step by step.

    unix_s: the moments. turned: its hour angle at Greenwich, radians. declination: radians.
    half_deg: its semi-diameter.
    """

    unix_s: Floats
    turned: Floats
    declination: Floats
    half_deg: Floats


@lru_cache(maxsize=4)
def sun_by_steps(year: int) -> Steps:
    """Between astropy's places, a quarter of a day apart, all of these run straight."""
    start = dt.datetime(year, 1, 1, tzinfo=dt.UTC).timestamp() - 86_400.0
    unix = start + 21_600.0 * np.arange(4 * 369)
    offline = iers_conf.set_temp("auto_download", False), iers_conf.set_temp("auto_max_age", None)
    with offline[0], offline[1], warnings.catch_warnings():
        warnings.simplefilter("ignore")
        times = Time(unix, format="unix")
        sun = get_sun(times).transform_to(TETE(obstime=times))
        turned = times.sidereal_time("apparent", "greenwich").deg - sun.ra.deg
    half = np.degrees(np.arcsin(SUN_RADIUS_KM / AU_KM / sun.distance.to_value(u.au)))
    moments = np.arange(unix[0], unix[-1], STEP_S)
    angles = np.radians(np.unwrap(turned, period=360.0)), np.radians(sun.dec.deg)
    return Steps(moments, *(np.interp(moments, unix, part) for part in (*angles, half)))


def passes_deg(
    at: Toward, year: int, zone: str, *, evening: bool = False
) -> dict[int, tuple[float, float]]:
    """By day of the year: how near the sun's way up (in the evening down) comes to a point.

    Between its centre and its upper edge, 0 where the point passes between them; and how near the
    edge does.
    """
    sun, phi = sun_by_steps(year), math.radians(at.lat_deg)
    hour = sun.turned + math.radians(at.lon_deg)
    sine = math.sin(phi) * np.sin(sun.declination)
    sine += math.cos(phi) * np.cos(sun.declination) * np.cos(hour)
    up = (np.diff(sine) < 0.0) if evening else (np.diff(sine) > 0.0)
    low, high = np.sin(np.radians([at.altitude_deg - NEAR_DEG, at.altitude_deg + NEAR_DEG]))
    steps = np.flatnonzero(up & (low < sine[1:]) & (sine[1:] < high))
    legs = np.stack([steps, steps + 1])
    altitude, hour, delta = np.degrees(np.arcsin(sine[legs])), hour[legs], sun.declination[legs]
    azimuth = np.degrees(
        np.arctan2(
            -np.cos(delta) * np.sin(hour),
            math.cos(phi) * np.sin(delta) - math.sin(phi) * np.cos(delta) * np.cos(hour),
        )
    )
    centre = altitude - PARALLAX_DEG * np.cos(np.radians(altitude))
    edge = centre + sun.half_deg[legs]
    right = (azimuth - at.azimuth_deg + 180.0) % 360.0 - 180.0
    right *= math.cos(math.radians(at.altitude_deg))
    ways = [
        _beside(right, lifted(part, at.eye_height_m) - at.altitude_deg) for part in (centre, edge)
    ]
    near = np.flatnonzero((np.abs(right[1] - right[0]) < 90.0) & (np.abs(ways[1]) < 3.0))
    found: dict[int, tuple[float, float]] = {}
    for leg in near:
        day = dt.datetime.fromtimestamp(sun.unix_s[steps[leg]] + 0.5 * STEP_S, ZoneInfo(zone))
        if day.year == year:
            to_centre, to_edge = (float(way[leg]) for way in ways)
            between = (to_centre < 0.0) != (to_edge < 0.0) and max(-to_edge, to_edge) < 0.5
            away = 0.0 if between else min(abs(to_centre), abs(to_edge))
            number = day.timetuple().tm_yday
            best = found.get(number, (math.inf, math.inf))
            found[number] = min(best[0], away), min(best[1], abs(to_edge))
    return found


def _beside(right: Floats, up: Floats) -> Floats:
    """From each leg of a way to the origin, positive where that lies to the left of it, degrees.

    right, up: (2, n), of the beginning and the end of each.
    """
    step_right, step_up = right[1] - right[0], up[1] - up[0]
    length = np.hypot(step_right, step_up)
    share = -(right[0] * step_right + up[0] * step_up) / length**2
    aside = (right[0] * -step_up + up[0] * step_right) / -length
    past = np.where(share < 0.0, np.hypot(right[0], up[0]), np.hypot(right[1], up[1]))
    return np.where((share >= 0.0) & (share <= 1.0), aside, np.copysign(past, aside))


def lifted(true_deg: Floats, height_m: float) -> Floats:
    """Apparent altitudes; level below -2 degrees, where the formula has a pole and no summit is."""
    true = np.maximum(true_deg, -2.0)
    pressure = 1013.25 * (1.0 - 2.25577e-5 * height_m) ** 5.25588
    minutes = 1.02 / np.tan(np.radians(true + 10.3 / (true + 5.11))) + 0.0019279
    return np.where(true_deg < -2.0, true_deg, true + pressure / 1010.0 * minutes / 60.0)


def spells(
    away: dict[int, tuple[float, float]], tolerance_deg: float, length: int
) -> list[list[int]]:
    """Runs of neighbouring days within the tolerance; the year is a ring."""
    days = sorted(day for day, (near, _) in away.items() if near <= tolerance_deg)
    runs: list[list[int]] = []
    for day in days:
        if runs and day == runs[-1][-1] + 1:
            runs[-1].append(day)
        else:
            runs.append([day])
    if len(runs) > 1 and runs[0][0] == 1 and runs[-1][-1] == length:
        runs[0] = runs.pop() + runs[0]
    return runs
