"""Where to go if the mist is higher or lower than hoped, and when to leave for it."""

from __future__ import annotations

import datetime as dt
import math
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Final

import geopandas as gpd
import numpy as np
from numpy.typing import NDArray

from terrain.errors import NoAnswer, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.geodesy import azimuth_and_distance
from terrain.ground.places import Spot
from terrain.light.colour import colour_at
from terrain.plan.doubts import TimeDoubt, when_it_appears
from terrain.plan.what_if import raised
from terrain.sun.clock import shifted
from terrain.vantage.access import Access
from terrain.vantage.find import find_vantages
from terrain.view.backlight import Backlight, backlight
from terrain.view.scene import Scene, look
from terrain.walk.walk import Walk, walk_in

__all__ = ["FallBack", "Journey", "fall_back"]

_SAME_PLACE_M: Final = 150.0
_PLACES: Final = 4
_LONGEST_MIN: Final = 90.0
_AS_LONG: Final = 1.25
"""A fall-back is no farther on foot than so many minutes, or so many times the planned walk."""


@dataclass(frozen=True, kw_only=True)
class FallBack:
    """Where to go if the mist is not as hoped.

    mist_top_m: the other height, of its highest top where it slopes. stays: whether the planned
    spot still works, with why in `note`.
    spot, appears, walk: the next-best vantage from the same start, None where there is none; the
    walk is timed to be in place before the colour there. leaves: from home, None without a drive.
    doubt: the parts of the standard deviation of `appears`. offset_deg: from the summit to where
    the sun appears; uncertainty_deg: one standard deviation of it.
    """

    mist_top_m: float
    stays: bool
    note: str
    spot: Spot | None = None
    appears: dt.datetime | None = None
    offset_deg: float = math.nan
    walk: Walk | None = None
    leaves: dt.datetime | None = None
    doubt: TimeDoubt | None = None
    uncertainty_deg: float = math.nan


@dataclass(frozen=True, kw_only=True)
class Journey:
    """What every way of one morning has in common: from where, how, and how long beforehand."""

    dem: Dem
    start: Spot
    settle: dt.timedelta
    drive: dt.timedelta | None = None
    paths: gpd.GeoDataFrame | None = None
    water: NDArray[np.bool_] | None = None

    def access(self, within_min: float) -> Access:
        """What vantages are looked for: at most so far on foot, by the clock."""
        return Access(
            within_min=within_min,
            settle_min=self.settle.total_seconds() / 60.0,
            paths=self.paths,
            water=self.water,
        )

    def walk_to(self, answer: Backlight) -> Walk:
        """The walk to a spot that is in place before its colour; errors as in `walk_in`."""
        return walk_in(
            self.dem,
            self.start,
            answer.view.spot,
            paths=self.paths,
            water=self.water,
            arrives=shifted(colour_at(answer), -self.settle),
        )

    def leaves(self, walk: Walk) -> dt.datetime | None:
        """When to leave home for a walk; None without a drive."""
        if self.drive is None or walk.sets_out is None:
            return None
        return shifted(walk.sets_out, -self.drive)


def fall_back(
    scene: Scene,
    answer: Backlight,
    walk: Walk,
    by_m: float,
    *,
    journey: Journey,
) -> FallBack:
    """What becomes of the spot with the mist so much higher, and where to go instead.

    scene, answer, walk: as planned.
    """
    mist_top_m = scene.mist.stated_top_m + by_m if scene.mist is not None else math.nan
    day = answer.contact.appears.date()
    try:
        other = raised(scene, by_m)
    except NoAnswer as error:
        return FallBack(mist_top_m=mist_top_m, stays=False, note=str(error))
    stays, note = _still_works(other, answer, day)
    bare = FallBack(mist_top_m=mist_top_m, stays=stays, note=note)
    try:
        found = find_vantages(
            other.country,
            scene.hill,
            day=day,
            mist=other.mist,
            starts=[journey.start],
            access=journey.access(max(_LONGEST_MIN, _AS_LONG * walk.there_s / 60.0)),
            count=_PLACES,
        )
    except NoAnswer:
        return bare
    for _, row in _elsewhere(found, answer.view.spot).iterrows():
        spot = Spot(lon_deg=row["lon_deg"], lat_deg=row["lat_deg"], name="fall-back")
        with suppress(TerrainError):
            there = backlight(other, look(other, spot, day=day), day)
            return _gone_to(bare, there, journey)
    return bare


def _gone_to(bare: FallBack, there: Backlight, journey: Journey) -> FallBack:
    walk = journey.walk_to(there)
    return replace(
        bare,
        spot=there.view.spot,
        appears=there.contact.appears,
        offset_deg=there.offset_deg,
        walk=walk,
        leaves=journey.leaves(walk),
        doubt=when_it_appears(there.contact),
        uncertainty_deg=there.uncertainty_deg,
    )


def _elsewhere(found: gpd.GeoDataFrame, spot: Spot) -> gpd.GeoDataFrame:
    """The vantages that are not where one stands already."""
    _, away = azimuth_and_distance(
        spot.lon_deg, spot.lat_deg, found["lon_deg"].to_numpy(), found["lat_deg"].to_numpy()
    )
    return found[away > _SAME_PLACE_M]


def _still_works(other: Scene, answer: Backlight, day: dt.date) -> tuple[bool, str]:
    try:
        again = backlight(other, look(other, answer.view.spot, day=day), day)
    except TerrainError as error:
        return False, str(error)
    return again.behind, again.reason
