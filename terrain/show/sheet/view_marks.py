"""What lies over the picture of a sheet's view: frame and summits, as shares of the picture.

A page lays these over the picture as lines and letters of its own, which stay sharp and readable
on any screen; so places are given from its upper left corner, 0 to 100 across and down::

      0 ----------------> 100 across
      |     .---frame---.
      |     |   o sun   |        a degree is as long across as down,
      v     '-----------'        so the sun's disc is round
    100 down
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, NamedTuple

import geopandas as gpd
import numpy as np
from numpy.typing import ArrayLike

from terrain.arrays import Floats
from terrain.plan.morning import Plan
from terrain.show.paper.key import numbers_to
from terrain.show.paper.marks import HIDDEN_MARK, HILL_MARK, nudge
from terrain.show.view.summits_in_view import striking_summits
from terrain.show.view.window import Window, altitude_words, whole_steps
from terrain.words.plan import frame_over_summit

MOST_SUMMITS: Final = 6

_PHONE_PX, _DESK_PX, _MARK_PX, _LETTER_PX, _DIAMOND_PX = 290.0, 600.0, 10.0, 6.5, 4.0
_STEPS_DEG = (0.5, 1.0, 2.0, 5.0, 10.0, 15.0, 30.0)
_TICKS_ACROSS, _TICKS_DOWN = 6.5, 5.5


class Mark(NamedTuple):
    """A numbered summit or the hill: where its mark lies, and its true place."""

    label: str
    across: float
    down: float
    true_across: float
    true_down: float


Tick = tuple[float, str]
"""How far along an edge a whole number of degrees lies, and its words."""


@dataclass(frozen=True, kw_only=True, eq=False)
class ViewMarks:
    """All that lies over the view; lines are (n, 2) of across and down.

    over: the frame of the sun over the summit, where that is another than the frame.
    summits: the rows of the numbered ones.
    """

    frame: Floats
    over: Floats | None
    marks: tuple[Mark, ...]
    summits: gpd.GeoDataFrame
    azimuths: tuple[Tick, ...]
    altitudes: tuple[Tick, ...]


def view_marks(plan: Plan, window: Window, *, summits: gpd.GeoDataFrame | None = None) -> ViewMarks:
    """What lies over the view of a plan in a window.

    summits: a table from `find_summits`; at most six of those seen are numbered.
    """
    place, over = _Placing(window), frame_over_summit(plan)
    view = plan.backlight.view
    table = striking_summits(
        plan.scene.seen, view.skyline, summits, window, count=MOST_SUMMITS, hill=plan.hill
    )
    return ViewMarks(
        frame=np.stack(place(*plan.framing.frame.edge_deg), axis=-1),
        over=None if over is None else np.stack(place(*over.edge_deg), axis=-1),
        marks=_marks(plan, place, table),
        summits=table,
        azimuths=_ticks(window.azimuth_deg, _TICKS_ACROSS, _azimuth_words),
        altitudes=_ticks(window.altitude_deg[::-1], _TICKS_DOWN, altitude_words),
    )


class _Placing:
    """Directions as shares of a window's picture."""

    def __init__(self, window: Window) -> None:
        self.window = window
        self.per_deg = 100.0 / window.width_deg, 100.0 / window.height_deg

    def __call__(self, azimuth_deg: ArrayLike, altitude_deg: ArrayLike) -> tuple[Floats, Floats]:
        across = self.window.turned(azimuth_deg) - self.window.azimuth_deg[0]
        down = self.window.altitude_deg[1] - np.asarray(altitude_deg)
        return across * self.per_deg[0], down * self.per_deg[1]

    def px(self, width_px: float) -> tuple[float, float]:
        """Pixels to a hundredth of the width and of the height, on a picture so wide."""
        return width_px / 100.0, width_px / 100.0 * self.window.height_deg / self.window.width_deg

    def one(self, azimuth_deg: float, altitude_deg: float) -> tuple[float, float]:
        across, down = self(azimuth_deg, altitude_deg)
        return float(across), float(down)


def _marks(plan: Plan, place: _Placing, summits: gpd.GeoDataFrame) -> tuple[Mark, ...]:
    """The hill's mark and the numbers, just under their summits, kept apart on a phone."""
    view = plan.backlight.view
    across, down = place(
        [view.azimuth_deg, *summits["azimuth_deg"]], [view.altitude_deg, *summits["altitude_deg"]]
    )
    # in pixels of a narrow screen, upwards
    px = place.px(_PHONE_PX)
    true = np.stack([across * px[0], -down * px[1]], axis=1)
    moved = nudge(
        true - [0.0, _MARK_PX + 5.0],
        radius_pt=_MARK_PX,
        bounds_pt=[(0.0, -100.0 * px[1]), (100.0 * px[0], 0.0)],
    )
    labels = [HILL_MARK if view.visible else HIDDEN_MARK, *numbers_to(len(summits))]
    rows = np.column_stack([moved / [px[0], -px[1]], across, down]).tolist()
    return tuple(Mark(label, *row) for label, row in zip(labels, rows, strict=True))


def _ticks(
    ends: tuple[float, float], most: float, words: Callable[[float], str]
) -> tuple[Tick, ...]:
    (low, high), (start, end) = sorted(ends), ends
    step = next((s for s in _STEPS_DEG if (high - low) / s <= most), _STEPS_DEG[-1])
    whole = whole_steps(low, high, step)
    shares = 100.0 * (whole - start) / (end - start)
    ticks = zip(shares.tolist(), map(words, whole.tolist()), strict=True)
    return tuple(tick for tick in ticks if 4.0 <= tick[0] <= 96.0)


def _azimuth_words(azimuth_deg: float) -> str:
    return f"{azimuth_deg % 360.0:g}°"
