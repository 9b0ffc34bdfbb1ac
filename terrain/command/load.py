"""From the words of a command line to what the library takes: ground, spots, hills, mist, dates."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING

from terrain.command.area import Area, Place, open_area, parse_latlon
from terrain.errors import TerrainError

if TYPE_CHECKING:
    from terrain.ground.dem import Dem
    from terrain.ground.places import Hill, Spot
    from terrain.mist.surface import Mist

__all__ = [
    "area_of",
    "day_of",
    "ground_of",
    "hill_of",
    "hill_place",
    "mist_of",
    "spot_of",
    "starts_of",
    "year_of",
]

_REACH_KM = 60.0


def area_of(paths: list[Path], *, crs: str | None = None, unit: str | None = None) -> Area:
    """The area of a command line, with what the options say put over what its file says."""
    from dataclasses import replace

    area = open_area(paths)
    return replace(area, crs=crs or area.crs, height_unit=unit or area.height_unit)


def ground_of(area: Area, *, around: Place | None = None, reach_km: float | None = None) -> Dem:
    """The ground of an area: all of it, or what lies within the reach of a place."""
    from terrain.ground.places import Spot
    from terrain.ground.read import read_dem

    reach_m = 1000.0 * (_REACH_KM if reach_km is None else reach_km)
    if not reach_m > 0.0:
        raise TerrainError(f"the reach must be more than 0 km, got {reach_km:g}")
    centre = None if around is None else Spot(lon_deg=around.lon_deg, lat_deg=around.lat_deg)
    return read_dem(
        list(area.rasters),
        around=centre,
        reach_m=None if centre is None else reach_m,
        crs=area.crs,
        height_unit=area.height_unit,
    )


def spot_of(area: Area, text: str, *, eye_m: float | None = None) -> Spot:
    """The spot that a text names, as LAT,LON or by the area's places."""
    from terrain.constants import EYE_HEIGHT_M
    from terrain.ground.places import Spot

    place = area.place(text)
    return Spot(
        lon_deg=place.lon_deg,
        lat_deg=place.lat_deg,
        name=place.name,
        eye_m=EYE_HEIGHT_M if eye_m is None else eye_m,
    )


def starts_of(area: Area) -> list[Spot]:
    """The places of the area where a walk can start."""
    from terrain.ground.places import Spot

    return [
        Spot(lon_deg=start.lon_deg, lat_deg=start.lat_deg, name=name)
        for name, start in area.starts.items()
    ]


def hill_place(area: Area, text: str | None) -> Place:
    """Where the hill is: from LAT,LON, from the area's summit names or places, or its default."""
    wanted = text or area.defaults.get("hill")
    if not wanted:
        raise TerrainError("no hill was given: add --hill with its name or LAT,LON")
    point = parse_latlon(str(wanted))
    if point is not None:
        return point
    if area.summits is None:
        return area.place(str(wanted))
    from terrain.command.area import by_name
    from terrain.ground.names import read_names

    names = read_names(area.summits)
    places = {
        str(name): Place(lon_deg=float(at.x), lat_deg=float(at.y), name=str(name))
        for name, at in zip(names["name"], names.geometry, strict=True)
    }
    known = {**area.places, **places}
    return by_name(str(wanted), known, "hill", "give LAT,LON or a name from the summit file")


def hill_of(dem: Dem, place: Place) -> Hill:
    """The hill whose summit is at a place, or the highest ground close by."""
    from terrain.ground.summits import hill_at

    return hill_at(dem, place.lon_deg, place.lat_deg, name=place.name)


def mist_of(area: Area, dem: Dem, top_m: float | None) -> Mist | None:
    """A level mist with the given top, or that of the area's defaults; None without either."""
    from terrain.mist.surface import level_mist

    top = area.defaults.get("mist_top_m") if top_m is None else top_m
    return None if top is None else level_mist(dem, float(top))


def day_of(area: Area, text: str | None) -> dt.date:
    """A date from `YYYY-MM-DD`, or the area's default."""
    if text is None:
        day = area.default_date()
        if day is None:
            raise TerrainError("no date was given: add --date YYYY-MM-DD")
        return day
    try:
        return dt.date.fromisoformat(text)
    except ValueError as error:
        raise TerrainError(f"{text!r} is not a date: give YYYY-MM-DD") from error


def year_of(area: Area, year: int | None) -> int:
    """A calendar year, or that of the area's default date, or this one."""
    if year is not None:
        return year
    day = area.default_date()
    return day.year if day is not None else dt.datetime.now(dt.UTC).year
