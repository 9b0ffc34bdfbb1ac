"""How cold a morning feels at the spot: lapse with height, and wind chill."""

from __future__ import annotations

from dataclasses import dataclass

from terrain.errors import TerrainError

__all__ = ["Air", "Cold", "cold_at", "wind_chill_c"]

STANDARD_LAPSE_K_PER_M = 0.0065
"""Fall of temperature with height in the standard atmosphere (ISO 2533), kelvin a metre."""


@dataclass(frozen=True, kw_only=True)
class Air:
    """The air that a forecast gives: temperature and wind at a height above the sea.

    Parameters
    ----------
    temperature_c : float
        Degrees Celsius.
    wind_kmh : float, optional
        At ten metres over open ground, km/h.
    at_height_m : float, optional
        Where they hold, metres above the sea.
    lapse_k_per_m : float, optional
        Fall of temperature with height, K a metre; negative under an inversion.

    Raises
    ------
    TerrainError
        For a temperature that is not one of the air, and for a wind that is not one to be out in.

    Examples
    --------
    >>> import terrain
    >>> terrain.Air(temperature_c=-4.0, wind_kmh=20.0, at_height_m=600.0).wind_kmh
    20.0
    """

    temperature_c: float
    wind_kmh: float = 0.0
    at_height_m: float = 0.0
    lapse_k_per_m: float = STANDARD_LAPSE_K_PER_M

    def __post_init__(self) -> None:
        if not -80.0 <= self.temperature_c <= 60.0:
            raise TerrainError(f"a temperature of {self.temperature_c} °C is not one of the air")
        if not 0.0 <= self.wind_kmh <= 400.0:
            raise TerrainError(f"a wind of {self.wind_kmh} km/h is not one to be out in")


@dataclass(frozen=True, kw_only=True)
class Cold:
    """Air temperature at the spot and how cold it feels in the wind, degrees Celsius."""

    temperature_c: float
    wind_kmh: float
    feels_c: float


def cold_at(air: Air, height_m: float) -> Cold:
    """The cold at a height (metres above the sea) in the air a forecast gives for another."""
    temperature = air.temperature_c - air.lapse_k_per_m * (height_m - air.at_height_m)
    return Cold(
        temperature_c=temperature,
        wind_kmh=air.wind_kmh,
        feels_c=wind_chill_c(temperature, air.wind_kmh),
    )


def wind_chill_c(temperature_c: float, wind_kmh: float) -> float:
    """Wind chill, degrees Celsius; the air's own temperature above 10 °C or below 4.8 km/h of wind.

    Source: the index of the Meteorological Service of Canada and the US National Weather Service
    (2001), wind in km/h at ten metres, by MetPy.

    >>> round(wind_chill_c(-10.0, 30.0), 1)
    -19.5
    """
    if temperature_c > 10.0 or wind_kmh < 4.8:
        return temperature_c
    # it takes seconds to import, and few plans are told a wind
    from metpy.calc import windchill
    from metpy.units import units

    air, wind = units.Quantity(temperature_c, "degC"), units.Quantity(wind_kmh, "km/h")
    return float(windchill(air, wind, mask_undefined=False).m_as("degC"))
