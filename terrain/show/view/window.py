"""What part of the horizon and of the sky above it a picture takes in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from terrain.ground.geodesy import wrap_deg
from terrain.show.paper.page import MARGIN_IN
from terrain.sight.seen import seen_ground
from terrain.view.backlight import Backlight
from terrain.view.look import View
from terrain.view.scene import Scene

__all__ = ["Window", "window_about"]

_MOST_HIGH_IN = 4.6
_LEAST_SHAPE, _BELOW_HILL = 0.22, 0.3
_FEET_M = 400.0

Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Window:
    """What a picture takes in.

    azimuth_deg: from true north, left and right end; the right may be past 360, so that it is
    always the greater. altitude_deg: above the horizontal, lower and upper end.
    """

    azimuth_deg: tuple[float, float]
    altitude_deg: tuple[float, float]

    @property
    def width_deg(self) -> float:
        """From the left end to the right."""
        return self.azimuth_deg[1] - self.azimuth_deg[0]

    @property
    def height_deg(self) -> float:
        """From the lower end to the upper."""
        return self.altitude_deg[1] - self.altitude_deg[0]

    def turned(self, azimuth_deg: ArrayLike) -> Any:
        """Azimuths brought to the turn that the window is on."""
        middle = sum(self.azimuth_deg) / 2.0
        return middle + wrap_deg(np.asarray(azimuth_deg) - middle)

    def holds(self, azimuth_deg: ArrayLike, altitude_deg: ArrayLike, margin_deg: float) -> Any:
        """Whether directions lie within the window by a margin."""
        azimuth, altitude = self.turned(azimuth_deg), np.asarray(altitude_deg)
        return (
            (azimuth > self.azimuth_deg[0] + margin_deg)
            & (azimuth < self.azimuth_deg[1] - margin_deg)
            & (altitude > self.altitude_deg[0] + margin_deg)
            & (altitude < self.altitude_deg[1] - margin_deg)
        )


def window_about(
    scene: Scene,
    backlight: Backlight,
    sun: tuple[Floats, Floats],
    width_deg: float,
    width_in: float,
) -> Window:
    """About the hill and the sun, wide enough for both, down to the nearer ground.

    sun: azimuths and altitudes at which it is drawn. width_deg: at the least. width_in: of the
    page.
    """
    view, contact = backlight.view, backlight.contact
    aside = float(wrap_deg(contact.azimuth_deg - view.azimuth_deg))
    width = max(width_deg, 1.5 * abs(aside))
    middle = view.azimuth_deg + 0.5 * aside
    ends = middle - width / 2.0, middle + width / 2.0
    skyline = view.skyline.at(np.linspace(*ends, 600))
    above = sun[1][np.abs(wrap_deg(sun[0] - middle)) < width / 2.0]
    margin = 0.03 * width
    high = max(float(np.nanmax(skyline)), view.altitude_deg, *above, 0.5) + margin
    most = _MOST_HIGH_IN * width / (width_in - 2.0 * MARGIN_IN)
    low = _foot_deg(scene, view, ends, (high - most, high)) - margin
    low = max(low, high - most, view.altitude_deg - _BELOW_HILL * width)
    low = min(low, high - _LEAST_SHAPE * width)
    return Window(azimuth_deg=ends, altitude_deg=(low, high))


def _foot_deg(
    scene: Scene, view: View, ends: tuple[float, float], within: tuple[float, float]
) -> float:
    """The lowest altitude at which more than the ground before one's feet is seen, degrees.

    Of the bare ground, so that a view has one frame whatever the mist does.
    """
    altitudes = np.linspace(*within, 120)
    seen = seen_ground(
        scene.dem,
        view.spot,
        azimuths_deg=np.linspace(*ends, 240),
        altitudes_deg=altitudes,
        refraction=scene.refraction,
    )
    beyond = np.nan_to_num(seen.distance_m) > _FEET_M
    return float(altitudes[int(np.argmax(beyond.mean(axis=1) > 0.1))])
