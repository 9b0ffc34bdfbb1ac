"""Inversions: layers in which the air warms with height, the lids under which mist lies.

The temperature of a sounding against height, and what is measured of a lid::

    height                 .
      ^                   .          above: cooling with height again
      |                  .
      |   top_m ------- o
      |               .'|            depth_m = top_m - base_m
      |            .'   |            strength_k = warmth gained on the way up
      |   base_m  o----- strength_k
      |            '.                below: air that cools with height, or nothing where
      |              '.              the lid lies on the ground
      +-------------------------> temperature
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import ndimage

from terrain.air.physics import SATURATED_PERCENT
from terrain.air.sounding import Sounding
from terrain.arrays import Floats
from terrain.errors import TerrainError

LEAST_STRENGTH_K: Final = 1.0
"""Strength from which an inversion counts, K: a sonde's temperature is good to 0.5 K (Advances in
Meteorology 2011, 486807, table 1, of a sonde on a tether), a difference of two to 0.7 K."""

_EMBEDDED_M: Final = 100.0
"""Layers that cool with height are part of the inversion about them if thinner than this, metres
(no source)."""


@dataclass(frozen=True, kw_only=True)
class Inversion:
    """One layer of air that warms with height, as a row of `inversions`.

    base_m, top_m, depth_m: metres above sea level, and from one to the other.
    strength_k: how much warmer its top is than its base, K. lapse_k_per_km: fall of temperature
        with height, K/km, below zero in every inversion.
    base_temperature_c, top_temperature_c: at base and top, °C.
    on_ground: whether its base is the ground.
    humidity_percent: the highest relative humidity from the lid below it, or the ground, up to
        its base, %; NaN where it is not known. spread_k: temperature less dew point there, K.
    saturated: whether the air at the ground or under the base is saturated.
    saturated_to_m: height up to which the air is saturated without a break from there, metres,
        at most the top; NaN where it is nowhere saturated.
    potential_rise_k: gain of potential temperature from base to top, K: by how much the air at
        the base must be warmed before it can mix through.
    """

    base_m: float
    top_m: float
    depth_m: float
    strength_k: float
    lapse_k_per_km: float
    base_temperature_c: float
    top_temperature_c: float
    on_ground: bool
    humidity_percent: float
    spread_k: float
    saturated: bool
    saturated_to_m: float
    potential_rise_k: float


def inversions(
    sounding: Sounding, *, least_k: float = LEAST_STRENGTH_K, within_m: float = 3000.0
) -> pd.DataFrame:
    """The inversions of a sounding, lowest first.

    Parameters
    ----------
    sounding : Sounding
        The air.
    least_k : float, optional
        Weaker ones are left out, K.
    within_m : float, optional
        So are those whose base lies higher than this above the ground, metres.

    Returns
    -------
    pandas.DataFrame
        One row an inversion: `base_m`, `top_m`, `depth_m`, `strength_k`, `lapse_k_per_km` (below
        zero), `base_temperature_c`, `top_temperature_c`, `on_ground`, `humidity_percent`,
        `spread_k`, `saturated`, `saturated_to_m` and `potential_rise_k`. No rows where there is
        none.

    Raises
    ------
    TerrainError
        Where a limit is not a number of 0 or more.

    References
    ----------
    An inversion is a layer in which temperature rises with height (Glossary of Meteorology,
    American Meteorological Society); a thinner layer than 100 m that cools is part of it if the
    air above goes on to be warmer than before.

    Examples
    --------
    >>> night = Sounding(
    ...     pressure_hpa=np.array([1000, 990, 960]), height_m=np.array([110, 195, 450]),
    ...     temperature_c=np.array([2.0, 5.0, 4.0]), dewpoint_c=np.array([2.0, 1.0, -3.0]),
    ... )
    >>> inversions(night)[["base_m", "top_m", "strength_k", "saturated"]].values.tolist()
    [[110.0, 195.0, 3.0, True]]
    """
    layers = find_inversions(sounding, least_k=least_k, within_m=within_m)
    kinds = {part.name: part.type for part in fields(Inversion)}
    return pd.DataFrame([vars(layer) for layer in layers], columns=list(kinds)).astype(kinds)


def find_inversions(
    sounding: Sounding, *, least_k: float = LEAST_STRENGTH_K, within_m: float = 3000.0
) -> list[Inversion]:
    """The inversions of a sounding, lowest first; arguments and errors as in `inversions`."""
    for name, value in (("strength", least_k), ("height above the ground", within_m)):
        if not value >= 0.0:
            raise TerrainError(f"the limit of {name} must be 0 or more, got {value:g}")
    known = np.flatnonzero(~np.isnan(sounding.temperature_c))
    height, temperature = sounding.height_m[known], sounding.temperature_c[known]
    layers: list[Inversion] = []
    floor_m = sounding.ground_m
    for base, top in _warming(height, temperature):
        if temperature[top] - temperature[base] < least_k - _ROUNDING_K:
            continue
        if height[base] > sounding.ground_m + within_m:
            break
        layers.append(_layer(sounding, int(known[base]), int(known[top]), floor_m))
        floor_m = float(height[top])
    return layers


# readings have one decimal, and 4.1 - 3.1 is less than 1 in binary
_ROUNDING_K: Final = 1e-6


def _warming(height_m: Floats, temperature_c: Floats) -> list[tuple[int, int]]:
    """First and last level of each layer that warms with height, thin breaks bridged."""
    spans: list[tuple[int, int]] = []
    number, _ = ndimage.label(np.diff(temperature_c) > 0.0)
    for (run,) in ndimage.find_objects(number):
        if spans and _goes_on(height_m, temperature_c, spans[-1], (run.start, run.stop)):
            spans[-1] = (spans[-1][0], run.stop)
        else:
            spans.append((run.start, run.stop))
    return spans


def _goes_on(
    height_m: Floats, temperature_c: Floats, lower: tuple[int, int], upper: tuple[int, int]
) -> bool:
    is_thin = height_m[upper[0]] - height_m[lower[1]] < _EMBEDDED_M
    ends_warmer = temperature_c[upper[1]] > temperature_c[lower[1]]
    starts_warmer = temperature_c[upper[0]] >= temperature_c[lower[0]]
    return bool(is_thin and ends_warmer and starts_warmer)


def _layer(sounding: Sounding, base: int, top: int, floor_m: float) -> Inversion:
    """The inversion between two levels, over air that begins at `floor_m`."""
    height, humidity = sounding.height_m, sounding.humidity_percent
    under = np.flatnonzero((height >= floor_m) & (height <= height[base]) & ~np.isnan(humidity))
    wettest = under[np.argmax(humidity[under])] if len(under) else None
    wettest_percent = np.nan if wettest is None else float(humidity[wettest])
    spread = sounding.temperature_c - sounding.dewpoint_c
    potential = sounding.potential_temperature_k
    base_m, top_m = float(height[base]), float(height[top])
    base_c, top_c = float(sounding.temperature_c[base]), float(sounding.temperature_c[top])
    return Inversion(
        base_m=base_m,
        top_m=top_m,
        depth_m=top_m - base_m,
        strength_k=top_c - base_c,
        lapse_k_per_km=-1000.0 * (top_c - base_c) / (top_m - base_m),
        base_temperature_c=base_c,
        top_temperature_c=top_c,
        on_ground=bool(height[base] == sounding.ground_m),
        humidity_percent=wettest_percent,
        spread_k=np.nan if wettest is None else max(float(spread[wettest]), 0.0),
        saturated=wettest_percent >= SATURATED_PERCENT,
        saturated_to_m=_saturated_to(height, humidity, under, top_m),
        potential_rise_k=float(potential[top] - potential[base]),
    )


def _saturated_to(
    height_m: Floats, humidity: Floats, under: NDArray[np.intp], top_m: float
) -> float:
    """Where the humidity first falls below saturation above the highest saturated level."""
    wet = under[humidity[under] >= SATURATED_PERCENT]
    if not len(wet):
        return np.nan
    # the levels above with a known humidity, the wet one first
    above = np.arange(wet[-1], len(height_m))
    above = above[~np.isnan(humidity[above])]
    dry = np.flatnonzero(humidity[above] < SATURATED_PERCENT)
    if not len(dry):
        return min(float(height_m[above[-1]]), top_m)
    last_wet, first_dry = above[dry[0] - 1], above[dry[0]]
    share = (humidity[last_wet] - SATURATED_PERCENT) / (humidity[last_wet] - humidity[first_dry])
    crossing_m = height_m[last_wet] + share * (height_m[first_dry] - height_m[last_wet])
    return min(float(crossing_m), top_m)
