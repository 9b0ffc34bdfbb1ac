"""A slow twin for a morning: the same claims worked out another way, from the raster as delivered.

It shares nothing with the rooms it checks. What differs, and by how much that may show:

ground   Geodesics by PROJ, sampled every quarter of a cell near by and every half farther off,
         bilinear on the lattice of the files (degrees stay degrees); the rooms walk straight lines
         over square cells warped from it. A skyline may differ by hundredths of a degree.
mist     Wherever cells below its top hang together (ndimage's labels) with the raster's edge, with
         unknown ground or with the lowest cell; there the ground is lifted to the top.
sun      astropy's AltAz without air, then refraction in the true altitude by Saemundsson (Meeus,
         Astronomical Algorithms, eq. 16.4), scaled for pressure and temperature. Every point of the
         rim is refracted by itself. Good above an apparent altitude of -0.3 degrees; far below
         the horizontal the formula does not hold.
contact  The whole disc, 240 points of its rim, every 20 s from midnight on, then halving.
hill     From a place the steepest of eight neighbours is followed to a top. The top is the hill's
         if a way leads from it to the summit that never falls by the hill's least prominence or
         more below its own highest point so far. The rooms merge tops along key cols alone, so a
         top with two low cols may belong to two hills here and to one there; a top beyond a deep
         col is the hill's in neither.
"""

from __future__ import annotations

import datetime as dt
import heapq
import math
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import astropy.units as u
import numpy as np
from astropy.coordinates import CIRS, AltAz, EarthLocation, get_sun
from astropy.time import Time
from astropy.utils.iers import conf as iers_conf
from numpy.typing import ArrayLike, NDArray
from pyproj import Geod, Transformer
from scipy.interpolate import BSpline, CubicSpline, make_interp_spline
from scipy.ndimage import label, map_coordinates

Floats = NDArray[np.float64]
Cell = tuple[int, int]

GEOD = Geod(ellps="WGS84")
RADIUS_M = 6_371_000.0
RIM = np.radians(np.arange(0.0, 360.0, 1.5))
SUN_RADIUS_KM = 695_990.0  # 959.63 arcseconds at one astronomical unit
AU_KM = 149_597_870.7
STEP_S = 20.0
DAY_S, KNOT_S = 86_400.0, 1200.0
KNOT_M = 2000.0
NEIGHBOURS = [(i, j) for i in (-1, 0, 1) for j in (-1, 0, 1) if i or j]


