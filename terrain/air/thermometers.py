"""Heights to try for the top of a mist, from a thermometer in the valley and one on a hill.

Two readings say whether there is a lid between them, not at what height::

    hill      o        o     warmer than the valley: a lid between them, low or high
             /        /
            /    or   |      if the hill is inside the lid, its top is higher still
           |         /
    valley o        o
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final, NamedTuple

from terrain.air.inversion import LEAST_STRENGTH_K
from terrain.air.objections import must_cool
from terrain.air.physics import (
    DRY_ADIABATIC_K_PER_KM,
    SATURATED_PERCENT,
    STANDARD_LAPSE_K_PER_KM,
    dewpoint_c,
)
from terrain.air.suggestion import NOT_A_FORECAST, MistSuggestion
from terrain.errors import TerrainError

_HIDDEN_K: Final = 2.0
"""Cold of the valley against the standard atmosphere that may hide a lid, K (no source: twice
what two thermometers can differ by and be right)."""

_LEAST_RISE_M: Final = 20.0


class Reading(NamedTuple):
    """What was read at one place.

    height_m: metres above sea level. temperature_c: °C, in the shade. humidity_percent: relative
    humidity, %, NaN where it was not read.
    """

    height_m: float
    temperature_c: float
    humidity_percent: float = math.nan


def suggest_from_two_thermometers(
    valley: tuple[float, float] | tuple[float, float, float], hill: tuple[float, float]
) -> MistSuggestion:
    """Heights to try for the top of a mist, from readings in the valley and on a hill.

    A range is given, from the valley to the hill, where the hill is warmer by 1 K or more, or
    the valley colder by 2 K or more than the standard atmosphere has it under the hill.

    Parameters
    ----------
    valley : tuple of float
        Height of the thermometer in metres above sea level, temperature in degrees Celsius, and
        relative humidity in % if it was read.
    hill : tuple of float
        Height and temperature, read at about the same time.

    Returns
    -------
    MistSuggestion
        The range, what it rests on, and what speaks against mist.

    Raises
    ------
    TerrainError
        Where the hill is not higher than the valley by 20 m, or a reading is not one of this air.

    Examples
    --------
    >>> print(suggest_from_two_thermometers((210, 2.5, 98), (540, 6.0)).headline)
    Heights to try for the top of a mist: 210 to 540 m.
    >>> print(suggest_from_two_thermometers((210, 9.0), (540, 6.8)).headline)
    No height to try for the top of a mist.
    """
    low, high = _checked("valley", Reading(*valley)), _checked("hill", Reading(*hill))
    rise_m = high.height_m - low.height_m
    if rise_m < _LEAST_RISE_M:
        raise TerrainError(
            f"the hill's thermometer, at {high.height_m:g} m, must be at least {_LEAST_RISE_M:g} m "
            f"higher than the valley's, at {low.height_m:g} m"
        )
    warmer_k = high.temperature_c - low.temperature_c
    missing_k = warmer_k + STANDARD_LAPSE_K_PER_KM * rise_m / 1000.0
    is_lid, may_hide = warmer_k >= LEAST_STRENGTH_K, missing_k >= _HIDDEN_K
    return MistSuggestion(
        range_m=(low.height_m, high.height_m) if is_lid or may_hide else None,
        reasons=tuple(_reasons(low, high, missing_k, is_lid, may_hide)),
        against=tuple(_against(low, high, is_lid, may_hide)),
        cautions=tuple(_cautions(low)),
    )


def _checked(where: str, reading: Reading) -> Reading:
    limits = (
        ("height", reading.height_m, -500.0, 9000.0, "m"),
        ("temperature", reading.temperature_c, -80.0, 60.0, "°C"),
    )
    for what, value, lowest, highest, unit in limits:
        if not lowest <= value <= highest:
            raise TerrainError(
                f"the {what} in the reading of the {where} must be {lowest:g} to {highest:g} "
                f"{unit}, got {value:g}: give height in metres, then temperature in °C"
            )
    humidity = reading.humidity_percent
    if not (math.isnan(humidity) or 0.0 < humidity <= 100.0):
        raise TerrainError(
            f"the humidity in the reading of the {where} must be more than 0 and at most 100 %, "
            f"got {humidity:g}"
        )
    return reading


def _reasons(
    low: Reading, high: Reading, missing_k: float, is_lid: bool, may_hide: bool
) -> Iterator[str]:
    warmer_k, rise_m = high.temperature_c - low.temperature_c, high.height_m - low.height_m
    yield (
        f"The valley at {low.height_m:.0f} m has {low.temperature_c:.1f} °C, the hill "
        f"{rise_m:.0f} m above it {high.temperature_c:.1f} °C; the standard atmosphere would have "
        f"the hill {STANDARD_LAPSE_K_PER_KM * rise_m / 1000.0:.1f} K colder."
    )
    if is_lid:
        yield (
            f"The hill is {warmer_k:.1f} K warmer: between the two lies an inversion, and mist in "
            "the valley would end in it."
        )
    elif may_hide:
        yield (
            f"The valley is {missing_k:.1f} K colder than the standard atmosphere has it under "
            "that hill: a thin lid may be hidden low down; begin with the lower heights."
        )
    if low.humidity_percent >= SATURATED_PERCENT:
        yield f"The air in the valley is saturated ({low.humidity_percent:.0f} % humidity)."


def _against(low: Reading, high: Reading, is_lid: bool, may_hide: bool) -> Iterator[str]:
    lapse = 1000.0 * (low.temperature_c - high.temperature_c) / (high.height_m - low.height_m)
    if may_hide and not is_lid:
        yield "the hill is not warmer than the valley by 1 K or more: no lid is certain."
    elif not is_lid and lapse > DRY_ADIABATIC_K_PER_KM:
        yield (
            f"temperature falls by {lapse:.1f} K/km, faster than in stirred dry air "
            f"({DRY_ADIABATIC_K_PER_KM:g}): the air is mixed, or the sun shines on the valley's "
            "thermometer."
        )
    elif not is_lid:
        yield (
            f"temperature falls by {lapse:.1f} K/km, with no inversion to hold cold air down "
            f"(standard atmosphere {STANDARD_LAPSE_K_PER_KM:g}, stirred dry air "
            f"{DRY_ADIABATIC_K_PER_KM:g})."
        )
    if low.humidity_percent < SATURATED_PERCENT:
        spread_k = low.temperature_c - float(dewpoint_c(low.temperature_c, low.humidity_percent))
        humidity = f"{low.humidity_percent:.0f} % humidity"
        yield must_cool("the air in the valley", humidity, spread_k)


def _cautions(low: Reading) -> Iterator[str]:
    yield NOT_A_FORECAST
    yield (
        "Two thermometers do not see the air between them, nor the wind; where the hill is still "
        "inside the lid, the mist's top may be higher than the hill."
    )
    if math.isnan(low.humidity_percent):
        yield "How moist the air in the valley is was not read."
