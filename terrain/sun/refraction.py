"""Astronomical refraction: how far the air lifts the sun, from the zenith to below the horizontal.

Above the horizontal this is Bennett's formula in the apparent altitude. Below it, where a high
spot still sees the sky, no formula in the altitude alone holds, but the ray itself tells what
happens. A ray seen at -a sinks to a lowest point and rises again, and passes the observer's own
level at +a on its way out::

         -a seen here                                     +a, out to the sun
    eye  o . . . . . . . . the observer's level . . . . . . . . . . .  _.-'
           ' -  .                                          .  - '
                   '  -  .    .  lowest point  .    .  - '

                   |<------ bent by 2 a s on the way ------>|

    R(-a) = R(a) + 2 a s

Between the two passages the ray runs through the air below, where its curvature is k times the
earth's. Its slope to the level changes at (1 - k)/radius along the way, so the arc from -a to +a
is 2a·radius/(1 - k) long, and the bending along it is 2a·k/(1 - k): linear in a, s = k/(1 - k).
Taking s = -dR/dh at the horizontal makes R and its slope continuous there, and Bennett's formula
gives s = 0.215, k = 0.18 in standard air.

The curvature is not quite even: the ray sinks by a²·radius/(2(1 - k)), and the air that bends it
thickens downwards by one part in H = 12 km (U.S. Standard Atmosphere 1976, 0 to 8 km). Averaged
along the arc, on which two thirds of that depth is the mean, the bending is 2as(1 + c a²) with
c = radius·(1 + s)/(3H): nothing near the horizontal, a fifth at -1.8 degrees.

Below -3 degrees no ray clears the earth, not even from the highest summit: there the refraction
levels off within about a degree, so that the apparent altitude of a sun deep below the horizon
still rises and falls with the true one, and nothing more is meant by it.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from terrain.arrays import Floats
from terrain.constants import DEEPEST_SEA_M, EARTH_RADIUS_M
from terrain.errors import TerrainError
from terrain.sun.pvlib_parts import atmosphere

_LOWEST_AIR_M: Final = -1000.0
_GRADIENT_SCALE_M: Final = 12_000.0
_LOWEST_DEG: Final = -3.0
_LEVELLING_DEG: Final = 1.0
_NEWTON_STEPS: Final = 5
_LAST_STEP_DEG: Final = 1e-5
"""A step of Newton's as small as this leaves an error of its square, a tenth of a billionth."""


def standard_pressure_hpa(height_m: ArrayLike) -> Floats:
    """Air pressure of the standard atmosphere at a height, hPa, in the shape of `height_m`.

    height_m: metres above sea level, -11 000 to 11 000; the bed of a deep sea, where no air is, has
    that of -1000. Raises TerrainError outside.
    Source: pvlib, from the hydrostatic equation with the standard lapse rate of 6.5 K a kilometre.

    >>> round(float(standard_pressure_hpa(1000.0)), 1)
    898.7
    """
    height = np.asarray(height_m, dtype=np.float64)
    outside = (height < DEEPEST_SEA_M) | (height > 11_000.0)
    if outside.any():
        raise TerrainError(
            f"height {height[outside].flat[0]:g} m is not between -11000 and 11000 m: "
            "is it in metres?"
        )
    return np.asarray(atmosphere.alt2pres(np.maximum(height, _LOWEST_AIR_M))) / 100.0


def refraction_deg(
    apparent_altitude_deg: ArrayLike,
    *,
    pressure_hpa: ArrayLike = 1010.0,
    temperature_c: ArrayLike = 10.0,
) -> Floats:
    """How much higher than its true place something is seen, degrees.

    apparent_altitude_deg: where it is seen, -90 to 90 degrees, any shape. pressure_hpa and
    temperature_c: of the air at the eye; all three broadcast to the shape of the result.
    Zero at the zenith, 34.5 arcminutes at the horizontal in standard air; good to about 0.1
    arcminute above 5 degrees, and at the horizon the air itself varies by several arcminutes.
    Raises ValueError for an altitude beyond the zenith or the nadir.

    Source: Bennett (1982), J. Navigation 35, 255, as Meeus, Astronomical Algorithms, eq. 16.3,
    with his scaling for pressure and temperature and his constant that makes the zenith zero.

    >>> round(60.0 * float(refraction_deg(0.5)), 2)
    28.76
    """
    altitude = _checked_deg(apparent_altitude_deg)
    return _standard(altitude)[0] * _density(pressure_hpa, temperature_c)


