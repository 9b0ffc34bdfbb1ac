"""Tree tops that stand out of shallow mist, as small spikes on a map, where there is room.

::

      mist deeper than trees       ^   ^   ^        spikes apart from one another, in staggered
                                 ^   ^   ^   ^      rows where all is shallow; a thin rim along
      ~~~~ shore ~~~~~~~~~~~~~~~~~ ^ ~ ^ ~~~~~~     a steep shore has no room for any

They stand at places of the page, not of trees.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.path import Path
from scipy import ndimage

from terrain.arrays import Flags, Floats
from terrain.ground.dem import Dem
from terrain.mist.mist import Mist
from terrain.mist.shallows import is_shallow
from terrain.show.map.extent import MapCells
from terrain.show.map.water import water_of
from terrain.show.paper import palette
from terrain.show.paper.legend import Row, draw_box
from terrain.show.paper.marks import corners_pt
from terrain.words.scenes import tree_tops_words

_APART_PT, _UNDER_PT = 5.4, 4.6
_ROOM_PT: Final = 3.2
_ROOM_SHARE: Final = 0.45
_FULL_SHARE: Final = 0.8
_ORDER: Final = 0.05
"""How much it counts that a spike stands in its row: where all is shallow, nothing else does."""

_SPIKE: Final = Path([(-0.28, -0.5), (0.0, 0.5), (0.28, -0.5), (-0.28, -0.5)], closed=True)
_LOOK: Final[dict[str, Any]] = {
    "marker": _SPIKE,
    "markersize": 4.6,
    "markerfacecolor": palette.RIDGE_NEAR,
    "markeredgewidth": 0.0,
    "linestyle": "none",
}
_NUDGE: Final = 1e-7


@lru_cache(maxsize=1)
def _shallow(dem: Dem, mist: Mist, trees_m: tuple[float, float]) -> Flags:
    return is_shallow(dem, mist, trees_m=trees_m, water=water_of(dem))


@dataclass(frozen=True, kw_only=True)
class TreeTops:
    """Where on a ground a mist is as shallow as trees are high; none stand in water."""

    dem: Dem
    mist: Mist
    trees_m: tuple[float, float]

    def draw(self, ax: Axes, cells: MapCells) -> None:
        """The spikes; the axes' limits must be final."""
        wide_pt, wide_m = np.ptp(corners_pt(ax)[:, 0]), np.ptp(ax.get_xlim())
        places = self.places(cells, float(wide_pt / wide_m))
        if len(places):
            ax.plot(*places.T, zorder=2.6, gid="tree-tops", **_LOOK)

    def places(self, cells: MapCells, per_m: float) -> Floats:
        """Where spikes stand, (n, 2) in map coordinates; per_m: points on the page to a metre."""
        easting, northing = cells.centres()
        share = cells.thinned(_shallow(self.dem, self.mist, self.trees_m))
        cell_pt = per_m * (cells.extent.east - cells.extent.west) / easting.size
        room = ndimage.uniform_filter(share, max(round(_ROOM_PT / cell_pt), 1), mode="constant")
        along, up = 2.0 * np.pi * per_m * easting, np.pi * per_m * northing[:, np.newaxis]
        order = np.cos(along / _APART_PT) * np.cos(up / _UNDER_PT)
        # of two that are as good the one farther to the right and down
        first = _NUDGE * np.add.outer(2.0 * np.arange(northing.size), np.arange(easting.size))
        good = np.minimum(room, _FULL_SHARE) + _ORDER * order + first
        apart = [max(round(pt / cell_pt), 1) for pt in (_UNDER_PT, _APART_PT)]
        best = (good == ndimage.maximum_filter(good, apart)) & (room >= _ROOM_SHARE)
        row, col = np.nonzero(best)
        return np.stack([easting[col], northing[row]], axis=-1)


def tree_tops_row(trees_m: tuple[float, float]) -> Row:
    """What the spikes are, for the legend of a map."""
    return Row(words=tree_tops_words(trees_m), sign=_draw_sign)


def _draw_sign(side: Axes, at: float) -> None:
    look = {"facecolor": palette.MIST, "edgecolor": palette.FAINT, "linewidth": 0.6}
    draw_box(side, (0.5, at - 5.0), (15.0, 10.0), look)
    side.plot([3.5, 8.5, 13.5, 6.0, 11.0], [at - 2.1] * 3 + [at + 2.1] * 2, **_LOOK)
