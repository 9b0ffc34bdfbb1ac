"""A slow twin for refraction: rays followed through a standard atmosphere, step by step.

A ray at height h above a round earth, at an angle a above the local level, after a path ds:

    dh = sin a ds        da = cos a (1/(radius + h) + n'/n) ds        bending = -cos a n'/n ds

so that nothing is singular where the ray runs level, and one that starts downwards passes its
lowest point by itself. The air is dry, in hydrostatic balance, 288.15 K and 1013.25 hPa at the
sea, 6.5 K/km cooler upwards to 11 km and of one temperature above (U.S. Standard Atmosphere 1976,
without its warmer layers above 20 km). Refractivity 2.7726e-4 at 288.15 K and 1013.25 hPa for
yellow light (589 nm; Edlen 1966).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

RADIUS_M = 6_371_000.0
GAS_M_PER_K = 8.31432 / (9.80665 * 0.0289644)
LAPSE_K_PER_M = 0.0065
TROPOPAUSE_M = 11_000.0
TOP_M = 90_000.0

Floats = NDArray[np.float64]


def air(height_m: Floats) -> tuple[Floats, Floats, Floats]:
    """Temperature (K), pressure (hPa) and the gradient of temperature (K/m) at a height."""
    low = np.minimum(height_m, TROPOPAUSE_M)
    temperature = 288.15 - LAPSE_K_PER_M * low
    pressure = 1013.25 * (temperature / 288.15) ** (1.0 / (LAPSE_K_PER_M * GAS_M_PER_K))
    pressure = pressure * np.exp((low - height_m) / (GAS_M_PER_K * temperature))
    return temperature, pressure, np.where(height_m < TROPOPAUSE_M, -LAPSE_K_PER_M, 0.0)


def refractive_index(height_m: Floats) -> tuple[Floats, Floats]:
    """Refractive index and its gradient per metre."""
    temperature, pressure, lapse = air(height_m)
    excess = 2.7726e-4 * pressure / 1013.25 * 288.15 / temperature
    # d ln(P/T)/dh, with hydrostatic dP/P = -dh / (gas T)
    gradient = -excess * (1.0 / (GAS_M_PER_K * temperature) + lapse / temperature)
    return 1.0 + excess, gradient


def traced_refraction_deg(apparent_altitude_deg: Floats, height_m: float) -> Floats:
    """Bending of rays seen at some altitudes from a height; NaN where the ray meets the earth."""
    count = len(apparent_altitude_deg)

    def slopes(_: float, state: Floats) -> Floats:
        height, angle, _bend, _low = state.reshape(4, count)
        index, gradient = refractive_index(height)
        turn = np.cos(angle) * gradient / index
        still = height < TOP_M
        rates = (np.sin(angle), np.cos(angle) / (RADIUS_M + height) + turn, -turn, 0.0 * height)
        return np.concatenate([still * rate for rate in rates])

    start = np.concatenate(
        [np.full(count, height_m), np.radians(apparent_altitude_deg), np.zeros(2 * count)]
    )
    far_m = 3.0e6
    ray = solve_ivp(
        slopes, (0.0, far_m), start, method="DOP853", rtol=1e-9, atol=1e-12, max_step=2e4
    )
    heights, bends = ray.y[:count], ray.y[2 * count : 3 * count]
    return np.where(heights.min(axis=1) > -1e-3, np.degrees(bends[:, -1]), np.nan)