def refract(
    true_altitude_deg: ArrayLike,
    *,
    pressure_hpa: ArrayLike = 1010.0,
    temperature_c: ArrayLike = 10.0,
) -> Floats:
    """Apparent altitude of something whose true altitude is known, degrees.

    true_altitude_deg: -90 to 90 degrees, any shape; NaN stays NaN. pressure_hpa and
    temperature_c: of the air at the eye; all three broadcast to the shape of the result.
    The inverse of altitude minus `refraction_deg`, to better than a millionth of a degree, and
    strictly rising. Raises ValueError for an altitude beyond the zenith or the nadir.

    >>> round(float(refract(0.0)), 3)
    0.482
    """
    true = _checked_deg(true_altitude_deg)
    density = _density(pressure_hpa, temperature_c)
    apparent = np.minimum(true + _standard(true)[0] * density, 90.0)
    # apparent - R(apparent) is smooth and has a slope between 1 and 2.6, so Newton cannot go astray
    for _ in range(_NEWTON_STEPS):
        lift, slope = _standard(apparent)
        step = (apparent - lift * density - true) / (1.0 - slope * density)
        apparent = np.minimum(apparent - step, 90.0)
        if not (np.abs(step) > _LAST_STEP_DEG).any():
            break
    return apparent


def _checked_deg(altitude_deg: ArrayLike) -> Floats:
    altitude = np.asarray(altitude_deg, dtype=np.float64)
    outside = np.abs(altitude) > 90.0
    if outside.any():
        raise ValueError(
            f"altitude {altitude[outside].flat[0]:g} is not between -90 and 90 degrees"
        )
    return altitude


def _density(pressure_hpa: ArrayLike, temperature_c: ArrayLike) -> Floats:
    """Density of the air relative to that of the formula (Meeus, ch. 16)."""
    pressure = np.asarray(pressure_hpa, dtype=np.float64)
    return pressure / 1010.0 * 283.0 / (273.0 + np.asarray(temperature_c, dtype=np.float64))


def _bennett(altitude_deg: Floats) -> tuple[Floats, Floats]:
    """Refraction at 0 to 90 degrees (Meeus, eq. 16.3, over 60 for degrees), and its derivative."""
    above = altitude_deg + 4.4
    cotangent = 1.0 / np.tan(np.radians(altitude_deg + 7.31 / above))
    rate = np.radians(1.0 - 7.31 / above**2)
    return cotangent / 60.0, -rate * (1.0 + cotangent**2) / 60.0


_ZENITH_DEG: Final = float(_bennett(np.asarray(90.0))[0])
_DIP_SLOPE: Final = -float(_bennett(np.asarray(0.0))[1])
_THICKENING_PER_DEG2: Final = (
    EARTH_RADIUS_M * (1.0 + _DIP_SLOPE) / (3.0 * _GRADIENT_SCALE_M) * float(np.radians(1.0)) ** 2
)


def _standard(altitude_deg: Floats) -> tuple[Floats, Floats]:
    """Refraction in the air of the formula (1010 hPa, 10 C) at any altitude, and its derivative."""
    if (altitude_deg >= 0.0).all():
        # all that follows adds nothing there
        lift, slope = _bennett(altitude_deg)
        return lift - _ZENITH_DEG, slope
    held = np.maximum(altitude_deg, _LOWEST_DEG)
    mirrored, slope = _bennett(np.abs(held))
    depth = np.maximum(-held, 0.0)
    thickening = _THICKENING_PER_DEG2 * depth**2
    dipping = 2.0 * _DIP_SLOPE * depth * (1.0 + thickening)
    dipping_slope = 2.0 * _DIP_SLOPE * (1.0 + 3.0 * thickening)
    slope = np.where(held < 0.0, -slope - dipping_slope, slope)
    lift = mirrored - _ZENITH_DEG + dipping
    if (altitude_deg >= _LOWEST_DEG).all():
        # nor does the rest, so high
        return lift, slope
    levelling = np.expm1((altitude_deg - held) / _LEVELLING_DEG)
    return lift + slope * levelling * _LEVELLING_DEG, slope * (levelling + 1.0)
