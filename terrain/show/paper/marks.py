"""Numbered discs and the other marks that a picture shares with the key beside it.

A number is a dark disc, the hill a gold disc with a peak in it, a capital letter a white square,
a small letter a white disc, a pass a pale
lozenge. Marks that would lie on one another are moved apart, each with a short
line back to its true place.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import ArrayLike

from terrain.arrays import Floats
from terrain.show.paper import palette
from terrain.show.paper.text import write

HILL_MARK: Final = "▲"
HIDDEN_MARK: Final = "△"
PASS: Final = ")"
"""Before the number of a pass, whose mark is a pale lozenge."""

RADIUS_PT: Final = 7.0
_SIZES_PT: Final = {"o": (7.5, 7.5, 5.6), "s": (7.5, 7.5, 5.6), "D": (7.5, 6.2, 4.8)}
"""Of one, two and more figures, so that they stay within each shape."""

_GAP_PT = 1.5
_OFF_EDGE_PT = 1.5
_ROUNDS = 2000


def nudge(
    places_pt: ArrayLike,
    *,
    radius_pt: float = RADIUS_PT,
    keep_out: ArrayLike | None = None,
    bounds_pt: ArrayLike | None = None,
) -> Floats:
    """Places (n, 2) of discs, in points, moved as little as it takes for none to overlap.

    keep_out: (m, 3) discs that stay where they are: their places and radii. bounds_pt: (2, 2),
    low and high corners of what the discs must stay within, as far as there is room.

    >>> apart = nudge([[0, 0], [4, 0]], radius_pt=5)
    >>> bool(np.hypot(*(apart[1] - apart[0])) >= 10)
    True
    """
    at = np.array(places_pt, dtype=float).reshape(-1, 2)
    # places that are one need a direction to part in: each its own, the same in every run
    angle = 2.4 * np.arange(len(at))
    at += 0.01 * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    fixed = np.empty((0, 3)) if keep_out is None else np.array(keep_out, dtype=float).reshape(-1, 3)
    apart = 2.0 * radius_pt + _GAP_PT
    at = _within(at, radius_pt, bounds_pt)
    for _ in range(_ROUNDS):
        push = _push(at, at, apart, 0.55)
        for place in fixed:
            push += _push(at, place[np.newaxis, :2], radius_pt + place[2] + _GAP_PT, 1.05)
        if not push.any():
            break
        at = _within(at + push, radius_pt, bounds_pt)
    return at


def _within(at: Floats, radius_pt: float, bounds_pt: ArrayLike | None) -> Floats:
    if bounds_pt is None:
        return at
    low, high = np.asarray(bounds_pt, dtype=float)
    return np.clip(at, low + radius_pt + _OFF_EDGE_PT, high - radius_pt - _OFF_EDGE_PT)


def draw_marks(
    ax: Axes,
    places: ArrayLike,
    labels: Sequence[str],
    *,
    offset_pt: ArrayLike = (0.0, 0.0),
    keep_out: ArrayLike | None = None,
    zorder: float = 8.0,
) -> Floats:
    """Marks at places (n, 2) in data units, moved apart where they would overlap.

    offset_pt: (2,) or (n, 2), where each would rather lie from its place. keep_out: (m, 3) in
    points, as for `nudge`. An empty label keeps the room of its mark and draws nothing, so that
    the others stay where they are from one picture of a series to the next. A short line leads
    back from each that is moved. The limits of the axes must be final. Returns where the marks
    lie that are drawn, (k, 2) in points.
    """
    places = np.array(places, dtype=float).reshape(-1, 2)
    true_pt = in_points(ax, places)
    within = np.sort(corners_pt(ax), axis=0)
    drawn_pt = nudge(true_pt + np.array(offset_pt), keep_out=keep_out, bounds_pt=within)
    for place, from_pt, to_pt, label in zip(places, true_pt, drawn_pt, labels, strict=True):
        to = from_points(ax, to_pt)
        if label and np.hypot(*(to_pt - from_pt)) > 2.0:
            dot: dict[str, Any] = {"marker": "o", "markersize": 2.6, "markeredgewidth": 0.0}
            line: dict[str, Any] = {"color": palette.INK, "linewidth": 0.8, "zorder": zorder - 0.2}
            ax.plot(*np.stack([place, to]).T, markevery=[0], **dot, **line)
        draw_mark(ax, to, label, zorder=zorder)
    return np.asarray(drawn_pt[np.array([bool(label) for label in labels], dtype=bool)])


def draw_mark(ax: Axes, place: ArrayLike, label: str, *, zorder: float = 8.0) -> None:
    """One mark in data units: a disc for a number, a small letter or the hill, else a square.

    The hill's disc is gold where it is seen and white, with an open peak, where it is hidden.

    Nothing for an empty label.
    """
    if not label:
        return
    face, edge, ink = palette.INK, palette.PAPER, palette.PAPER
    if label == HILL_MARK:
        face, edge, ink = palette.HILL, palette.INK, palette.INK
    elif label == HIDDEN_MARK or label[:1].isalpha():
        face, edge, ink = palette.PAPER, palette.INK, palette.INK
    shape, size = ("s", 0.82) if label[:1].isupper() else ("o", 1.0)
    if label.startswith(PASS):
        face, edge, ink = palette.MIST, palette.SHORE, palette.SHORE
        shape, size = "D", 0.78
    across, up = np.asarray(place, dtype=float)
    ax.plot(
        across,
        up,
        marker=shape,
        markersize=2.0 * RADIUS_PT * size,
        markerfacecolor=face,
        markeredgecolor=edge,
        markeredgewidth=1.0,
        linestyle="none",
        zorder=zorder,
        gid=f"mark-{label.removeprefix(PASS)}",
    )
    # the eye centres a figure on its own height, not on that of a line of text
    words_on_it = label.removeprefix(PASS)
    middle = beside(ax, place, (0.0, -0.2 if words_on_it.isalnum() else 0.3))
    words: dict[str, Any] = {"colour": ink, "weight": "bold", "zorder": zorder + 0.1}
    size_pt = _SIZES_PT[shape][min(len(words_on_it), 3) - 1]
    write(ax, middle, words_on_it, size_pt=size_pt, ha="center", **words)


def corners_pt(ax: Axes) -> Floats:
    """The corners of axes at the low and at the high ends of both their limits, (2, 2) points."""
    return in_points(ax, np.column_stack([ax.get_xlim(), ax.get_ylim()]))


def in_points(ax: Axes, places: Floats) -> Floats:
    """Places (2,) or (n, 2) in data units as points on the page."""
    return np.asarray(ax.transData.transform(places) * 72.0 / ax.figure.dpi)


def from_points(ax: Axes, places_pt: Floats) -> Floats:
    """Places (2,) or (n, 2) in points on the page in data units: the inverse of `in_points`."""
    return np.asarray(ax.transData.inverted().transform(places_pt * ax.figure.dpi / 72.0))


def beside(ax: Axes, place: ArrayLike, shift_pt: tuple[float, float]) -> Floats:
    """A place so many points to the right of and up from another, both in data units."""
    return from_points(ax, in_points(ax, np.asarray(place, dtype=float)) + shift_pt)


def _push(at: Floats, others: Floats, apart: float, share: float) -> Floats:
    """How far each of (n, 2) places must give way to (m, 2) others that are nearer than `apart`."""
    away = at[:, np.newaxis] - others[np.newaxis]
    distance = np.hypot(away[..., 0], away[..., 1])
    near = (distance < apart) & (distance > 0.0)
    distance = np.where(near, distance, 1.0)
    short = np.where(near, apart - distance, 0.0)
    return np.asarray(
        (away / distance[..., np.newaxis] * short[..., np.newaxis]).sum(axis=1) * share
    )
