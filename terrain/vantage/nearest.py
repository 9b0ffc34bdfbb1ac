"""How near the sun comes to the summit where a search finds no vantage."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace
from typing import Final

import pandas as pd

from terrain.vantage.search import Search, lit_on

_WIDE_DEG: Final = 30.0
_LOOKED_AT: Final = 12


def nearest_deg(search: Search, cells: pd.DataFrame, day: dt.date) -> float:
    """How far from the summit the sun stands at its best from the likeliest few of some cells.

    NaN where none of them sees both.
    """
    wide, late = replace(search.asked.limits, tolerance_deg=_WIDE_DEG), search.asked.evening
    looks = (
        lit_on(search.seas.lowest, search.asked.spot_in(cell), day, wide, evening=late)
        for _, cell in cells.nsmallest(_LOOKED_AT, "best_deg").iterrows()
    )
    return min((found.best.away_deg for found in looks if found is not None), default=math.nan)
