"""The vantages of one hill on one day.

The cells of the tile are sifted (`candidates`), scored (`criteria`), and the best of them, spread
out, looked at again with nothing left out (`search`).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import geopandas as gpd
import pandas as pd

from terrain.errors import NoAnswer
from terrain.sun.sun_line import sun_line
from terrain.vantage.candidates import sift
from terrain.vantage.search import Row, Search, answer_on
from terrain.vantage.tops import Seas, sift_range
from terrain.view.backlight import Backlight
from terrain.view.scene import Scene

__all__ = ["vantages_of_day"]


def vantages_of_day(
    search: Search, day: dt.date, progress: Callable[[float], None]
) -> gpd.GeoDataFrame:
    """The vantages of a search on a local day, best first; NoAnswer, NoSun as `find_vantages`."""
    sea, hill, limits = search.sea, search.hill, search.asked.limits
    line = sun_line(day, hill, sea.dem.grid.latitudes_deg)
    sifted = sift_range(sea, line) if isinstance(sea, Seas) else sift(sea.scene, line, limits)
    sifted = search.within(sifted, [day])
    progress(0.3)

    def best(scene: Scene, cell: pd.Series) -> tuple[Row, Backlight] | None:
        answer = answer_on(scene, search.asked.spot_in(cell), day, limits)
        return None if answer is None else ({}, answer)

    ranked = search.asked.ranked(sifted)
    found = search.pick([ranked], lambda cell: search.row(cell, best), progress)
    if not found:
        raise NoAnswer(
            f"none of the likeliest of {len(sifted)} places that promised it has, in a full look, "
            f"the sun appear within {limits.tolerance_deg} degrees of {hill.label} on {day} by a "
            f"sure margin{search.also}: try another date"
        )
    return search.table(found)