@dataclass(frozen=True)
class Ground:
    """The raster as delivered, under a mist of one top or none."""

    bare_m: Floats
    crs: Any
    transform: Any
    mist_top_m: float | None = None
    refraction: float = 0.13

    @classmethod
    def of(cls, dem: Any, mist_top_m: float | None = None) -> Ground:
        """Take what the files gave and leave everything else of a `Dem`."""
        raw = dem.as_delivered
        return cls(raw.heights_m.astype(float), raw.crs, raw.transform, mist_top_m)

    @cached_property
    def misty(self) -> NDArray[np.bool_]:
        if self.mist_top_m is None:
            return np.zeros(self.bare_m.shape, dtype=bool)
        unknown = np.isnan(self.bare_m)
        # unknown ground and a rim of one cell stand for all that lies outside
        low = np.pad(unknown | (self.bare_m < self.mist_top_m), 1, constant_values=True)
        parts, _ = label(low, np.ones((3, 3)))
        lowest = np.unravel_index(np.nanargmin(self.bare_m), self.bare_m.shape)
        ways_in = {parts[0, 0], parts[lowest[0] + 1, lowest[1] + 1]}
        ways_in |= set(np.unique(parts[1:-1, 1:-1][unknown]))
        return np.isin(parts, list(ways_in))[1:-1, 1:-1] & ~unknown

    @cached_property
    def lifted_m(self) -> Floats:
        if self.mist_top_m is None:
            return self.bare_m
        return np.where(self.misty, np.maximum(self.bare_m, self.mist_top_m), self.bare_m)

    @cached_property
    def to_map(self) -> Transformer:
        return Transformer.from_crs("EPSG:4326", self.crs, always_xy=True)

    @cached_property
    def cell_m(self) -> float:
        """The shorter side of a cell in the middle of the raster."""
        rows, cols = self.bare_m.shape
        (lon, lat), sides = self.place(rows / 2, cols / 2), []
        for row, col in ((rows / 2 + 1, cols / 2), (rows / 2, cols / 2 + 1)):
            sides.append(GEOD.inv(lon, lat, *self.place(row, col))[2])
        return float(min(sides))

    def place(self, row: float, col: float) -> tuple[float, float]:
        a, _, c, _, e, f = self.transform[:6]
        lon, lat = self.to_map.transform(
            c + a * (col + 0.5), f + e * (row + 0.5), direction="INVERSE"
        )
        return float(lon), float(lat)

    def rowcol(self, lon_deg: ArrayLike, lat_deg: ArrayLike) -> tuple[Floats, Floats]:
        a, _, c, _, e, f = self.transform[:6]
        easting, northing = self.to_map.transform(np.asarray(lon_deg), np.asarray(lat_deg))
        return (np.asarray(northing) - f) / e - 0.5, (np.asarray(easting) - c) / a - 0.5

    def cell(self, lon_deg: float, lat_deg: float) -> Cell:
        row, col = self.rowcol(lon_deg, lat_deg)
        return round(float(row)), round(float(col))

    def heights_at(self, lon_deg: ArrayLike, lat_deg: ArrayLike, *, bare: bool = False) -> Floats:
        """Bilinear heights; NaN off the raster, whose outermost half cells are level."""
        values = self.bare_m if bare else self.lifted_m
        return self._between(values, *self.rowcol(lon_deg, lat_deg))

    @staticmethod
    def _between(values: Floats, row: Floats, col: Floats) -> Floats:
        rows, cols = values.shape
        inside = (row >= -0.5) & (row <= rows - 0.5) & (col >= -0.5) & (col <= cols - 0.5)
        return np.where(
            inside, map_coordinates(values, (row, col), order=1, mode="nearest"), np.nan
        )

    def along(
        self, lon_deg: float, lat_deg: float, eye_m: float, azimuth_deg: ArrayLike, reach_m: float
    ) -> tuple[Floats, Floats]:
        """Altitudes (azimuths, samples) of the ground on geodesics, and distances (samples).

        Between PROJ's places a cubic spline is right to a thousandth of a millimetre.
        """
        near = np.arange(0.25, min(30.0, reach_m / self.cell_m), 0.25)
        far = np.arange(30.0, reach_m / self.cell_m, 0.5)
        distance_m = np.concatenate([near, far]) * self.cell_m
        knots_m = np.linspace(0.0, reach_m, max(4, math.ceil(reach_m / KNOT_M) + 1))
        azimuth, distance = np.meshgrid(np.atleast_1d(azimuth_deg), knots_m, indexing="ij")
        from_lon, from_lat = np.full(azimuth.shape, lon_deg), np.full(azimuth.shape, lat_deg)
        lon, lat, _ = GEOD.fwd(from_lon, from_lat, azimuth, distance)
        row, col = (CubicSpline(knots_m, way, axis=1)(distance_m) for way in self.rowcol(lon, lat))
        eye = float(self.heights_at([lon_deg], [lat_deg], bare=True)[0]) + eye_m
        fall = distance_m**2 * (1.0 - self.refraction) / (2.0 * RADIUS_M)
        over = self._between(self.lifted_m, row, col) - fall - eye
        return np.degrees(np.arctan2(over, distance_m)), distance_m

    def skyline(
        self, lon_deg: float, lat_deg: float, eye_m: float, azimuth_deg: ArrayLike
    ) -> tuple[Floats, Floats]:
        """Altitude and distance of the highest ground at each azimuth, (azimuths,)."""
        altitude, distance = self.along(lon_deg, lat_deg, eye_m, azimuth_deg, self.reach_m)
        highest = np.nanargmax(altitude, axis=1)
        return altitude[np.arange(len(highest)), highest], distance[highest]

    @cached_property
    def reach_m(self) -> float:
        rows, cols = self.bare_m.shape
        return float(GEOD.inv(*self.place(0, 0), *self.place(rows - 1, cols - 1))[2])

    def toward(
        self,
        lon_deg: float,
        lat_deg: float,
        eye_m: float,
        place: tuple[float, float],
        height_m: float,
    ) -> tuple[float, float, float, float]:
        """Of a summit: azimuth, altitude, distance, and altitude of the highest ground before it.

        The last two cells before it do not count: there the summit and the ground that a lattice
        makes of it cannot be told apart.
        """
        azimuth, _, distance = GEOD.inv(lon_deg, lat_deg, *place)
        eye = float(self.heights_at([lon_deg], [lat_deg], bare=True)[0]) + eye_m
        fall = distance**2 * (1.0 - self.refraction) / (2.0 * RADIUS_M)
        altitude = math.degrees(math.atan2(height_m - fall - eye, distance))
        before, _ = self.along(lon_deg, lat_deg, eye_m, azimuth, distance - 2.0 * self.cell_m)
        return azimuth % 360.0, altitude, distance, float(np.nanmax(before))

    def owns(self, summit: Cell, cell: Cell, min_prominence_m: float) -> bool:
        """Whether the ground of a cell is that of the hill with this summit."""
        return not self.misty[cell] and self.climbs(self.top_of(cell), summit, min_prominence_m)

    def near(self, cell: Cell) -> Iterator[tuple[Cell, float]]:
        """The neighbours of a cell and how far off they are."""
        rows, cols = self.bare_m.shape
        here = self.place(*cell)
        for down, along in NEIGHBOURS:
            row, col = cell[0] + down, cell[1] + along
            if 0 <= row < rows and 0 <= col < cols and not np.isnan(self.bare_m[row, col]):
                yield (row, col), GEOD.inv(*here, *self.place(row, col))[2]

    def top_of(self, cell: Cell) -> Cell:
        """Where steepest ascent from a cell ends."""
        while True:
            height = self.bare_m[cell]
            steps = [((self.bare_m[to] - height) / away, to) for to, away in self.near(cell)]
            steepest, to = max(steps)
            if steepest <= 0.0:
                return cell
            cell = to

    def climbs(self, cell: Cell, summit: Cell, fall_m: float) -> bool:
        """Whether a way leads up to the summit that never falls `fall_m` below its highest."""
        rows, cols = self.bare_m.shape
        waiting = [(self.bare_m[cell], cell)]
        reached = {cell}
        while waiting:
            highest, at = heapq.heappop(waiting)
            if at == summit:
                return True
            for down, along in NEIGHBOURS:
                to = at[0] + down, at[1] + along
                if to in reached or not (0 <= to[0] < rows and 0 <= to[1] < cols):
                    continue
                height = self.bare_m[to]
                if highest - height < fall_m and height <= self.bare_m[summit]:
                    reached.add(to)
                    heapq.heappush(waiting, (max(highest, height), to))
        return False


