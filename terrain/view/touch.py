"""When and where the sun first appears over a skyline on one day, and why it does not.

It is what a `Contact` begins with, and all that a search asks of most days.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from terrain.errors import NoGround, NoSun
from terrain.ground.geodesy import destination
from terrain.sight.skyline import Skyline
from terrain.view.rims import DARK_DEG, Rims, rims_on


@dataclass(frozen=True, kw_only=True)
class Touch:
    """When and where the sun first appears over a skyline: what a `Contact` says of that alone."""

    appears: dt.datetime
    azimuth_deg: float
    altitude_deg: float
    distance_m: float
    lon_deg: float
    lat_deg: float
    sun_azimuth_deg: float
    sun_altitude_deg: float
    evening: bool = False


def first_touch(skyline: Skyline, day: dt.date, *, evening: bool = False) -> Touch:
    """When and where `sun_contact` has the sun appear, with its errors and nothing else of it."""
    rims = rims_on(skyline, day, evening=evening)
    start_s = next(starts_of(rims), None)
    if start_s is None:
        raise NoSun(why_no_sun(rims))
    return touch_at(rims, start_s)


def starts_of(rims: Rims) -> Iterator[float]:
    """The moments at which the disc begins to show, in order."""
    return (edge.t_s for edge in rims.edges() if edge.rising)


def touch_at(rims: Rims, start_s: float) -> Touch:
    """What is told of a moment at which the disc begins to show; NoGround where none is known."""
    skyline, path = rims.skyline, rims.path
    sun_azimuth, sun_altitude = (float(value) for value in path.at(start_s))
    azimuth = rims.touching_azimuth(start_s)
    altitude, distance = float(skyline.at(azimuth)), float(skyline.distance_at(azimuth))
    if not math.isfinite(altitude):
        raise NoGround(
            f"the ground toward azimuth {azimuth:.1f} is unknown from "
            f"{skyline.spot.lat_deg:.4f}, {skyline.spot.lon_deg:.4f} on: "
            "stand farther from the raster's edge, or add the next raster"
        )
    lon, lat = destination(skyline.spot.lon_deg, skyline.spot.lat_deg, azimuth, distance)
    return Touch(
        appears=path.time(start_s),
        azimuth_deg=azimuth,
        altitude_deg=altitude,
        distance_m=distance,
        lon_deg=float(lon),
        lat_deg=float(lat),
        sun_azimuth_deg=float(np.mod(sun_azimuth, 360.0)),
        sun_altitude_deg=sun_altitude,
        evening=path.evening,
    )


def why_no_sun(rims: Rims) -> str:
    """The reason for which the disc never begins to show."""
    skyline, path = rims.skyline, rims.path
    times = np.arange(0.0, path.length_s, 60.0)
    height = rims.upper(times)
    light = path.true_at(times)[1] > DARK_DEG
    best = int(np.argmax(np.where(light | ~light.any(), height, -np.inf)))
    azimuth, _ = path.at(times[best])
    highest = float(np.max(path.at(times)[1]))
    when = f"at {skyline.spot.lat_deg:.4f}, {skyline.spot.lon_deg:.4f} on {path.day}"
    if height.min() > 0.0:
        return f"the sun does not set {when}: it stands over the skyline all day"
    if height[best] > 0.0:
        if path.evening:
            return f"the sun does not set {when}: it still shows as the day ends"
        return f"the sun does not come up {when}: it shows already as the day begins"
    if highest < 0.0:
        return (
            f"the sun does not rise {when}: "
            f"at its highest it stands {-highest:.1f} degrees below the horizontal"
        )
    return (
        f"the sun stays behind the skyline {when}: it comes nearest at "
        f"{path.time(float(times[best])):%H:%M %Z}, {-height[best]:.2g} degrees short, "
        f"at azimuth {float(azimuth) % 360.0:.0f}"
    )
