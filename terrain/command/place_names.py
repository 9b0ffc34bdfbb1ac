"""The places that a command line means: `LAT,LON`, or a name among those that are known."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from typing import Final

from terrain.errors import TerrainError
from terrain.ground.places import Spot

# rows that lie no farther apart are one place, written twice: a cell of open rasters
_ONE_PLACE_M: Final = 30.0
_MOST_SHOWN: Final = 60


def place_at(text: str) -> Spot | None:
    """`LAT,LON` in degrees as a place, None where the text is something else.

    >>> place_at("54.4,-24.05")
    Spot(lon_deg=-24.05, lat_deg=54.4, eye_m=1.7, name='')
    """
    try:
        lat, lon = (float(part) for part in text.split(","))
    except ValueError:
        return None
    try:
        return Spot(lon_deg=lon, lat_deg=lat)
    except TerrainError as error:
        raise TerrainError(f"{text[:_MOST_SHOWN]} is not a place: {_why(lat)}") from error


def _why(lat_deg: float) -> str:
    if 89.0 < abs(lat_deg) <= 90.0:
        return "at the poles every way is south or north"
    return "give LAT,LON in degrees, latitude first"


def place_called(text: str, known: Sequence[Iterable[Spot]], kind: str, advice: str) -> Spot:
    """The place of a name, case aside, from the first of several lists that has it.

    TerrainError where two places of one list have it, and one that lists close names where none.
    """
    wanted = text.casefold()
    for places in known:
        called = [place for place in places if place.name.casefold() == wanted]
        exact = [place for place in called if place.name == text]
        if called:
            return _only(exact or called, kind)
    by_name = {place.name.casefold(): place.name for places in known for place in places}
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