@contextmanager
def offline() -> Iterator[None]:
    """Astropy as it is without a network."""
    with (
        iers_conf.set_temp("auto_download", False),
        iers_conf.set_temp("auto_max_age", None),
        warnings.catch_warnings(),
    ):
        # of the earth's orientation in years to come only the last known value is at hand
        warnings.simplefilter("ignore")
        yield


@dataclass(frozen=True)
class Sky:
    """The sun over a place."""

    lon_deg: float
    lat_deg: float
    height_m: float
    temperature_c: float = 10.0

    def true(self, unix_s: ArrayLike) -> tuple[Floats, Floats, Floats]:
        """Azimuth and airless altitude of the sun's centre, and its semi-diameter, degrees.

        Between astropy's places a spline is right to a hundred millionth of a degree.
        """
        times = np.asarray(unix_s, dtype=float)
        if not times.size:
            return times, times, times
        spans = np.arange(times.min() // DAY_S, times.max() // DAY_S + 1.0)
        found = np.full((*times.shape, 4), np.nan)
        for day in spans:
            of_day = times // DAY_S == day
            found[of_day] = self._over_day(float(day))(times[of_day])
        north, east, up, half = np.moveaxis(found, -1, 0)
        azimuth = np.degrees(np.arctan2(east, north)) % 360.0
        return azimuth, np.degrees(np.arctan2(up, np.hypot(east, north))), half

    def _over_day(self, day: float) -> BSpline:
        """The sun's direction and semi-diameter over a day of UNIX time."""
        if day not in self._days:
            knots = day * DAY_S + np.arange(-3.0, DAY_S / KNOT_S + 4.0) * KNOT_S
            azimuth, altitude, half = self.placed(knots)
            turn, rise = np.radians(azimuth), np.radians(altitude)
            level = np.cos(rise)
            told = [level * np.cos(turn), level * np.sin(turn), np.sin(rise), half]
            self._days[day] = make_interp_spline(knots, np.stack(told, axis=-1), k=5)
        return self._days[day]

    @cached_property
    def _days(self) -> dict[float, BSpline]:
        return {}

    def placed(self, unix_s: ArrayLike) -> tuple[Floats, Floats, Floats]:
        """The same by astropy at each moment."""
        place = EarthLocation.from_geodetic(
            self.lon_deg * u.deg, self.lat_deg * u.deg, self.height_m * u.m
        )
        with offline():
            times = Time(np.asarray(unix_s, dtype=float), format="unix")
            sun = get_sun(times)
            seen = sun.transform_to(AltAz(obstime=times, location=place, pressure=0.0 * u.hPa))
        half = np.degrees(np.arcsin(SUN_RADIUS_KM / AU_KM / sun.distance.to_value(u.au)))
        return seen.az.deg, seen.alt.deg, half

    def declination(self, unix_s: ArrayLike) -> Floats:
        """Of the sun from the equator of the date, degrees."""
        with offline():
            times = Time(np.asarray(unix_s, dtype=float), format="unix")
            return np.asarray(get_sun(times).transform_to(CIRS(obstime=times)).dec.deg)

    def lifted(self, true_deg: Floats) -> Floats:
        """Apparent altitudes (Meeus, eq. 16.4, with the constant that makes the zenith zero)."""
        pressure = 1013.25 * (1.0 - 2.25577e-5 * self.height_m) ** 5.25588
        density = pressure / 1010.0 * 283.0 / (273.0 + self.temperature_c)
        arcmin = 1.02 / np.tan(np.radians(true_deg + 10.3 / (true_deg + 5.11))) + 0.0019279
        return true_deg + density * arcmin / 60.0

    def rim(self, unix_s: ArrayLike) -> tuple[Floats, Floats]:
        """Azimuths and apparent altitudes (times, points) of the sun's rim."""
        azimuth, altitude, half = (np.asarray(v)[..., np.newaxis] for v in self.true(unix_s))
        point = altitude + half * np.sin(RIM)
        return azimuth + half * np.cos(RIM) / np.cos(np.radians(point)), self.lifted(point)


@dataclass(frozen=True)
class Appearance:
    """The first appearance of the sun, as the twin finds it."""

    unix_s: float
    azimuth_deg: float
    altitude_deg: float
    distance_m: float
    place: tuple[float, float]


def appearance(
    ground: Ground,
    lon_deg: float,
    lat_deg: float,
    eye_m: float,
    midnight: dt.datetime,
    until: dt.datetime,
) -> Appearance | None:
    """The first moment from midnight on at which any point of the disc stands above the ground.

    None where there is none up to `until`: looking no further keeps the skyline short.
    """
    eye = float(ground.heights_at([lon_deg], [lat_deg], bare=True)[0]) + eye_m
    sky = Sky(lon_deg, lat_deg, eye)
    times = np.arange(midnight.timestamp(), until.timestamp() + STEP_S, STEP_S)
    coarse = times[:: round(300.0 / STEP_S)]
    up = coarse[sky.true(coarse)[1] > -1.5]
    if not up.size:
        return None
    times = times[times >= up[0] - 300.0]
    azimuth, altitude = sky.rim(times)
    azimuths = np.arange(azimuth.min() - 0.1, azimuth.max() + 0.1, 0.045)
    skyline, distance = ground.skyline(lon_deg, lat_deg, eye_m, azimuths)

    def clear(azimuth: Floats, altitude: Floats) -> Floats:
        return altitude - np.interp(azimuth, azimuths, skyline)

    above = clear(azimuth, altitude).max(axis=1) > 0.0
    if not above.any():
        return None
    first = int(np.argmax(above))
    moment = halved(
        lambda t: float(clear(*sky.rim(t)).max()), times[max(first - 1, 0)], times[first]
    )
    azimuth, altitude = sky.rim(moment)
    touch = float(azimuth[np.argmax(clear(azimuth, altitude))])
    nearest = int(np.argmin(np.abs(azimuths - touch)))
    lon, lat, _ = GEOD.fwd(lon_deg, lat_deg, touch, distance[nearest])
    return Appearance(
        moment, touch % 360.0, float(skyline[nearest]), float(distance[nearest]), (lon, lat)
    )


def nearest(
    ground: Ground,
    place: tuple[float, float, float],
    toward: tuple[float, float],
    begin_s: float,
    end_s: float,
) -> float:
    """Least angle from the sun's centre to a direction while any of it shows, degrees.

    place: longitude, latitude, and height of the eye over the ground. Up to 6 degrees high.
    """
    lon_deg, lat_deg, eye_m = place
    eye = float(ground.heights_at([lon_deg], [lat_deg], bare=True)[0]) + eye_m
    sky, times = Sky(lon_deg, lat_deg, eye), np.arange(begin_s, end_s, STEP_S)
    azimuth, altitude = sky.rim(times)
    azimuths = np.arange(azimuth.min() - 0.1, azimuth.max() + 0.1, 0.045)
    skyline = np.maximum(ground.skyline(lon_deg, lat_deg, eye_m, azimuths)[0], sea_deg(eye))
    shows = (altitude > np.interp(azimuth, azimuths, skyline)).any(axis=1)
    middle_deg, true_deg, _ = sky.true(times)
    up_deg = sky.lifted(true_deg)
    _, up, to = np.radians([middle_deg, up_deg, np.full_like(up_deg, toward[1])])
    turn = np.radians(middle_deg - toward[0])
    cosine = np.sin(up) * np.sin(to) + np.cos(up) * np.cos(to) * np.cos(turn)
    apart = np.degrees(np.arccos(np.minimum(cosine, 1.0)))
    return float(np.min(apart[shows & (up_deg <= 6.0)], initial=np.inf))


def sea_deg(eye_height_m: float, refraction: float = 0.13) -> float:
    """Altitude of the horizon of the sea: no skyline of ground that is not known lies lower."""
    return -math.degrees(math.sqrt(2.0 * eye_height_m * (1.0 - refraction) / RADIUS_M))


def mist_share(
    ground: Ground, place: tuple[float, float, float], toward: tuple[float, float], box_deg: float
) -> float:
    """Share of mist in all that is not sky of a box about a direction, by lines in it."""
    mist_deg = all_deg = 0.0
    low, high = toward[1] - box_deg, toward[1] + box_deg
    for azimuth in toward[0] + np.linspace(-box_deg, box_deg, 33):
        altitude, distance = ground.along(*place, [azimuth], ground.reach_m)
        known = ~np.isnan(altitude[0])
        top = np.clip(np.maximum.accumulate(altitude[0][known]), low, high)
        grows = np.diff(top, prepend=low)
        seen = grows > 0.0
        count = np.count_nonzero(seen)
        lon, lat, _ = GEOD.fwd(
            np.full(count, place[0]),
            np.full(count, place[1]),
            np.full(count, azimuth),
            distance[known][seen],
        )
        row, col = (np.rint(part).astype(int) for part in ground.rowcol(lon, lat))
        rows, cols = ground.bare_m.shape
        at = np.clip(row, 0, rows - 1), np.clip(col, 0, cols - 1)
        mist_deg += float(grows[seen] @ ground.misty[at])
        all_deg += float(grows[seen].sum())
    return mist_deg / all_deg if all_deg > 0.0 else 0.0


def halved(height: Callable[[float], float], before_s: float, after_s: float) -> float:
    """The moment of a rise through zero, to a tenth of a second."""
    while after_s - before_s > 0.1:
        middle = 0.5 * (before_s + after_s)
        before_s, after_s = (before_s, middle) if height(middle) > 0.0 else (middle, after_s)
    return after_s
