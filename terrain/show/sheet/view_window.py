"""How much round the frame a sheet's view takes in, and the moments at which it draws the sun."""

from __future__ import annotations

import datetime as dt
from typing import Final

import numpy as np
from numpy.typing import NDArray

from terrain.plan.morning import Plan
from terrain.show.view.window import Window
from terrain.sun.path import SunPath, sun_path

__all__ = ["frame_edge_mm", "path_of", "sun_moments", "view_window"]

MINUTES: Final = (0, 5, 10, 15, 20)

_MARGIN = 0.07
_MOST_WIDE_DEG = 120.0
_SHAPES = (1.25, 1.75)
_EDGE_POINTS = 25

Floats = NDArray[np.float64]


def view_window(plan: Plan) -> Window:
    """What the view takes in: all of the frame, and the sun at the moments it is drawn for."""
    frame, contact = plan.framing.frame, plan.backlight.contact
    azimuth, altitude = frame.direction_deg(*frame_edge_mm(plan))
    path = path_of(plan)
    sun_azimuth, sun_altitude = path.at([path.seconds(at) for at in sun_moments(plan)])
    about = Window(
        azimuth_deg=(frame.azimuth_deg - 1.0, frame.azimuth_deg + 1.0), altitude_deg=(-1.0, 1.0)
    )
    rim = 1.5 * contact.semidiameter_deg
    turned = about.turned(np.concatenate([azimuth, sun_azimuth - rim, sun_azimuth + rim]))
    # a sun that moves far out of the frame would make the picture of it small
    most = 1.8 * float(np.ptp(about.turned(azimuth)))
    wide = np.clip(turned, frame.azimuth_deg - 0.5 * most, frame.azimuth_deg + 0.5 * most)
    high = np.concatenate([altitude, np.minimum(sun_altitude + rim, altitude.max() + 0.3 * most)])
    return _shaped((float(wide.min()), float(wide.max())), (float(high.min()), float(high.max())))


def sun_moments(plan: Plan) -> list[dt.datetime]:
    """The appearance itself, and the whole minutes of the clock nearest to so long after it."""
    appears = plan.backlight.contact.appears
    later = [appears + dt.timedelta(minutes=after, seconds=30) for after in MINUTES[1:]]
    return [appears, *(moment.replace(second=0, microsecond=0) for moment in later)]


def path_of(plan: Plan) -> SunPath:
    """The sun of the plan's day at its spot."""
    return sun_path(
        plan.day,
        lon_deg=plan.spot.lon_deg,
        lat_deg=plan.spot.lat_deg,
        height_m=plan.backlight.view.skyline.eye_height_m,
    )


def frame_edge_mm(plan: Plan) -> tuple[Floats, Floats]:
    """Points of the frame's edge on the sensor, all round and back to the first."""
    sensor = plan.framing.frame.sensor
    along = np.linspace(-0.5, 0.5, _EDGE_POINTS)
    end = np.full(_EDGE_POINTS, 0.5)
    right = np.concatenate([along, end, -along, -end]) * sensor.width_mm
    up = np.concatenate([end, -along, -end, along]) * sensor.height_mm
    return right, up


def _shaped(azimuth_deg: tuple[float, float], altitude_deg: tuple[float, float]) -> Window:
    """A window with a margin about two ranges, neither too slender nor too wide."""
    (west, east), (low, high) = azimuth_deg, altitude_deg
    width = min((east - west) * (1.0 + 2.0 * _MARGIN), _MOST_WIDE_DEG)
    height = (high - low) * (1.0 + 2.0 * _MARGIN)
    width = max(width, _SHAPES[0] * height)
    height = max(height, width / _SHAPES[1])
    middle, level = (west + east) / 2.0, (low + high) / 2.0
    level = min(max(level, height / 2.0 - 89.0), 89.0 - height / 2.0)
    return Window(
        azimuth_deg=(middle - width / 2.0, middle + width / 2.0),
        altitude_deg=(level - height / 2.0, level + height / 2.0),
    )
