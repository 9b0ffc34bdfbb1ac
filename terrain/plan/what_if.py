"""What if the mist is higher or lower than hoped: how it all is then, and where to go.

The planned spot is looked at again; the next-best vantage from the same start is found beside it.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import geopandas as gpd
import numpy as np

from terrain.country import Country
from terrain.errors import NoAnswer, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.geodesy import azimuth_and_distance
from terrain.ground.places import Spot
from terrain.light.colour import colour_ends, light_at
from terrain.plan.stages import TimeDoubt, when_it_appears
from terrain.plan.valley_light import ValleyLight
from terrain.sun.clock import shifted
from terrain.vantage.access import Access, in_place_by
from terrain.vantage.find import find_vantages
from terrain.view.backlight import Backlight, backlight
from terrain.view.look import look
from terrain.view.scene import Scene
from terrain.walk.back import walk_back
from terrain.walk.walk import Walk, quickest_walk

if TYPE_CHECKING:
    from terrain.plan.morning import Plan


_SAME_PLACE_M: Final = 150.0
_PLACES: Final = 4
_LONGEST_MIN: Final = 90.0
_AS_LONG: Final = 1.25
"""A fall-back is no farther on foot than so many minutes, or so many times the planned walk."""

_WAIT_S: Final = 3600.0
"""Light that leaves the mist longer than this before all else is waited for is not waited for
(common practice, no source)."""

_AS_ONE_M: Final = 100.0


@dataclass(frozen=True, kw_only=True)
class WhatIf:
    """The morning, or evening, with the mist's top (the highest) at a height: NaN without mist."""

    mist_top_m: float
    scene: Scene
    backlight: Backlight


@dataclass(frozen=True, kw_only=True)
class WhatIfs:
    """A morning or evening with the mist at several heights, the lowest first.

    planned: number of the one that is as planned. lower, higher: why there is none with the mist
    lower or higher still, empty where none was asked for.
    """

    mornings: tuple[WhatIf, ...]
    planned: int
    lower: str = ""
    higher: str = ""


