"""From the words of a command line to what the library takes: ground, spots, hills, mist, dates."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from terrain.command.area import Area, Place, by_name, open_area, parse_latlon
from terrain.errors import TerrainError

if TYPE_CHECKING:
    from terrain.ground.dem import Dem
    from terrain.ground.places import Hill, Spot
    from terrain.mist.mist import Mist

__all__ = [
    "area_of",
    "check_mist",
    "day_of",
    "ground_of",
    "hill_of",
    "hill_place",
    "mist_of",
    "sources_of",
    "spot_of",
    "starts_of",
    "year_of",
]

_REACH_KM = 60.0

Sources = Sequence[tuple["Spot", float | None]]
"""Where a mist comes from, and how deep it lies there if that is said, metres."""


def area_of(
    paths: list[Path],
    *,
    crs: str | None = None,
    unit: str | None = None,
    names: Path | None = None,
) -> Area:
    """The area of a command line, with what the options say put over what its file says."""
    from dataclasses import replace

    area = open_area(paths)
    return replace(
        area,
        crs=crs or area.crs,
        height_unit=unit or area.height_unit,
        summits=names or area.summits,
    )


def ground_of(area: Area, *, around: Place | None = None, reach_km: float | None = None) -> Dem:
    """The ground of an area: all of it, or what lies within the reach of a place."""
    from terrain.ground.places import Spot
    from terrain.ground.raster.read import read_dem

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
    known = {**area.starts, **area.places, **area.named}
    return by_name(str(wanted), known, "hill", "give LAT,LON, or a name from a file of places")


def hill_of(dem: Dem, place: Place) -> Hill:
    """The hill whose summit is at a place, or the highest ground close by."""
    from terrain.ground.relief.summits import hill_at

    return hill_at(dem, place.lon_deg, place.lat_deg, name=place.name)


def mist_of(
    area: Area,
    dem: Dem,
    top_m: float | None,
    *,
    depth_m: float | None = None,
    ceiling_m: float | None = None,
    sources: Sources = (),
) -> Mist | None:
    """The mist that the options ask for, None where neither they nor the area's defaults do.

    Level with its top at top_m, else that of the defaults; or along the valley floors, of the
    given depth or of that of each source, under the ceiling.
    """
    from terrain.mist.level import level_mist
    from terrain.mist.valley import valley_mist

    check_mist(top_m, depth_m, ceiling_m, sources)
    seeds = [spot for spot, _ in sources] or None
    if any(own_m is not None for _, own_m in sources):
        depths: dict[Spot | Hill, float] = {
            spot: own_m if own_m is not None else float(depth_m or 0.0) for spot, own_m in sources
        }
        return valley_mist(dem, depths, ceiling_m=ceiling_m)
    if depth_m is not None:
        return valley_mist(dem, depth_m, ceiling_m=ceiling_m, seeds=seeds)
    top = area.defaults.get("mist_top_m") if top_m is None else top_m
    return None if top is None else level_mist(dem, float(top), seeds=seeds)


def check_mist(
    top: object, depth_m: float | None, ceiling_m: float | None, sources: Sources = ()
) -> None:
    """TerrainError where options for a level mist and for one along valley floors are mixed."""
    own = [spot for spot, own_m in sources if own_m is not None]
    said = f"{top:g}" if isinstance(top, float) else top
    if top is not None and depth_m is not None:
        raise TerrainError(
            f"--mist-top {said} asks for level mist, --mist-depth {depth_m:g} for mist along the "
            "valley floors: give one of the two"
        )
    if top is not None and own:
        raise TerrainError(
            f"--mist-top {said} asks for level mist, but a depth after = is for mist along the "
            "valley floors: give one of the two"
        )
    if ceiling_m is not None and depth_m is None and not own:
        raise TerrainError(
            f"--mist-ceiling {ceiling_m:g} is a lid on mist along the valley floors: add "
            "--mist-depth, or give the height as --mist-top"
        )
    bare = next((spot for spot, own_m in sources if own_m is None), None)
    if own and bare is not None and depth_m is None:
        place = bare.name or f"{bare.lat_deg:g},{bare.lon_deg:g}"
        raise TerrainError(
            f"{place} has no depth: write {place}=M, or add --mist-depth for places without one"
        )


def sources_of(area: Area, texts: Sequence[str] | None) -> Sources:
    """The sources of a mist from `PLACE`, or from `PLACE=M` with a depth of its own, metres."""
    return [_source(area, text) for text in texts or ()]


def _source(area: Area, text: str) -> tuple[Spot, float | None]:
    place, equals, depth = text.rpartition("=")
    if not equals:
        return spot_of(area, text), None
    try:
        return spot_of(area, place), float(depth)
    except ValueError as error:
        raise TerrainError(f"{text!r} gives no depth after the =: write PLACE=METRES") from error


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
