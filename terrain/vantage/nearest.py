"""How near the sun comes to the summit where a search finds no vantage."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace
from typing import Final

import pandas as pd

from terrain.sun.calendar import Span
from terrain.vantage.miss import NEAR_DEG
from terrain.vantage.search import Search, near_on
from terrain.view.look import look
from terrain.year.atlas import Atlas
from terrain.year.confirm import held_days

_WIDE_DEG: Final = 30.0
_LOOKED_AT: Final = 12


def nearest_deg(search: Search, cells: pd.DataFrame, day: dt.date) -> float:
    """How far from the summit the sun stands at its best from the likeliest few of some cells.

    NaN where none of them sees both; and where a frame had too little mist, for it is that which
    lacks, and no more looks are spent on the sun.
    """
    if search.seas.less_mist:
        return math.nan
    wide, late = replace(search.asked.limits, tolerance_deg=_WIDE_DEG), search.asked.evening
    looks = (
        near_on(search.seas.lowest, search.asked.spot_in(cell), day, wide, evening=late)
        for _, cell in cells.nsmallest(_LOOKED_AT, "best_deg").iterrows()
    )
    return min((found.best.away_deg for found in looks if found is not None), default=math.nan)


def nearest_of_year_deg(search: Search, atlas: Atlas, among: Span, cells: pd.DataFrame) -> float:
    """The same on the best of some days, from the first few of ranked cells; NaN beyond 3."""
    if search.seas.less_mist:
        return math.nan
    scene, limits = search.seas.lowest, search.asked.limits
    wide = replace(atlas, tolerance_deg=max(NEAR_DEG, limits.tolerance_deg))
    away: list[float] = []
    for _, cell in cells.head(_LOOKED_AT).iterrows():
        view = look(scene, search.asked.spot_in(cell))
        if view.clearance_m >= limits.clearance_m and limits.accepts(view.backdrop):
            away += held_days(wide, scene, view, among).values()
    return min(away, default=math.nan)
