"""Where to stand for the sun on the edge of something: a ridge, a hillside, a tree.

A camera moves by metres where the ground is known by cells, so eyes stand anywhere between the
cells' centres here and look along their own rays::

                       _.-'  sun
      ridge  /\\_.-''  |
       _.-''    |      the line from the sun over the ridge meets the eyes of those who stand on
     o     ground      the edge of the light; downhill of it the sun is hidden
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.constants import EYE_HEIGHT_M, TERRESTRIAL_REFRACTION
from terrain.errors import NoAnswer, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.geodesy import destination, drop_m
from terrain.ground.places import Spot
from terrain.mist.surface import Mist
from terrain.morning.light import contour_lines
from terrain.sight._toward_kernels import rays_from
from terrain.sight.eye import bend_per_m, kernel_heights
from terrain.sight.skyline import FINE_CELLS
from terrain.sun.position import sun_position

__all__ = ["edge_of_light", "hide_track", "stand_behind"]

Floats = NDArray[np.float64]
Moments = Sequence[dt.datetime]

_WAYS: Final = ("down", "left", "right")
_HOLD_STEP_S: Final = 20.0


@dataclass(frozen=True, kw_only=True)
class _Sun:
    """The sun over one place at several moments, (times,), degrees; limb: the part that counts."""

    azimuth_deg: Floats
    centre_deg: Floats
    limb_deg: Floats


def edge_of_light(
    dem: Dem,
    spot: Spot,
    at: dt.datetime,
    *,
    reach_m: float = 1000.0,
    mist: Mist | None = None,
    limb: float = 1.0,
    refraction: float = TERRESTRIAL_REFRACTION,
) -> gpd.GeoDataFrame:
    """The lines about a spot on which the sun just touches the skyline at a moment.

    spot: the middle of the ground that is looked at, and the height of the camera there. at:
    aware. reach_m: how far about the spot, to all four sides. mist: lies over the ground; eyes
    keep their height over the true ground. limb: the part of the disc that touches, in
    semi-diameters: 1 its upper edge, 0 its centre, -1 its lower edge.

    Returns one row with `time`, `length_m`, the sun's `azimuth_deg` and `altitude_deg` (apparent,
    of its centre), and the lines (EPSG:4326): on one side of them the sun is hidden. Between the
    cells' centres the height of the sun over the skyline is taken for linear. Raises NoAnswer
    where no such line passes or the sun is down, NoGround where the spot has no known ground,
    ValueError for a moment without a time zone.
    """
    ground_m = dem.height_at(spot.lon_deg, spot.lat_deg)
    seen = dem if mist is None else mist.surface(dem)
    sun = _sun(spot, [at], ground_m, limb)
    row, col = dem.grid.rowcol(spot.lon_deg, spot.lat_deg)
    rows = _about(float(row), reach_m / dem.cell_m, dem.shape[0])
    cols = _about(float(col), reach_m / dem.cell_m, dem.shape[1])
    over = _over_skyline(
        dem,
        seen,
        np.broadcast_to(rows[:, np.newaxis], (rows.size, cols.size)),
        np.broadcast_to(cols, (rows.size, cols.size)),
        sun.azimuth_deg[0],
        sun.limb_deg[0],
        spot.eye_m,
        refraction,
    )
    grid = dem.grid.window(int(rows[0]), int(cols[0]), over.shape)
    lines, length_m = contour_lines(grid, over, 0.0)
    if length_m == 0.0:
        state = "in view" if (over > 0.0).any() else "hidden, or the ground toward it unknown,"
        raise NoAnswer(
            f"within {reach_m:.0f} m of {spot.lat_deg:.4f}, {spot.lon_deg:.4f} the sun is {state} "
            f"everywhere at {at:%H:%M}: ask for another minute, or farther about"
        )
    return gpd.GeoDataFrame(
        {
            "time": [at],
            "length_m": [length_m],
            "azimuth_deg": sun.azimuth_deg,
            "altitude_deg": sun.centre_deg,
        },
        geometry=[lines],
        crs="EPSG:4326",
    )


def hide_track(
    dem: Dem,
    spot: Spot,
    times: Moments,
    *,
    reach_m: float = 150.0,
    step_m: float = 1.0,
    hold_s: float = 1800.0,
    mist: Mist | None = None,
    limb: float = 1.0,
    refraction: float = TERRESTRIAL_REFRACTION,
) -> gpd.GeoDataFrame:
    """How far to step, and which way, to have the sun hidden again: a track against time.

    spot: where the camera stands, and its height. times: aware. Ways are `down`, the steepest way
    down from the spot, and `left` and `right` as one faces the sun. reach_m: how far is looked
    along each; step_m: in steps of this. hold_s: how long a place is watched. limb: the part of
    the disc that must be hidden, 1 for all of it.

    Returns one row for each time and way on which there is such a place, in order of time, the
    nearest first: `time`, `way`, `distance_m` (0 where the sun is hidden at the spot already) and
    `bearing_deg` from the spot, `height_m` and `slope_deg` of the ground there, `holds_min`, for
    how many minutes the sun stays hidden, and `lasts`, True where it is for as long as was
    watched. Points, EPSG:4326. Empty where no step hides it or the sun is not up. Heights and
    slopes are those of a surface through the cells' centres: a boulder hides the sun as well,
    and a crag within a cell makes a slope that no raster knows.

    Raises NoGround where the spot has no known ground, TerrainError for a reach or step that is
    not above 0, ValueError for a time without a zone.
    """
    if not (0.0 < step_m <= reach_m and hold_s > 0.0):
        raise TerrainError(
            f"a reach of {reach_m} m in steps of {step_m} m, watched for {hold_s} s, is no search"
        )
    ground_m = dem.height_at(spot.lon_deg, spot.lat_deg)
    look = _Look(
        dem=dem,
        seen=dem if mist is None else mist.surface(dem),
        spot=spot,
        ground_m=ground_m,
        limb=limb,
        refraction=refraction,
    )
    sun = _sun(spot, times, ground_m, limb)
    distance_m = np.arange(0.0, reach_m + step_m / 2.0, step_m)
    rows = [
        row
        for index, time in enumerate(times)
        if sun.limb_deg[index] > -1.0
        for row in _steps(look, sun, index, time, distance_m, hold_s)
    ]
    table = pd.DataFrame(rows, columns=list(_TRACK))
    points = gpd.points_from_xy(table.pop("lon_deg"), table.pop("lat_deg"))
    return gpd.GeoDataFrame(table, geometry=points, crs="EPSG:4326")


_TRACK: Final = (
    "time",
    "way",
    "distance_m",
    "bearing_deg",
    "height_m",
    "slope_deg",
    "holds_min",
    "lasts",
    "lon_deg",
    "lat_deg",
)


@dataclass(frozen=True, kw_only=True)
class _Look:
    """What all looks about one spot have in common."""

    dem: Dem
    seen: Dem
    spot: Spot
    ground_m: float
    limb: float
    refraction: float

    def over(self, lon_deg: Floats, lat_deg: Floats, azimuth: Floats, altitude: Floats) -> Floats:
        """How far an altitude is over the skyline of places, degrees; any one shape."""
        row, col = self.dem.grid.rowcol(lon_deg, lat_deg)
        return _over_skyline(
            self.dem, self.seen, row, col, azimuth, altitude, self.spot.eye_m, self.refraction
        )


def _steps(
    look: _Look, sun: _Sun, index: int, time: dt.datetime, distance_m: Floats, hold_s: float
) -> list[dict[str, Any]]:
    """The nearest hidden place on each way at one time, the nearest of them first."""
    spot, azimuth = look.spot, float(sun.azimuth_deg[index])
    downhill = _downhill_deg(look.dem, spot)
    found = []
    for way, bearing in zip(_WAYS, (downhill, azimuth - 90.0, azimuth + 90.0), strict=True):
        lon, lat = destination(spot.lon_deg, spot.lat_deg, bearing, distance_m)
        over = look.over(
            lon, lat, np.full(lon.shape, azimuth), np.full(lon.shape, sun.limb_deg[index])
        )
        hidden = np.flatnonzero(over < 0.0)
        if hidden.size == 0:
            continue
        at = int(hidden[0])
        held_s = _held_s(look, float(lon[at]), float(lat[at]), time, hold_s)
        found.append(
            {
                "time": time,
                "way": way,
                "distance_m": float(distance_m[at]),
                "bearing_deg": float(np.mod(bearing, 360.0)),
                "height_m": float(look.dem.heights_at(lon[at], lat[at])),
                "slope_deg": _steepness(look.dem, float(lon[at]), float(lat[at]))[0],
                "holds_min": held_s / 60.0,
                "lasts": held_s >= hold_s,
                "lon_deg": float(lon[at]),
                "lat_deg": float(lat[at]),
            }
        )
        if at == 0:
            break
    return sorted(found, key=lambda row: float(row["distance_m"]))


def _held_s(look: _Look, lon: float, lat: float, time: dt.datetime, hold_s: float) -> float:
    """For how long the sun stays hidden at a place, seconds, watched no longer than `hold_s`."""
    after_s = np.append(np.arange(0.0, hold_s, _HOLD_STEP_S), hold_s)
    times = [time + dt.timedelta(seconds=float(seconds)) for seconds in after_s]
    sun = _sun(look.spot, times, look.ground_m, look.limb)
    over = look.over(
        np.full(after_s.shape, lon), np.full(after_s.shape, lat), sun.azimuth_deg, sun.limb_deg
    )
    shown = np.flatnonzero(over >= 0.0)
    if shown.size == 0:
        return hold_s
    first = int(shown[0])
    if first == 0:
        return 0.0
    share = over[first - 1] / (over[first - 1] - over[first])
    return float(after_s[first - 1] + share * (after_s[first] - after_s[first - 1]))


def stand_behind(
    dem: Dem,
    lon_deg: float,
    lat_deg: float,
    height_m: float,
    times: Moments,
    *,
    eye_m: float = EYE_HEIGHT_M,
    reach_m: float = 500.0,
    refraction: float = TERRESTRIAL_REFRACTION,
) -> gpd.GeoDataFrame:
    """Where to stand so that the sun is behind the top of a tree, a cairn or a figure.

    lon_deg, lat_deg: of the object; height_m: of the point behind which the centre of the sun is
    to be, over the ground there: its top, or lower. times: aware. eye_m: height of the camera.
    reach_m: how far from the object, at most.

    The line from the sun over that point is followed down to where it passes eye height over the
    ground. Returns one row for each time at which that happens, in order (points, EPSG:4326):
    `time`, `distance_m` to the object, `bearing_deg` in which one looks (the sun's azimuth),
    `altitude_deg` of the sun, `ground_m`, the height of the ground there, `slope_deg` of it, and
    `sun_in_view`, whether the ground beyond the object lets the sun's centre be seen. Raises
    NoGround where the object has no known ground, NoAnswer where there is no such place at any of
    the times, TerrainError for a height that is not above 0, ValueError for a time without a
    zone.

    >>> from affine import Affine
    >>> from pyproj import CRS
    >>> from terrain.ground.grid import Grid
    >>> grid = Grid(crs=CRS(32628), transform=Affine(50, 0, 5e5, 0, -50, 6e6), shape=(40, 40))
    >>> lon, lat = (float(part) for part in grid.lonlat(20, 20))
    >>> morning = dt.datetime(2025, 3, 20, 8, tzinfo=dt.UTC)
    >>> stand_behind(Dem(np.zeros(grid.shape), grid), lon, lat, 12.0, [morning]).distance_m.round(1)
    0    75.5
    Name: distance_m, dtype: float64
    """
    if not 0.0 < height_m < math.inf:
        raise TerrainError(f"an object must stand out by more than 0 m, got {height_m}")
    base_m = dem.height_at(lon_deg, lat_deg)
    spot = Spot(lon_deg=lon_deg, lat_deg=lat_deg, eye_m=eye_m)
    sun = _sun(spot, times, base_m, 0.0)
    ahead_m = np.arange(0.0, reach_m + 0.25, min(0.5, dem.cell_m / 8.0))[1:]
    rows = [
        _stand(dem, spot, base_m + height_m, sun, index, time, ahead_m, refraction)
        for index, time in enumerate(times)
        if sun.centre_deg[index] > 0.0
    ]
    found = [row for row in rows if row is not None]
    if not found:
        raise NoAnswer(
            f"at none of {len(times)} times can one stand within {reach_m:.0f} m of the object "
            f"at {lat_deg:.4f}, {lon_deg:.4f} and have the sun behind it: ask for other times"
        )
    table = pd.DataFrame(found)
    points = gpd.points_from_xy(table.pop("lon_deg"), table.pop("lat_deg"))
    return gpd.GeoDataFrame(table, geometry=points, crs="EPSG:4326")


def _stand(
    dem: Dem,
    spot: Spot,
    top_m: float,
    sun: _Sun,
    index: int,
    time: dt.datetime,
    ahead_m: Floats,
    refraction: float,
) -> dict[str, Any] | None:
    """The nearest place behind an object at one time, None where the line meets no ground."""
    azimuth, altitude = float(sun.azimuth_deg[index]), float(sun.centre_deg[index])
    lon, lat = destination(spot.lon_deg, spot.lat_deg, azimuth + 180.0, ahead_m)
    ground = dem.heights_at(lon, lat)
    # seen from the eye the top stands at the sun's altitude, and the far one sinks
    line = top_m - ahead_m * math.tan(math.radians(altitude)) - drop_m(ahead_m, refraction)
    over = line - (ground + spot.eye_m)
    passed = np.flatnonzero((over[:-1] >= 0.0) != (over[1:] >= 0.0))
    passed = passed[np.isfinite(over[passed] + over[passed + 1])]
    if passed.size == 0:
        return None
    at = int(passed[0])
    away = float(ahead_m[at] + (ahead_m[1] - ahead_m[0]) * over[at] / (over[at] - over[at + 1]))
    at_lon, at_lat = (
        float(v) for v in destination(spot.lon_deg, spot.lat_deg, azimuth + 180.0, away)
    )
    row, col = dem.grid.rowcol(np.array([at_lon]), np.array([at_lat]))
    clear = _over_skyline(
        dem, dem, row, col, np.array([azimuth]), np.array([altitude]), spot.eye_m, refraction
    )
    return {
        "time": time,
        "distance_m": away,
        "bearing_deg": azimuth,
        "altitude_deg": altitude,
        "ground_m": float(dem.heights_at(at_lon, at_lat)),
        "slope_deg": _steepness(dem, at_lon, at_lat)[0],
        "sun_in_view": not bool(clear[0] < 0.0),
        "lon_deg": at_lon,
        "lat_deg": at_lat,
    }


def _sun(spot: Spot, times: Moments, height_m: float, limb: float) -> _Sun:
    """The sun over a spot; ValueError for a limb beyond the disc or a time without a zone."""
    if not -1.0 <= limb <= 1.0:
        raise ValueError(f"a limb of {limb} semi-diameters is not on the disc: give -1 to 1")
    sun = sun_position(times, lon_deg=spot.lon_deg, lat_deg=spot.lat_deg, height_m=height_m)
    return _Sun(
        azimuth_deg=sun.azimuth_deg,
        centre_deg=sun.apparent_altitude_deg,
        limb_deg=sun.apparent_altitude_deg + limb * sun.semidiameter_deg,
    )


def _over_skyline(
    dem: Dem,
    seen: Dem,
    row: Floats,
    col: Floats,
    azimuth_deg: Floats,
    altitude_deg: Floats,
    eye_m: float,
    refraction: float,
) -> Floats:
    """How far an altitude is over the skyline, degrees, in the common shape of the four arrays.

    row, col: fractional. azimuth_deg: from true north. NaN where the ground under the eye is not
    known, or none in that direction.
    """
    row, col, azimuth, altitude = np.broadcast_arrays(row, col, azimuth_deg, altitude_deg)
    lon, lat = dem.grid.lonlat(row.ravel(), col.ravel())
    turned = np.radians(dem.grid.grid_azimuth_deg(azimuth.ravel(), lon, lat))
    eye = dem.heights_at(lon, lat) + eye_m
    skyline, _ = rays_from(
        kernel_heights(seen),
        np.ascontiguousarray(row.ravel(), dtype=float),
        np.ascontiguousarray(col.ravel(), dtype=float),
        -np.cos(turned) / dem.cell_m,
        np.sin(turned) / dem.cell_m,
        eye,
        bend_per_m(refraction),
        FINE_CELLS * dem.cell_m,
        np.inf,
    )
    over = altitude.ravel() - np.degrees(skyline)
    return np.where(np.isnan(eye), np.nan, over).reshape(altitude.shape)


def _about(middle: float, cells: float, count: int) -> NDArray[np.int64]:
    """The rows or columns about a place that the raster has."""
    first, last = max(math.ceil(middle - cells), 0), min(math.floor(middle + cells), count - 1)
    return np.arange(first, max(last, first) + 1)


def _downhill_deg(dem: Dem, spot: Spot) -> float:
    """The steepest way down from a spot, degrees from true north."""
    return _steepness(dem, spot.lon_deg, spot.lat_deg)[1]


def _steepness(dem: Dem, lon_deg: float, lat_deg: float) -> tuple[float, float]:
    """Slope of the ground at a place, and the way down from true north, degrees.

    Over half a cell to every side, so that it is the slope of the surface one stands on.
    """
    bearings = np.array([0.0, 90.0, 180.0, 270.0])
    around = dem.heights_at(*destination(lon_deg, lat_deg, bearings, dem.cell_m / 2.0))
    north, east, south, west = around
    to_north, to_east = (north - south) / dem.cell_m, (east - west) / dem.cell_m
    slope = math.degrees(math.atan(math.hypot(to_north, to_east)))
    return slope, math.degrees(math.atan2(-to_east, -to_north)) % 360.0
