"""The timed plan of a morning or evening: when to leave, the way, what to frame, what if not."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import geopandas as gpd

from terrain.arrays import Flags
from terrain.country import Country, country_of
from terrain.frame.framing import Framing
from terrain.frame.lens import Kit
from terrain.ground.accuracy import Accuracy, AngleDoubt
from terrain.ground.dem import Dem
from terrain.ground.glance import figure_of, line_of
from terrain.ground.places import Hill, Spot
from terrain.light.colour import light_at
from terrain.mist.level import AnyMist
from terrain.plan.cautions import Air, Cautions, Cold, cautions_for, cold_at
from terrain.plan.frames import aims_for
from terrain.plan.good_days import GoodDay, chosen_day
from terrain.plan.stages import Stage, StageKind, offset_doubt, timeline
from terrain.plan.valley_light import ValleyLight, valley_light
from terrain.plan.what_if import FallBack, Journey, fall_back, mist_changes_m, number_near
from terrain.sun.twilight import Twilight
from terrain.vantage.access import Access
from terrain.view.backlight import Backlight, backlight
from terrain.view.look import look
from terrain.view.scene import Scene
from terrain.walk.walk import Walk


@dataclass(frozen=True, kw_only=True)
class Plan:
    """A morning, from leaving to packing up, or an evening, to being back; by the place's clock.

    Attributes
    ----------
    day : datetime.date
        The local date.
    hill : Hill
        What is looked at.
    start : Spot
        Where the walk begins.
    scene : Scene
        The hill in its country.
    backlight : Backlight
        How the sun's first appearance, or in an evening its last, lies to the hill.
    walk : Walk
        The walk in.
    framing : Framing
        With the rising or the setting sun in it.
    after : Framing
        Once the disc is clear, when it is left out; of an evening before it touches the ground.
    light : Twilight
        The stages of the day's light.
    valley : ValleyLight or None
        The light between the spot and the hill.
    stages : tuple of Stage
        In the order of time.
    fall_backs : tuple of FallBack
        Where to go if the mist is higher or lower.
    cautions : Cautions
        What to mind.
    offset_doubt : AngleDoubt
        The parts of the standard deviation of where the sun appears beside the summit.
    cold : Cold or None
        At the spot, where a forecast was given.
    other_days : tuple of GoodDay
        Further good mornings or evenings, best first, where days to choose among were given.
    walk_back : Walk or None
        The same way back to the start, in the dark, of an evening.

    Examples
    --------
    >>> import datetime as dt
    >>> import numpy as np
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(100, 0, 5e5, 0, -100, 6e6), shape=(61, 81))
    >>> row, col = np.mgrid[-30:31, -40:41]
    >>> cone = terrain.Dem(np.maximum(300.0 - 40.0 * np.hypot(row, col), 0.0), grid)
    >>> hill = terrain.hill_at(cone, *map(float, grid.lonlat(30, 40)), name="Cone")
    >>> lon, lat = (float(part) for part in grid.lonlat(30, 10))
    >>> spot = terrain.Spot(lon_deg=lon, lat_deg=lat, name="the stile")
    >>> knoll = 120.0 - 20.0 * np.hypot(row, col + 30)
    >>> isles = terrain.Dem(np.maximum(cone.heights_m, knoll), grid)
    >>> start = terrain.Spot(lon_deg=lon, lat_deg=lat + 0.002, name="the car park")
    >>> day = dt.date(2025, 3, 25)
    >>> plan = terrain.plan_morning(
    ...     isles, spot, hill, day, start=start, mist_top_m=50.0, other_tops_m=[]
    ... )
    >>> plan.spot.name, [stage.kind.value for stage in plan.stages][:2], plan.cold
    ('the stile', ['no lamp needed', 'start walking'], None)
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
    valley: ValleyLight | None
    stages: tuple[Stage, ...]
    fall_backs: tuple[FallBack, ...]
    cautions: Cautions
    offset_doubt: AngleDoubt
    cold: Cold | None
    other_days: tuple[GoodDay, ...] = ()
    walk_back: Walk | None = None

    def __repr__(self) -> str:
        part = "Evening" if self.evening else "Morning"
        where = self.spot.name or f"{self.spot.lat_deg:.4f}, {self.spot.lon_deg:.4f}"
        return f"<{part} plan of {self.day} for {self.hill.label} from {where}>"

    def _repr_html_(self) -> str:
        seen = self.framing.outline
        rows = [(f"{stage.at:%H:%M}", str(stage.kind)) for stage in self.stages]
        return figure_of(repr(self)[1:-1], line_of(seen.azimuth_deg, seen.altitude_deg), rows)

    @property
    def evening(self) -> bool:
        """Whether it is the plan of an evening."""
        return self.backlight.contact.evening

    @property
    def spot(self) -> Spot:
        """Where to stand."""
        return self.backlight.view.spot

    @property
    def mist_top_m(self) -> float:
        """Height of the mist's top, metres: the highest of one that slopes, NaN without mist."""
        return math.nan if self.scene.mist is None else self.scene.mist.stated_top_m

    @property
    def elsewhere(self) -> tuple[FallBack, ...]:
        """The fall-backs that lead to another place than the planned spot, each place once."""
        kept: list[FallBack] = []
        for other in self.fall_backs:
            known = [self.spot, *(fall_back.spot for fall_back in kept)]
            if other.spot is not None and number_near(other.spot, known) is None:
                kept.append(other)
        return tuple(kept)

    def number_of(self, spot: Spot) -> int | None:
        """The number of a place: 1 for the planned spot, from 2 on for those `elsewhere`."""
        return number_near(spot, [self.spot, *(other.spot for other in self.elsewhere)])

    def stage(self, kind: StageKind | str) -> Stage | None:
        """The first stage of a kind, itself or its name; None where it does not happen."""
        return next((stage for stage in self.stages if stage.kind == kind), None)


