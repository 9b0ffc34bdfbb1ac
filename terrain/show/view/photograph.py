"""What a camera at a spot will see through a lens: a picture of the light, minute by minute."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from terrain.arrays import Singles
from terrain.cores import share_out
from terrain.frame.lens import Frame, axes_of
from terrain.glow.develop import develop
from terrain.ground.geodesy import wrap_deg
from terrain.ground.places import Spot
from terrain.show.view._lens_kernels import Sensor, Sphere, expose_rows
from terrain.show.view.moment import Moment
from terrain.show.view.scenery import Scenery, scenery
from terrain.view.scene import Scene

_FINE_PX: Final = 4_000_000
"""Smaller pictures are worked out at twice their pixels, so that edges are smooth."""

_SOFTER: Final = 0.12
"""Of its colours a film lets so much run into one another (no source, judged by eye)."""

_STEEPEST_DEG: Final = 89.0


@dataclass(frozen=True, kw_only=True)
class Camera:
    """A camera on its tripod: what it sees is worked out once, and lit by one sun after another.

    frame: where it is aimed, and its lens. width_px: of the picture.
    """

    scene: Scene
    spot: Spot
    frame: Frame
    width_px: int

    @property
    def size_px(self) -> tuple[int, int]:
        """Width and height."""
        sensor = self.frame.sensor
        return self.width_px, max(round(self.width_px * sensor.height_mm / sensor.width_mm), 1)

    @property
    def px_per_focal(self) -> float:
        """The focal length in pixels."""
        return self.frame.focal_mm * self.width_px / self.frame.sensor.width_mm

    def picture(self, moment: Moment) -> NDArray[np.uint8]:
        """The picture at a moment, (height, width, 3) sRGB, its upper row first."""
        return print_of(self.light(moment), moment, self.frame.azimuth_deg)

    def light(self, moment: Moment) -> Singles:
        """The light on its pixels, (height, width, 3) linear sRGB, the upper row first."""
        wide, high = self.size_px
        seen = self._scenery.seen
        sphere = Sphere(
            light=np.ascontiguousarray(self._scenery.light(moment)),
            azimuth_deg=float(seen.azimuth_deg[0]),
            altitude_deg=float(seen.altitude_deg[0]),
            step_deg=self._step_deg,
        )
        axes = np.array(axes_of(self.frame.azimuth_deg, self.frame.altitude_deg))
        sensor = Sensor(axes=axes, px=self.px_per_focal, parts=self._parts)
        pixels = np.empty((high, wide, 3), dtype=np.float32)
        share_out(high, lambda first, end: expose_rows(first, end, sphere, sensor, pixels))
        return pixels

    @property
    def shows_mist(self) -> bool:
        """Whether any mist is in the picture."""
        return self._scenery.shows_mist

    @property
    def _parts(self) -> int:
        wide, high = self.size_px
        return 2 if wide * high <= _FINE_PX else 1

    @property
    def _step_deg(self) -> float:
        return math.degrees(1.0 / (self.px_per_focal * self._parts))

    @cached_property
    def _scenery(self) -> Scenery:
        azimuth, altitude = self.frame.edge_deg
        middle, step = self.frame.azimuth_deg, self._step_deg
        away = wrap_deg(azimuth - middle)
        west, east = middle + away.min() - 2.0 * step, middle + away.max() + 2.0 * step
        low = max(float(altitude.min()) - 2.0 * step, -_STEEPEST_DEG)
        # a level line through the middle of the frame bows to its edges' ends
        high = min(max(float(altitude.max()), self._top_deg) + 2.0 * step, _STEEPEST_DEG)
        return scenery(
            self.scene,
            self.spot,
            np.arange(west, east + step, step),
            np.arange(low, high, step),
        )

    @property
    def _top_deg(self) -> float:
        _, up = self.frame.field_deg
        return self.frame.altitude_deg + 0.5 * up


def print_of(light: Singles, moment: Moment, toward_deg: float) -> NDArray[np.uint8]:
    """The bytes of light (..., 3), exposed for the sky of a moment that way; tone-mapped once.

    light: (height, width, 3).
    """
    return develop(light, moment.exposure(toward_deg), softer=_SOFTER, dithered=True)