@dataclass(frozen=True, kw_only=True)
class FallBack:
    """Where to go if the mist is not as hoped.

    mist_top_m: the other height, of its highest top where it slopes. stays: whether the planned
    spot still works, with why in `note`.
    spot, appears, walk: the next-best vantage from the same start, None where there is none; the
    walk is timed to be in place before the good light there. back: the walk back of an evening, of
    which `appears` is when the sun is gone. leaves: from home, None without a drive.
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
    back: Walk | None = None
    leaves: dt.datetime | None = None
    doubt: TimeDoubt | None = None
    uncertainty_deg: float = math.nan


@dataclass(frozen=True, kw_only=True)
class Journey:
    """What every way of one morning has in common: from where, how, and how long beforehand."""

    dem: Dem
    start: Spot
    access: Access
    drive: dt.timedelta | None = None

    def walk_to(self, answer: Backlight, valley: ValleyLight | None = None) -> Walk:
        """The walk to a spot that is in place before its good light; errors as in `walk_in`.

        valley: of an evening, whose light on the mist is waited for too where it is seen to leave
        that little before.
        """
        arrives = in_place_by(answer, self.access)
        if answer.contact.evening and valley is not None and valley.on_mist and valley.seen:
            sooner = shifted(valley.contact.appears, -self.access.before_colour)
            if 0.0 < arrives.timestamp() - sooner.timestamp() <= _WAIT_S:
                arrives = sooner
        return quickest_walk(self.dem, self.start, answer.view.spot, self.access, arrives=arrives)

    def walk_back(self, answer: Backlight, walk: Walk) -> Walk | None:
        """The walk back from a spot once the colour is over and all is packed; None of a morning.

        What it took to settle it takes to pack.
        """
        if not answer.contact.evening:
            return None
        over = colour_ends(light_at(answer), answer.contact.appears)
        return walk_back(walk, self.access, shifted(over, self.access.before_colour))

    def leaves(self, walk: Walk) -> dt.datetime | None:
        """When to leave home for a walk; None without a drive."""
        if self.drive is None or walk.sets_out is None:
            return None
        return shifted(walk.sets_out, -self.drive)


def mist_steps(mist_top_m: float, *, step_m: float = 25.0, count: int = 4) -> tuple[float, ...]:
    """Heights of the mist about a planned one, that one among them; none without mist.

    >>> mist_steps(280.0, count=1)
    (255.0, 280.0, 305.0)
    """
    if math.isnan(mist_top_m):
        return ()
    return tuple(mist_top_m + step_m * number for number in range(-count, count + 1))


def mist_changes_m(country: Country, other_tops_m: Sequence[float]) -> Sequence[float]:
    """How much higher or lower than planned the mist may turn out."""
    mist, mists = country.mist, country.mists
    if mists is not None:
        ends_m = (mists.tops_m[0] - mists.hoped_m, mists.tops_m[-1] - mists.hoped_m)
        return [change_m for change_m in ends_m if change_m != 0.0]
    return other_tops_m if mist is not None and mist.raised_by is not None else ()


def what_ifs(plan: Plan, mist_tops_m: Sequence[float] | None = None) -> WhatIfs:
    """The morning of a plan as planned, and with the mist ever lower and ever higher.

    mist_tops_m: those heights, metres; 100 m down and up by steps of 25 m unless given. From the
    first on at which nothing can be seen, because the spot or the hill lies under the mist or no
    ground does, they are left out with the reason.
    """
    asked = mist_steps(plan.mist_top_m) if mist_tops_m is None else mist_tops_m
    can_rise = plan.scene.mist is not None and plan.scene.mist.raised_by is not None
    tops_m = sorted(set(asked)) if can_rise else []
    lower, why_lower = _outward(plan, [top for top in tops_m[::-1] if top < plan.mist_top_m])
    higher, why_higher = _outward(plan, [top for top in tops_m if top > plan.mist_top_m])
    planned = WhatIf(mist_top_m=plan.mist_top_m, scene=plan.scene, backlight=plan.backlight)
    return WhatIfs(
        mornings=(*reversed(lower), planned, *higher),
        planned=len(lower),
        lower=why_lower,
        higher=why_higher,
    )


def _outward(plan: Plan, tops_m: Sequence[float]) -> tuple[list[WhatIf], str]:
    """Mornings with the mist ever farther from the planned height, and why they end early."""
    found: list[WhatIf] = []
    for top_m in tops_m:
        try:
            scene = _raised(plan.scene, top_m - plan.mist_top_m)
            answer = _from(plan.spot, scene, plan.day, evening=plan.evening)
        except TerrainError as error:
            return found, str(error)
        found.append(WhatIf(mist_top_m=top_m, scene=scene, backlight=answer))
    return found, ""


def fall_back(
    scene: Scene, answer: Backlight, walk: Walk, by_m: float, *, journey: Journey
) -> FallBack:
    """What becomes of the spot with the mist so much higher, and where to go instead.

    scene, answer, walk: as planned.
    """
    mist_top_m = scene.mist.stated_top_m + by_m if scene.mist is not None else math.nan
    day, spot = answer.contact.appears.date(), answer.view.spot
    evening = answer.contact.evening
    try:
        other = _raised(scene, by_m)
    except NoAnswer as error:
        return FallBack(mist_top_m=mist_top_m, stays=False, note=str(error))
    try:
        again = _from(spot, other, day, evening=evening)
        bare = FallBack(mist_top_m=mist_top_m, stays=again.behind, note=again.reason)
    except TerrainError as error:
        bare = FallBack(mist_top_m=mist_top_m, stays=False, note=str(error))
    within_min = max(_LONGEST_MIN, _AS_LONG * walk.there_s / 60.0)
    try:
        found = find_vantages(
            other.country,
            scene.hill,
            day=day,
            starts=[journey.start],
            access=replace(journey.access, within_min=within_min),
            count=_PLACES,
            evening=evening,
        )
    except NoAnswer:
        return bare
    for _, row in _elsewhere(found, spot).iterrows():
        place = Spot(lon_deg=row["lon_deg"], lat_deg=row["lat_deg"], name="fall-back")
        with suppress(TerrainError):
            return _gone_to(bare, _from(place, other, day, evening=evening), journey)
    return bare


def _gone_to(bare: FallBack, there: Backlight, journey: Journey) -> FallBack:
    walk = journey.walk_to(there)
    return replace(
        bare,
        spot=there.view.spot,
        appears=there.contact.appears,
        offset_deg=there.offset_deg,
        walk=walk,
        back=journey.walk_back(there, walk),
        leaves=journey.leaves(walk),
        doubt=when_it_appears(there.contact),
        uncertainty_deg=there.uncertainty_deg,
    )


def _elsewhere(found: gpd.GeoDataFrame, spot: Spot) -> gpd.GeoDataFrame:
    """The vantages that are not where one stands already."""
    _, away = azimuth_and_distance(spot.lon_deg, spot.lat_deg, found["lon_deg"], found["lat_deg"])
    return found[away > _SAME_PLACE_M]


def _raised(scene: Scene, by_m: float) -> Scene:
    """A scene with its mist so much higher; NoAnswer where the hill is under it, or no ground."""
    mist = None if scene.mist is None else scene.mist.raised(scene.dem, by_m)
    return Scene(scene.country.under(mist), scene.hill)


def _from(spot: Spot, scene: Scene, day: dt.date, *, evening: bool) -> Backlight:
    return backlight(scene, look(scene, spot, day=day), day, evening=evening)


def number_near(spot: Spot, places: Sequence[Spot | None]) -> int | None:
    """The number, from 1 on, of the first of some places that is as good as the same."""
    lon_lat = np.array([[place.lon_deg, place.lat_deg] for place in places if place is not None])
    _, away_m = azimuth_and_distance(spot.lon_deg, spot.lat_deg, *lon_lat.T)
    near = np.flatnonzero(away_m <= _AS_ONE_M)
    return int(near[0]) + 1 if near.size else None
