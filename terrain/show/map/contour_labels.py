"""Contours on a map with their values written on them, where the lines leave room for it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final, NamedTuple

import contourpy
import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.patheffects import withStroke
from scipy import ndimage
from scipy.interpolate import RegularGridInterpolator
from shapely import LineString, get_coordinates, line_interpolate_point

from terrain.arrays import Floats
from terrain.show.paper import palette
from terrain.show.paper.marks import corners_pt, from_points, in_points
from terrain.show.paper.text import write

_LABEL_PT: Final = 7.0

_LEAST_PT, _LONG_PT, _EVERY_PT = 16.0, 38.0, 8.0
_APART_PT, _SAME_PT, _MARGIN_PT = 34.0, 110.0, 16.0
_HALF_LABEL_PT = 13.0
_CLEAR_PT, _ROOM_PT = 1.8, 2.0

_Room = Callable[[Floats], Floats]
"""How far apart on the page two lines are about places (n, 2) of the map, points."""


class _LabelPlace(NamedTuple):
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
    room = _room(ax, centres, values, levels)
    traced = contourpy.contour_generator(
        *centres, z=np.ma.masked_invalid(values), line_type=contourpy.LineType.Separate
    )
    places: list[_LabelPlace] = []
    for level, label in levels.items():
        heavy = label in bold
        lines = [
            part
            for line in traced.lines(level)
            for part in _parted(ax, np.asarray(line), room, heavy)
        ]
        look = {"linewidths": 1.0, "alpha": 1.0} if heavy else {"linewidths": 0.5, "alpha": 0.85}
        drawn = LineCollection(lines, colors=palette.INK, zorder=3.0, gid="isoline", **look)
        ax.add_collection(drawn, autolim=False)
        for line in lines:
            places += _places_on(ax, line, room, label)
    places.sort(key=lambda place: (place.label not in bold, -place.room_pt))
    _draw_labels(ax, places, keep_out_pt)


def _room(
    ax: Axes, centres: tuple[Floats, Floats], values: Floats, levels: Mapping[float, str]
) -> _Room:
    known = np.isfinite(values)
    filled = np.where(known, values, np.nanmean(values) if known.any() else 0.0)
    down, along = np.gradient(filled)
    steepest = ndimage.maximum_filter(np.where(known, np.hypot(down, along), 0.0), size=3)
    step = float(np.min(np.diff(sorted(levels)))) if len(levels) > 1 else np.inf
    first_two = np.column_stack([along[:2] for along in centres])
    cell_pt = np.diff(in_points(ax, first_two)[:, 0])
    room_pt = step * cell_pt / np.maximum(steepest, 1e-9)
    at = RegularGridInterpolator(
        centres[::-1], room_pt, method="nearest", bounds_error=False, fill_value=None
    )
    return lambda places: np.asarray(at(places[:, ::-1]))


def _parted(ax: Axes, line: Floats, room: _Room, heavy: bool) -> list[Floats]:
    """The parts of a line that can be told from the next ones; short scraps are left out.

    Where the values leap, as they do along a ridge, all the lines run on top of each other, and
    the edge of the tints says more than they would.
    """
    clear = room(line) >= (_CLEAR_PT / 3.0 if heavy else _CLEAR_PT)
    # a gap of one point is no gap
    clear = ndimage.binary_closing(np.pad(clear, 2, mode="edge"), np.ones(3, dtype=bool))[2:-2]
    number, count = ndimage.label(clear)
    parts = [line[number == part] for part in range(1, count + 1)]
    steps = [np.diff(in_points(ax, part), axis=0) for part in parts]
    lengths_pt = [np.hypot(*step.T).sum() for step in steps]
    return [part for part, long in zip(parts, lengths_pt, strict=True) if long >= _LEAST_PT]


def _places_on(ax: Axes, line: Floats, room: _Room, label: str) -> list[_LabelPlace]:
    """Places along a line where it runs straight for the length of a label."""
    on_page = LineString(in_points(ax, line))
    if on_page.length < _LONG_PT:
        return []
    middles = np.arange(_HALF_LABEL_PT, on_page.length - _HALF_LABEL_PT, _EVERY_PT)
    before, at, after = (
        get_coordinates(line_interpolate_point(on_page, middles + ahead))
        for ahead in (-_HALF_LABEL_PT, 0.0, _HALF_LABEL_PT)
    )
    across, up = (after - before).T
    straight = np.hypot(across, up) >= 1.7 * _HALF_LABEL_PT
    lean = (np.degrees(np.arctan2(up, across)) + 90.0) % 180.0 - 90.0
    found = zip(at[straight], lean[straight], room(from_points(ax, at))[straight], strict=True)
    return [_LabelPlace(*place, label) for place in found]


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
        middled: dict[str, Any] = {"ha": "center", "va": "center", "zorder": 6.0}
        text = write(ax, from_points(ax, place.at_pt), place.label, size_pt=_LABEL_PT, **middled)
        halo = [withStroke(linewidth=2.6, foreground=palette.PAPER)]
        text.set(rotation=place.lean_deg, path_effects=halo, gid="isoline-label")
