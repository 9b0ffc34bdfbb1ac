"""What speaks against mist in the air of a sounding: dryness, and wind over the cold air.

Each function yields its objections as sentences for a reader, none where there is nothing to say.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

import numpy as np
from scipy import constants

from terrain.air.inversion import Inversion
from terrain.air.physics import NEAR_SATURATION_K, SATURATED_PERCENT
from terrain.air.sounding import Sounding, interpolate

_STIRRING_MS: Final = 5.0 * constants.knot
"""Wind near the ground that hinders the mist of a clear night, m/s: 5 knots (common practice of
aviation weather, no source)."""

_NEAR_GROUND_M: Final = 100.0
"""Height above the ground up to which a wind speaks for the air near it, metres (no source)."""

_TURBULENT: Final = 0.25
_SMOOTH: Final = 1.0
"""Richardson numbers below which smooth air turns turbulent, and up to which turbulent air stays so
(Glossary of Meteorology, American Meteorological Society, critical Richardson number)."""


def dry_under(lid: Inversion, floor_m: float) -> Iterator[str]:
    """Air under a lid, over a valley floor at a height in metres, that is not saturated."""
    if lid.saturated and lid.saturated_to_m < floor_m:
        yield (
            f"the saturated air ends at about {lid.saturated_to_m:.0f} m, below the valley floor "
            f"at {floor_m:.0f} m."
        )
    elif lid.humidity_percent < SATURATED_PERCENT:
        humidity = f"{lid.humidity_percent:.0f} % humidity at most"
        yield must_cool("the air under the lid", humidity, lid.spread_k)


def must_cool(air: str, humidity: str, spread_k: float) -> str:
    """The objection that some air is too dry: which air, its humidity, and how far from mist."""
    how = "not saturated" if spread_k <= NEAR_SATURATION_K else "dry"
    return f"{air} is {how}: {humidity}, so it must cool by {spread_k:.1f} K before mist can form."


def wind_at_ground(sounding: Sounding) -> Iterator[str]:
    """Wind at the lowest level that has one, strong enough to stir the air."""
    level = _lowest_wind(sounding)
    if level is not None and sounding.wind_speed_ms[level] > _STIRRING_MS:
        speed, height_m = float(sounding.wind_speed_ms[level]), sounding.height_m[level]
        yield (
            f"a wind of {_speed(speed)} at {height_m:.0f} m stirs the air near the ground; the "
            f"mist of a clear night wants less than about {_speed(_STIRRING_MS)}."
        )


def tearing_wind(sounding: Sounding, lid: Inversion) -> Iterator[str]:
    """Wind over the pool that the lid is too weak for."""
    number = richardson(sounding, lid)
    if number < _SMOOTH:
        speed = math.hypot(*sounding.wind_at(lid.top_m))
        does = "tears the top of the mist" if number < _TURBULENT else "ruffles the top of the mist"
        yield (
            f"the wind over the pool, {_speed(speed)} at the lid's top, {does}: the Richardson "
            f"number of the lid is {number:.2f}, where less than {_SMOOTH:g} can stay turbulent "
            f"and less than {_TURBULENT:g} becomes so."
        )


def richardson(sounding: Sounding, lid: Inversion) -> float:
    """Bulk Richardson number from a lid's base to its top, NaN where the wind is unknown.

    Buoyancy over shear, g Δθ Δz / (θ ΔU²) (Glossary of Meteorology, American Meteorological
    Society). MetPy has the gradient form alone, which needs three levels and is ruled by the
    rounding of the closest two.
    """
    low, high = sounding.wind_at(lid.base_m), sounding.wind_at(lid.top_m)
    shear2 = (high[0] - low[0]) ** 2 + (high[1] - low[1]) ** 2
    if shear2 == 0.0:
        return math.inf
    ends_m = [lid.base_m, lid.top_m]
    potential_k = interpolate(sounding.height_m, sounding.potential_temperature_k, ends_m).mean()
    return float(constants.g / potential_k * lid.potential_rise_k * lid.depth_m / shear2)


def dry_at_ground(sounding: Sounding) -> Iterator[str]:
    """Air that is not saturated at the lowest level whose humidity is known."""
    for level in np.flatnonzero(~np.isnan(sounding.humidity_percent))[:1]:
        humidity = sounding.humidity_percent[level]
        spread = sounding.temperature_c[level] - sounding.dewpoint_c[level]
        if humidity < SATURATED_PERCENT:
            yield (
                f"the air at {sounding.height_m[level]:.0f} m is not saturated: {humidity:.0f} % "
                f"humidity, so it must cool by {spread:.1f} K before mist can form."
            )


def not_known(sounding: Sounding, lid: Inversion | None) -> Iterator[str]:
    """What could speak against mist and was not measured."""
    humidity = sounding.humidity_percent if lid is None else lid.humidity_percent
    if np.isnan(humidity).all():
        yield "How moist the air is was not measured."
    if _lowest_wind(sounding) is None:
        yield "The wind near the ground was not measured."
    if lid is not None and math.isnan(richardson(sounding, lid)):
        yield "The wind over the pool was not measured; a strong one mixes mist away."


def _speed(speed_ms: float) -> str:
    return f"{speed_ms:.1f} m/s ({speed_ms / constants.knot:.0f} kt)"


def _lowest_wind(sounding: Sounding) -> int | None:
    is_near = sounding.height_m <= sounding.ground_m + _NEAR_GROUND_M
    known = np.flatnonzero(is_near & ~np.isnan(sounding.wind_speed_ms))
    return int(known[0]) if len(known) else None
