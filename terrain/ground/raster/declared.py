"""What a raster file says about itself, held against what its heights can be and the user says."""

from __future__ import annotations

from typing import Any

import numpy as np
from affine import Affine
from pyproj import CRS
from rasterio.enums import ColorInterp, MaskFlags
from rasterio.windows import Window

from terrain.arrays import Flags, Singles
from terrain.constants import FOOT_M
from terrain.errors import TerrainError
from terrain.ground.geodesy import crs_of_places, horizontal

METRES_PER_UNIT = {"metre": 1.0, "foot": FOOT_M, "us-survey-foot": 1200 / 3937}
_UNIT_WORDS = {
    "metre": ("m", "metre", "metres", "meter", "meters"),
    "foot": ("ft", "foot", "feet", "foot (international)", "international foot"),
    "us-survey-foot": ("us survey foot", "us survey feet", "us-ft", "ftus", "foot_us", "us_ft"),
}
# what raster makers write into cells they know nothing of, without always declaring it
_UNDECLARED_VOIDS = (-9999.0, -32768.0, -32767.0)
_LOWEST_GROUND_M, _HIGHEST_GROUND_M = -11_000.0, 9_000.0
_NO_GROUND, _NODATA_RTOL = 1e30, 1e-6


def metres_per_unit(height_unit: str) -> float:
    """The unit of height in metres: "metre", "foot" (international) or "us-survey-foot"."""
    if height_unit not in METRES_PER_UNIT:
        known = ", ".join(METRES_PER_UNIT)
        raise TerrainError(f"heights in {height_unit!r} are not understood: use one of {known}")
    return METRES_PER_UNIT[height_unit]


def check_band(dataset: Any, band: int, name: str) -> None:
    """Stop at what is no band of heights: colours, complex numbers, nothing to place it by."""
    is_palette = dataset.colorinterp[band - 1 : band] == (ColorInterp.palette,)
    if is_palette or np.dtype(dataset.dtypes[band - 1]).kind == "c":
        raise TerrainError(f"{name} holds colours or complex numbers, not heights")
    if dataset.transform == Affine.identity():
        raise TerrainError(f"{name} does not say where on the earth it lies: is this a picture?")


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


def check_unit(dataset: Any, band: int, name: str, crs: CRS, height_unit: str) -> None:
    """Stop where the file says another unit of height than the user: one of them is wrong."""
    vertical = crs.sub_crs_list[1].axis_info if crs.is_compound else []
    declared = dataset.units[band - 1] or (vertical[0].unit_name if vertical else "")
    for unit, words in _UNIT_WORDS.items():
        if declared.strip().lower() in words and unit != height_unit:
            raise TerrainError(
                f'{name} says its heights are in "{declared}", not in {height_unit}: '
                f'give the height unit "{unit}"'
            )


def heights_m(dataset: Any, band: int, raw: Singles, window: Window, per_unit: float) -> Singles:
    """What was read from a window of a band, as metres, NaN where it is not known ground."""
    known = _known(dataset, band, raw, window)
    heights = raw * np.float32(dataset.scales[band - 1] * per_unit)
    heights += np.float32(dataset.offsets[band - 1] * per_unit)
    known &= (heights >= _LOWEST_GROUND_M) & (heights <= _HIGHEST_GROUND_M)
    heights[~known] = np.nan
    return heights


def _known(dataset: Any, band: int, raw: Singles, window: Window) -> Flags:
    known = np.isfinite(raw)
    for void in (*_UNDECLARED_VOIDS, dataset.nodatavals[band - 1]):
        # those of 1e30 and more are no ground in any unit
        if void is not None and abs(void) < _NO_GROUND:
            # a nodata of many digits is rounded when it is stored as float32
            known &= ~np.isclose(raw, void, rtol=_NODATA_RTOL, atol=0.0)
    if ColorInterp.alpha in dataset.colorinterp:
        alpha = dataset.colorinterp.index(ColorInterp.alpha) + 1
        known &= dataset.read(alpha, window=window) > 0
    elif MaskFlags.per_dataset in dataset.mask_flag_enums[band - 1]:
        known &= dataset.read_masks(band, window=window) > 0
    return known
