"""What lies how high: molecules, haze and ozone over the sea, and how the air there bends light."""

from __future__ import annotations

import math
from functools import cache
from typing import Final

import numpy as np

from terrain.arrays import Floats, sealed
from terrain.constants import EARTH_RADIUS_M
from terrain.glow.air import ClearAir
from terrain.glow.spectrum import DOBSON_PER_M2

TOP_M: Final = 100_000.0
"""No air that matters lies higher."""
LAYER_M: Final = 100.0
REFRACTIVITY: Final = 2.78e-4
"""Refractive index of air less one, at 550 nm, 15 C and 1013.25 hPa (Ciddor 1996)."""

# U.S. Standard Atmosphere 1976, table 4: geopotential height, m, and lapse up from there, K/m
_BASES: Final = (
    (0.0, -0.0065),
    (11_000.0, 0.0),
    (20_000.0, 0.001),
    (32_000.0, 0.0028),
    (47_000.0, 0.0),
    (51_000.0, -0.0028),
    (71_000.0, -0.002),
    (84_852.0, 0.0),
)
_GEOPOTENTIAL_RADIUS_M: Final = 6_356_766.0
_K_PER_M: Final = 9.80665 * 0.0289644 / 8.31432
"""Gravity times the molar mass of air over the gas constant (as the standard has them)."""
_DROPLETS_M: Final = (20_000.0, 3_000.0)
"""Middle and standard deviation of the stratosphere's droplets (from memory)."""


@cache
def layers_of(air: ClearAir) -> Floats:
    """What lies in each 100 m of height: (heights, 4).

    Molecules as a share of those of the standard atmosphere at sea level; extinction by haze at
    550 nm, 1/m; molecules of ozone, 1/m³; curvature of level light, 1/m.
    """
    height = np.arange(0.0, TOP_M + LAYER_M, LAYER_M)
    molecules = standard_density(height) * air.sea_level_pressure_hpa / 1013.25
    bending = -REFRACTIVITY * np.gradient(molecules, LAYER_M)
    return sealed(np.stack([molecules, _haze(air, height), _ozone(air, height), bending], axis=1))


def standard_density(height_m: Floats) -> Floats:
    """Density of the standard atmosphere as a share of that at sea level.

    height_m: 0 to 100 km, in the shape of the result. Source: U.S. Standard Atmosphere 1976.
    """
    geopotential = _GEOPOTENTIAL_RADIUS_M * height_m / (_GEOPOTENTIAL_RADIUS_M + height_m)
    density = np.ones_like(height_m)
    base_k, base_pressure = 288.15, 1.0
    tops = [base for base, _ in _BASES[1:]] + [np.inf]
    for (base, lapse), top in zip(_BASES, tops, strict=True):
        here = (geopotential >= base) & (geopotential < top)
        climbed = geopotential[here] - base
        pressure = base_pressure * _pressure_ratio(climbed, base_k, lapse)
        density[here] = pressure * 288.15 / (base_k + lapse * climbed)
        if math.isfinite(top):
            base_pressure *= float(_pressure_ratio(np.array(top - base), base_k, lapse))
            base_k += lapse * (top - base)
    return density


def _pressure_ratio(climbed_m: Floats, base_k: float, lapse: float) -> Floats:
    if lapse == 0.0:
        return np.asarray(np.exp(-_K_PER_M * climbed_m / base_k))
    return np.asarray((1.0 + lapse * climbed_m / base_k) ** (-_K_PER_M / lapse))


def _haze(air: ClearAir, height_m: Floats) -> Floats:
    low = np.exp(-height_m / air.aerosol_scale_height_m)
    low *= air.aerosol_optical_depth / air.aerosol_scale_height_m
    low *= np.where(height_m < air.inversion_top_m, air.inversion_factor, 1.0)
    middle, spread = _DROPLETS_M
    high = np.exp(-0.5 * ((height_m - middle) / spread) ** 2) / (spread * math.sqrt(2.0 * math.pi))
    return np.asarray(low + high * air.stratospheric_optical_depth)


def _ozone(air: ClearAir, height_m: Floats) -> Floats:
    tent = np.maximum(1.0 - np.abs(height_m - 25_000.0) / 15_000.0, 0.0) / 15_000.0
    return np.asarray(tent * air.ozone_du * DOBSON_PER_M2)


def horizon_deg(air: ClearAir, height_m: float) -> float:
    """Where the sea ends the sky as seen from a height, degrees, 0 or less.

    Light that grazes the sea keeps n·r·cos(altitude) (Bouguer), n the refractive index.
    """
    molecules = layers_of(air)[:, 0]
    here = np.interp(height_m, np.arange(molecules.size) * LAYER_M, molecules)
    ratio = (1.0 + REFRACTIVITY * molecules[0]) * EARTH_RADIUS_M
    ratio /= (1.0 + REFRACTIVITY * here) * (EARTH_RADIUS_M + height_m)
    return -math.degrees(math.acos(min(ratio, 1.0)))
