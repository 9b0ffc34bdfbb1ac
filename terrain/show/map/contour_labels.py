"""Contours on a map with their values written on them, where the lines leave room for it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import contourpy
import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.patheffects import withStroke
from numpy.typing import NDArray
from scipy import ndimage

from terrain.show.paper import palette
from terrain.show.paper.marks import corners_pt, in_points

__all__ = ["draw_isolines"]

LABEL_PT: Final = 7.0

_LEAST_PT, _LONG_PT, _EVERY_PT = 16.0, 38.0, 8.0
_APART_PT, _SAME_PT, _MARGIN_PT = 34.0, 110.0, 16.0
_HALF_LABEL_PT = 13.0
_CLEAR_PT, _ROOM_PT = 1.8, 2.0

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class _LabelPlace:
    """Where a label could stand on the page, with the slope of its line and the room there."""

    at_pt: Floats
    lean_deg: float
    room_pt: float
    label: str


def draw_isolines(
    ax: Axes,
    centres: tuple[Floats, Floats],
    values: Floats,
    levels: Mapping[float, str],
    *,
    bold: frozenset[str] = frozenset(),
    keep_out_pt: Floats | None = None,
) -> None:
    """Lines along which values on a grid pass some levels, and labels on the long ones.

    centres: easting of the columns and northing of the rows. values: (rows, cols), NaN where
    there are none. levels: from each level to its label. bold: labels whose lines are heavier
    and are labelled first. keep_out_pt: (n, 2) places on the page to stay clear of. Lines too
    short to be read as lines are left out, and so are those that would run into the next ones.
    The axes must be of their final size.
    """
    room_pt = _room_pt(ax, centres, values, levels)
    traced = contourpy.contour_generator(
        *centres, z=np.ma.masked_invalid(values), line_type=contourpy.LineType.Separate
    )
    places: list[_LabelPlace] = []
    for level, label in levels.items():
        heavy = label in bold
        lines = [
            part
            for line in traced.lines(level)
            for part in _parted(ax, np.asarray(line), centres, room_pt, heavy)
        ]
        look = {"linewidths": 1.0, "alpha": 1.0} if heavy else {"linewidths": 0.5, "alpha": 0.85}
        drawn = LineCollection(lines, colors=palette.INK, zorder=3.0, gid="isoline", **look)
        ax.add_collection(drawn, autolim=False)
        for line in lines:
            places += _places_on(in_points(ax, line), line, centres, room_pt, label)
    places.sort(key=lambda place: (place.label not in bold, -place.room_pt))
    _draw_labels(ax, places, keep_out_pt)


def _length(line: Floats) -> float:
    return float(np.hypot(*np.diff(line, axis=0).T).sum())


def _room_pt(
    ax: Axes, centres: tuple[Floats, Floats], values: Floats, levels: Mapping[float, str]
) -> Floats:
    """How far apart on the page two lines are about each cell of the grid, points."""
    known = np.isfinite(values)
    filled = np.where(known, values, np.nanmean(values) if known.any() else 0.0)
    down, along = np.gradient(filled)
    steepest = ndimage.maximum_filter(np.where(known, np.hypot(down, along), 0.0), size=3)
    step = float(np.min(np.diff(sorted(levels)))) if len(levels) > 1 else np.inf
    ends = np.array([[centres[0][0], centres[1][0]], [centres[0][-1], centres[1][0]]])
    (left, _), (right, _) = in_points(ax, ends)
    cell_pt = (right - left) / max(len(centres[0]) - 1, 1)
    return np.asarray(step * cell_pt / np.maximum(steepest, 1e-9))


def _parted(
    ax: Axes, line: Floats, centres: tuple[Floats, Floats], room_pt: Floats, heavy: bool
) -> list[Floats]:
    """The parts of a line that can be told from the next ones; short scraps are left out.

    Where the values leap, as they do along a ridge, all the lines run on top of each other, and
    the edge of the tints says more than they would.
    """
    clear = room_pt[_cells(line, centres)] >= (_CLEAR_PT / 3.0 if heavy else _CLEAR_PT)
    # a gap of one point is no gap
    clear = ndimage.binary_closing(np.pad(clear, 2, mode="edge"), np.ones(3, dtype=bool))[2:-2]
    number, count = ndimage.label(clear)
    parts = [line[number == part] for part in range(1, count + 1)]
    return [part for part in parts if _length(in_points(ax, part)) >= _LEAST_PT]


def _cells(
    places: Floats, centres: tuple[Floats, Floats]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Rows and columns of the cells that hold places (n, 2)."""
    (col, row) = (
        np.rint((places[:, axis] - along[0]) / (along[1] - along[0])).astype(np.int64)
        for axis, along in enumerate(centres)
    )
    return row, col


def _places_on(
    line_pt: Floats, line: Floats, centres: tuple[Floats, Floats], room_pt: Floats, label: str
) -> list[_LabelPlace]:
    """Places along a line where it runs straight for the length of a label."""
    along = np.append(0.0, np.cumsum(np.hypot(*np.diff(line_pt, axis=0).T)))
    if along[-1] < _LONG_PT:
        return []
    found = []
    for middle in np.arange(_HALF_LABEL_PT, along[-1] - _HALF_LABEL_PT, _EVERY_PT):
        ends = middle + np.array([-_HALF_LABEL_PT, 0.0, _HALF_LABEL_PT])
        before, at, after = (
            np.array([np.interp(end, along, line_pt[:, axis]) for axis in (0, 1)]) for end in ends
        )
        chord = float(np.hypot(*(after - before)))
        if chord < 1.7 * _HALF_LABEL_PT:
            continue
        lean = float(np.degrees(np.arctan2(*(after - before)[::-1])))
        place = np.array([[np.interp(middle, along, line[:, axis]) for axis in (0, 1)]])
        room = float(room_pt[_cells(place, centres)][0])
        found.append(_LabelPlace(at, (lean + 90.0) % 180.0 - 90.0, room, label))
    return found


def _draw_labels(ax: Axes, places: list[_LabelPlace], keep_out_pt: Floats | None) -> None:
    """Write as many labels as have room, the first places first."""
    low, high = corners_pt(ax)
    taken = [(place, "") for place in (() if keep_out_pt is None else keep_out_pt)]
    for place in places:
        inside = (low + _MARGIN_PT < place.at_pt) & (place.at_pt < high - _MARGIN_PT)
        if not (inside.all() and place.room_pt > _ROOM_PT) or any(
            np.hypot(*(place.at_pt - other)) < (_SAME_PT if label == place.label else _APART_PT)
            for other, label in taken
        ):
            continue
        taken.append((place.at_pt, place.label))
        text = ax.annotate(
            place.label,
            (0.0, 0.0),
            xytext=tuple(place.at_pt - low),
            xycoords="axes fraction",
            textcoords="offset points",
            fontsize=LABEL_PT,
            rotation=place.lean_deg,
            ha="center",
            va="center",
            color=palette.INK,
            zorder=6.0,
            gid="isoline-label",
        )
        text.set_path_effects([withStroke(linewidth=2.6, foreground=palette.PAPER)])
