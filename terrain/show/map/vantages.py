"""The map of the vantages of a hill, with what must be said of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import geopandas as gpd

from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.mist.level import AnyMist, hoped_mist
from terrain.show.map.map import map_figure
from terrain.words.vantages import NOTES, range_note, vantages_subtitle

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["vantages_map"]


def vantages_map(
    dem: Dem,
    hill: Hill,
    found: gpd.GeoDataFrame,
    *,
    when: str,
    mist: AnyMist | None = None,
    starts: Sequence[Spot] = (),
    paths: gpd.GeoDataFrame | None = None,
) -> Figure:
    """A map of the vantages of a hill, as `find_vantages` has them.

    when: the day or the year in words. mist: of a range the top hoped for is drawn. starts: where
    a walk could begin; those are shown that some vantage is nearest to. paths: ways to walk on.
    """
    return map_figure(
        dem,
        title=f"{hill.label} at sunrise: where to stand",
        subtitle=vantages_subtitle(found, when, mist),
        mist=hoped_mist(mist),
        hill=hill,
        vantages=found,
        starts=_nearest(starts, found),
        paths=paths,
        notes=(*range_note(mist), *NOTES),
    )


def _nearest(starts: Sequence[Spot], found: gpd.GeoDataFrame) -> list[Spot]:
    """Those of the starts that some vantage is nearest to, each with a name."""
    named = [replace(start, name=start.label) for start in starts]
    return [start for start in named if start.name in set(found.get("start", ()))]
