"""What lies over the picture of a sheet's view: sun, frame and summits, as shares of the picture.

A page lays these over the picture as lines and letters of its own, which stay sharp and readable
on any screen; so places are given from its upper left corner, 0 to 100 across and down::

      0 ----------------> 100 across
      |     .---frame---.
      |     |   o sun   |        a degree is as long across as down,
      v     '-----------'        so the sun's disc is round
    100 down
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final, NamedTuple

import geopandas as gpd
import numpy as np
from numpy.typing import ArrayLike

from terrain.arrays import Floats
from terrain.plan.morning import Plan
from terrain.show.paper.key import numbers_to
from terrain.show.paper.marks import HIDDEN_MARK, HILL_MARK, nudge
from terrain.show.view.summits_in_view import striking_summits
from terrain.show.view.sun_discs import suns_after
from terrain.show.view.window import Window, altitude_words, whole_steps
from terrain.words.clocks import clock, exact
from terrain.words.plan import frame_over_summit

MOST_SUMMITS: Final = 6

_PHONE_PX, _DESK_PX, _MARK_PX, _LETTER_PX, _DIAMOND_PX = 290.0, 600.0, 10.0, 6.5, 4.0
_STEPS_DEG = (0.5, 1.0, 2.0, 5.0, 10.0, 15.0, 30.0)
_TICKS_ACROSS, _TICKS_DOWN = 6.5, 5.5


@dataclass(frozen=True, kw_only=True)
class Disc:
    """The sun at a moment: its middle and half its width and height, and the clock time there.

    label_at: how far across the time ends, or begins; from_left: it stands to the left, where the
    sun has come from. minor: there is room for the time on a wide screen alone; label: empty where
    there is none at all.
    """

    moment: dt.datetime
    across: float
    down: float
    half_across: float
    half_down: float
    label: str
    label_at: float
    from_left: bool
    minor: bool


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

    over: the frame of the sun over the summit, where that is another than the frame. sky: the
    outline of the sky above the skyline. summits: the rows of the numbered ones.
    """

    frame: Floats
    over: Floats | None
    sky: Floats
    suns: tuple[Disc, ...]
    contact: tuple[float, float]
    marks: tuple[Mark, ...]
    summits: gpd.GeoDataFrame
    azimuths: tuple[Tick, ...]
    altitudes: tuple[Tick, ...]


