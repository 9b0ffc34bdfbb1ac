"""Skylines and grounds that are formulas, with the answer known beforehand; files of heights."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path

import numpy as np
import rasterio
from affine import Affine
from numpy.typing import ArrayLike, NDArray

from terrain.country import Country
from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.mist.mist import Mist
from terrain.sight.skyline import Skyline
from terrain.sun.position import sun_position
from terrain.sun.refraction import refract, standard_pressure_hpa
from terrain.view.scene import Scene

Floats = NDArray[np.float64]


def ring(
    altitude_at: Callable[[Floats], Floats],
    *,
    lon_deg: float = -24.0,
    lat_deg: float = 54.4,
    eye_height_m: float = 100.0,
    distance_m: float = 5000.0,
    known_to_m: float = 20_000.0,
    step_deg: float = 0.05,
) -> Skyline:
    """A skyline all round whose altitude is a function of the azimuth; NaN is unknown ground."""
    azimuth = np.arange(round(360.0 / step_deg)) * step_deg
    altitude = np.broadcast_to(np.asarray(altitude_at(azimuth), dtype=float), azimuth.shape)
    unknown = np.isnan(altitude)
    return Skyline(
        spot=Spot(lon_deg=lon_deg, lat_deg=lat_deg),
        eye_height_m=eye_height_m,
        refraction=0.13,
        azimuth_deg=azimuth,
        altitude_deg=altitude,
        distance_m=np.where(unknown, np.nan, distance_m),
        known_to_m=np.where(unknown, 0.0, known_to_m),
    )


def flat(altitude_deg: float = 0.0, **options: float) -> Skyline:
    """One altitude all round."""
    return ring(lambda azimuth: np.full(azimuth.shape, altitude_deg), **options)


def sun_at(skyline: Skyline, moment: dt.datetime) -> tuple[float, float, float]:
    """Azimuth, true altitude and semi-diameter of the sun at the spot of a skyline."""
    spot = skyline.spot
    sun = sun_position(
        [moment], lon_deg=spot.lon_deg, lat_deg=spot.lat_deg, height_m=skyline.eye_height_m
    )
    return float(sun.azimuth_deg[0]), float(sun.altitude_deg[0]), float(sun.semidiameter_deg[0])


def rim_over_ground(skyline: Skyline, moment: dt.datetime, side: int = 1) -> Floats:
    """How far the points of the upper (1) or lower (-1) rim stand over the ground, degrees.

    Point by point, each refracted by itself.
    """
    azimuth, true, half = sun_at(skyline, moment)
    across = np.linspace(-1.0, 1.0, 4001)
    pressure = standard_pressure_hpa(skyline.eye_height_m)
    centre = float(refract(true, pressure_hpa=pressure))
    rim = refract(true + side * half * np.sqrt(1.0 - across**2), pressure_hpa=pressure)
    aside = azimuth + half * across / np.cos(np.radians(centre))
    return np.asarray(rim - np.nan_to_num(skyline.at(aside)))


def cone(
    size: int, summit: tuple[float, float], height_m: float, slope: float, cell_m: float = 50.0
) -> Floats:
    """Heights (size, size) of a cone with its top at a row and a column; 0 beyond its foot."""
    row, col = np.mgrid[:size, :size]
    away_m = np.hypot(row - summit[0], col - summit[1]) * cell_m
    return np.maximum(height_m - slope * away_m, 0.0)


def scene_with(
    dem: Dem, hill: Hill, own_ground: NDArray[np.bool_], mist: Mist | None = None
) -> Scene:
    """A hill over ground and mist, with what is to be taken for its own ground."""
    scene = Scene(Country(dem, mist=mist), hill)
    object.__setattr__(scene, "own_ground", own_ground)
    return scene


def written(
    path: Path,
    heights_m: ArrayLike,
    *,
    crs: str | None = "EPSG:32627",
    corner_m: tuple[int, int] = (300_000, 6_035_000),
    nodata: float | None = None,
) -> Path:
    """A GeoTIFF of heights on cells of 50 m, its north-west corner at an easting and northing."""
    heights = np.asarray(heights_m, dtype=np.float32)
    profile = {"driver": "GTiff", "count": 1, "dtype": "float32", "crs": crs, "nodata": nodata}
    rows, cols = heights.shape
    transform = Affine(50, 0, corner_m[0], 0, -50, corner_m[1])
    with rasterio.open(
        path, "w", height=rows, width=cols, transform=transform, **profile
    ) as raster:
        raster.write(heights, 1)
    return path
