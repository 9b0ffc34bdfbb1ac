"""A plan as files for other programs: waypoints and routes, maps, tables."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import geopandas as gpd
import gpxpy.gpx
import numpy as np
import pandas as pd
import pyogrio
import shapely
from shapely.geometry.base import BaseGeometry

from terrain.errors import TerrainError
from terrain.plan.morning import FallBack, Plan, Stage
from terrain.show.files.calendar import save_calendar
from terrain.show.files.export import whole_file
from terrain.walk.walk import Walk
from terrain.words.clocks import clock_of_zone
from terrain.words.figures import plain, spot_label
from terrain.words.plan import basis, cautions, fall_back_words, hidden_ground, note, stage_words

__all__ = ["save_calendar", "save_gpx", "save_kml", "save_plan_table"]

_DECIMALS: Final = 7
"""Of a degree: a centimetre."""


@dataclass(frozen=True, kw_only=True)
class _Place:
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
class _Way:
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


def save_gpx(plan: Plan, path: str | Path) -> None:
    """Write the places and the walks of a plan as GPX 1.1.

    The start, the vantage, the hill and the fall-backs are waypoints; the walk in, and that to
    each fall-back, a route whose points have heights, and in their comments the clock time at
    which they are passed: GPX keeps `time` for when a point was made. Raises TerrainError for
    another ending than .gpx and where the file cannot be written.

    Source: GPX 1.1 schema, topografix.com/GPX/1/1.
    """
    _check_ending(path, ".gpx")
    gpx = gpxpy.gpx.GPX()
    gpx.creator = "terrain"
    gpx.name, gpx.description = plain(_title(plan)), plain("\n".join(_remarks(plan)))
    for place in _places(plan):
        gpx.waypoints.append(
            gpxpy.gpx.GPXWaypoint(
                latitude=round(place.lat_deg, _DECIMALS),
                longitude=round(place.lon_deg, _DECIMALS),
                elevation=_known(place.height_m),
                name=plain(place.name),
                description=plain(place.note),
                type=place.kind,
            )
        )
    for way in _ways(plan):
        route = gpxpy.gpx.GPXRoute(name=plain(way.name), description=plain(way.note))
        route.points.extend(_route_points(way))
        gpx.routes.append(route)
    with whole_file(path) as partial:
        partial.write_text(gpx.to_xml(version="1.1"), encoding="utf-8")


def save_kml(plan: Plan, path: str | Path) -> None:
    """Write the places and the walks of a plan as KML 2.2, by GDAL; errors as in `save_gpx`.

    Each has a name and a description, and its kind and height as further data.
    """
    _check_ending(path, ".kml")
    rows: list[tuple[str, str, str, BaseGeometry]] = [
        (place.name, place.note, place.kind, place.point) for place in _places(plan)
    ]
    rows += [(way.name, way.note, way.kind, way.line) for way in _ways(plan)]
    name, note, kind, shape = zip(*rows, strict=True)
    columns = {
        "Name": [plain(text) for text in name],
        "Description": [plain(text) for text in note],
        "kind": kind,
    }
    table = gpd.GeoDataFrame(columns, geometry=list(shape), crs="EPSG:4326")
    with whole_file(path) as partial:
        partial.unlink()
        table.to_file(partial, driver="KML", layer="morning")


def save_plan_table(plan: Plan, path: str | Path) -> None:
    """Write a plan as a GeoPackage with the layers places, walk and timeline.

    timeline has no places: one row a stage, with its moment in universal time (`at`) and by the
    clock of the place (`clock`), its ± and the parts of it or what it rests on (`basis`), and its
    frame. Errors as in `save_gpx`, for another ending than .gpkg.
    """
    _check_ending(path, ".gpkg")
    with whole_file(path) as partial:
        partial.unlink()
        _place_table(plan).to_file(partial, driver="GPKG", layer="places")
        _walk_table(plan).to_file(partial, driver="GPKG", layer="walk")
        pyogrio.write_dataframe(_timeline(plan), partial, driver="GPKG", layer="timeline")


def _check_ending(path: str | Path, ending: str) -> None:
    if Path(path).suffix.lower() != ending:
        raise TerrainError(f"cannot write a plan as {path}: the name must end in {ending}")


def _title(plan: Plan) -> str:
    return f"{plan.hill.label} at sunrise, {plan.day}"


def _remarks(plan: Plan) -> Iterator[str]:
    """The timeline, what is not known, and the cautions, a line each."""
    for stage in plan.stages:
        yield f"{clock_of_zone(stage.at)} {stage_words(plan, stage)}"
    if unknown := hidden_ground(plan):
        yield unknown
    yield from cautions(plan)


def _places(plan: Plan) -> list[_Place]:
    walk, spot, hill = plan.walk, plan.spot, plan.hill
    begins = "" if walk.sets_out is None else f"start walking at {clock_of_zone(walk.sets_out)}"
    places = [
        _Place(
            kind="start",
            name=spot_label(plan.start, "start"),
            lon_deg=plan.start.lon_deg,
            lat_deg=plan.start.lat_deg,
            height_m=float(walk.height_m[0]),
            note=begins,
        ),
        _Place(
            kind="vantage",
            name=spot_label(spot, "vantage"),
            lon_deg=spot.lon_deg,
            lat_deg=spot.lat_deg,
            height_m=plan.backlight.view.spot_height_m,
            note=f"{clock_of_zone(plan.backlight.contact.appears)}: {plan.backlight.reason}",
        ),
        _Place(
            kind="hill",
            name=hill.label,
            lon_deg=hill.lon_deg,
            lat_deg=hill.lat_deg,
            height_m=hill.height_m,
            note=f"seen toward {plan.backlight.view.azimuth_deg:.1f}°",
        ),
    ]
    return places + [_fall_back_place(plan, alike) for alike in _fall_backs(plan)]


def _ways(plan: Plan) -> list[_Way]:
    ways = [_Way(kind="walk in", name="walk in", walk=plan.walk, note=_walk_note(plan.walk))]
    for alike in _fall_backs(plan):
        walk = alike[0].walk
        if walk is not None:
            name = f"walk to the {_fall_back_name(alike)}"
            ways.append(_Way(kind="fall-back", name=name, walk=walk, note=_walk_note(walk)))
    return ways


def _fall_backs(plan: Plan) -> list[list[FallBack]]:
    """The fall-backs that name a place, those at one place together."""
    found: dict[tuple[float, float], list[FallBack]] = {}
    for other in plan.fall_backs:
        if other.spot is not None:
            at = round(other.spot.lon_deg, _DECIMALS), round(other.spot.lat_deg, _DECIMALS)
            found.setdefault(at, []).append(other)
    return list(found.values())


def _fall_back_name(alike: Sequence[FallBack]) -> str:
    tops = " or ".join(f"{other.mist_top_m:.0f}" for other in alike)
    return f"fall-back, mist at {tops} m"


def _fall_back_place(plan: Plan, alike: Sequence[FallBack]) -> _Place:
    spot, walk = alike[0].spot, alike[0].walk
    if spot is None:
        raise ValueError("a fall-back without a spot is no place")
    return _Place(
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


def _route_points(way: _Way) -> Iterator[gpxpy.gpx.GPXRoutePoint]:
    walk = way.walk
    for at, moment in enumerate(way.moments()):
        so_far = f"{walk.distance_m[at] / 1000.0:.2f} km"
        yield gpxpy.gpx.GPXRoutePoint(
            latitude=round(float(walk.lat_deg[at]), _DECIMALS),
            longitude=round(float(walk.lon_deg[at]), _DECIMALS),
            elevation=_known(float(walk.height_m[at])),
            comment=so_far if moment is None else f"{clock_of_zone(moment)}, {so_far}",
        )


def _known(height_m: float) -> float | None:
    return None if math.isnan(height_m) else round(height_m, 2)


def _place_table(plan: Plan) -> gpd.GeoDataFrame:
    places = _places(plan)
    columns = {name: [getattr(p, name) for p in places]
               for name in ("kind", "name", "height_m", "note")}  # fmt: skip
    points = gpd.points_from_xy([p.lon_deg for p in places], [p.lat_deg for p in places])
    return gpd.GeoDataFrame(columns, geometry=points, crs="EPSG:4326")


def _walk_table(plan: Plan) -> gpd.GeoDataFrame:
    rows = [
        {
            "kind": way.kind,
            "name": way.name,
            "note": way.note,
            "sets_out": _universal(way.walk.sets_out),
            "arrives": _universal(way.walk.arrives),
            "there_min": way.walk.there_s / 60.0,
            "back_min": way.walk.back_s / 60.0,
            "dark_min": way.walk.dark_s / 60.0,
            "length_m": way.walk.length_m,
            "ascent_m": way.walk.ascent_m,
            "descent_m": way.walk.descent_m,
            "off_path_m": way.walk.off_path_m,
        }
        for way in _ways(plan)
    ]
    return gpd.GeoDataFrame(rows, geometry=[way.line for way in _ways(plan)], crs="EPSG:4326")


def _timeline(plan: Plan) -> pd.DataFrame:
    return pd.DataFrame([_stage_row(plan, stage) for stage in plan.stages])


def _stage_row(plan: Plan, stage: Stage) -> dict[str, Any]:
    doubt, framing = stage.doubt, stage.framing
    return {
        "stage": stage.kind.value,
        "at": _universal(stage.at),
        "clock": clock_of_zone(stage.at),
        "plus_minus_s": stage.plus_minus_s,
        "raster_s": math.nan if doubt is None else doubt.raster_s,
        "position_s": math.nan if doubt is None else doubt.position_s,
        "refraction_s": math.nan if doubt is None else doubt.refraction_s,
        "basis": basis(stage),
        "note": note(plan, stage),
        "focal_mm": math.nan if framing is None else framing.frame.focal_mm,
        "held": "" if framing is None else framing.orientation.value,
        "azimuth_deg": math.nan if framing is None else framing.frame.azimuth_deg,
        "altitude_deg": math.nan if framing is None else framing.frame.altitude_deg,
        "sun": "" if framing is None else framing.sun.state.value,
        "bracket": framing is not None and framing.expect_to_bracket,
    }


def _universal(moment: dt.datetime | None) -> pd.Timestamp | None:
    return None if moment is None else pd.Timestamp(moment.astimezone(dt.UTC))
