"""What a raster file says about itself, held against what its heights can be and the user says."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from affine import Affine
from pyproj import CRS
from rasterio.enums import ColorInterp, MaskFlags
from rasterio.windows import Window

from terrain.arrays import Flags, Singles
from terrain.constants import EARTH_RADIUS_M
from terrain.errors import TerrainError
from terrain.ground.geodesy import crs_of_places, horizontal
from terrain.ground.raster.files import nodata_of

# what raster makers write into cells they know nothing of, without always declaring it
_UNDECLARED_VOIDS = (-9999.0, -32768.0, -32767.0)
_FINEST_M = 0.01
# no system counts so far from where it begins; beyond, one cell is soon where the next is
_FARTHEST_M = 1e9
_NO_GROUND, _NODATA_RTOL = 1e30, 1e-6


def check_band(dataset: Any, band: int, name: str) -> None:
    """Stop at what is no band of heights: colours, complex numbers, nothing to place it by."""
    is_palette = dataset.colorinterp[band - 1 : band] == (ColorInterp.palette,)
    if is_palette or np.dtype(dataset.dtypes[band - 1]).kind == "c":
        raise TerrainError(f"{name} holds colours or complex numbers, not heights")
    if dataset.transform == Affine.identity():
        raise TerrainError(f"{name} does not say where on the earth it lies: is this a picture?")
    a, b, west, d, e, north = dataset.transform[:6]
    if not np.isfinite([a, b, west, d, e, north]).all() or not abs(a * e - b * d) > 0.0:
        raise TerrainError(
            f"{name} does not say where its cells lie: their sides are {a:g}, {b:g}, {d:g}, {e:g}"
        )


def check_cells(transform: Affine, crs: CRS, name: str) -> None:
    """Stop at cells finer than any ground's, wider than the earth, or nowhere near it.

    Degrees that are taken for metres make the first, a damaged file all.
    """
    unit_m = crs.axis_info[0].unit_conversion_factor if crs.axis_info else 1.0
    if crs.is_geographic:
        unit_m *= EARTH_RADIUS_M  # the unit is then counted in radians
    a, b, west, d, e, north = transform[:6]
    if not unit_m * max(abs(west), abs(north)) <= _FARTHEST_M:
        raise TerrainError(
            f"{name} does not lie on the earth in {crs.name}: give the coordinate reference system "
            "that its coordinates are in"
        )
    for side_m in (unit_m * math.hypot(a, d), unit_m * math.hypot(b, e)):
        if not side_m <= EARTH_RADIUS_M:
            raise TerrainError(
                f"{name} has cells of {side_m:.2g} m in {crs.name}, wider than the earth"
            )
        if side_m < _FINEST_M:
            raise TerrainError(
                f"{name} has cells of {side_m:.2g} m in {crs.name}: are its coordinates in another "
                "system, such as degrees for metres?"
            )


def crs_of(dataset: Any, name: str, crs: CRS | str | None) -> CRS:
    """The coordinate reference system a file declares, or the given one where it does not."""
    given = None if crs is None else crs_of_places(crs)
    if dataset.crs is None:
        if given is None:
            raise TerrainError(
                f"{name} does not say its coordinate reference system: "
                'give it with crs, for example "EPSG:27700"'
            )
        return given
    declared = CRS.from_wkt(dataset.crs.to_wkt())
    if not (declared.is_geographic or declared.is_projected):
        raise TerrainError(f"{name} is in {declared.name}, which has no known place on the earth")
    if given is not None and not is_same_crs(declared, given):
        raise TerrainError(f"{name} is in {declared.name}, not in {given.name}: leave crs out")
    return declared


def vertical_datum_of(crs: CRS) -> str:
    """The name of the level that a system counts heights from, "" where it counts none.

    >>> vertical_datum_of(CRS("EPSG:27700+5701"))
    'Ordnance Datum Newlyn'
    """
    if not crs.is_compound:
        return ""
    vertical = crs.sub_crs_list[1]
    return str(vertical.datum.name if vertical.datum else vertical.name)


def is_same_crs(crs: CRS, other: CRS) -> bool:
    """Whether two systems place the ground alike, however they are written down."""
    crs, other = horizontal(crs), horizontal(other)
    if crs.equals(other, ignore_axis_order=True):
        return True
    code = crs.to_epsg(min_confidence=70)
    return code is not None and code == other.to_epsg(min_confidence=70)


def heights_m(dataset: Any, band: int, raw: Singles, window: Window, per_unit: float) -> Singles:
    """What was read from a window of a band, as metres, NaN where nothing is known.

    It can yet be what no ground is.
    """
    known = _known(dataset, band, raw, window)
    with np.errstate(all="ignore"):  # what is not known may be any number
        heights = raw * np.float32(dataset.scales[band - 1] * per_unit)
        heights += np.float32(dataset.offsets[band - 1] * per_unit)
    heights[~known] = np.nan
    return heights


def _taken_for(void: float) -> tuple[np.float32, np.float32]:
    """The lowest and the highest number of float32 that is a void within the tolerance."""
    off = _NODATA_RTOL * abs(void)
    ends = np.array([void - off, void + off], dtype=np.float32)
    about = np.concatenate([np.nextafter(ends, np.float32(-np.inf)), ends])
    about = np.concatenate([about, np.nextafter(ends, np.float32(np.inf))])
    within = about[np.isclose(about, void, rtol=_NODATA_RTOL, atol=0.0)]
    return within.min(initial=np.inf), within.max(initial=-np.inf)


def _known(dataset: Any, band: int, raw: Singles, window: Window) -> Flags:
    known = np.isfinite(raw)
    for void in (*_UNDECLARED_VOIDS, nodata_of(dataset, band)):
        # those of 1e30 and more are no ground in any unit
        if void is not None and abs(void) < _NO_GROUND:
            # a nodata of many digits is rounded when it is stored as float32
            lowest, highest = _taken_for(void)
            known &= (raw < lowest) | (raw > highest)
    if ColorInterp.alpha in dataset.colorinterp:
        alpha = dataset.colorinterp.index(ColorInterp.alpha) + 1
        known &= dataset.read(alpha, window=window) > 0
    elif MaskFlags.per_dataset in dataset.mask_flag_enums[band - 1]:
        known &= dataset.read_masks(band, window=window) > 0
    return known
