"""The timed plan of one morning: when to leave, where to walk, what to frame, what if not."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field

import geopandas as gpd
import numpy as np
from numpy.typing import NDArray

from terrain.constants import COLOUR_BEFORE_SUNRISE_MIN
from terrain.errors import NoAnswer, NoGround, NoSun, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.geodesy import azimuth_and_distance, destination
from terrain.ground.places import Hill, Spot
from terrain.mist.flood import flood_levels
from terrain.mist.surface import level_mist
from terrain.morning.backlight import Backlight, Scene, backlight, look, make_scene
from terrain.morning.cautions import cautions_for
from terrain.morning.cold import Air, Cold, cold_at
from terrain.morning.contact import sun_contact
from terrain.morning.framing import Framing, frame_view
from terrain.morning.lens import Sensor
from terrain.morning.vantages import Limits, find_vantages
from terrain.morning.walk import Walk, walk_in
from terrain.sight.skyline import skyline
from terrain.sun.clock import shifted
from terrain.sun.path import sun_path
from terrain.sun.twilight import Twilight, twilight_of

__all__ = ["FallBack", "Kit", "Plan", "Stage", "plan_morning"]

_SAME_PLACE_M = 150.0
_VALLEY_PLACES = 15

COLOUR_BEFORE = dt.timedelta(minutes=COLOUR_BEFORE_SUNRISE_MIN)


@dataclass(frozen=True, kw_only=True)
class Kit:
    """What is in the bag: the sensor, and the lenses by focal length, mm, a pair for a zoom."""

    sensor: Sensor = field(default_factory=Sensor)
    lenses_mm: tuple[float | tuple[float, float], ...] = (24.0, 70.0, 200.0, 400.0)


@dataclass(frozen=True, kw_only=True)
class Stage:
    """One line of the timeline.

    name: in words; at: aware datetime in the place's zone; plus_minus_s: one standard deviation,
    NaN where it is a choice or exact; note: what to do or to expect.
    """

    name: str
    at: dt.datetime
    plus_minus_s: float = math.nan
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class FallBack:
    """Where to go if the mist is not as hoped.

    mist_top_m: the other height. stays: whether the planned spot still works, with why in `note`.
    spot, appears, walk: the next-best vantage from the same start, None where there is none.
    """

    mist_top_m: float
    stays: bool
    note: str
    spot: Spot | None = None
    appears: dt.datetime | None = None
    offset_deg: float = math.nan
    walk: Walk | None = None


@dataclass(frozen=True, kw_only=True)
class Plan:
    """A morning, from leaving to packing up; every time is in the place's zone.

    stages: in the order of time. mist_top_m: NaN without mist. cold: at the spot, where a
    forecast was given.
    """

    day: dt.date
    hill: Hill
    start: Spot
    scene: Scene
    backlight: Backlight
    walk: Walk
    framing: Framing
    light: Twilight
    stages: tuple[Stage, ...]
    fall_backs: tuple[FallBack, ...]
    cautions: tuple[str, ...]
    mist_top_m: float
    cold: Cold | None

    @property
    def spot(self) -> Spot:
        """Where to stand."""
        return self.backlight.view.spot

    def stage(self, name: str) -> Stage | None:
        """The stage of a name, None where it does not happen."""
        return next((stage for stage in self.stages if stage.name == name), None)


def plan_morning(
    dem: Dem,
    spot: Spot,
    hill: Hill,
    day: dt.date,
    *,
    start: Spot,
    mist_top_m: float | None = None,
    paths: gpd.GeoDataFrame | None = None,
    water: NDArray[np.bool_] | None = None,
    kit: Kit | None = None,
    air: Air | None = None,
    drive: dt.timedelta | None = None,
    settle: dt.timedelta = dt.timedelta(minutes=10),
    other_tops_m: Sequence[float] = (-50.0, 50.0),
    progress: Callable[[float], None] = lambda share: None,
) -> Plan:
    """The plan of a morning at a vantage.

    dem: the ground. start: where the walk begins. mist_top_m: height of a level mist, none
    without. paths, water: as for `walk_in`. kit: sensor and lenses. air: what a forecast gives,
    for the cold. drive: how long it takes to the start, for the moment to leave home. settle: how
    long to be in place before the colour. other_tops_m: how much lower or higher the mist may
    turn out, for the fall-backs. progress: called with the share done.

    Raises what `check_backlight`, `walk_in` and `frame_view` raise.
    """
    kit = kit or Kit()
    levels = None if mist_top_m is None else flood_levels(dem)
    mist = None if mist_top_m is None else level_mist(dem, mist_top_m, levels=levels)
    scene = make_scene(dem, hill, mist=mist)
    answer = backlight(scene, look(scene, spot), day)
    progress(0.3)
    path = sun_path(day, lon_deg=spot.lon_deg, lat_deg=spot.lat_deg, height_m=_eye_m(answer))
    light = twilight_of(path)
    colour = _colour(light, answer)
    walk = walk_in(dem, start, spot, paths=paths, water=water, arrives=shifted(colour, -settle))
    framing = frame_view(
        scene, answer.view, answer.contact, lenses_mm=kit.lenses_mm, sensor=kit.sensor
    )
    progress(0.5)
    cold = None if air is None else cold_at(air, answer.view.spot_height_m)
    stages = _stages(answer, light, walk, framing, colour, drive)
    stages = in_order([*stages, *_valley_light(scene, answer, day)])
    tops = () if mist_top_m is None else tuple(mist_top_m + change for change in other_tops_m)
    fall_backs = []
    for number, top in enumerate(tops, start=1):
        fall_backs.append(_fall_back(scene, answer, walk, day, top, levels, paths, water))
        progress(0.5 + 0.5 * number / len(tops))
    return Plan(
        day=day,
        hill=hill,
        start=start,
        scene=scene,
        backlight=answer,
        walk=walk,
        framing=framing,
        light=light,
        stages=stages,
        fall_backs=tuple(fall_backs),
        cautions=cautions_for(dem, walk, cold),
        mist_top_m=math.nan if mist_top_m is None else mist_top_m,
        cold=cold,
    )


def _eye_m(answer: Backlight) -> float:
    return answer.view.skyline.eye_height_m


def _colour(light: Twilight, answer: Backlight) -> dt.datetime:
    """When colour begins: a quarter of an hour before the sun rises over a level sea.

    High ground delays the sun itself but not the colour of the sky.
    """
    appears = answer.contact.appears
    risen = (
        appears if light.sunrise is None else min(light.sunrise, appears, key=dt.datetime.timestamp)
    )
    return shifted(risen, -COLOUR_BEFORE)


def _stages(
    answer: Backlight,
    light: Twilight,
    walk: Walk,
    framing: Framing,
    colour: dt.datetime,
    drive: dt.timedelta | None,
) -> tuple[Stage, ...]:
    contact = answer.contact
    if walk.sets_out is None or walk.arrives is None:
        raise TerrainError("a plan needs a walk that is timed: give it the moment to arrive")
    held = f"{framing.frame.focal_mm:.0f} mm, {framing.orientation}"
    found = [
        Stage(name="start walking", at=walk.sets_out, note=_walk_note(walk)),
        Stage(name="be in place", at=walk.arrives, note=f"set up: {held}"),
        Stage(name="colour begins", at=colour, note="the sky colours before the sun is up"),
        Stage(
            name="sun appears",
            at=contact.appears,
            plus_minus_s=contact.uncertainty_s,
            note=f"{answer.reason}; {_bracket_note(framing)}",
        ),
    ]
    if drive is not None:
        found.append(
            Stage(name="leave", at=shifted(walk.sets_out, -drive), note="drive to the start")
        )
    if light.civil_dawn is not None:
        found.append(
            Stage(name="no lamp needed", at=light.civil_dawn, note="civil dawn: paths can be seen")
        )
    if contact.clears is not None:
        note = "all of the disc is free of the ground"
        found.append(
            Stage(
                name="sun clear", at=contact.clears, plus_minus_s=contact.uncertainty_s, note=note
            )
        )
    for again in contact.later:
        found.append(
            Stage(name="sun appears again", at=again.appears, plus_minus_s=again.uncertainty_s)
        )
    over = light.morning_golden_ends
    if over is not None and over.timestamp() > contact.appears.timestamp():
        found.append(Stage(name="warm light over", at=over, note="the sun stands 6° high"))
    return in_order(found)


def in_order(stages: Sequence[Stage]) -> tuple[Stage, ...]:
    """Stages by the moment itself: clocks that are put back show an hour twice."""
    return tuple(sorted(stages, key=lambda stage: stage.at.timestamp()))


def _valley_light(scene: Scene, answer: Backlight, day: dt.date) -> list[Stage]:
    """When direct sun reaches the mist, or the valley's floor, between the spot and the hill.

    The middle one of the moments at a few places on the line from the one to the other: those
    under mist, or else the lowest.
    """
    view = answer.view
    away = np.linspace(0.15, 0.85, _VALLEY_PLACES) * view.distance_m
    lon, lat = destination(view.spot.lon_deg, view.spot.lat_deg, view.azimuth_deg, away)
    heights = scene.dem.heights_at(lon, lat)
    misty = np.zeros(lon.shape, dtype=bool)
    if scene.mist is not None:
        misty = ~np.isnan(scene.mist.top_at(lon, lat))
    low = misty if misty.any() else heights <= np.nanquantile(heights, 0.3)
    moments = []
    for place in np.flatnonzero(low & ~np.isnan(heights))[:: max(int(low.sum()) // 5, 1)]:
        foot = Spot(lon_deg=float(lon[place]), lat_deg=float(lat[place]), eye_m=0.1)
        with suppress(NoSun, NoGround):
            sky = skyline(scene.seen, foot, refraction=scene.refraction)
            moments.append(sun_contact(sky, day).appears)
    if not moments:
        return []
    moments.sort(key=dt.datetime.timestamp)
    name = "light on the mist" if misty.any() else "light on the valley floor"
    note = f"{_clock(moments[0])} to {_clock(moments[-1])} on the line to the hill"
    return [Stage(name=name, at=moments[len(moments) // 2], note=note)]


def _clock(moment: dt.datetime) -> str:
    return f"{moment:%H:%M}"


def _walk_note(walk: Walk) -> str:
    return (
        f"{walk.there_s / 60.0:.0f} min, {walk.length_m / 1000.0:.1f} km, "
        f"{walk.ascent_m:.0f} m up, {walk.off_path_m / 1000.0:.1f} km of it off paths"
    )


def _bracket_note(framing: Framing) -> str:
    return "expect to bracket" if framing.expect_to_bracket else "one exposure may hold it"


def _fall_back(
    scene: Scene,
    answer: Backlight,
    walk: Walk,
    day: dt.date,
    top_m: float,
    levels: NDArray[np.float32] | None,
    paths: gpd.GeoDataFrame | None,
    water: NDArray[np.bool_] | None,
) -> FallBack:
    """What becomes of the spot with the mist at another height, and where to go instead."""
    dem, hill = scene.dem, scene.hill
    try:
        mist = level_mist(dem, top_m, levels=levels)
        other = make_scene(dem, hill, mist=mist)
    except NoAnswer as error:
        return FallBack(mist_top_m=top_m, stays=False, note=str(error))
    stays, note = _still_works(other, answer, day)
    try:
        found = find_vantages(
            dem, hill, day=day, mist=mist, starts=[walk.start], limits=Limits(), count=3
        )
    except NoAnswer as error:
        return FallBack(mist_top_m=top_m, stays=stays, note=note or str(error))
    for _, row in _elsewhere(found, answer.view.spot).iterrows():
        there = Spot(lon_deg=row["lon_deg"], lat_deg=row["lat_deg"], name="fall-back")
        try:
            other_walk = walk_in(dem, walk.start, there, paths=paths, water=water)
        except (NoAnswer, TerrainError):
            continue
        return FallBack(
            mist_top_m=top_m,
            stays=stays,
            note=note,
            spot=there,
            appears=row["appears"],
            offset_deg=float(row["offset_deg"]),
            walk=other_walk,
        )
    return FallBack(mist_top_m=top_m, stays=stays, note=note)


def _elsewhere(found: gpd.GeoDataFrame, spot: Spot) -> gpd.GeoDataFrame:
    """The vantages that are not where one stands already."""
    _, away = azimuth_and_distance(
        spot.lon_deg, spot.lat_deg, found["lon_deg"].to_numpy(), found["lat_deg"].to_numpy()
    )
    return found[away > _SAME_PLACE_M]


def _still_works(other: Scene, answer: Backlight, day: dt.date) -> tuple[bool, str]:
    try:
        again = backlight(other, look(other, answer.view.spot), day)
    except TerrainError as error:
        return False, str(error)
    return again.behind, again.reason
