"""What a lens takes in: a level camera, and the sky and ground as they fall on its sensor.

A rectilinear lens draws directions on a plane across its axis, so that straight edges stay
straight; a direction at an angle t off the axis lands f tan t from the middle (the gnomonic
projection)::

        sensor                         right_mm = f (d . right) / (d . forward)
          |                            up_mm    = f (d . up)    / (d . forward)
     f tan t  _.-'' direction d
          |-'' t
          +--------- forward           right is level: the horizon is not tilted
          |<-- f -->
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from terrain.arrays import Flags, Floats
from terrain.errors import NoAnswer, TerrainError

_AIM_STEPS: Final = 50
_WIDEST_DEG: Final = 160.0
_EDGE_POINTS: Final = 25


class Orientation(StrEnum):
    """How a camera is held."""

    LANDSCAPE = "landscape"
    PORTRAIT = "portrait"


@dataclass(frozen=True, kw_only=True)
class Sensor:
    """The part of the image plane that is recorded.

    A camera on end has the same sensor with its sides exchanged; see `turned`.

    Parameters
    ----------
    width_mm : float, optional
        Its width, millimetres.
    height_mm : float, optional
        Its height, millimetres.
    width_px : int, optional
        Pixels along its width.

    Raises
    ------
    TerrainError
        For a side that is not above 0.

    Examples
    --------
    >>> import terrain
    >>> terrain.Sensor(width_mm=36.0, height_mm=24.0, width_px=6000).turned
    Sensor(width_mm=24.0, height_mm=36.0, width_px=4000)
    """

    width_mm: float = 36.0
    height_mm: float = 24.0
    width_px: int = 6000

    def __post_init__(self) -> None:
        for name in ("width_mm", "height_mm", "width_px"):
            if not 0 < getattr(self, name) < math.inf:
                raise TerrainError(f"{name} of a sensor must be above 0, got {getattr(self, name)}")

    @property
    def px_per_mm(self) -> float:
        """Pixels to a millimetre."""
        return self.width_px / self.width_mm

    @property
    def halves_mm(self) -> tuple[float, float]:
        """Half its width and half its height."""
        return self.width_mm / 2.0, self.height_mm / 2.0

    @property
    def turned(self) -> Sensor:
        """The same sensor on end."""
        width_px = round(self.height_mm * self.px_per_mm)
        return Sensor(width_mm=self.height_mm, height_mm=self.width_mm, width_px=width_px)

    @property
    def orientation(self) -> Orientation:
        """How the camera is held."""
        level = self.width_mm >= self.height_mm
        return Orientation.LANDSCAPE if level else Orientation.PORTRAIT


@dataclass(frozen=True, kw_only=True)
class Lens:
    """The focal lengths of a lens, millimetres; both the same where it does not zoom."""

    shortest_mm: float
    longest_mm: float

    def __post_init__(self) -> None:
        if not 0.0 < self.shortest_mm <= self.longest_mm < math.inf:
            raise TerrainError(
                f"a lens of {self.shortest_mm:g} to {self.longest_mm:g} mm cannot be: "
                "give focal lengths above 0, the shorter first"
            )

    def __str__(self) -> str:
        """In words: "24 mm" or "70-200 mm"."""
        if self.shortest_mm == self.longest_mm:
            return f"{self.shortest_mm:g} mm"
        return f"{self.shortest_mm:g}-{self.longest_mm:g} mm"

    def up_to(self, focal_mm: float) -> float | None:
        """Its longest focal length not above one, or None where it has none so short."""
        return min(self.longest_mm, focal_mm) if focal_mm >= self.shortest_mm else None


@dataclass(frozen=True, kw_only=True)
class Kit:
    """What is in the bag.

    Parameters
    ----------
    sensor : Sensor, optional
        36 x 24 mm of 6000 pixels unless given.
    lenses_mm : tuple, optional
        By focal length, mm, a pair for a zoom.

    Examples
    --------
    >>> import terrain
    >>> terrain.Kit(lenses_mm=(35.0, (70.0, 200.0))).sensor.width_mm
    36.0
    """

    sensor: Sensor = field(default_factory=Sensor)
    lenses_mm: tuple[float | tuple[float, float], ...] = (24.0, 70.0, 200.0, 400.0)


@dataclass(frozen=True, kw_only=True)
class Frame:
    """A camera held level and aimed, with one focal length.

    azimuth_deg, altitude_deg: of the middle of the frame; the altitude is the tilt.
    """

    azimuth_deg: float
    altitude_deg: float
    focal_mm: float
    sensor: Sensor

    @property
    def field_deg(self) -> tuple[float, float]:
        """Width and height of what a rectilinear lens takes in, degrees, through its middle.

        >>> frame = Frame(azimuth_deg=90.0, altitude_deg=0.0, focal_mm=400.0, sensor=Sensor())
        >>> [round(angle, 2) for angle in frame.field_deg]
        [5.15, 3.44]
        """
        across, up = (
            math.degrees(math.atan(half / self.focal_mm)) for half in self.sensor.halves_mm
        )
        return 2.0 * across, 2.0 * up

    @property
    def edge_deg(self) -> tuple[Floats, Floats]:
        """Azimuths and altitudes all round its edge and back to the first, degrees."""
        along, end = np.linspace(-0.5, 0.5, _EDGE_POINTS), np.full(_EDGE_POINTS, 0.5)
        right = np.concatenate([along, end, -along, -end]) * self.sensor.width_mm
        up = np.concatenate([end, -along, -end, along]) * self.sensor.height_mm
        return self.direction_deg(right, up)

    def on_sensor_mm(
        self, azimuth_deg: ArrayLike, altitude_deg: ArrayLike
    ) -> tuple[Floats, Floats]:
        """Where directions (any shape) fall, millimetres right of and above the middle.

        NaN for what is a quarter turn or more off the axis.
        """
        forward, right, up = axes_of(self.azimuth_deg, self.altitude_deg)
        toward = _unit(azimuth_deg, altitude_deg)
        ahead = toward @ forward
        scale = self.focal_mm / np.where(ahead > 1e-9, ahead, np.nan)
        return np.asarray(toward @ right * scale), np.asarray(toward @ up * scale)

    def direction_deg(self, right_mm: ArrayLike, up_mm: ArrayLike) -> tuple[Floats, Floats]:
        """Azimuth (0 to 360) and altitude of points of the sensor (any shape), degrees."""
        forward, right, up = axes_of(self.azimuth_deg, self.altitude_deg)
        aside, above = np.broadcast_arrays(np.asarray(right_mm, float), np.asarray(up_mm, float))
        toward = forward * self.focal_mm + aside[..., None] * right + above[..., None] * up
        azimuth = np.mod(np.degrees(np.arctan2(toward[..., 0], toward[..., 1])), 360.0)
        level = np.hypot(toward[..., 0], toward[..., 1])
        return azimuth, np.degrees(np.arctan2(toward[..., 2], level))

    def takes_in(self, azimuth_deg: ArrayLike, altitude_deg: ArrayLike) -> Flags:
        """Whether directions (any shape) fall within the frame."""
        right, up = self.on_sensor_mm(azimuth_deg, altitude_deg)
        half_width, half_height = self.sensor.halves_mm
        return np.asarray((np.abs(right) <= half_width) & (np.abs(up) <= half_height))

    def outside_deg(self, azimuth_deg: ArrayLike, altitude_deg: ArrayLike) -> Floats:
        """How far beyond the frame's edge directions (any shape) lie, degrees; 0 within it."""
        right, up = self.on_sensor_mm(azimuth_deg, altitude_deg)
        half_width, half_height = self.sensor.halves_mm
        edge = self.direction_deg(
            np.clip(right, -half_width, half_width), np.clip(up, -half_height, half_height)
        )
        apart = np.sum(_unit(*edge) * _unit(azimuth_deg, altitude_deg), axis=-1)
        beyond = np.degrees(np.arccos(np.clip(apart, -1.0, 1.0)))
        # the arc cosine cannot tell a millionth of a turn from none
        return np.where(self.takes_in(azimuth_deg, altitude_deg), 0.0, beyond)


