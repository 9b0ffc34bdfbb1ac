"""When direct sun reaches the mist, or the valley's floor, between a spot and a hill, or leaves it.

A few places are looked at on the line from the one to the other: those under mist, or else the
lowest; of either those that the spot sees, where it sees any::

    spot o._                              hill
            ''--.__                    .-'
      line of sight '--._|__|__|__.--''
                          places
"""

from __future__ import annotations

import datetime as dt
import math
from contextlib import suppress
from dataclasses import dataclass

import numpy as np

from terrain.arrays import Flags, Floats
from terrain.errors import NoGround, NoSun
from terrain.ground.geodesy import destination
from terrain.ground.places import Spot
from terrain.ground.relief.slope import slope_at
from terrain.sight.line import profile
from terrain.sight.rays import eye_at
from terrain.sight.skyline import skyline
from terrain.sun.path import sun_path
from terrain.view.contact import Contact, sun_contact
from terrain.view.look import View
from terrain.view.scene import Scene
from terrain.view.sun_azimuths import needed_under

_PLACES = 15
_LOOKED_AT = 5
_LOW_SHARE = 0.3
_EYE_M = 0.1


@dataclass(frozen=True, kw_only=True)
class ValleyLight:
    """The light between a spot and a hill.

    contact: the sun's appearance at the middle one of the places, in order of time, or of an
    evening its going. first, last: of all of them. on_mist: they lie under mist. seen: the spot
    sees them. azimuth_deg, altitude_deg: where the middle one lies from the spot.
    """

    contact: Contact
    first: dt.datetime
    last: dt.datetime
    on_mist: bool
    seen: bool
    azimuth_deg: float
    altitude_deg: float


def valley_light(
    scene: Scene, view: View, day: dt.date, *, evening: bool = False
) -> ValleyLight | None:
    """When the sun reaches the mist, or the valley's floor; None where it does not that day.

    evening: when it leaves it.
    """
    away_m = np.linspace(0.15, 0.85, _PLACES) * view.distance_m
    lon, lat = destination(view.spot.lon_deg, view.spot.lat_deg, view.azimuth_deg, away_m)
    heights_m = scene.dem.heights_at(lon, lat)
    misty = np.zeros(_PLACES, dtype=bool)
    if scene.mist is not None:
        misty = ~np.isnan(scene.mist.top_at(lon, lat))
    known = ~np.isnan(heights_m)
    low = known & (misty if misty.any() else heights_m <= np.nanquantile(heights_m, _LOW_SHARE))
    altitude_deg, in_sight = _from_the_spot(scene, view, away_m)
    seen = bool((low & in_sight).any())
    places = np.flatnonzero(low & in_sight if seen else low)
    found: list[tuple[Contact, int]] = []
    for place in places[:: max(places.size // _LOOKED_AT, 1)]:
        at = Spot(lon_deg=float(lon[place]), lat_deg=float(lat[place]), eye_m=_EYE_M)
        with suppress(NoSun, NoGround):
            contact = _contact_at(scene, at, day, level=bool(misty[place]), evening=evening)
            found.append((contact, int(place)))
    if not found:
        return None
    found.sort(key=lambda pair: pair[0].appears.timestamp(), reverse=evening)
    middle, place = found[len(found) // 2]
    first, last = (found[end][0].appears for end in ((-1, 0) if evening else (0, -1)))
    return ValleyLight(
        contact=middle,
        first=first,
        last=last,
        on_mist=bool(misty.any()),
        seen=seen,
        azimuth_deg=view.azimuth_deg,
        altitude_deg=float(altitude_deg[place]),
    )


def _from_the_spot(scene: Scene, view: View, away_m: Floats) -> tuple[Floats, Flags]:
    """Altitudes of places toward the hill as the spot has them, and whether it sees them."""
    line = profile(
        scene.seen,
        view.spot,
        view.azimuth_deg,
        reach_m=view.distance_m,
        refraction=scene.refraction,
    )
    at = np.clip(np.searchsorted(line.distance_m, away_m), 0, line.distance_m.size - 1)
    altitude = np.nan_to_num(line.altitude_deg, nan=-90.0)
    return altitude[at], altitude[at] >= np.maximum.accumulate(altitude)[at]


def _contact_at(scene: Scene, at: Spot, day: dt.date, *, level: bool, evening: bool) -> Contact:
    """The sun's appearance at a place; the mist's top is level, the ground is as steep as it is."""
    eye_m = eye_at(scene.seen, at).height_m
    path = sun_path(day, lon_deg=at.lon_deg, lat_deg=at.lat_deg, height_m=eye_m, evening=evening)
    needed = needed_under(path)
    sky = skyline(scene.seen, at, refraction=scene.refraction, **needed._asdict())
    slope_deg = 0.0 if level else float(np.nan_to_num(slope_at(scene.dem, at.lon_deg, at.lat_deg)))
    slope = math.tan(math.radians(slope_deg))
    accuracy = scene.country.accuracy
    return sun_contact(sky, day, accuracy=accuracy, spot_slope=slope, evening=evening)
