"""The frame of a photograph on a page: whole degrees along its edges, and marks outside of it."""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes

from terrain.arrays import Floats
from terrain.frame.lens import Frame
from terrain.ground.geodesy import wrap_deg
from terrain.show.paper import palette
from terrain.show.paper.marks import draw_mark, from_points, in_points, nudge
from terrain.show.paper.text import compass, text_width_pt
from terrain.show.view.window import Window, altitude_words, whole_steps

_STEPS: Final = (0.5, 1.0, 2.0, 5.0, 10.0, 15.0, 30.0)
_ACROSS_PT, _UP_PT = 42.0, 22.0
_OVER_PT = 9.0
_DEGREES_PT: Final = 7.5


def window_of(frame: Frame) -> Window:
    """The box of directions round a frame."""
    azimuth, altitude = frame.edge_deg
    away = wrap_deg(azimuth - frame.azimuth_deg)
    return Window(
        azimuth_deg=(
            frame.azimuth_deg + float(away.min()),
            frame.azimuth_deg + float(away.max()),
        ),
        altitude_deg=(float(altitude.min()), float(altitude.max())),
    )


def draw_degrees(ax: Axes, frame: Frame, *, with_altitudes: bool = True) -> None:
    """Azimuths where they meet the lower edge, altitudes where they meet the left one.

    with_altitudes: not beside a picture of the same frame that has them. ax: in millimetres of
    the sensor, right of and above its middle.
    """
    wide, high = frame.sensor.halves_mm
    ax.set(xlim=(-wide, wide), ylim=(-high, high), autoscale_on=False)
    box_pt = np.abs(np.diff(in_points(ax, np.array([[-wide, -high], [wide, high]])), axis=0))[0]
    along = np.linspace(-1.0, 1.0, 400)
    azimuth, _ = frame.direction_deg(along * wide, np.full(400, -high))
    azimuth = frame.azimuth_deg + wrap_deg(azimuth - frame.azimuth_deg)
    _, altitude = frame.direction_deg(np.full(400, -wide), along * high)
    ticks = _whole(azimuth, _ACROSS_PT / box_pt[0])
    at = np.interp(ticks, azimuth, along)
    words = [
        f"{tick % 360:g}° {compass(tick % 360)}" if _named(tick) else f"{tick % 360:g}°"
        for tick in ticks
    ]
    # what would stand out beyond the corners would meet the words under the picture beside it
    room_pt = (1.0 - np.abs(at)) * box_pt[0] / 2.0
    fit = [
        text_width_pt(word, _DEGREES_PT) / 2.0 <= room
        for word, room in zip(words, room_pt, strict=True)
    ]
    ax.set_xticks(at * wide, [word if fits else "" for word, fits in zip(words, fit, strict=True)])
    ticks = _whole(altitude, _UP_PT / box_pt[1])
    heights = [altitude_words(at) if with_altitudes else "" for at in ticks]
    ax.set_yticks(np.interp(ticks, altitude, along * high), heights)
    ax.tick_params(labelsize=_DEGREES_PT, colors=palette.QUIET, length=2.5, width=0.6, pad=2.0)
    ax.spines[:].set(color=palette.INK, linewidth=0.6)


def draw_over(
    ax: Axes, frame: Frame, azimuths: Floats, altitudes: Floats, labels: list[str]
) -> None:
    """Marks in a row over the frame, each over its place in the picture; none in the picture."""
    right, _ = frame.on_sensor_mm(azimuths, altitudes)
    held = np.flatnonzero(frame.takes_in(azimuths, altitudes))
    if not held.size:
        return
    _, high = frame.sensor.halves_mm
    edge_pt = in_points(ax, np.column_stack([right[held], np.full(held.size, high)]))
    above_pt = nudge(edge_pt + np.array([0.0, _OVER_PT]))
    above_pt[:, 1] = edge_pt[:, 1] + _OVER_PT
    for at, edge, place in zip(held, edge_pt, above_pt, strict=True):
        tick = from_points(ax, np.array([edge, [edge[0], edge[1] + 2.5]]))
        line: dict[str, Any] = {"color": palette.INK, "linewidth": 0.7, "clip_on": False}
        ax.plot(*tick.T, **line)
        draw_mark(ax, from_points(ax, place), labels[at])
    for part in [*ax.lines, *ax.texts]:
        part.set_clip_on(False)


def _whole(values: Floats, least_share: float) -> Floats:
    """Whole degrees between the ends of ascending values, not nearer than a share of them."""
    low, high = float(values[0]), float(values[-1])
    wanted = least_share * (high - low)
    step = next((size for size in _STEPS if size >= wanted), _STEPS[-1])
    return whole_steps(low, high, step)


def _named(azimuth_deg: float) -> bool:
    return math.isclose(azimuth_deg % 45.0, 0.0, abs_tol=1e-6)
