"""What part of the horizon and of the sky a picture takes in, and the degrees along its edges."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import ArrayLike

from terrain.arrays import Floats
from terrain.frame.lens import Frame
from terrain.ground.geodesy import wrap_deg
from terrain.show.paper import palette
from terrain.show.paper.marks import corners_pt
from terrain.show.paper.text import compass
from terrain.show.view.moments import Suns

_MARGIN, _MOST_WIDE_DEG, _SHAPES = 0.07, 120.0, (1.25, 1.75)
_ALTITUDE_STEPS = (0.5, 1.0, 2.0, 5.0, 10.0, 20.0)
_TICKS_APART_PT = 18.0


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

    def cells(self, across: int) -> tuple[Floats, Floats]:
        """Azimuths and altitudes of the cells of a picture of it, so many across."""
        up = round(across * self.height_deg / self.width_deg)
        return np.linspace(*self.azimuth_deg, across), np.linspace(*self.altitude_deg, up)

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


def window_round(frame: Frame, suns: Suns, *, also: Frame | None = None) -> Window:
    """All of a frame, of another if there is one, and the sun where it is drawn."""
    edges = [each.edge_deg for each in (frame, also) if each is not None]
    azimuth, altitude = (np.concatenate(part) for part in zip(*edges, strict=True))
    sun_azimuth, sun_altitude = suns.at_deg
    about = Window(
        azimuth_deg=(frame.azimuth_deg - 1.0, frame.azimuth_deg + 1.0), altitude_deg=(-1.0, 1.0)
    )
    rim = 1.5 * suns.path.semidiameter_deg
    turned = about.turned(np.concatenate([azimuth, sun_azimuth - rim, sun_azimuth + rim]))
    # a sun that moves far out of the frame would make the picture of it small
    most = 1.8 * float(np.ptp(about.turned(azimuth)))
    wide = np.clip(turned, frame.azimuth_deg - 0.5 * most, frame.azimuth_deg + 0.5 * most)
    up = np.concatenate([altitude, np.minimum(sun_altitude + rim, altitude.max() + 0.3 * most)])
    (west, east), (low, high) = (wide.min(), wide.max()), (up.min(), up.max())
    # with a margin, and neither too slender nor too wide
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


def draw_angles(ax: Axes) -> None:
    """Degrees of azimuth, with compass points, and of altitude along the edges of axes."""
    (west, east), (low, high) = ax.get_xlim(), ax.get_ylim()
    wide = east - west > 90.0
    step = 15.0 if wide else 5.0 if east - west > 16.0 else 2.0
    ticks, points = whole_steps(west, east, step), whole_steps(west, east, 45.0 if wide else 22.5)
    names = [f"\n{compass(tick % 360)}" if tick in points else "" for tick in ticks]
    ax.set_xticks(ticks, [f"{at % 360:g}°{name}" for at, name in zip(ticks, names, strict=True)])
    others = np.setdiff1d(points, ticks)
    ax.set_xticks(others, ["\n" + compass(point % 360) for point in others], minor=True)
    apart = _TICKS_APART_PT * (high - low) / float(np.ptp(corners_pt(ax)[:, 1]))
    step = min((size for size in _ALTITUDE_STEPS if size >= apart), default=_ALTITUDE_STEPS[-1])
    ticks = whole_steps(low, high, step)
    ax.set_yticks(ticks, [altitude_words(tick) for tick in ticks])
    for which in ("major", "minor"):
        ax.tick_params(which=which, labelsize=7.5, colors=palette.QUIET, length=3.5, width=0.7)
    for spine in ax.spines.values():
        spine.set(color=palette.INK, linewidth=0.8)


def whole_steps(low: float, high: float, step: float) -> Floats:
    """The whole multiples of a step from one value to another."""
    return np.asarray(step * np.arange(math.ceil(low / step), math.floor(high / step) + 1.0))


def altitude_words(altitude_deg: float) -> str:
    """Degrees above or below the level, with their sign."""
    return f"{altitude_deg:+g}°".replace("-", "−") if altitude_deg else "0°"