def lens_of(focal_mm: float | Sequence[float]) -> Lens:
    """A lens from its focal length, or from its shortest and its longest.

    >>> str(lens_of(24.0)), str(lens_of((70, 200)))
    ('24 mm', '70-200 mm')
    """
    ends = [focal_mm] if isinstance(focal_mm, int | float) else list(focal_mm)
    if len(ends) not in (1, 2):
        raise TerrainError(f"a lens has one focal length or a shortest and a longest, not {ends}")
    return Lens(shortest_mm=float(ends[0]), longest_mm=float(ends[-1]))


def aim_at(azimuth_deg: ArrayLike, altitude_deg: ArrayLike, sensor: Sensor) -> Frame:
    """The frame whose edges just touch the outermost of several directions (n,), on both sides.

    Its focal length is the longest that takes all of them in, however long that is. NoAnswer
    where they are more than 160 degrees apart.
    """
    azimuth, altitude = np.atleast_1d(azimuth_deg), np.atleast_1d(altitude_deg)
    toward = _unit(azimuth, altitude)
    middle = toward.mean(axis=0)
    frame = Frame(
        azimuth_deg=float(np.mod(math.degrees(math.atan2(middle[0], middle[1])), 360.0)),
        altitude_deg=math.degrees(math.atan2(middle[2], math.hypot(middle[0], middle[1]))),
        focal_mm=1.0,
        sensor=sensor,
    )
    for _ in range(_AIM_STEPS):
        right, up = frame.on_sensor_mm(azimuth, altitude)
        half_width, half_height = float(np.ptp(right)) / 2.0, float(np.ptp(up)) / 2.0
        if not max(half_width, half_height) < math.tan(math.radians(_WIDEST_DEG / 2.0)):
            raise NoAnswer(
                f"hill, mist and sun together span more than {_WIDEST_DEG:.0f}°, which no lens "
                "takes in: stand farther from the hill, or choose a day with the sun nearer to it"
            )
        aim = frame.direction_deg((right.max() + right.min()) / 2.0, (up.max() + up.min()) / 2.0)
        frame = replace(frame, azimuth_deg=float(aim[0]), altitude_deg=float(aim[1]))
    longest_mm = min(
        sensor.width_mm / (2.0 * max(half_width, 1e-9)),
        sensor.height_mm / (2.0 * max(half_height, 1e-9)),
    )
    return replace(frame, focal_mm=longest_mm)


def _unit(azimuth_deg: ArrayLike, altitude_deg: ArrayLike) -> Floats:
    """Directions as unit vectors (..., 3): east, north, up."""
    azimuth, altitude = np.broadcast_arrays(np.radians(azimuth_deg), np.radians(altitude_deg))
    level = np.cos(altitude)
    return np.stack([level * np.sin(azimuth), level * np.cos(azimuth), np.sin(altitude)], axis=-1)


def axes_of(azimuth_deg: float, altitude_deg: float) -> tuple[Floats, Floats, Floats]:
    """Forward, right and up of a camera held level."""
    turned = math.radians(azimuth_deg)
    right = np.array([math.cos(turned), -math.sin(turned), 0.0])
    forward = _unit(azimuth_deg, altitude_deg)
    return forward, right, np.cross(right, forward)
