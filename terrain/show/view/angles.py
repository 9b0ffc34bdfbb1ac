"""Degrees round the horizon and above it: what part of them a picture takes in, and its edges."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import ArrayLike, NDArray

from terrain.ground.geodesy import wrap_deg
from terrain.show.paper import palette
from terrain.show.paper.marks import corners_pt
from terrain.show.paper.text import compass

__all__ = ["Window", "draw_angles"]

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


def draw_angles(ax: Axes) -> None:
    """Degrees of azimuth, with compass points, and of altitude along the edges of axes."""
    (west, east), (low, high) = ax.get_xlim(), ax.get_ylim()
    wide = east - west > 90.0
    step = 15.0 if wide else 5.0 if east - west > 16.0 else 2.0
    ticks, points = _whole(west, east, step), _whole(west, east, 45.0 if wide else 22.5)
    names = [f"\n{compass(tick % 360)}" if tick in points else "" for tick in ticks]
    ax.set_xticks(ticks, [f"{at % 360:g}°{name}" for at, name in zip(ticks, names, strict=True)])
    others = np.setdiff1d(points, ticks)
    ax.set_xticks(others, ["\n" + compass(point % 360) for point in others], minor=True)
    apart = _TICKS_APART_PT * (high - low) / float(np.ptp(corners_pt(ax)[:, 1]))
    step = min((size for size in _ALTITUDE_STEPS if size >= apart), default=_ALTITUDE_STEPS[-1])
    ticks = _whole(low, high, step)
    ax.set_yticks(ticks, [f"{tick:+g}°".replace("-", "−") if tick else "0°" for tick in ticks])
    for which in ("major", "minor"):
        ax.tick_params(which=which, labelsize=7.5, colors=palette.QUIET, length=3.5, width=0.7)
    for spine in ax.spines.values():
        spine.set(color=palette.INK, linewidth=0.8)


def _whole(low: float, high: float, step: float) -> NDArray[np.float64]:
    """The whole multiples of a step from one value to another."""
    return np.asarray(step * np.arange(math.ceil(low / step), math.floor(high / step) + 1.0))
