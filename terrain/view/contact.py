"""When and where the sun's disc stands up over a skyline.

The disc appears when any part of it stands above the ground, and is clear when all of it does.
Both are zeros of a height that is measured along the disc's rim::

                 .-'''-.   <- upper rim                  first light: the largest of
               .'       '.                               (upper rim - ground) over the disc
               |    o    |                               rises through zero
    ----.      '.       .'   <- lower rim
         \\.      '-...-'   ___                          clear: the smallest of
           ''..__     __.--'    the ground               (lower rim - ground) does
                 ''''''
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from terrain.errors import NoGround, NoSun
from terrain.ground.accuracy import Accuracy, AltitudeDoubt
from terrain.ground.geodesy import destination, drop_m
from terrain.sight.skyline import Skyline
from terrain.sun.path import SunPath, crossings, sun_path
from terrain.sun.refraction import refract
from terrain.view.sunward import DARK_DEG

__all__ = ["Contact", "sun_contact", "touching_azimuth", "upper_rim"]

Floats = NDArray[np.float64]

_ACROSS = np.sin(np.linspace(-0.5 * np.pi, 0.5 * np.pi, 61))
_STEP_S = 30.0
_TOLERANCE_S = 0.5
# of the disc's centre from all of a skyline, beyond which no rim comes near it within half a tick
_CLEAR_DEG = 1.0
_TICK_S = 300.0


@dataclass(frozen=True, kw_only=True)
class Contact:
    """The sun's appearance over a skyline, and where it happens.

    appears, clears: aware datetimes in the place's zone; `clears` is None where the disc is
        hidden again before all of it stood free.
    azimuth_deg, altitude_deg, distance_m, lon_deg, lat_deg: the point of the skyline where the
        first of the disc is seen, from true north and the true horizontal.
    sun_azimuth_deg, sun_altitude_deg: apparent centre of the disc at that moment.
    semidiameter_deg: half of the disc's width.
    uncertainty_s: one standard deviation of `appears`, with its parts in `doubt` (degrees of
        altitude); uncertainty_deg: of `azimuth_deg`. clears_uncertainty_s, clears_doubt: the same
        of `clears`, NaN and None where that is, or where the ground under it is unknown.
    known_to_m: how far the ground is known in that direction; beyond_height_m: ground higher than
        this just beyond would delay the sun.
    later: further appearances of the same day, after the ground hid the sun again; those over
        ground that is unknown from the spot on are left out.
    """

    appears: dt.datetime
    clears: dt.datetime | None
    azimuth_deg: float
    altitude_deg: float
    distance_m: float
    lon_deg: float
    lat_deg: float
    sun_azimuth_deg: float
    sun_altitude_deg: float
    semidiameter_deg: float
    uncertainty_s: float
    uncertainty_deg: float
    doubt: AltitudeDoubt
    known_to_m: float
    beyond_height_m: float
    later: tuple[Contact, ...] = ()
    clears_uncertainty_s: float = math.nan
    clears_doubt: AltitudeDoubt | None = None


def sun_contact(
    skyline: Skyline,
    day: dt.date,
    *,
    accuracy: Accuracy | None = None,
    spot_slope: float = 0.2,
    pressure_hpa: float | None = None,
    temperature_c: float = 10.0,
) -> Contact:
    """First appearance of the sun over a skyline on a local calendar day.

    skyline: as `terrain.skyline` gives it, with the spot it belongs to. day: the date at the
    place. accuracy: errors of the inputs. spot_slope: rise over run of the ground at the spot,
    for the share of the position's error. pressure_hpa, temperature_c: of the air at the spot;
    without a pressure the standard atmosphere at its height. Times are found to a second.

    Raises NoSun where the sun does not appear, with the reason, and NoGround where the ground
    toward it is unknown from the spot on.
    """
    spot = skyline.spot
    path = sun_path(
        day,
        lon_deg=spot.lon_deg,
        lat_deg=spot.lat_deg,
        height_m=skyline.eye_height_m,
        pressure_hpa=pressure_hpa,
        temperature_c=temperature_c,
    )
    spans = _spans_near(skyline, path)
    starts = _risings(upper_rim(skyline, path), spans)
    if not starts:
        raise NoSun(_why_no_sun(skyline, path, day))
    lower = _lower_rim(skyline, path)
    ends = [*starts[1:], path.length_s]
    contacts = [
        _contact(
            skyline, path, start, _first_rising(lower, spans, start, end), accuracy, spot_slope
        )
        for start, end in zip(starts, ends, strict=True)
        if start == starts[0] or _is_known(skyline, path, start)
    ]
    return _with_later(contacts)


def _contact(
    skyline: Skyline,
    path: SunPath,
    start_s: float,
    clear_s: float | None,
    accuracy: Accuracy | None,
    spot_slope: float,
) -> Contact:
    sun_azimuth, sun_altitude = (float(value) for value in path.at(start_s))
    azimuth = touching_azimuth(skyline, path, start_s)
    altitude, distance = float(skyline.at(azimuth)), float(skyline.distance_at(azimuth))
    if not math.isfinite(altitude):
        raise NoGround(
            f"the ground toward azimuth {azimuth:.1f} is unknown from "
            f"{skyline.spot.lat_deg:.4f}, {skyline.spot.lon_deg:.4f} on: "
            "stand farther from the raster's edge, or add the next raster"
        )
    doubts = partial(_doubt, skyline, path, accuracy=accuracy, spot_slope=spot_slope)
    doubt, uncertainty_s = doubts(upper_rim(skyline, path), start_s, azimuth)
    clears_doubt, clears_s = None, math.nan
    if clear_s is not None:
        last = _last_azimuth(skyline, path, clear_s)
        if math.isfinite(float(skyline.at(last))):
            clears_doubt, clears_s = doubts(_lower_rim(skyline, path), clear_s, last)
    drift = _rate(lambda t: path.at(t)[0], start_s, path.length_s) * math.cos(
        math.radians(altitude)
    )
    lon, lat = destination(skyline.spot.lon_deg, skyline.spot.lat_deg, azimuth, distance)
    known_to = float(skyline.known_to_at(azimuth))
    return Contact(
        appears=path.time(start_s),
        clears=None if clear_s is None else path.time(clear_s),
        azimuth_deg=azimuth,
        altitude_deg=altitude,
        distance_m=distance,
        lon_deg=float(lon),
        lat_deg=float(lat),
        sun_azimuth_deg=float(np.mod(sun_azimuth, 360.0)),
        sun_altitude_deg=sun_altitude,
        semidiameter_deg=path.semidiameter_deg,
        uncertainty_s=uncertainty_s,
        uncertainty_deg=abs(drift) * uncertainty_s,
        doubt=doubt,
        known_to_m=known_to,
        beyond_height_m=_height_on_ray(skyline, altitude, known_to),
        clears_uncertainty_s=clears_s,
        clears_doubt=clears_doubt,
    )


def _doubt(
    skyline: Skyline,
    path: SunPath,
    rim: Callable[[Floats], Floats],
    time_s: float,
    azimuth_deg: float,
    *,
    accuracy: Accuracy | None,
    spot_slope: float,
) -> tuple[AltitudeDoubt, float]:
    """What makes the altitude of a rim over the skyline doubtful, and the moment, in seconds."""
    across = _slope_across(skyline, azimuth_deg)
    lift_deg = float(path.at(time_s)[1] - path.true_at(time_s)[1])
    doubt = (accuracy or Accuracy()).of_altitude(
        float(skyline.distance_at(azimuth_deg)),
        slope=math.hypot(spot_slope, across),
        refraction_deg=lift_deg,
    )
    # a sun that slides along the ground has no rate to speak of, and no certain moment either
    return doubt, doubt.total_deg / max(_rate(rim, time_s, path.length_s), 1e-6)


def upper_rim(skyline: Skyline, path: SunPath) -> Callable[[Floats], Floats]:
    """Height of the disc's highest part over the ground, degrees, at seconds of the path."""

    def height(times_s: Floats) -> Floats:
        azimuth, upper, _ = _rims(path, times_s)
        return np.asarray((upper - _ground(skyline, azimuth)).max(axis=-1))

    return height


