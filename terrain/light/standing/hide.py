"""Where to step when the sun grows too bright: the nearest places at which it is hidden again."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd

from terrain.arrays import Floats
from terrain.country import Country, country_of
from terrain.errors import TerrainError
from terrain.ground.dem import Dem
from terrain.ground.geodesy import destination
from terrain.ground.places import Spot
from terrain.ground.tables import with_points
from terrain.light.standing.eye_lines import EyeLines, Moments, SunOver, slope_and_fall
from terrain.mist.mist import Mist

_HOLD_STEP_S: Final = 20.0
_TRACK: Final = (
    *("time", "way", "distance_m", "bearing_deg", "height_m", "slope_deg", "holds_min", "lasts"),
    *("lon_deg", "lat_deg"),
)


def hide_track(
    ground: Dem | Country,
    spot: Spot,
    times: Moments,
    *,
    reach_m: float = 150.0,
    step_m: float = 1.0,
    least_s: float = 60.0,
    hold_s: float = 1800.0,
    mist: Mist | None = None,
    limb: float = 1.0,
    refraction: float | None = None,
) -> gpd.GeoDataFrame:
    """How far to step, and which way, to have the sun hidden again: a track against time.

    Ways are `down`, the steepest way down from the spot, and `left` and `right` as one faces the
    sun.

    Parameters
    ----------
    ground : Dem or Country
        The ground, and what a country knows of it.
    spot : Spot
        Where the camera stands, and its height over the ground.
    times : sequence of datetime
        Aware.
    reach_m : float, optional
        How far is looked along each way, metres.
    step_m : float, optional
        In steps of this, metres.
    least_s : float, optional
        A place counts where the sun stays hidden for at least so long, seconds: at the very nearest
        it would be back at once.
    hold_s : float, optional
        How long a place is watched, seconds.
    mist : Mist, optional
        Lies over the ground; none unless given.
    limb : float, optional
        The part of the disc that must be hidden, in semi-diameters, 1 for all of it.
    refraction : float, optional
        Coefficient k of terrestrial refraction, dimensionless, in place of the country's own.

    Returns
    -------
    geopandas.GeoDataFrame
        One row for each time and way on which there is such a place, in order of time, the nearest
        first (points, EPSG:4326): `time`, `way`, `distance_m` (0 where the sun is hidden at the
        spot already) and `bearing_deg` from the spot, `height_m` and `slope_deg` of the ground
        there, `holds_min`, for how many minutes the sun stays hidden, and `lasts`, True where it is
        for as long as was watched. Empty where no step hides it or the sun is not up.

    Raises
    ------
    NoGround
        Where the spot has no known ground.
    TerrainError
        For a reach, step or time of watching that is not above 0, or less than `least_s`.
    ValueError
        For a time without a zone.

    Notes
    -----
    Heights and slopes are those of a surface through the cells' centres: a boulder hides the sun as
    well, and a crag within a cell makes a slope that no raster knows.

    Examples
    --------
    >>> from affine import Affine
    >>> from pyproj import CRS
    >>> from terrain.ground.grid import Grid
    >>> grid = Grid(crs=CRS(32628), transform=Affine(25, 0, 5e5, 0, -25, 6e6), shape=(40, 90))
    >>> col = np.arange(90)
    >>> slope_and_wall = np.tile(np.where(col < 60, 60.0 - col, 150.0), (40, 1))
    >>> lon, lat = (float(part) for part in grid.lonlat(20, 20))
    >>> spot, at = Spot(lon_deg=lon, lat_deg=lat), dt.datetime(2025, 3, 20, 7, 47, tzinfo=dt.UTC)
    >>> track = hide_track(Dem(slope_and_wall, grid), spot, [at], reach_m=60.0)
    >>> track[["way", "distance_m", "slope_deg", "holds_min"]].round(1).to_dict("records")
    [{'way': 'down', 'distance_m': 24.0, 'slope_deg': 2.3, 'holds_min': 1.0}]
    """
    if not (0.0 < step_m <= reach_m and 0.0 <= least_s <= hold_s and hold_s > 0.0):
        raise TerrainError(
            f"a reach of {reach_m} m in steps of {step_m} m, watched for {hold_s} s for a sun "
            f"hidden at least {least_s} s, is no search"
        )
    country = country_of(ground, mist=mist, refraction=refraction)
    search = _Search(
        eyes=EyeLines(country=country, spot=spot, limb=limb),
        distance_m=np.arange(0.0, reach_m + step_m / 2.0, step_m),
        least_s=_moments_s(least_s),
        hold_s=_moments_s(hold_s),
    )
    sun, rows = search.eyes.sun(times), []
    _, downhill = slope_and_fall(country.dem, spot.lon_deg, spot.lat_deg)
    for time, azimuth, limb_deg in zip(times, sun.azimuth_deg, sun.limb_deg, strict=True):
        if limb_deg > -1.0:
            ways = {"down": downhill, "left": azimuth - 90.0, "right": azimuth + 90.0}
            rows += _steps(search, time, ways)
    table = with_points(pd.DataFrame(rows, columns=list(_TRACK)))
    return table.drop(columns=["lon_deg", "lat_deg"])


@dataclass(frozen=True, kw_only=True, eq=False)
class _Search:
    """What is looked for from about one spot.

    distance_m: of the steps from it. least_s, hold_s: moments after each time, at which the sun
    must be hidden, and at which it is watched.
    """

    eyes: EyeLines
    distance_m: Floats
    least_s: Floats
    hold_s: Floats

    def sun(self, time: dt.datetime, after_s: Floats) -> SunOver:
        """The sun over the spot some seconds after a time."""
        return self.eyes.sun([time + dt.timedelta(seconds=float(after)) for after in after_s])


def _steps(search: _Search, time: dt.datetime, ways: dict[str, float]) -> list[dict[str, Any]]:
    """The nearest place on each way that stays hidden from a time on, the nearest of all first."""
    spot, found = search.eyes.spot, []
    sun = search.sun(time, search.least_s).at(np.s_[:, np.newaxis])
    for way, bearing in ways.items():
        lon, lat = destination(spot.lon_deg, spot.lat_deg, bearing, search.distance_m)
        hidden = np.flatnonzero((search.eyes.over_at(lon, lat, sun) < 0.0).all(axis=0))
        if hidden.size == 0:
            continue
        at = int(hidden[0])
        place = _place(search, float(lon[at]), float(lat[at]), time)
        distance, toward = float(search.distance_m[at]), float(np.mod(bearing, 360.0))
        found.append({"way": way, "distance_m": distance, "bearing_deg": toward, **place})
        if at == 0:
            break
    return sorted(found, key=lambda row: float(row["distance_m"]))


def _moments_s(until_s: float) -> Floats:
    return np.append(np.arange(0.0, until_s, _HOLD_STEP_S), until_s)


def _place(search: _Search, lon: float, lat: float, time: dt.datetime) -> dict[str, Any]:
    """The ground at a place where the sun is hidden at a time, and for how long that holds."""
    held_s, dem = _held_s(search, lon, lat, time), search.eyes.country.dem
    return {
        "time": time,
        "height_m": float(dem.heights_at(lon, lat)),
        "slope_deg": slope_and_fall(dem, lon, lat)[0],
        "holds_min": held_s / 60.0,
        "lasts": held_s >= float(search.hold_s[-1]),
        "lon_deg": lon,
        "lat_deg": lat,
    }


def _held_s(search: _Search, lon: float, lat: float, time: dt.datetime) -> float:
    """For how long the sun stays hidden at a place, seconds, no longer than it is watched."""
    after_s = search.hold_s
    over = search.eyes.over_at(lon, lat, search.sun(time, after_s))
    shown = np.flatnonzero(over >= 0.0)
    if shown.size == 0:
        return float(after_s[-1])
    first = int(shown[0])
    if first == 0:
        return 0.0
    share = over[first - 1] / (over[first - 1] - over[first])
    return float(after_s[first - 1] + share * (after_s[first] - after_s[first - 1]))
