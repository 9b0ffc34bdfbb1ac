"""Names of places written on a map, as many as have room."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patheffects import withStroke

from terrain.arrays import Floats
from terrain.ground.grid import Grid
from terrain.ground.places import Spot
from terrain.show.map.extent import map_places
from terrain.show.paper import palette
from terrain.show.paper.marks import corners_pt, from_points, in_points
from terrain.show.paper.text import text_width_pt, write

_SIZE_PT: Final = 6.8
_HIGH_PT: Final = 8.0
_OFF_PT: Final = 4.0
_MOST: Final = 24
_APART_PT: Final = 6.0
_OFF_EDGE_PT: Final = 3.0


def draw_names(
    ax: Axes, grid: Grid, places: Sequence[Spot], keep_out_pt: Floats, box_pt: Floats
) -> None:
    """A dot and a name at each of some places, the first first, where none lies on another.

    keep_out_pt: (n, 3) discs to stay clear of, places and radii in points, and box_pt
    a box, (2, 2) corners. The limits of the axes
    must be final.
    """
    low, high = np.sort(corners_pt(ax), axis=0)
    taken = [(x - r, y - r, x + r, y + r) for x, y, r in keep_out_pt]
    left, low_pt, right, high_pt = box_pt.ravel().tolist()
    taken.append((left, low_pt, right, high_pt))
    written = 0
    for place in places:
        at = map_places(grid, place.lon_deg, place.lat_deg)[0]
        at_pt = in_points(ax, at)
        if written == _MOST or not ((at_pt > low) & (at_pt < high)).all():
            continue
        wide = text_width_pt(place.label, _SIZE_PT)
        for left, ha in ((at_pt[0] + _OFF_PT, "left"), (at_pt[0] - _OFF_PT - wide, "right")):
            box = left, at_pt[1] - _HIGH_PT / 2.0, left + wide, at_pt[1] + _HIGH_PT / 2.0
            about = min(box[0], at_pt[0] - 2.0), box[1], max(box[2], at_pt[0] + 2.0), box[3]
            inside = all(low + _OFF_EDGE_PT < about[:2]) and all(about[2:] < high - _OFF_EDGE_PT)
            if inside and not any(_meet(about, other) for other in taken):
                _write(ax, place.label, at, at_pt, ha)
                taken.append(about)
                written += 1
                break


def _meet(first: tuple[float, ...], second: tuple[float, ...]) -> bool:
    """Whether two boxes (left, low, right, high) lie on one another, or nearly."""
    return (
        first[0] < second[2] + _APART_PT
        and second[0] < first[2] + _APART_PT
        and first[1] < second[3] + 1.0
        and second[1] < first[3] + 1.0
    )


def _write(ax: Axes, name: str, at: Floats, at_pt: Floats, ha: Any) -> None:
    dot: dict[str, Any] = {"marker": "o", "markersize": 2.6, "color": palette.INK}
    ax.plot(*at, zorder=6.0, gid="place", markeredgewidth=0.0, **dot)
    shift = _OFF_PT if ha == "left" else -_OFF_PT
    beside = from_points(ax, at_pt + np.array([shift, 0.0]))
    text = write(ax, beside, name, size_pt=_SIZE_PT, ha=ha, zorder=6.1)
    text.set(path_effects=[withStroke(linewidth=2.2, foreground=palette.PAPER)], gid="name")
