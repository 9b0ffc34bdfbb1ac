"""Degrees round the horizon and above it along the edges of a picture."""

from __future__ import annotations

import math

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from terrain.show.paper import palette
from terrain.show.paper.marks import corners_pt
from terrain.show.paper.text import compass

__all__ = ["draw_angles"]

_ALTITUDE_STEPS = (0.5, 1.0, 2.0, 5.0, 10.0, 20.0)
_TICKS_APART_PT = 18.0


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
