"""Why no hill of all ground has the low sun behind it on a day, and what to ask for the nearest."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable
from dataclasses import replace
from typing import Final

import numpy as np
import pandas as pd

from terrain.country import Country
from terrain.errors import NoAnswer
from terrain.vantage.candidates import fit_to_stand
from terrain.vantage.limits import Limits
from terrain.vantage.miss import NEAR_DEG, less_mist, wider
from terrain.view.backlight import Backlight

_HIGH: Final = 0.98
"""Of the ground: about so much of it is not where one stands for a hill (no source)."""

_TIMES_AS_FAR: Final = 3.0
_LOOKED_AT: Final = 12
_LESS: Final = (0.5, 0.2)
"""Of the share of mist that is asked for: what is tried where that is shown nowhere."""

Promised = Callable[[Limits], pd.DataFrame]
"""From limits to the cells that promise a pair, by quick values, as `cells_in_sectors`."""


def none_promised(country: Country, limits: Limits, day: dt.date, promised: Promised) -> NoAnswer:
    """That no place promises a pair, for want of ground above the mist, of a near sun or of reach.

    promised: the cells that would with other limits.
    """
    fit = fit_to_stand(country, limits)
    if country.mist is not None and not fit.any():
        freeboard_m = country.freeboard_m[~np.isnan(country.freeboard_m)]
        high_m = freeboard_m[freeboard_m >= np.quantile(freeboard_m, _HIGH)]
        return NoAnswer(
            f"no ground that one can stand on is {limits.freeboard_m:.0f} m above the mist: the "
            f"highest stands {float(freeboard_m.max()):.0f} m over its top; try a lower mist",
            loosen=less_mist(country, high_m, limits.freeboard_m),
        )
    said = (
        f"from no place that keeps to the limits does the sun pass within "
        f"{limits.tolerance_deg:g} degrees of a summit on {day}"
    )
    if limits.tolerance_deg < NEAR_DEG:
        near = promised(replace(limits, tolerance_deg=NEAR_DEG))
        if not near.empty:
            closest = float(near["offset_deg"].min())
            return NoAnswer(
                f"{said}: the closest misses by about {closest:.1f} degrees", loosen=wider(closest)
            )
    most_m = max(_TIMES_AS_FAR * limits.max_distance_m, Limits().max_distance_m)
    far = promised(replace(limits, max_distance_m=most_m))
    if not far.empty:
        away_m = float(far["distance_m"].median())
        return NoAnswer(
            f"{said}: the nearest beyond is {float(far['distance_m'].min()) / 1000.0:.1f} km off",
            loosen=[{"max_distance_m": 1000.0 * math.ceil(away_m / 1000.0)}],
        )
    return NoAnswer(f"{said}: try another date")


def none_held(
    looks: Callable[[pd.Series, Limits], Backlight | None],
    likeliest: pd.DataFrame,
    limits: Limits,
    said: str,
) -> NoAnswer:
    """That none of the likeliest holds in a full look, with how far the sun is from those that do.

    looks: a full look from a cell, with limits as wide as they may be. said: what was found.
    """
    wide = replace(limits, tolerance_deg=max(NEAR_DEG, limits.tolerance_deg), mist_share=0.0)
    found = [looks(cell, wide) for _, cell in likeliest.head(_LOOKED_AT).iterrows()]
    away = min((each.best.away_deg for each in found if each is not None), default=math.nan)
    if math.isnan(away):
        return NoAnswer(f"{said}: try another date")
    if away > limits.tolerance_deg:
        return NoAnswer(f"{said}: the closest misses by {away:.2f} degrees", loosen=wider(away))
    for share in (limits.mist_share * part for part in _LESS):
        near = replace(limits, mist_share=share)
        if any(looks(cell, near) is not None for _, cell in likeliest.head(_LOOKED_AT).iterrows()):
            return NoAnswer(
                f"{said}: one where it is shows {share:.1%} of it", loosen=[{"mist_share": share}]
            )
    return NoAnswer(f"{said}: those where it is show next to none of it; try another mist")
