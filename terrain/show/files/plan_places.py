"""The places of a plan and the ways between them, with what is said of each in a file."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from terrain.plan.morning import FallBack, Plan
from terrain.walk.walk import Walk
from terrain.words.clocks import clock_of_zone
from terrain.words.figures import spot_label
from terrain.words.plan import fall_back_words

__all__ = ["DECIMALS", "PlanPlace", "PlanWay", "places_of", "ways_of"]

DECIMALS: Final = 7
"""Of a degree: a centimetre."""


@dataclass(frozen=True, kw_only=True)
class PlanPlace:
    """A place of a plan: `kind` is start, vantage, hill or fall-back; height_m may be NaN."""

    kind: str
    name: str
    lon_deg: float
    lat_deg: float
    height_m: float
    note: str

    @property
    def point(self) -> shapely.Point:
        """In EPSG:4326, with its height where that is known."""
        if math.isnan(self.height_m):
            return shapely.Point(self.lon_deg, self.lat_deg)
        return shapely.Point(self.lon_deg, self.lat_deg, self.height_m)


@dataclass(frozen=True, kw_only=True)
class PlanWay:
    """A walk of a plan, with a name and a note."""

    kind: str
    name: str
    walk: Walk
    note: str

    @property
    def line(self) -> shapely.LineString:
        """In EPSG:4326, with heights; a walk of no length stays where it is."""
        walk = self.walk
        line = np.column_stack([walk.lon_deg, walk.lat_deg, walk.height_m])
        return shapely.LineString(line if len(line) > 1 else np.repeat(line, 2, axis=0))

    def moments(self) -> list[dt.datetime | None]:
        """When each point of the walk is passed, None where the walk is not timed."""
        begins = self.walk.sets_out
        if begins is None:
            return [None] * len(self.walk.time_s)
        first = begins.astimezone(dt.UTC)
        after = (dt.timedelta(seconds=float(time_s)) for time_s in self.walk.time_s)
        return [(first + time).astimezone(begins.tzinfo) for time in after]


def places_of(plan: Plan) -> list[PlanPlace]:
    """The start, the vantage, the hill, and the places to fall back to."""
    walk, spot, hill = plan.walk, plan.spot, plan.hill
    begins = "" if walk.sets_out is None else f"start walking at {clock_of_zone(walk.sets_out)}"
    places = [
        PlanPlace(
            kind="start",
            name=spot_label(plan.start, "start"),
            lon_deg=plan.start.lon_deg,
            lat_deg=plan.start.lat_deg,
            height_m=float(walk.height_m[0]),
            note=begins,
        ),
        PlanPlace(
            kind="vantage",
            name=spot_label(spot, "vantage"),
            lon_deg=spot.lon_deg,
            lat_deg=spot.lat_deg,
            height_m=plan.backlight.view.spot_height_m,
            note=f"{clock_of_zone(plan.backlight.contact.appears)}: {plan.backlight.reason}",
        ),
        PlanPlace(
            kind="hill",
            name=hill.label,
            lon_deg=hill.lon_deg,
            lat_deg=hill.lat_deg,
            height_m=hill.height_m,
            note=f"seen toward {plan.backlight.view.azimuth_deg:.1f}°",
        ),
    ]
    return places + [_fall_back_place(plan, alike) for alike in _fall_backs(plan)]


def ways_of(plan: Plan) -> list[PlanWay]:
    """The walk in, and the walks to the places to fall back to."""
    ways = [PlanWay(kind="walk in", name="walk in", walk=plan.walk, note=_walk_note(plan.walk))]
    for alike in _fall_backs(plan):
        walk = alike[0].walk
        if walk is not None:
            name = f"walk to the {_fall_back_name(alike)}"
            ways.append(PlanWay(kind="fall-back", name=name, walk=walk, note=_walk_note(walk)))
    return ways


def _fall_backs(plan: Plan) -> list[list[FallBack]]:
    """The fall-backs that name a place, those at one place together."""
    found: dict[tuple[float, float], list[FallBack]] = {}
    for other in plan.fall_backs:
        if other.spot is not None:
            at = round(other.spot.lon_deg, DECIMALS), round(other.spot.lat_deg, DECIMALS)
            found.setdefault(at, []).append(other)
    return list(found.values())


def _fall_back_name(alike: Sequence[FallBack]) -> str:
    tops = " or ".join(f"{other.mist_top_m:.0f}" for other in alike)
    return f"fall-back, mist at {tops} m"


def _fall_back_place(plan: Plan, alike: Sequence[FallBack]) -> PlanPlace:
    spot, walk = alike[0].spot, alike[0].walk
    if spot is None:
        raise ValueError("a fall-back without a spot is no place")
    return PlanPlace(
        kind="fall-back",
        name=_fall_back_name(alike),
        lon_deg=spot.lon_deg,
        lat_deg=spot.lat_deg,
        height_m=math.nan if walk is None else float(walk.height_m[-1]),
        note="; ".join(fall_back_words(plan, other) for other in alike),
    )


def _walk_note(walk: Walk) -> str:
    when = "by day" if walk.sets_out is None else f"from {clock_of_zone(walk.sets_out)}"
    return (
        f"{walk.there_s / 60.0:.0f} min {when}, {walk.length_m / 1000.0:.1f} km, "
        f"{walk.ascent_m:.0f} m up, {walk.descent_m:.0f} m down"
    )