def _lower_rim(skyline: Skyline, path: SunPath) -> Callable[[Floats], Floats]:
    """Height of the disc's lowest part over the ground, degrees, at seconds of the path."""

    def height(times_s: Floats) -> Floats:
        azimuth, _, lower = _rims(path, times_s)
        return np.asarray((lower - _ground(skyline, azimuth)).min(axis=-1))

    return height


def _rims(path: SunPath, times_s: Floats | float) -> tuple[Floats, Floats, Floats]:
    """Azimuths across the disc, and apparent altitudes of its upper and its lower rim there.

    The air lifts the lower rim more than the upper, and so flattens the disc: by a sixth at the
    horizontal, where a round one would seem to rise 0.05 degrees too high. Within the disc the
    apparent altitude is a parabola of the true one to better than 0.001 degrees.
    """
    azimuth, true = path.true_at(times_s)
    half = path.semidiameter_deg
    # in the tropics a rim can pass the zenith, and the nadir
    rims = np.clip(np.stack([true + half, true, true - half]), -90.0, 90.0)
    top, middle, bottom = refract(
        rims, pressure_hpa=path.pressure_hpa, temperature_c=path.temperature_c
    )[..., np.newaxis]
    share = np.sqrt(1.0 - _ACROSS**2)
    tilt, bend = 0.5 * share * (top - bottom), 0.5 * share**2 * (top - 2.0 * middle + bottom)
    aside = azimuth[..., np.newaxis] + half * _ACROSS / np.cos(np.radians(middle))
    return aside, middle + tilt + bend, middle - tilt + bend


