"""What is seen over ground: visible cells, horizons, the dip of the sea, ways over the earth."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from affine import Affine
from numpy.typing import ArrayLike

from docs.checks.check import Check, Row, numbers
from terrain.constants import EARTH_RADIUS_M
from terrain.frame.framing import sun_on_sensor_mm
from terrain.frame.lens import Frame, Sensor
from terrain.ground.dem import Dem
from terrain.ground.geodesy import azimuth_and_distance, local_transverse_mercator
from terrain.ground.grid import Grid
from terrain.ground.places import Spot
from terrain.sight.beyond import lowest_deg, ordinary_deg
from terrain.sight.skyline import skyline
from terrain.sight.viewshed import margin
from tests.authorities import dip, geodesy, optics, sight_grids

_SIGHT, _FRAME = "What is seen", "What a lens takes in"


def checks() -> Iterator[Check]:
    """All checks of sight and of lenses."""
    yield from (_five_by_five(), _rows(), _wall(), _dip(), _short(), _geodesic())
    yield from (_lens(), _image())


def _ground(heights: ArrayLike, cell_m: float) -> Dem:
    """Heights on square cells about a place in the Atlantic."""
    array = np.array(heights, dtype=np.float32)
    rows, cols = array.shape
    crs = local_transverse_mercator(-24.0, 54.4)
    west, north = -cols * cell_m / 2, rows * cell_m / 2
    return Dem(
        array,
        Grid(crs=crs, transform=Affine(cell_m, 0, west, 0, -cell_m, north), shape=array.shape),
    )


def _spot(dem: Dem, row: float, col: float) -> Spot:
    lon, lat = dem.grid.lonlat(row, col)
    return Spot(lon_deg=float(lon), lat_deg=float(lat), eye_m=0.0)


def _five_by_five() -> Check:
    heights = np.array(sight_grids.FIVE_BY_FIVE, dtype=float)
    dem = _ground(heights, 1.0)
    ours = margin(dem, _spot(dem, *sight_grids.FIVE_BY_FIVE_OBSERVER), refraction=1.0)
    least = np.array(sight_grids.FIVE_BY_FIVE_SEEN_FROM_HEIGHT, dtype=float)
    theirs = np.maximum(least - heights, 0.0)
    pairs = {
        f"row {row}, column {col}": (float(theirs[row, col]), float(ours[row, col]))
        for row in range(5)
        for col in range(5)
    }
    names = ("FIVE_BY_FIVE", "FIVE_BY_FIVE_OBSERVER", "FIVE_BY_FIVE_SEEN_FROM_HEIGHT")
    but = "How much each cell would have to rise to be seen, metres."
    rows = numbers(pairs, 2)
    return Check("A grid of five by five", _SIGHT, "sight_grids", names, "m", 5, rows, but)


def _rows() -> Check:
    pairs = {}
    for number, (heights, observer, rise) in enumerate(sight_grids.ROWS, start=1):
        dem = _ground([heights], 1.0)
        ours = margin(dem, _spot(dem, 0, observer), refraction=1.0)[0]
        for col, theirs in enumerate(rise):
            pairs[f"row {number}, column {col}"] = (float(theirs), float(ours[col]))
    but = "The same along single rows."
    rows = numbers(pairs, 3)
    return Check("Five rows", _SIGHT, "sight_grids", ("ROWS",), "m", 5, rows, but)


def _wall() -> Check:
    cells = 250
    row, col = np.mgrid[0:521, 0:521] - 260.0
    walled = np.where(np.hypot(row, col) >= cells, sight_grids.WALL_HEIGHT_M, 0.0)
    dem = _ground(walled, sight_grids.WALL_DISTANCE_M / cells)
    sides = [0.0, 90.0, 180.0, 270.0]
    found = skyline(dem, _spot(dem, 260, 260), azimuths_deg=sides, refraction=0.0)
    theirs = math.degrees(sight_grids.WALL_ALTITUDE_RAD)
    pairs = {
        f"toward {azimuth:.0f}°": (theirs, float(altitude))
        for azimuth, altitude in zip(sides, found.altitude_deg, strict=True)
    }
    names = ("WALL_HEIGHT_M", "WALL_DISTANCE_M", "WALL_ALTITUDE_RAD")
    rows = numbers(pairs, 4)
    return Check("A circular wall", _SIGHT, "sight_grids", names, "°", 5, rows)


def _dip() -> Check:
    sea = _ground(np.zeros((3, 3)), 50.0)
    pairs = {
        f"from {height:.0f} m": (
            60.0 * dip.DEGREES_A_ROOT_METRE * math.sqrt(height),
            -60.0 * float(lowest_deg(sea, height, dip.REFRACTION)[0]),
        )
        for height in (2.0, 25.0, 100.0, 480.0, 1500.0)
    }
    names = ("DEGREES_A_ROOT_METRE", "REFRACTION")
    but = (
        "With the almanac's refraction, about 0.17; with 0.13, as surveyors have it and as is "
        "used here unless told otherwise, the sea lies 2 % lower."
    )
    rows = numbers(pairs, 2)
    return Check("The dip of the sea's horizon", _SIGHT, "dip", names, "'", 2, rows, but)


def _short() -> Check:
    sea, pairs = _ground(np.zeros((3, 3)), 50.0), {}
    for height, beyond in ((300.0, 9000.0), (60.0, 3000.0)):
        horizon_m = float(lowest_deg(sea, height, dip.REFRACTION)[1])
        away_m = horizon_m + beyond
        theirs = 60.0 * dip.short_of_the_horizon_deg(height, away_m)
        ours = -60.0 * float(ordinary_deg(sea, height, away_m, dip.REFRACTION))
        pairs[f"from {height:.0f} m, {away_m / 1000:.1f} km off"] = (theirs, ours)
    names = ("short_of_the_horizon_deg", "RADIUS_M")
    but = f"Bowditch's earth has a radius of 6 371 065 m, ours {EARTH_RADIUS_M:,.0f} m."
    rows = numbers(pairs, 3)
    title = "The dip of a level at a distance"
    return Check(title, _SIGHT, "dip", names, "'", 3, rows, but.replace(",", " "))


def _geodesic() -> Check:
    azimuth, distance = azimuth_and_distance(*geodesy.WELLINGTON_SALAMANCA)
    pairs = {
        "metres": (geodesy.GEODESIC_M, float(distance)),
        "azimuth, degrees": (geodesy.GEODESIC_AZIMUTH_DEG, float(azimuth)),
    }
    names = ("WELLINGTON_SALAMANCA", "GEODESIC_M", "GEODESIC_AZIMUTH_DEG")
    rows = numbers(pairs, 6)
    title = "From Wellington to Salamanca"
    return Check(title, _SIGHT, "geodesy", names, "in each row's unit", 6, rows)


def _lens() -> Check:
    pairs: dict[str, tuple[float, float]] = {}
    for focal, angles in optics.FIELD_OF_VIEW_DEG.items():
        frame = Frame(azimuth_deg=10.0, altitude_deg=0.0, focal_mm=focal, sensor=Sensor())
        for side, theirs, ours in zip(("width", "height"), angles, frame.field_deg, strict=True):
            pairs[f"{focal:.0f} mm, {side}"] = (theirs, ours)
    names = ("FIELD_OF_VIEW_DEG",)
    rows = numbers(pairs, 2)
    return Check("Angles of view", _FRAME, "optics", names, "°", 2, rows)


def _image() -> Check:
    ours = 400.0 / sun_on_sensor_mm(400.0, 959.63 / 3600.0)
    off = ours - optics.FOCAL_LENGTHS_A_SUN
    row = Row("focal lengths a sun", f"{optics.FOCAL_LENGTHS_A_SUN}", f"{ours:.2f}", off)
    names = ("FOCAL_LENGTHS_A_SUN",)
    return Check("The sun's image", _FRAME, "optics", names, "", 3, [row])
