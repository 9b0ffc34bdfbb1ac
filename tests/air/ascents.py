"""Invented ascents for tests, on any machine."""

from __future__ import annotations

import numpy as np

from terrain.air.sounding import Sounding

NAN = float("nan")


def ascent(levels, **more) -> Sounding:
    """A sounding of (height m, temperature C, dew point C, wind m/s) with a westerly wind.

    The pressure falls by a hundredth for every 85 m from 1013.25 hPa at sea level.
    """
    height, temperature, dew_point, wind = np.array(levels, dtype=float).T
    return Sounding(
        pressure_hpa=1013.25 * 0.99 ** (height / 85.0),
        height_m=height,
        temperature_c=temperature,
        dewpoint_c=dew_point,
        wind_speed_ms=wind,
        wind_from_deg=np.full(height.shape, 270.0),
        **more,
    )


def clear_night(wind_ms: float = 1.0) -> Sounding:
    """Saturated up to 195 m or so; a lid of 6 K on the ground, from 150 to 300 m."""
    return ascent(
        [
            (150.0, 2.0, 2.0, 0.0),
            (180.0, 4.0, 3.8, 0.5),
            (300.0, 8.0, 2.0, wind_ms),
            (800.0, 5.5, -3.0, 2.0),
            (1600.0, 0.5, -8.0, 4.0),
        ]
    )


def lid_aloft() -> Sounding:
    """Mixed air that is saturated at 600 m, under a lid of 4 K from there to 750 m."""
    return ascent(
        [
            (100.0, 8.0, 5.0, 1.0),
            (600.0, 3.2, 3.1, 2.0),
            (750.0, 7.2, -2.0, 3.0),
            (1500.0, 3.0, -9.0, 5.0),
        ]
    )


def mixed() -> Sounding:
    """Air that cools by 8 K/km all the way up, in a breeze."""
    return ascent([(m, 12.0 - 0.008 * m, 2.0 - 0.008 * m, 6.0) for m in range(50, 2550, 250)])