def _ground(skyline: Skyline, azimuth_deg: Floats) -> Floats:
    """The skyline's altitude; where no ground is known the horizontal stands in for it."""
    return np.nan_to_num(skyline.at(azimuth_deg), nan=0.0)


def touching_azimuth(skyline: Skyline, path: SunPath, time_s: float) -> float:
    """Where the disc stands highest over the ground just after it appears, 0 to 360 degrees.

    Just before, the sun behind the end of the known ground would seem nearest somewhere else.
    """
    azimuth, upper, _ = _rims(path, min(time_s + _TOLERANCE_S, path.length_s))
    return float(azimuth[np.argmax(upper - _ground(skyline, azimuth))]) % 360.0


def _last_azimuth(skyline: Skyline, path: SunPath, time_s: float) -> float:
    """Where the ground leaves the disc last, 0 to 360 degrees."""
    azimuth, _, lower = _rims(path, time_s)
    return float(azimuth[np.argmin(lower - _ground(skyline, azimuth))]) % 360.0


def _is_known(skyline: Skyline, path: SunPath, time_s: float) -> bool:
    return bool(np.isfinite(skyline.at(touching_azimuth(skyline, path, time_s))))


def _spans_near(skyline: Skyline, path: SunPath) -> list[tuple[float, float]]:
    """Spans of time outside which the sun stands above all of the skyline, or below it."""
    ticks = np.append(np.arange(0.0, path.length_s, _TICK_S), path.length_s)
    ground = np.nan_to_num(skyline.altitude_deg, nan=0.0)
    light = path.true_at(ticks)[1] > DARK_DEG
    _, altitude = path.at(ticks)
    near = (altitude > ground.min() - _CLEAR_DEG) & (altitude < ground.max() + _CLEAR_DEG) & light
    changes = np.flatnonzero(np.diff(near, prepend=False, append=False))
    first, end = np.maximum(changes[::2] - 1, 0), np.minimum(changes[1::2], ticks.size - 1)
    return list(zip(ticks[first].tolist(), ticks[end].tolist(), strict=True))


def _risings(height: Callable[[Floats], Floats], spans: list[tuple[float, float]]) -> list[float]:
    found = (crossings(height, *span, step_s=_STEP_S, tolerance_s=_TOLERANCE_S) for span in spans)
    return [time_s for passages in found for time_s, rising in passages if rising]


def _first_rising(
    height: Callable[[Floats], Floats],
    spans: list[tuple[float, float]],
    start_s: float,
    end_s: float,
) -> float | None:
    """The first between two moments; spans after it are not searched."""
    searched = (_risings(height, [span]) for span in spans if start_s < span[1])
    found = (time_s for times_s in searched for time_s in times_s if start_s <= time_s < end_s)
    return next(found, None)


def _rate(height: Callable[[Floats], Floats], time_s: float, length_s: float) -> float:
    """Change per second, over ten seconds on either side so that one skyline step is bridged."""
    times = np.clip([time_s - 10.0, time_s + 10.0], 0.0, length_s)
    before, after = height(times)
    return float((after - before) / (times[1] - times[0]))


def _slope_across(skyline: Skyline, azimuth_deg: float) -> float:
    left, right = skyline.at(np.array([azimuth_deg - 0.1, azimuth_deg + 0.1]))
    return float(np.nan_to_num(right - left)) / 0.2


def _height_on_ray(skyline: Skyline, altitude_deg: float, distance_m: float) -> float:
    """Height above the datum of a line of sight at a distance, metres."""
    rise = distance_m * math.tan(math.radians(altitude_deg))
    return float(skyline.eye_height_m + rise + drop_m(distance_m, skyline.refraction))


def _with_later(contacts: list[Contact]) -> Contact:
    first, *later = contacts
    return replace(first, later=tuple(later))


def _why_no_sun(skyline: Skyline, path: SunPath, day: dt.date) -> str:
    times = np.arange(0.0, path.length_s, 60.0)
    height = upper_rim(skyline, path)(times)
    light = path.true_at(times)[1] > DARK_DEG
    best = int(np.argmax(np.where(light | ~light.any(), height, -np.inf)))
    azimuth, _ = path.at(times[best])
    highest = float(np.max(path.at(times)[1]))
    place = f"{skyline.spot.lat_deg:.4f}, {skyline.spot.lon_deg:.4f}"
    if height.min() > 0.0:
        return f"the sun does not set at {place} on {day}: it stands over the skyline all day"
    if height[best] > 0.0:
        return (
            f"the sun does not come up over known ground at {place} on {day}: "
            "stand farther from the raster's edge, or add the next raster"
        )
    if highest < 0.0:
        return (
            f"the sun does not rise at {place} on {day}: "
            f"at its highest it stands {-highest:.1f} degrees below the horizontal"
        )
    return (
        f"the sun stays behind the skyline at {place} on {day}: it comes nearest at "
        f"{path.time(float(times[best])):%H:%M %Z}, {-height[best]:.2g} degrees short, "
        f"at azimuth {float(azimuth) % 360.0:.0f}"
    )