def view_marks(plan: Plan, window: Window, *, summits: gpd.GeoDataFrame | None = None) -> ViewMarks:
    """What lies over the view of a plan in a window.

    summits: a table from `find_summits`; at most six of those seen are numbered.
    """
    place, over = _Placing(window), frame_over_summit(plan)
    view, contact = plan.backlight.view, plan.backlight.contact
    table = striking_summits(
        plan.scene.seen, view.skyline, summits, window, count=MOST_SUMMITS, hill=plan.hill
    )
    contact_at = place.one(contact.azimuth_deg, contact.altitude_deg)
    suns = _timed(_suns(plan, place), place, contact_at)
    azimuths = np.linspace(*window.azimuth_deg, 500)
    heights = np.nan_to_num(view.skyline.at(azimuths), nan=window.altitude_deg[0])
    ground = np.stack(place(azimuths, heights), axis=-1)
    return ViewMarks(
        frame=np.stack(place(*plan.framing.frame.edge_deg), axis=-1),
        over=None if over is None else np.stack(place(*over.edge_deg), axis=-1),
        sky=np.concatenate([ground, [[100.0, -1.0], [0.0, -1.0]]]),
        suns=suns,
        contact=contact_at,
        marks=_marks(plan, place, table, suns),
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


def _suns(plan: Plan, place: _Placing) -> list[Disc]:
    suns = suns_after(plan.backlight)
    path, (azimuth, altitude) = suns.path, suns.at_deg
    ahead = path.at(suns.times_s + 300.0)[0] - azimuth
    halves = path.semidiameter_deg / np.cos(np.radians(altitude)) * place.per_deg[0]
    whole = place.window.holds(azimuth, altitude, path.semidiameter_deg)
    return [
        Disc(
            moment=moment,
            across=float(across),
            down=float(down),
            half_across=float(half),
            half_down=path.semidiameter_deg * place.per_deg[1],
            label=clock(moment) if number else exact(moment),
            label_at=float(across - half if way >= 0.0 else across + half),
            from_left=bool(way >= 0.0),
            minor=False,
        )
        for number, (moment, across, down, half, way, fits) in enumerate(
            zip(suns.moments, *place(azimuth, altitude), halves, ahead, whole, strict=True)
        )
        if fits
    ]


def _timed(
    suns: Sequence[Disc], place: _Placing, keep_off: tuple[float, float]
) -> tuple[Disc, ...]:
    """The discs with the clock times there is room for, which also leave one place free."""
    if not suns:
        return ()
    # the first time stands clear of the point where the sun is first seen
    first, margin = suns[0], 100.0 * 1.5 * _DIAMOND_PX / _PHONE_PX
    if first.from_left:
        label_at = min(first.label_at, keep_off[0] - margin)
    else:
        label_at = max(first.label_at, keep_off[0] + margin)
    suns = [replace(first, label_at=label_at), *suns[1:]]
    narrow, wide = (
        _with_room(suns, place.px(width_px), keep_off) for width_px in (_PHONE_PX, _DESK_PX)
    )
    return tuple(
        replace(sun, minor=number not in narrow, label=sun.label if number in wide else "")
        for number, sun in enumerate(suns)
    )


def _with_room(
    suns: Sequence[Disc], px: tuple[float, float], keep_off: tuple[float, float]
) -> set[int]:
    """Which discs have room for their times; the first always, then the last, then the others."""
    free = np.array([[keep_off[0] * px[0], -keep_off[1] * px[1], _DIAMOND_PX]])
    rooms = [np.array(_room_px(sun, px)) for sun in suns]
    roomy: set[int] = set()
    for number in sorted(range(len(rooms)), key=lambda at: (at > 0, at < len(rooms) - 1, at)):
        others = [other if at in roomy else other[:1] for at, other in enumerate(rooms)]
        taken = np.concatenate([free, *others[:number], *others[number + 1 :]])
        room = rooms[number]
        apart = np.hypot(*(room[1:, np.newaxis, :2] - taken[:, :2]).transpose(2, 0, 1))
        if number == 0 or (apart >= room[1:, np.newaxis, 2] + taken[:, 2]).all():
            roomy.add(number)
    return roomy


def _marks(
    plan: Plan, place: _Placing, summits: gpd.GeoDataFrame, suns: tuple[Disc, ...]
) -> tuple[Mark, ...]:
    """The hill's mark and the numbers, just under their summits, kept apart on a phone."""
    view = plan.backlight.view
    across, down = place(
        [view.azimuth_deg, *summits["azimuth_deg"]], [view.altitude_deg, *summits["altitude_deg"]]
    )
    # in pixels of a narrow screen, upwards
    px = place.px(_PHONE_PX)
    true = np.stack([across * px[0], -down * px[1]], axis=1)
    keep_out = [room for sun in suns for room in _room_px(sun, px)]
    moved = nudge(
        true - [0.0, _MARK_PX + 5.0],
        radius_pt=_MARK_PX,
        keep_out=keep_out or None,
        bounds_pt=[(0.0, -100.0 * px[1]), (100.0 * px[0], 0.0)],
    )
    labels = [HILL_MARK if view.visible else HIDDEN_MARK, *numbers_to(len(summits))]
    rows = np.column_stack([moved / [px[0], -px[1]], across, down]).tolist()
    return tuple(Mark(label, *row) for label, row in zip(labels, rows, strict=True))


def _room_px(sun: Disc, px: tuple[float, float]) -> list[tuple[float, float, float]]:
    """A disc and its clock time as discs that marks keep off."""
    side = -1.0 if sun.from_left else 1.0
    along = np.arange(_LETTER_PX, _LETTER_PX * len(sun.label), 2.0 * _LETTER_PX)
    up = -sun.down * px[1]
    letters = [(sun.label_at * px[0] + side * at, up, 7.0) for at in along]
    return [(sun.across * px[0], up, sun.half_across * px[0]), *letters]


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
