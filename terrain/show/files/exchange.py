"""A plan as files for other programs: waypoints and routes, maps, tables."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import geopandas as gpd
import gpxpy.gpx
import pandas as pd
import pyogrio
from shapely.geometry.base import BaseGeometry

from terrain.plan.morning import Plan, Stage
from terrain.show.files.export import check_ending, whole_file
from terrain.show.files.plan_places import DECIMALS, PlanWay, places_of, ways_of
from terrain.words.clocks import clock_of_zone
from terrain.words.figures import plain
from terrain.words.plan import basis, cautions, hidden_ground, note, stage_words

__all__ = ["save_gpx", "save_kml", "save_plan_table"]


def save_gpx(plan: Plan, path: str | Path) -> None:
    """Write the places and the walks of a plan as GPX 1.1.

    The start, the vantage, the hill and the fall-backs are waypoints; the walk in, and that to
    each fall-back, a route whose points have heights, and in their comments the clock time at
    which they are passed: GPX keeps `time` for when a point was made.

    Parameters
    ----------
    plan : Plan
        As `plan_morning` gives it.
    path : path
        The file, complete or not at all.

    Raises
    ------
    TerrainError
        For another ending than .gpx, and where the file cannot be written.

    References
    ----------
    GPX 1.1 schema, topografix.com/GPX/1/1.

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
    >>> import tempfile
    >>> from pathlib import Path
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     terrain.save_gpx(plan, Path(folder) / "plan.gpx")
    ...     (Path(folder) / "plan.gpx").read_text().count("<wpt ")
    3
    """
    check_ending(path, "write a plan as", ".gpx")
    gpx = gpxpy.gpx.GPX()
    gpx.creator = "terrain"
    gpx.name, gpx.description = plain(_title(plan)), plain("\n".join(_remarks(plan)))
    for place in places_of(plan):
        gpx.waypoints.append(
            gpxpy.gpx.GPXWaypoint(
                latitude=round(place.lat_deg, DECIMALS),
                longitude=round(place.lon_deg, DECIMALS),
                elevation=_known(place.height_m),
                name=plain(place.name),
                description=plain(place.note),
                type=place.kind,
            )
        )
    for way in ways_of(plan):
        route = gpxpy.gpx.GPXRoute(name=plain(way.name), description=plain(way.note))
        route.points.extend(_route_points(way))
        gpx.routes.append(route)
    with whole_file(path) as partial:
        partial.write_text(gpx.to_xml(version="1.1"), encoding="utf-8")


def save_kml(plan: Plan, path: str | Path) -> None:
    """Write the places and the walks of a plan as KML 2.2, by GDAL.

    Each has a name and a description, and its kind and height as further data.

    Parameters
    ----------
    plan : Plan
        As `plan_morning` gives it.
    path : path
        The file, complete or not at all.

    Raises
    ------
    TerrainError
        For another ending than .kml, and where the file cannot be written.

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
    >>> import tempfile
    >>> from pathlib import Path
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     terrain.save_kml(plan, Path(folder) / "plan.kml")
    ...     "Cone" in (Path(folder) / "plan.kml").read_text()
    True
    """
    check_ending(path, "write a plan as", ".kml")
    rows: list[tuple[str, str, str, BaseGeometry]] = [
        (place.name, place.note, place.kind, place.point) for place in places_of(plan)
    ]
    rows += [(way.name, way.note, way.kind, way.line) for way in ways_of(plan)]
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

    The timeline has no places: one row a stage, with its moment in universal time (`at`) and by the
    clock of the place (`clock`), its ± and the parts of it or what it rests on (`basis`), and its
    frame.

    Parameters
    ----------
    plan : Plan
        As `plan_morning` gives it.
    path : path
        The file, complete or not at all.

    Raises
    ------
    TerrainError
        For another ending than .gpkg, and where the file cannot be written.

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
    >>> import tempfile
    >>> from pathlib import Path
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     terrain.save_plan_table(plan, Path(folder) / "plan.gpkg")
    ...     [file.name for file in Path(folder).iterdir()]
    ['plan.gpkg']
    """
    check_ending(path, "write a plan as", ".gpkg")
    with whole_file(path) as partial:
        partial.unlink()
        _place_table(plan).to_file(partial, driver="GPKG", layer="places")
        _walk_table(plan).to_file(partial, driver="GPKG", layer="walk")
        pyogrio.write_dataframe(_timeline(plan), partial, driver="GPKG", layer="timeline")


def _title(plan: Plan) -> str:
    return f"{plan.hill.label} at sunrise, {plan.day}"


def _remarks(plan: Plan) -> Iterator[str]:
    """The timeline, what is not known, and the cautions, a line each."""
    for stage in plan.stages:
        yield f"{clock_of_zone(stage.at)} {stage_words(plan, stage)}"
    if unknown := hidden_ground(plan):
        yield unknown
    yield from cautions(plan)


def _route_points(way: PlanWay) -> Iterator[gpxpy.gpx.GPXRoutePoint]:
    walk = way.walk
    for at, moment in enumerate(way.moments()):
        so_far = f"{walk.distance_m[at] / 1000.0:.2f} km"
        yield gpxpy.gpx.GPXRoutePoint(
            latitude=round(float(walk.lat_deg[at]), DECIMALS),
            longitude=round(float(walk.lon_deg[at]), DECIMALS),
            elevation=_known(float(walk.height_m[at])),
            comment=so_far if moment is None else f"{clock_of_zone(moment)}, {so_far}",
        )


def _known(height_m: float) -> float | None:
    return None if math.isnan(height_m) else round(height_m, 2)


def _place_table(plan: Plan) -> gpd.GeoDataFrame:
    places = places_of(plan)
    fields = ("kind", "name", "height_m", "note")
    columns = {field: [getattr(place, field) for place in places] for field in fields}
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
        for way in ways_of(plan)
    ]
    return gpd.GeoDataFrame(rows, geometry=[way.line for way in ways_of(plan)], crs="EPSG:4326")


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