def plan_morning(  # noqa: PLR0913 - a morning hangs on all of this
    ground: Dem | Country,
    spot: Spot,
    hill: Hill,
    day: dt.date | None = None,
    *,
    start: Spot,
    among: tuple[dt.date, dt.date] | None = None,
    mist: AnyMist | None = None,
    mist_top_m: float | None = None,
    paths: gpd.GeoDataFrame | None = None,
    water: Flags | None = None,
    kit: Kit | None = None,
    air: Air | None = None,
    drive: dt.timedelta | None = None,
    settle: dt.timedelta = dt.timedelta(minutes=10),
    other_tops_m: Sequence[float] = (-50.0, 50.0),
    accuracy: Accuracy | None = None,
    evening: bool = False,
    begun: Callable[[Plan], object] = lambda plan: None,
    progress: Callable[[float], None] = lambda share: None,
) -> Plan:
    """The plan of a morning at a vantage, or of an evening.

    Parameters
    ----------
    ground : Dem or Country
        What all of it takes place on.
    spot : Spot
        Where the camera stands, and its height over the ground.
    hill : Hill
        The hill that is looked at.
    day : datetime.date, optional
        The local date; without one the best of `among` is planned.
    start : Spot
        Where the walk begins.
    among : tuple of datetime.date, optional
        A first and a last day, both included; with a day too, the other good ones are told.
    mist : Mist or MistRange, optional
        Level, along the valleys, or a range of which the top hoped for is planned with, in place
        of one that the country has.
    mist_top_m : float, optional
        Height of a level mist, metres, in its place.
    paths : geopandas.GeoDataFrame, optional
        As for `walk_in`.
    water : (rows, cols) bool array, optional
        As for `walk_in`.
    kit : Kit, optional
        Sensor and lenses.
    air : Air, optional
        What a forecast gives, for the cold; of an evening for the end of it.
    drive : datetime.timedelta, optional
        How long it takes to the start, for the moment to leave home.
    settle : datetime.timedelta, optional
        How long to be in place before the colour, or the warm light; and to stay after that colour.
    other_tops_m : sequence of float, optional
        How much lower or higher the mist may turn out, metres; of a range its ends stand for them.
    accuracy : Accuracy, optional
        Errors of the inputs, one standard deviation of each, in place of the country's own.
    evening : bool, optional
        The evening in place of the morning: in for the warm light, or light that leaves the mist up
        to an hour sooner, and back once the colour is over.
    begun : callable, optional
        Called with the plan as soon as all but its fall-backs is known.
    progress : callable, optional
        Called with the share done, 0 to 1.

    Returns
    -------
    Plan
        The morning, stage by stage.

    Raises
    ------
    NoGround, NoSun
        Where `check_backlight` or `walk_in` raises them.
    NoAnswer
        Where no day of `among` is a good one, no way leads to the spot, or no frame is wide enough.
    TerrainError
        Without any day, and for a mist that is given twice.

    Examples
    --------
    >>> import datetime as dt
    >>> import numpy as np
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(100, 0, 5e5, 0, -100, 6e6), shape=(61, 81))
    >>> row, col = np.mgrid[-30:31, -40:41]
    >>> cone = terrain.Dem(np.maximum(300.0 - 40.0 * np.hypot(row, col), 0.0), grid)
    >>> hill = terrain.hill_at(cone, *map(float, grid.lonlat(30, 40)), name="Cone")
    >>> lon, lat = (float(part) for part in grid.lonlat(30, 10))
    >>> spot = terrain.Spot(lon_deg=lon, lat_deg=lat, name="the stile")
    >>> knoll = 120.0 - 20.0 * np.hypot(row, col + 30)
    >>> isles = terrain.Dem(np.maximum(cone.heights_m, knoll), grid)
    >>> start = terrain.Spot(lon_deg=lon, lat_deg=lat + 0.002, name="the car park")
    >>> day = dt.date(2025, 3, 25)
    >>> plan = terrain.plan_morning(
    ...     isles, spot, hill, day, start=start, mist_top_m=50.0, other_tops_m=[]
    ... )
    >>> round(plan.walk.length_m, -2), f"{plan.stages[-1].at:%H:%M}"
    (200.0, '06:37')
    """
    country = country_of(ground, mist=mist, mist_top_m=mist_top_m, accuracy=accuracy)
    scene = Scene(country, hill)
    day, others = chosen_day(scene, spot, day, among, evening=evening)
    progress(0.2)
    answer = backlight(scene, look(scene, spot), day, evening=evening)
    access = Access(settle_min=settle.total_seconds() / 60.0, paths=paths, water=water)
    journey = Journey(dem=country.dem, start=start, access=access, drive=drive)
    light, valley = light_at(answer), valley_light(scene, answer.view, day, evening=evening)
    walk = journey.walk_to(answer, valley)
    back = journey.walk_back(answer, walk)
    aims = aims_for(scene, answer, valley, kit or Kit())
    cold = None if air is None else cold_at(air, answer.view.spot_height_m)
    plan = Plan(
        day=day,
        hill=hill,
        start=start,
        scene=scene,
        backlight=answer,
        walk=walk,
        framing=aims.rising,
        after=aims.after,
        light=light,
        valley=valley,
        stages=timeline(light, walk, aims, journey.leaves(walk), valley, back=back),
        fall_backs=(),
        cautions=cautions_for(scene, answer.view, back or walk, cold),
        offset_doubt=offset_doubt(answer),
        cold=cold,
        other_days=others,
        walk_back=back,
    )
    begun(plan)
    progress(0.5)
    fall_backs = []
    for by_m in (changes_m := mist_changes_m(country, other_tops_m)):
        fall_backs.append(fall_back(scene, answer, walk, by_m, journey=journey))
        progress(0.5 + 0.5 * len(fall_backs) / len(changes_m))
    return replace(plan, fall_backs=tuple(fall_backs))
