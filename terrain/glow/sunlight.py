"""What is left of the sun itself: its colour at any height, and where it is seen."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from terrain.arrays import Floats
from terrain.constants import EARTH_RADIUS_M
from terrain.errors import TerrainError
from terrain.glow.air import ClearAir
from terrain.glow.layers import TOP_M
from terrain.glow.spectrum import BANDS, bands_of
from terrain.glow.sun_tables import ANGLES, HEIGHTS, LOWEST_DEG, SPAN_DEG, sun_table


def sunlight(
    air: ClearAir, *, sun_altitude_deg: ArrayLike, height_m: ArrayLike = 0.0, bands: int = BANDS
) -> Floats:
    """Light of the sun on a surface that faces it, by colour.

    Rays are bent by the air, so the sun is followed below the horizontal: to where its upper limb
    sets behind the sea as seen from the height, half covered discs counted by what is left of them.
    Ground that hides it is not known here.

    Parameters
    ----------
    air : ClearAir
        The air it comes through.
    sun_altitude_deg : array_like
        True altitude of its centre where the surface is, refraction not counted, degrees.
    height_m : array_like
        Height of the surface above the sea, metres; broadcasts with the altitude.
    bands : int
        Bands of wavelength it is worked out in: 3, 4, 6, 9, 12, 18 or 36.

    Returns
    -------
    ndarray
        Linear sRGB in the shape of the arguments and 3; its luminance is the illuminance in lux.

    Raises
    ------
    TerrainError
        If a height is over 100 km.

    Examples
    --------
    >>> import terrain
    >>> red, green, blue = terrain.sunlight(terrain.ClearAir(), sun_altitude_deg=2.0)
    >>> bool(red > 2 * green > 10 * blue)
    True
    """
    left = _left(sun_table(air, bands).full, height_m, sun_altitude_deg)
    return np.asarray(left @ bands_of(air, bands).to_rgb.T)


def sun_seen_deg(air: ClearAir, *, sun_altitude_deg: float, height_m: float) -> float:
    """Where the centre of the sun is seen from a height, degrees; its refraction counted.

    Below the sea's horizon it is as much lifted as there.
    """
    table = sun_table(air, BANDS).lift[:, :, np.newaxis]
    lift = float(_left(table, height_m, sun_altitude_deg)[0])
    return sun_altitude_deg + float(np.degrees(lift))


def _left(table: Floats, height_m: ArrayLike, sun_altitude_deg: ArrayLike) -> Floats:
    """Read a table at heights and true altitudes of the sun."""
    height, altitude = np.broadcast_arrays(
        np.asarray(height_m, dtype=np.float64), np.asarray(sun_altitude_deg, dtype=np.float64)
    )
    if (height > TOP_M).any():
        raise TerrainError(f"height {height.max():g} m is over the air, which ends at {TOP_M:g} m")
    height = np.maximum(height, 0.0)
    down = np.sqrt(height / TOP_M) * (HEIGHTS - 1)
    dip = np.degrees(np.arccos(EARTH_RADIUS_M / (EARTH_RADIUS_M + height)))
    share = np.clip((altitude + dip - LOWEST_DEG) / SPAN_DEG, 0.0, 1.0)
    along = np.cbrt(share) * (ANGLES - 1)
    row = np.minimum(np.nan_to_num(down).astype(int), HEIGHTS - 2)
    col = np.minimum(np.nan_to_num(along).astype(int), ANGLES - 2)
    down, along = (down - row)[..., np.newaxis], (along - col)[..., np.newaxis]
    upper = table[row, col] * (1.0 - along) + table[row, col + 1] * along
    lower = table[row + 1, col] * (1.0 - along) + table[row + 1, col + 1] * along
    return np.asarray(upper * (1.0 - down) + lower * down)
