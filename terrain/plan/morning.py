"""The timed plan of one morning: when to leave, where to walk, what to frame, what if not."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Final

import geopandas as gpd
import numpy as np
from numpy.typing import NDArray

from terrain.country import country_of
from terrain.errors import NoAnswer, TerrainError
from terrain.frame.framing import Framing
from terrain.frame.lens import Sensor
from terrain.ground.accuracy import Accuracy
from terrain.ground.dem import Dem
from terrain.ground.geodesy import azimuth_and_distance
from terrain.ground.places import Hill, Spot
from terrain.light.colour import light_at
from terrain.mist.flood import flood_levels
from terrain.mist.level import level_mist
from terrain.mist.mist import Mist
from terrain.plan.cautions import cautions_for
from terrain.plan.cold import Air, Cold, cold_at
from terrain.plan.doubts import OffsetDoubt, offset_doubt
from terrain.plan.fall_back import FallBack, Journey, fall_back
from terrain.plan.frames import aims_for
from terrain.plan.good_days import GoodDay, good_days
from terrain.plan.stages import Stage, timeline
from terrain.plan.valley_light import valley_light
from terrain.sun.twilight import Twilight
from terrain.view.backlight import Backlight, backlight
from terrain.view.scene import Scene, look
from terrain.walk.walk import Walk

__all__ = ["FallBack", "GoodDay", "Kit", "Plan", "Stage", "plan_morning"]

_SAME_PLACE_M: Final = 100.0


@dataclass(frozen=True, kw_only=True)
class Kit:
    """What is in the bag: the sensor, and the lenses by focal length, mm, a pair for a zoom."""

    sensor: Sensor = field(default_factory=Sensor)
    lenses_mm: tuple[float | tuple[float, float], ...] = (24.0, 70.0, 200.0, 400.0)


@dataclass(frozen=True, kw_only=True)
class Plan:
    """A morning, from leaving to packing up; every time is in the place's zone.

    framing: with the rising sun in it; after: once the disc is clear, when it is left out.
    stages: in the order of time. offset_doubt: the parts of the standard deviation of where the
    sun appears beside the summit. mist_top_m: NaN without mist. cold: at the spot, where a
    forecast was given. other_days: further good mornings, best first, where days to choose among
    were given.
    """

    day: dt.date
    hill: Hill
    start: Spot
    scene: Scene
    backlight: Backlight
    walk: Walk
    framing: Framing
    after: Framing
    light: Twilight
    stages: tuple[Stage, ...]
    fall_backs: tuple[FallBack, ...]
    cautions: tuple[str, ...]
    offset_doubt: OffsetDoubt
    mist_top_m: float
    cold: Cold | None
    other_days: tuple[GoodDay, ...] = ()

    @property
    def spot(self) -> Spot:
        """Where to stand."""
        return self.backlight.view.spot

    @property
    def hidden_ground(self) -> str:
        """What ground beyond the raster's edge would change, in words; empty where none could."""
        contact = self.backlight.contact
        if not (math.isfinite(contact.known_to_m) and math.isfinite(contact.beyond_height_m)):
            return ""
        known_km = f"{contact.known_to_m / 1000.0:.1f} km"
        return (
            f"Toward the sun the ground is known for {known_km}: hidden ground higher than "
            f"{contact.beyond_height_m:.0f} m beyond {known_km} would delay this."
        )

    @property
    def elsewhere(self) -> tuple[FallBack, ...]:
        """The fall-backs that lead to another place than the planned spot, each place once."""
        kept: list[FallBack] = []
        for other in self.fall_backs:
            known = [self.spot, *(fall_back.spot for fall_back in kept)]
            if other.spot is not None and _number_near(other.spot, known) is None:
                kept.append(other)
        return tuple(kept)

    def number_of(self, spot: Spot) -> int | None:
        """The number of a place: 1 for the planned spot, from 2 on for those `elsewhere`."""
        return _number_near(spot, [self.spot, *(other.spot for other in self.elsewhere)])

    def stage(self, name: str) -> Stage | None:
        """The stage of a name, None where it does not happen."""
        return next((stage for stage in self.stages if stage.name == name), None)


