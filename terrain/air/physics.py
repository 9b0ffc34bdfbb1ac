"""What a thermometer, a hygrometer and a barometer say of the air, in plain numbers.

MetPy does the physics; it takes over a second to load, so that is done when first needed.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

STANDARD_LAPSE_K_PER_KM: Final = 6.5
"""Fall of temperature with height in the standard atmosphere, K/km (ICAO Doc 7488; ISO 2533)."""

DRY_ADIABATIC_K_PER_KM: Final = 9.8
"""Fall of temperature with height in stirred air without cloud, K/km (gravity over the specific
heat of dry air; Glossary of Meteorology, American Meteorological Society)."""

SATURATED_PERCENT: Final = 95.0
"""Relative humidity, %, from which air is taken as saturated: what a sonde measures in cloud is
good to 5 % (Advances in Meteorology 2011, 486807, table 1, of a sonde on a tether)."""

NEAR_SATURATION_K: Final = 3.0
"""Temperature less dew point, K, under which fog is looked out for (5 °F: US Federal Aviation
Administration, AC 00-6A Aviation Weather, chapter 5), in round figures."""


def humidity_percent(temperature_c: ArrayLike, dew_point_c: ArrayLike) -> Floats:
    """Relative humidity over water, %, at most 100; any shapes that broadcast, NaN stays NaN.

    >>> round(float(humidity_percent(24.0, 8.0)))
    36
    """
    calc, units = _metpy()
    share = calc.relative_humidity_from_dewpoint(
        units(temperature_c, "degC"), units(dew_point_c, "degC")
    )
    return np.minimum(_in("percent", share), 100.0)


def dewpoint_c(temperature_c: ArrayLike, relative_humidity_percent: ArrayLike) -> Floats:
    """Dew point over water, °C, the inverse of `humidity_percent`; NaN where the humidity is 0.

    >>> round(float(dewpoint_c(10.6, 37.0)), 1)
    -3.5
    """
    calc, units = _metpy()
    humidity = np.asarray(relative_humidity_percent, dtype=np.float64)
    known = np.where(humidity > 0.0, humidity, np.nan)
    temperature = units(temperature_c, "degC")
    return _in("degC", calc.dewpoint_from_relative_humidity(temperature, units(known, "percent")))


def potential_temperature_k(pressure_hpa: ArrayLike, temperature_c: ArrayLike) -> Floats:
    """Temperature of air brought to 1000 hPa without mixing, K; any shapes that broadcast.

    >>> round(float(potential_temperature_k(850.0, 2.0)))
    288
    """
    calc, units = _metpy()
    pressure, temperature = units(pressure_hpa, "hPa"), units(temperature_c, "degC")
    return _in("kelvin", calc.potential_temperature(pressure, temperature))


def condensation_pressure_hpa(
    pressure_hpa: float, temperature_c: float, dew_point_c: float
) -> float:
    """Pressure at which lifted air first forms cloud (its lifting condensation level), hPa.

    >>> round(condensation_pressure_hpa(1000.0, 25.0, 20.0), -1)
    930.0
    """
    calc, units = _metpy()
    # a dew point above the temperature is a reading's error: such air is saturated where it is
    dew_point = units(min(dew_point_c, temperature_c), "degC")
    level, _ = calc.lcl(units(pressure_hpa, "hPa"), units(temperature_c, "degC"), dew_point)
    return float(_in("hPa", level))


def _metpy() -> tuple[Any, Callable[[ArrayLike, str], Any]]:
    """MetPy's calculations, and what puts a unit to numbers."""
    import metpy.calc as calc
    from metpy.units import units

    return calc, lambda values, unit: units.Quantity(np.asarray(values, dtype=np.float64), unit)


def _in(unit: str, quantity: Any) -> Floats:
    return np.asarray(quantity.to(unit).magnitude, dtype=np.float64)
