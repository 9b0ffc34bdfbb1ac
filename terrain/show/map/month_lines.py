"""Lines on an atlas where a month begins, each with its date on it, or beside a short one."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.contour import ContourSet
from matplotlib.patheffects import withStroke
from matplotlib.text import Text

from terrain.arrays import Flags, Floats
from terrain.show.map.extent import MapCells
from terrain.show.map.year_ring import month_places
from terrain.show.paper import palette
from terrain.show.paper.marks import corners_pt, from_points, in_points
from terrain.show.paper.text import SMALL_PT, text_width_pt, write

_SHORTEST_PT, _BEYOND_PT, _LOOK_BACK_PT = 4.0, 2.5, 5.0
_HIGH_PT, _MARGIN_PT = 8.0, 2.0
_HALO: Final = withStroke(linewidth=2.2, foreground=palette.PAPER)


def draw_month_lines(
    ax: Axes, cells: MapCells, place: Floats, year: int, keep_out_pt: Floats
) -> None:
    """Lines where a month begins, as the ring has them, and a fine edge round dated ground.

    place: (rows, cols) on the ring, NaN where there is no date. keep_out_pt: (n, 4) boxes on the
    page to stay clear of, points: left, low, right, high. The axes must be of their final size.
    """
    if min(place.shape) < 2 or np.isnan(place).all():
        return
    edge: dict[str, Any] = {"colors": palette.INK, "linewidths": 0.35, "alpha": 0.55}
    dated = ~np.isnan(place)
    ax.contour(*cells.centres(), dated * 1.0, levels=[0.5], zorder=1.6, **edge).set_gid("edge")
    middle = np.angle(np.nansum(np.exp(2j * np.pi * place))) / (2.0 * np.pi)
    around = np.mod(place - middle + 0.5, 1.0)
    starts = np.mod(month_places(year)[0] - middle + 0.5, 1.0)
    names = {start: f"1 {dt.date(2000, month, 1):%b}" for month, start in enumerate(starts, 1)}
    levels = np.unique(starts)
    levels = levels[(levels > np.nanmin(around)) & (levels < np.nanmax(around))]
    if not levels.size:
        return
    line: dict[str, Any] = {"colors": palette.PAPER, "linewidths": 0.7, "zorder": 1.5}
    drawn = ax.contour(*cells.centres(), around, levels=levels, **line)
    drawn.set_gid("months")
    on_lines = _write_on(ax, drawn, names)
    taken = [*keep_out_pt, *(_box_of(ax, label) for label in on_lines)]
    written = {label.get_text() for label in on_lines}
    for level, path in zip(levels, drawn.get_paths(), strict=True):
        if names[level] not in written:
            lines = [
                in_points(ax, np.asarray(part)) for part in path.to_polygons(closed_only=False)
            ]
            _write_beside(ax, lines, names[level], cells, dated, taken)


def _write_on(ax: Axes, drawn: ContourSet, names: dict[float, str]) -> list[Text]:
    """The date on each line that is long enough to hold it."""
    look: dict[str, Any] = {"fontsize": SMALL_PT, "colors": palette.INK, "inline": False}
    labels = list(ax.clabel(drawn, fmt=names, zorder=6.0, **look))
    for label in labels:
        label.set(path_effects=[_HALO], gid="date")
    return labels


def _write_beside(
    ax: Axes, lines: Sequence[Floats], name: str, cells: MapCells, dated: Flags, taken: list[Floats]
) -> None:
    """The date beyond one end of a line: where it hides least of the dates, or nowhere."""
    free = [
        box
        for box in _boxes_beyond(lines, text_width_pt(name, SMALL_PT))
        if _is_inside(ax, box) and not any(_overlap(box, other) for other in taken)
    ]
    if not free:
        return
    box = min(free, key=lambda box: _share_in(ax, cells, dated, box))
    taken.append(box)
    middled: dict[str, Any] = {"ha": "center", "va": "center", "zorder": 6.0}
    middle = from_points(ax, (box[:2] + box[2:]) / 2.0)
    write(ax, middle, name, size_pt=SMALL_PT, **middled).set(path_effects=[_HALO], gid="date")


def _boxes_beyond(lines: Sequence[Floats], wide_pt: float) -> Iterator[Floats]:
    """Boxes for a word beyond both ends of lines, the longest line's first: (4,) each."""
    half = np.array([wide_pt, _HIGH_PT]) / 2.0
    length = [float(np.hypot(*np.diff(line, axis=0).T).sum()) for line in lines]
    for at in np.argsort(length)[::-1]:
        if length[at] < _SHORTEST_PT:
            return
        for line in (lines[at], lines[at][::-1]):
            back = line[np.hypot(*(line - line[-1]).T) >= min(_LOOK_BACK_PT, length[at] / 2.0)]
            way = line[-1] - (back[-1] if len(back) else line[0])
            way /= max(float(np.hypot(*way)), 1e-9)
            middle = line[-1] + way * (np.abs(way) @ half + _BEYOND_PT)
            yield np.concatenate([middle - half, middle + half])


def _is_inside(ax: Axes, box: Floats) -> bool:
    low, high = np.sort(corners_pt(ax), axis=0)
    return bool((box[:2] > low + _MARGIN_PT).all() and (box[2:] < high - _MARGIN_PT).all())


def _overlap(box: Floats, other: Floats) -> bool:
    return bool((box[:2] < other[2:]).all() and (other[:2] < box[2:]).all())


def _share_in(ax: Axes, cells: MapCells, dated: Flags, box: Floats) -> float:
    """The share of the cells under a box that have a date."""
    corners = from_points(ax, box.reshape(2, 2))
    easting, northing = cells.centres()
    cols = (easting >= corners[:, 0].min()) & (easting <= corners[:, 0].max())
    rows = (northing >= corners[:, 1].min()) & (northing <= corners[:, 1].max())
    under = dated[np.ix_(rows, cols)]
    return float(under.mean()) if under.size else 0.0


def _box_of(ax: Axes, label: Text) -> Floats:
    """The box round a label that leans, (4,) in points."""
    turn = np.radians(label.get_rotation())
    cos, sin = abs(np.cos(turn)), abs(np.sin(turn))
    wide = text_width_pt(label.get_text(), SMALL_PT)
    half = np.array([wide * cos + _HIGH_PT * sin, wide * sin + _HIGH_PT * cos]) / 2.0
    middle = in_points(ax, np.array(label.get_position(), dtype=float))
    return np.concatenate([middle - half, middle + half])
