"""What a thermometer, a hygrometer and a barometer say of the air, in plain numbers.

MetPy does the physics; it takes over a second to load, so that is done when first needed.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "DRY_ADIABATIC_K_PER_KM",
    "NEAR_SATURATION_K",
    "SATURATED_PERCENT",
    "STANDARD_LAPSE_K_PER_KM",
    "condensation_pressure_hpa",
    "dewpoint_c",
    "humidity_percent",
    "potential_temperature_k",
]

Floats = NDArray[np.float64]

STANDARD_LAPSE_K_PER_KM: Final = 6.5
"""Fall of temperature with height in the standard atmosphere, K/km (ICAO Doc 7488; ISO 2533)."""

DRY_ADIABATIC_K_PER_KM: Final = 9.8
"""Fall of temperature with height in stirred air without cloud, K/km (gravity over the specific
heat of dry air; Glossary of Meteorology, American Meteorological Society)."""

SATURATED_PERCENT: Final = 95.0
"""Relative humidity, %, from which air is taken as saturated: what a radiosonde measures in cloud
is uncertain by about 5 % (WMO-No. 8, Guide to Instruments, upper-air chapter; from memory)."""

NEAR_SATURATION_K: Final = 3.0
"""Temperature less dew point, K, under which fog is looked out for (5 °F, the rule of FAA
aviation weather handbooks, in the round figure they give for it)."""


def humidity_percent(temperature_c: ArrayLike, dew_point_c: ArrayLike) -> Floats:
    """Relative humidity over water, %, at most 100; any shapes that broadcast, NaN stays NaN.

    >>> round(float(humidity_percent(24.0, 8.0)))
    36
    """
    calc, quantity = _metpy()
    share = calc.relative_humidity_from_dewpoint(
        quantity(_floats(temperature_c), "degC"), quantity(_floats(dew_point_c), "degC")
    )
    return np.minimum(_floats(share.to("percent").magnitude), 100.0)


def dewpoint_c(temperature_c: ArrayLike, relative_humidity_percent: ArrayLike) -> Floats:
    """Dew point over water, °C, the inverse of `humidity_percent`; NaN where the humidity is 0.

    >>> round(float(dewpoint_c(10.6, 37.0)), 1)
    -3.5
    """
    calc, quantity = _metpy()
    humidity = _floats(relative_humidity_percent)
    dew_point = calc.dewpoint_from_relative_humidity(
        quantity(_floats(temperature_c), "degC"),
        quantity(np.where(humidity > 0.0, humidity, np.nan), "percent"),
    )
    return _floats(dew_point.to("degC").magnitude)


def potential_temperature_k(pressure_hpa: ArrayLike, temperature_c: ArrayLike) -> Floats:
    """Temperature of air brought to 1000 hPa without mixing, K; any shapes that broadcast.

    >>> round(float(potential_temperature_k(850.0, 2.0)))
    288
    """
    calc, quantity = _metpy()
    potential = calc.potential_temperature(
        quantity(_floats(pressure_hpa), "hPa"), quantity(_floats(temperature_c), "degC")
    )
    return _floats(potential.to("kelvin").magnitude)


def condensation_pressure_hpa(
    pressure_hpa: float, temperature_c: float, dew_point_c: float
) -> float:
    """Pressure at which lifted air first forms cloud (its lifting condensation level), hPa.

    >>> round(condensation_pressure_hpa(1000.0, 25.0, 20.0), -1)
    930.0
    """
    calc, quantity = _metpy()
    # a dew point above the temperature is a reading's error: such air is saturated where it is
    level, _ = calc.lcl(
        quantity(pressure_hpa, "hPa"),
        quantity(temperature_c, "degC"),
        quantity(min(dew_point_c, temperature_c), "degC"),
    )
    return float(level.to("hPa").magnitude)


def _floats(values: ArrayLike) -> Floats:
    return np.asarray(values, dtype=np.float64)


def _metpy() -> tuple[Any, Any]:
    import metpy.calc as calc  # type: ignore[import-untyped]
    from metpy.units import units  # type: ignore[import-untyped]

    return calc, units.Quantity
