"""The places of a plan, the ways between them, and what is said of each and of all in a file."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import geopandas as gpd
import numpy as np
import shapely

from terrain.ground.places import Hill, Spot
from terrain.plan.morning import Plan
from terrain.plan.what_if import FallBack
from terrain.walk.walk import Walk
from terrain.words.cautions import cautions
from terrain.words.clocks import clock_of_zone
from terrain.words.figures import spot_label
from terrain.words.plan import fall_back_words, hidden_ground, stage_words

_DECIMALS: Final = 7
"""Of a degree: a centimetre."""


@dataclass(frozen=True, kw_only=True)
class PlanPart:
    """A place of a plan, or the way to one, with what is said of it.

    kind: start, vantage, hill, walk in, walk back or fall-back. shape: a point in EPSG:4326, with
    its height where that is known; of a way a line with heights.
    """

    kind: str
    name: str
    note: str
    shape: shapely.Point | shapely.LineString


@dataclass(frozen=True, kw_only=True)
class PlanWay(PlanPart):
    """The way to a place, and the walk that it is."""

    walk: Walk


def places_of(plan: Plan) -> list[PlanPart]:
    """The start, the vantage, the hill, and the places to fall back to."""
    spot, hill, view, walk = plan.spot, plan.hill, plan.backlight.view, plan.walk
    begins = "" if walk.sets_out is None else f"start walking at {clock_of_zone(walk.sets_out)}"
    appears = f"{clock_of_zone(plan.backlight.contact.appears)}: {plan.backlight.reason}"
    toward, from_m = f"seen toward {view.azimuth_deg:.1f}°", float(walk.height_m[0])
    places = [
        _place("start", spot_label(plan.start, "start"), begins, plan.start, from_m),
        _place("vantage", spot_label(spot, "vantage"), appears, spot, view.spot_height_m),
        _place("hill", hill.label, toward, hill, hill.height_m),
    ]
    for other, alike in _fall_backs(plan):
        note = "; ".join(fall_back_words(plan, fall_back) for fall_back in alike)
        there = alike[0].walk
        height_m = math.nan if there is None else float(there.height_m[-1])
        places.append(_place("fall-back", _fall_back_name(alike), note, other, height_m))
    return places


def ways_of(plan: Plan) -> list[PlanWay]:
    """The walk in, in an evening that back, and the walks to the places to fall back to."""
    back = plan.walk_back
    others = [(alike[0].walk, _fall_back_name(alike)) for _, alike in _fall_backs(plan)]
    return [
        _way("walk in", "walk in", plan.walk),
        *([_way("walk back", "walk back", back)] if back is not None else []),
        *(_way("fall-back", f"walk to the {name}", walk) for walk, name in others if walk),
    ]


def table_of(parts: Sequence[PlanPart]) -> gpd.GeoDataFrame:
    """The kind, the name and the note of each, with its shape."""
    fields = ("kind", "name", "note")
    columns = {field: [getattr(part, field) for part in parts] for field in fields}
    shapes = [part.shape for part in parts]
    return gpd.GeoDataFrame(columns, geometry=shapes, crs="EPSG:4326")


def lines_of(plan: Plan, fall_backs: Sequence[FallBack] = ()) -> Iterator[str]:
    """The timeline, what is not known, some fall-backs, and the cautions, a line each."""
    for stage in plan.stages:
        yield f"{clock_of_zone(stage.at)} {stage_words(plan, stage)}"
    if unknown := hidden_ground(plan):
        yield unknown
    for other in fall_backs:
        yield fall_back_words(plan, other)
    yield from cautions(plan)


def _fall_backs(plan: Plan) -> list[tuple[Spot, list[FallBack]]]:
    """The places to fall back to, each with the fall-backs that name it."""
    found: dict[tuple[float, float], tuple[Spot, list[FallBack]]] = {}
    for other in plan.fall_backs:
        if other.spot is not None:
            at = round(other.spot.lon_deg, _DECIMALS), round(other.spot.lat_deg, _DECIMALS)
            found.setdefault(at, (other.spot, []))[1].append(other)
    return list(found.values())


def _fall_back_name(alike: Sequence[FallBack]) -> str:
    tops = " or ".join(f"{other.mist_top_m:.0f}" for other in alike)
    return f"fall-back, mist at {tops} m"


def _place(kind: str, name: str, note: str, at: Spot | Hill, height_m: float) -> PlanPart:
    known = [] if math.isnan(height_m) else [height_m]
    shape = shapely.Point(at.lon_deg, at.lat_deg, *known)
    return PlanPart(kind=kind, name=name, note=note, shape=shape)


def _way(kind: str, name: str, walk: Walk) -> PlanWay:
    when = "by day" if walk.sets_out is None else f"from {clock_of_zone(walk.sets_out)}"
    note = (
        f"{walk.there_s / 60.0:.0f} min {when}, {walk.length_m / 1000.0:.1f} km, "
        f"{walk.ascent_m:.0f} m up, {walk.descent_m:.0f} m down"
    )
    line = np.column_stack([walk.lon_deg, walk.lat_deg, walk.height_m])
    # a walk of no length stays where it is
    shape = shapely.LineString(line if len(line) > 1 else np.repeat(line, 2, axis=0))
    return PlanWay(kind=kind, name=name, note=note, shape=shape, walk=walk)
