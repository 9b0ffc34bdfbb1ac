"""The nearest miss of a search that finds nothing, and what would have to be asked for it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any, Final

import numpy as np
import pandas as pd

from terrain.arrays import Flags, Floats, Singles
from terrain.country import Country
from terrain.errors import NoAnswer
from terrain.ground.places import Hill
from terrain.vantage.limits import Limits
from terrain.view.scene import Scene, lower_top_m

NEAR_DEG: Final = 3.0
"""A sun that passes farther off makes another picture: another day is asked for (no source)."""

_SOME, _MOST = 0.5, 0.8
"""Shares of places: as many are let in, for the nearest miss alone seldom has all the rest."""

_OF_A_YEAR: Final[Mapping[str, Any]] = {"day": None, "year": "next"}


def none_near(
    scene: Scene, limits: Limits, passed: Sequence[pd.DataFrame], when: str, *, one_day: bool
) -> NoAnswer:
    """That the sun passes the summit from no place. passed: cells with `best_deg`, by days."""
    closest = min((each["best_deg"].min() for each in passed), default=math.nan)
    said = f"the closest misses by {closest:.1f} degrees"
    if math.isnan(closest):
        said = "it never stands as high as the summit"
    return NoAnswer(
        f"no place that sees {scene.hill.label} has the low sun within {limits.tolerance_deg} "
        f"degrees of it {when}: {said}; try another date or another hill",
        loosen=wider(closest, one_day=one_day),
    )


def wider(closest_deg: float, *, one_day: bool = False) -> list[Mapping[str, Any]]:
    """What is asked for a sun that misses by so much, on one day that was asked for or on many."""
    of_a_year = [_OF_A_YEAR] if one_day else []
    if math.isnan(closest_deg) or closest_deg > NEAR_DEG:
        return of_a_year
    return [{"tolerance_deg": math.ceil(10.0 * closest_deg + 1.0) / 10.0}, *of_a_year]


def none_sees(
    hill: Hill, limits: Limits, distance_m: Singles | Floats, sees: Flags, fit: Flags
) -> NoAnswer:
    """That no place at a fit distance sees the summit.

    sees: which do, however far off; fit: which are fit to stand on.
    """
    low_m, high_m = limits.min_distance_m, limits.max_distance_m
    said = f"no place between {low_m:.0f} and {high_m:.0f} m from {hill.label} sees its summit"
    others_m = distance_m[sees & fit] if (sees & fit).any() else distance_m[sees]
    beyond, before = others_m[others_m > high_m], others_m[(others_m < low_m) & (others_m > 0.0)]
    if beyond.size:
        far_km = math.ceil(float(np.quantile(beyond, _SOME)) / 1000.0)
        return NoAnswer(
            f"{said}; the nearest beyond does from {beyond.min():.0f} m",
            loosen=[{"max_distance_m": 1000.0 * far_km}],
        )
    if before.size:
        near_m = 100.0 * math.floor(float(np.quantile(before, 1.0 - _SOME)) / 100.0)
        return NoAnswer(
            f"{said}; one nearer does from {before.max():.0f} m",
            loosen=[{"min_distance_m": near_m}],
        )
    return NoAnswer(said)


def none_above(hill: Hill, limits: Limits, country: Country, sees: Flags) -> NoAnswer:
    """That no place that sees the summit stands high enough over the mist."""
    freeboard_m, least_m = country.freeboard_m[sees], limits.freeboard_m
    highest_m = float(freeboard_m.max())
    out_m = freeboard_m[freeboard_m >= min(highest_m, 1.0)]
    high_m = float(np.quantile(out_m, 1.0 - _SOME))
    said = f"no place that sees {hill.label} stands {least_m:.0f} m above the mist"
    lower = less_mist(country, freeboard_m, least_m)
    if highest_m < 1.0:
        return NoAnswer(
            f"{said}: the highest lies {-highest_m:.0f} m under it; try a lower mist", loosen=lower
        )
    return NoAnswer(
        f"{said}: the highest stands {highest_m:.0f} m over it; try a lower mist, or less "
        "freeboard",
        loosen=[{"freeboard_m": float(math.floor(high_m))}, *lower],
    )


def less_mist(
    country: Country, freeboard_m: Singles | Floats, least_m: float
) -> list[Mapping[str, Any]]:
    """What is asked for a mist that some places stand so high above. freeboard_m: theirs, (n,)."""
    if country.mist is None:
        return []
    if np.ptp(country.mist.range_m) > 0.0:
        # less depth lowers its top by less than that where floors slope
        return [{"mist_lower_by_m": math.ceil(2.0 * (least_m - float(freeboard_m.max())))}]
    most_m = float(np.quantile(freeboard_m, _MOST))
    lower_m = 5.0 * math.floor((country.mist.stated_top_m + most_m - least_m) / 5.0)
    return [{"mist_top_m": lower_m}] if lower_m > np.nanmin(country.dem.heights_m) else []


def under_mist(hill: Hill, top_m: float) -> NoAnswer:
    """That the summit is under mist, whose top is at least so high."""
    return NoAnswer(
        f"{hill.label} ({hill.height_m:.0f} m) lies under a mist with its top at {top_m:.0f} m or "
        "more: choose a higher hill or a lower mist",
        loosen=[{"mist_top_m": lower_top_m(hill)}],
    )


def all_steep(hill: Hill, limits: Limits, slope_deg: Singles | Floats) -> NoAnswer:
    """That all places above the mist that see the summit are steep."""
    least = float(np.nanmin(slope_deg))
    return NoAnswer(
        f"every place that sees {hill.label} is steeper than {limits.max_slope_deg:.0f} "
        f"degrees, the most level {least:.0f}: allow more, with care",
        loosen=[{"max_slope_deg": math.ceil(least + 0.5)}],
    )
