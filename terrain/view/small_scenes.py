"""The small scenes in a wide mist, for a long lens: shallows with tree tops, and small islets.

::

                islet               shallows
      ~~~~~~~~~~~/\\~~~~~~~~~~~~~ Y ~ YY ~~ Y ~~~~~~~~~~~
                |<>|            |<-- width -->|
                              |<---- field ----->|   of the lens in which that fills its share
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
from scipy import ndimage

from terrain.arrays import Flags, Floats, Labels
from terrain.country import Country
from terrain.errors import NoAnswer, TerrainError
from terrain.ground.places import Spot
from terrain.ground.tables import with_points
from terrain.mist.trees import TREES_M
from terrain.view.prospect import Prospect, prospect

_ALL_ROUND_DEG: Final = (360.0, 40.0)
_ALL_ROUND_AT_DEG: Final = (180.0, -15.0)
_CELL_DEG: Final = (0.1, 0.05)
_COLUMNS: Final = (
    *("kind", "lon_deg", "lat_deg", "azimuth_deg", "altitude_deg", "distance_m"),
    *("width_deg", "height_deg", "area_deg2", "field_deg", "focal_mm"),
)


def shallows_in_view(
    country: Country,
    spot: Spot,
    *,
    trees_m: tuple[float, float] = TREES_M,
    islet_km2: float = 0.02,
    fills: float = 0.5,
    sensor_width_mm: float = 36.0,
    least_deg2: float = 0.02,
    widest_deg: float = 30.0,
    aim_deg: tuple[float, float] = _ALL_ROUND_AT_DEG,
    field_deg: tuple[float, float] = _ALL_ROUND_DEG,
) -> gpd.GeoDataFrame:
    """The shallows of a mist and the small islets in it that are in view, the largest first.

    Parameters
    ----------
    country : Country
        The ground, with the mist on it.
    spot : Spot
        Where the camera stands.
    trees_m : (float, float), optional
        How high trees are, the low and the high, metres: in mist as deep as that their tops stand
        out of it; 5 to 15 unless given (common practice, no source).
    islet_km2 : float, optional
        Islands up to this area are islets, square kilometres (common practice, no source).
    fills : float, optional
        Share of the frame's width that one is to fill, above 0 to 1.
    sensor_width_mm : float, optional
        Width of the frame on the sensor, as the camera is held, millimetres.
    least_deg2 : float, optional
        What is smaller in view is left out, square degrees; the sun's disc has 0.22.
    widest_deg : float, optional
        What is wider in view is left out, degrees, such as the shallows all along the shore below
        the spot; 30 unless given (common practice, no source).
    aim_deg, field_deg : (float, float), optional
        Azimuth and altitude of the middle of what is looked at, and its width and height, degrees;
        all round, from 35 below the horizontal to 5 above it, unless given.

    Returns
    -------
    geopandas.GeoDataFrame
        One row each, the ground in the middle of what is seen of it as a point:

        - `rank`, `kind` ("shallows" or "islet")
        - `lon_deg`, `lat_deg`, `azimuth_deg`, `altitude_deg`, `distance_m` of that point
        - `width_deg`, `height_deg`, `area_deg2` of all that is seen of it, on the sky
        - `field_deg`, `focal_mm`: width of the field, and the lens, in which it fills its share of
          the frame

    Raises
    ------
    NoAnswer
        Where there is no mist.
    NoGround
        Where the spot has no known ground.
    TerrainError
        For a share, a sensor, a width or heights of trees that cannot be.

    Notes
    -----
    Water is known by lying level, and no trees stand in it.

    Examples
    --------
    >>> import numpy as np
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(50, 0, 5e5, 0, -50, 6e6), shape=(61, 81))
    >>> row, col = np.mgrid[-30:31, -40:41]
    >>> knoll = np.maximum(95.0 - np.hypot(row, col - 20), 0.0)
    >>> isle = terrain.Dem(np.maximum(200.0 - 9.0 * np.hypot(row, col + 30), knoll), grid)
    >>> misty = terrain.Country(isle, mist=terrain.level_mist(isle, 100.0))
    >>> lon, lat = (float(part) for part in grid.lonlat(30, 10))
    >>> table = terrain.shallows_in_view(misty, terrain.Spot(lon_deg=lon, lat_deg=lat))
    >>> table[["kind", "azimuth_deg", "distance_m", "width_deg"]].round(1).values.tolist()
    [['shallows', 90.0, 2410.8, 23.6]]
    """
    if not (0.0 < fills <= 1.0 and 0.0 < sensor_width_mm < math.inf and 0.0 < widest_deg < 180.0):
        raise TerrainError(
            f"{fills:g} of a frame {sensor_width_mm:g} mm wide, for what is up to {widest_deg:g} "
            "degrees wide, cannot be: give a share above 0 to 1, a width above 0 mm, and less than "
            "180 degrees"
        )
    if country.mist is None:
        raise NoAnswer("without a mist there are no shallows and no islets: give one")
    cells = [math.ceil(wide / step) for wide, step in zip(field_deg, _CELL_DEG, strict=True)]
    about = prospect(country, spot, *aim_deg, field_deg=field_deg, cells=(cells[1], cells[0]))
    found = [
        {"kind": kind, **row, **_lens(row["width_deg"], fills, sensor_width_mm)}
        for kind, labels, there in (
            ("shallows", country.shallows(trees_m), about.is_mist),
            ("islet", _islets(country, spot, islet_km2), about.is_ground),
        )
        for row in _seen(country, about, labels, there, least_deg2)
        if row["width_deg"] <= widest_deg
    ]
    table = pd.DataFrame(found, columns=list(_COLUMNS))
    return with_points(table.sort_values("area_deg2", ascending=False, kind="stable"), ranked=True)


def whole_deg2(about: Prospect, labels: Labels, *, least_deg2: float) -> float:
    """Area of the shallows of a raster that are seen in a frame, square degrees.

    Those that reach the frame's edge are left out, as the shallows along the shore below the spot
    do, and so are smaller ones than that.
    """
    number = about.on(labels, about.is_mist)
    part_deg2 = np.broadcast_to(about.part_deg2, number.shape)
    areas_deg2 = np.bincount(number.ravel(), part_deg2.ravel())
    for edge in (0, number[0], number[-1], number[:, 0], number[:, -1]):
        areas_deg2[edge] = 0.0
    return float(areas_deg2[areas_deg2 >= least_deg2].sum())


def _islets(country: Country, spot: Spot, islet_km2: float) -> Labels:
    """The islands up to an area, by their numbers; 0 elsewhere, and where one stands."""
    labels = country.islands
    small = np.bincount(labels.ravel()) * country.dem.cell_m**2 / 1e6 <= islet_km2
    small[[0, labels[country.dem.grid.cell_of(spot.lon_deg, spot.lat_deg)]]] = False
    islets = np.where(small[labels], labels, 0).astype(np.int32)
    # the shore lies between the last dry cell and the first under mist
    return np.where(labels == 0, ndimage.maximum_filter(islets, size=3), islets)


def _seen(
    country: Country, about: Prospect, labels: Labels, there: Flags, least_deg2: float
) -> Iterator[dict[str, Any]]:
    """What is seen of each label of the raster: where, how far, how large in the view."""
    number = about.on(labels, there)
    row, col = np.nonzero(number)
    part_deg2, own = about.part_deg2[row, 0], number[row, col]
    areas_deg2 = np.bincount(own, part_deg2)
    for each in np.flatnonzero(areas_deg2 >= least_deg2):
        mine = own == each
        at = _middle(about, row[mine], col[mine], part_deg2[mine])
        yield {
            **_place(country, about, *at[:2]),
            "width_deg": at[2],
            "height_deg": at[3],
            "area_deg2": float(areas_deg2[each]),
        }


def _middle(
    about: Prospect, row: Labels, col: Labels, part_deg2: Floats
) -> tuple[int, int, float, float]:
    """The cell of a picture in the middle of some, and how wide and how high they are together."""
    azimuth, altitude = about.seen.azimuth_deg, about.seen.altitude_deg[row]
    turned = np.unique(np.mod(azimuth[col], 360.0))
    gaps = np.diff(turned, append=turned[0] + 360.0)
    along = np.mod(azimuth[col] - turned[(int(np.argmax(gaps)) + 1) % turned.size], 360.0)
    aside = along - np.average(along, weights=part_deg2)
    up = altitude - np.average(altitude, weights=part_deg2)
    level = math.cos(math.radians(float(altitude.mean())))
    middle = int(np.argmin(np.hypot(aside * level, up)))
    wide_deg = (360.0 - float(gaps.max()) + float(azimuth[1] - azimuth[0])) * level
    high_deg = np.ptp(altitude) + about.seen.altitude_deg[1] - about.seen.altitude_deg[0]
    return int(row[middle]), int(col[middle]), wide_deg, float(high_deg)


def _place(country: Country, about: Prospect, row: int, col: int) -> dict[str, float]:
    seen = about.seen
    lon, lat = country.dem.grid.lonlat(float(seen.row[row, col]), float(seen.col[row, col]))
    return {
        "lon_deg": float(lon),
        "lat_deg": float(lat),
        "azimuth_deg": float(seen.azimuth_deg[col]) % 360.0,
        "altitude_deg": float(seen.altitude_deg[row]),
        "distance_m": float(seen.distance_m[row, col]),
    }


def _lens(width_deg: float, fills: float, sensor_width_mm: float) -> dict[str, float]:
    """The field, and the focal length of a rectilinear lens, in which a width fills a share."""
    half = math.tan(math.radians(0.5 * width_deg)) / fills
    return {
        "field_deg": 2.0 * math.degrees(math.atan(half)),
        "focal_mm": 0.5 * sensor_width_mm / half,
    }
