"""A plan as files for other programs: waypoints and routes, maps, tables."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import geopandas as gpd
import gpxpy.gpx
import pandas as pd
import pyogrio
import shapely

from terrain.ground.names import plain
from terrain.plan.morning import Plan
from terrain.plan.stages import Stage, TimeDoubt
from terrain.show.files.export import check_database, write_layer
from terrain.show.files.plan_places import lines_of, places_of, table_of, ways_of
from terrain.show.files.whole import whole_file
from terrain.sun.clock import shifted
from terrain.walk.walk import Walk
from terrain.words.clocks import clock_of_zone
from terrain.words.plan import basis, note, sun_at

_NO_DOUBT: Final = TimeDoubt(
    raster_s=math.nan, position_s=math.nan, refraction_s=math.nan, hidden_s=math.nan
)


def save_gpx(plan: Plan, path: str | Path) -> None:
    """Write the places and the walks of a plan as GPX 1.1.

    The start, the vantage, the hill and the fall-backs are waypoints; the walk in, that back of an
    evening, and that to each fall-back, a route whose points have heights, and in their comments
    the clock time at which they are passed: GPX keeps `time` for when a point was made.

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
    gpx = gpxpy.gpx.GPX()
    gpx.creator = "terrain"
    gpx.name = plain(f"{plan.hill.label} at {sun_at(plan)}, {plan.day}")
    gpx.description = plain("\n".join(lines_of(plan)))
    for place in places_of(plan):
        (at,) = shapely.get_coordinates(place.shape, include_z=True)
        gpx.waypoints.append(
            gpxpy.gpx.GPXWaypoint(
                **_position(*at),
                name=plain(place.name),
                description=plain(place.note),
                type=place.kind,
            )
        )
    for way in ways_of(plan):
        route = gpxpy.gpx.GPXRoute(name=plain(way.name), description=plain(way.note))
        route.points.extend(_route_points(way.walk))
        gpx.routes.append(route)
    with whole_file(path, "write a plan as", ".gpx") as partial:
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
    table = table_of([*places_of(plan), *ways_of(plan)])
    table.insert(0, "Name", table.pop("name").map(plain))
    table.insert(1, "Description", table.pop("note").map(plain))
    with whole_file(path, "write a plan as", ".kml") as partial:
        layer = "evening" if plan.evening else "morning"
        write_layer(table, partial, driver="KML", layer=layer)


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
    with whole_file(path, "write a plan as", ".gpkg") as partial:
        _place_table(plan).to_file(partial, driver="GPKG", layer="places")
        _walk_table(plan).to_file(partial, driver="GPKG", layer="walk")
        timeline = pd.DataFrame([_stage_row(plan, stage) for stage in plan.stages])
        pyogrio.write_dataframe(timeline, partial, driver="GPKG", layer="timeline")
        check_database(partial)


def _position(lon_deg: float, lat_deg: float, height_m: float) -> dict[str, Any]:
    """A place of GPX, to a centimetre; without a height that is not known."""
    return {
        "longitude": round(float(lon_deg), 7),
        "latitude": round(float(lat_deg), 7),
        "elevation": None if math.isnan(height_m) else round(float(height_m), 2),
    }


def _route_points(walk: Walk) -> Iterator[gpxpy.gpx.GPXRoutePoint]:
    places = zip(walk.lon_deg, walk.lat_deg, walk.height_m, strict=True)
    for place, distance_m, time_s in zip(places, walk.distance_m, walk.time_s, strict=True):
        said = f"{distance_m / 1000.0:.2f} km"
        if walk.sets_out is not None:
            passed = shifted(walk.sets_out, dt.timedelta(seconds=float(time_s)))
            said = f"{clock_of_zone(passed)}, {said}"
        yield gpxpy.gpx.GPXRoutePoint(**_position(*place), comment=said)


def _place_table(plan: Plan) -> gpd.GeoDataFrame:
    table = table_of(places_of(plan))
    table.insert(2, "height_m", shapely.get_z(table.geometry))
    return table.set_geometry(shapely.force_2d(table.geometry))


def _walk_table(plan: Plan) -> gpd.GeoDataFrame:
    ways = ways_of(plan)
    fields = pd.DataFrame([_walk_fields(way.walk) for way in ways])
    return table_of(ways).join(fields)


def _walk_fields(walk: Walk) -> dict[str, Any]:
    return {
        "sets_out": _universal(walk.sets_out),
        "arrives": _universal(walk.arrives),
        "there_min": walk.there_s / 60.0,
        "back_min": walk.back_s / 60.0,
        "dark_min": walk.dark_s / 60.0,
        "length_m": walk.length_m,
        "ascent_m": walk.ascent_m,
        "descent_m": walk.descent_m,
        "off_path_m": walk.off_path_m,
    }


def _stage_row(plan: Plan, stage: Stage) -> dict[str, Any]:
    framing, sun = stage.framing, stage.sun
    return {
        "stage": stage.kind.value,
        "at": _universal(stage.at),
        "clock": clock_of_zone(stage.at),
        "uncertainty_s": stage.uncertainty_s,
        **vars(stage.doubt or _NO_DOUBT),
        "basis": basis(stage),
        "note": note(plan, stage),
        "focal_mm": math.nan if framing is None else framing.frame.focal_mm,
        "held": "" if framing is None else framing.orientation.value,
        "azimuth_deg": math.nan if framing is None else framing.frame.azimuth_deg,
        "altitude_deg": math.nan if framing is None else framing.frame.altitude_deg,
        "sun": "" if sun is None else sun.state.value,
        "bracket": sun is not None and sun.expect_to_bracket,
    }


def _universal(moment: dt.datetime | None) -> pd.Timestamp | None:
    return None if moment is None else pd.Timestamp(moment.astimezone(dt.UTC))
