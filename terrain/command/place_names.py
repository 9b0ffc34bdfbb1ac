"""The places that a command line means: coordinates, or a name among those that are known."""

from __future__ import annotations

import difflib
import math
from collections.abc import Callable, Iterable, Sequence
from typing import Any, Final

from terrain.command.coordinates import degrees_in, on_grid
from terrain.command.report import aside
from terrain.errors import TerrainError
from terrain.ground.places import Spot

# rows that lie no farther apart are one place, written twice: a cell of open rasters
_ONE_PLACE_M: Final = 30.0
_MOST_SHOWN: Final = 60


def place_at(text: str) -> Spot | None:
    """`LAT,LON` in degrees of any form as a place, None where the text is something else.

    >>> place_at("54.4,-24.05")
    Spot(lon_deg=-24.05, lat_deg=54.4, eye_m=1.7, name='')
    """
    found = degrees_in(text)
    if found is None:
        return None
    lat, lon = found
    try:
        return Spot(lon_deg=lon, lat_deg=lat)
    except TerrainError as error:
        raise TerrainError(f"{text[:_MOST_SHOWN]} is not a place: {_why(lat)}") from error


def place_on(text: str, crs_of_ground: Callable[[], Any]) -> Spot | None:
    """A place by metres of a grid, None where the text is something else.

    crs_of_ground: of metres that do not say of which grid they are.
    """
    found = on_grid(text)
    if found is None:
        return None
    from pyproj import CRS, Transformer

    crs = CRS.from_user_input(found.crs or crs_of_ground())
    if not crs.is_projected:
        raise TerrainError(
            f"{text[:_MOST_SHOWN]} are metres, but the ground is in degrees: give LAT,LON, or UTM "
            "with its zone, such as 30U 512345 6012345"
        )
    lon, lat = Transformer.from_crs(crs, "EPSG:4326", always_xy=True).transform(*found[:2])
    if not math.isfinite(lon + lat):
        raise TerrainError(f"{text[:_MOST_SHOWN]} is no place of {crs.name}")
    return Spot(lon_deg=lon, lat_deg=lat)


def _why(lat_deg: float) -> str:
    if 89.0 < abs(lat_deg) <= 90.0:
        return "at the poles every way is south or north"
    return "give LAT,LON in degrees, latitude first"


def place_called(text: str, known: Sequence[Iterable[Spot]], kind: str, advice: str) -> Spot:
    """The place of a name, case aside, from several lists.

    Where no list has it, the one name that begins so is taken, and said. TerrainError where two
    places have it, of one list or of two, and one that lists close names where none has.
    """
    wanted = " ".join(text.split()).casefold()
    called = [place for places in known for place in places if place.name.casefold() == wanted]
    exact = [place for place in called if place.name == text]
    if called:
        return _only(exact or called, kind)
    by_name = {place.name.casefold(): place.name for places in known for place in places}
    begins = [name for name in by_name if wanted and name.startswith(wanted)]
    if len(begins) == 1:
        aside(f"note: {text} is taken for {by_name[begins[0]]}")
        return place_called(by_name[begins[0]], known, kind, advice)
    within = [name for name in by_name if wanted in name]
    short = wanted[:_MOST_SHOWN]
    close = within[:3] or difflib.get_close_matches(short, list(by_name), n=3)
    hint = f"; did you mean {' or '.join(by_name[name] for name in close)}?" if close else ""
    raise TerrainError(f"no {kind} is called {text[:_MOST_SHOWN]!r}: {advice}{hint}")


def _only(places: Sequence[Spot], kind: str) -> Spot:
    """The first of the places of one name; TerrainError where others lie elsewhere."""
    if len(places) > 1:
        from terrain.ground.geodesy import azimuth_and_distance

        lon, lat = [place.lon_deg for place in places], [place.lat_deg for place in places]
        apart_m = azimuth_and_distance(lon[0], lat[0], lon, lat)[1]
        if apart_m.max() > _ONE_PLACE_M:
            at = [f"{place.lat_deg:.5f},{place.lon_deg:.5f}" for place in places]
            more = f" and {len(at) - 8} more" if len(at) > 8 else ""
            raise TerrainError(
                f"{len(places)} places are called {places[0].name}, at "
                f"{' and at '.join(at[:8])}{more}: give the {kind} by its LAT,LON"
            )
    return places[0]