def plan_morning(  # noqa: PLR0913 - a morning hangs on all of this
    dem: Dem,
    spot: Spot,
    hill: Hill,
    day: dt.date | None = None,
    *,
    start: Spot,
    among: tuple[dt.date, dt.date] | None = None,
    mist_top_m: float | None = None,
    paths: gpd.GeoDataFrame | None = None,
    water: NDArray[np.bool_] | None = None,
    kit: Kit | None = None,
    air: Air | None = None,
    drive: dt.timedelta | None = None,
    settle: dt.timedelta = dt.timedelta(minutes=10),
    other_tops_m: Sequence[float] = (-50.0, 50.0),
    accuracy: Accuracy | None = None,
    progress: Callable[[float], None] = lambda share: None,
) -> Plan:
    """The plan of a morning at a vantage.

    dem: the ground. day: the local date; without one the best of `among`, a first and a last day
    (both included), is planned, and with both the other good ones are told. start: where the walk
    begins. mist_top_m: height of a level mist, none without. paths, water: as for `walk_in`. kit:
    sensor and lenses. air: what a forecast gives, for the cold. drive: how long it takes to the
    start, for the moment to leave home. settle: how long to be in place before the colour.
    other_tops_m: how much lower or higher the mist may turn out, for the fall-backs. accuracy:
    errors of the inputs. progress: called with the share done.

    Raises what `check_backlight`, `walk_in` and `frame_view` raise, NoAnswer where no day of
    `among` is a good one, TerrainError without any day.
    """
    levels = None if mist_top_m is None else flood_levels(dem)
    mist = None if mist_top_m is None else level_mist(dem, mist_top_m, levels=levels)
    day, others = _day_of(dem, spot, hill, day, among=among, mist=mist, accuracy=accuracy)
    progress(0.2)
    scene = Scene(country_of(dem, mist=mist, accuracy=accuracy), hill)
    answer = backlight(scene, look(scene, spot), day)
    light = light_at(answer)
    journey = Journey(dem=dem, start=start, settle=settle, drive=drive, paths=paths, water=water)
    walk = journey.walk_to(answer)
    progress(0.4)
    valley = valley_light(scene, answer.view, day)
    kit = kit or Kit()
    aims = aims_for(scene, answer, valley, lenses_mm=kit.lenses_mm, sensor=kit.sensor)
    cold = None if air is None else cold_at(air, answer.view.spot_height_m)
    progress(0.5)
    tops_m = () if mist_top_m is None else tuple(mist_top_m + change for change in other_tops_m)
    fall_backs = []
    for number, top_m in enumerate(tops_m, start=1):
        fall_backs.append(fall_back(scene, answer, walk, top_m, journey=journey, levels=levels))
        progress(0.5 + 0.5 * number / len(tops_m))
    return Plan(
        day=day,
        hill=hill,
        start=start,
        scene=scene,
        backlight=answer,
        walk=walk,
        framing=aims.rising,
        after=aims.after,
        light=light,
        stages=timeline(scene, answer, light, walk, aims=aims, valley=valley, drive=drive),
        fall_backs=tuple(fall_backs),
        cautions=cautions_for(dem, walk, cold, view=answer.view, mist=mist),
        offset_doubt=offset_doubt(answer),
        mist_top_m=math.nan if mist_top_m is None else mist_top_m,
        cold=cold,
        other_days=others,
    )


def _number_near(spot: Spot, places: Sequence[Spot | None]) -> int | None:
    """The number, from 1 on, of the first of some places that is as good as the same."""
    lon_lat = np.array([[place.lon_deg, place.lat_deg] for place in places if place is not None])
    _, away_m = azimuth_and_distance(spot.lon_deg, spot.lat_deg, *lon_lat.T)
    near = np.flatnonzero(away_m <= _SAME_PLACE_M)
    return int(near[0]) + 1 if near.size else None


def _day_of(
    dem: Dem,
    spot: Spot,
    hill: Hill,
    day: dt.date | None,
    *,
    among: tuple[dt.date, dt.date] | None,
    mist: Mist | None,
    accuracy: Accuracy | None,
) -> tuple[dt.date, tuple[GoodDay, ...]]:
    """The day given, or the best of some, and the other good ones."""
    if among is None:
        if day is None:
            raise TerrainError("no day was given to plan: give one, or a first and a last")
        return day, ()
    try:
        good = good_days(dem, spot, hill, among, mist=mist, accuracy=accuracy)
    except NoAnswer:
        if day is None:
            raise
        good = ()
    chosen = day or good[0].day
    return chosen, tuple(other for other in good if other.day != chosen)
