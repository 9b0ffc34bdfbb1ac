"""The windows of ground that walks are searched in, and the quickest way through them.

The ground is searched in a window about the start and the spot, with half of their distance to
spare on every side; where no way is found in it, or one that touches its edge, it is doubled. A
quicker way that leads still farther round is not looked for::

    +---------------------------+
    |      .--~~~~~--.          |     ~~~ along a path at the pace itself
    |   P.'           '~~.      |     ... over open ground, slower by the path factor
    |             # #     ...V  |     # # closed: water, and ground over the steepest allowed
    +---------------------------+
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from scipy.sparse.csgraph import dijkstra

from terrain.arrays import Floats, Numbers
from terrain.errors import NoAnswer, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.walk.net import Net, lay_net
from terrain.walk.pace import Going

MOST_CELLS: Final = 2_500_000
"""More cells than this are not searched at once: the net of steps over them takes over 1.5 GB."""

_MARGIN_M: Final = 1500.0
_MARGIN_SHARE: Final = 0.5


@dataclass(frozen=True, kw_only=True)
class Window:
    """A block of cells: its first row and column, and those just beyond its last."""

    top: int
    left: int
    bottom: int
    right: int

    @property
    def shape(self) -> tuple[int, int]:
        """(rows, cols)."""
        return self.bottom - self.top, self.right - self.left

    @property
    def is_too_large(self) -> bool:
        """Whether it has more cells than are searched at once."""
        return self.shape[0] * self.shape[1] > MOST_CELLS

    def doubled(self, dem: Dem) -> Window:
        """A window twice as wide and as deep about the same middle, as far as the raster goes."""
        down, along = self.shape[0] // 2 + 1, self.shape[1] // 2 + 1
        return Window(
            top=max(self.top - down, 0),
            left=max(self.left - along, 0),
            bottom=min(self.bottom + down, dem.shape[0]),
            right=min(self.right + along, dem.shape[1]),
        )

    def going(self, going: Going, dem: Dem) -> Going:
        """How one walks in the window: the same, with what of the ground's water lies in it."""
        if going.water is None:
            return going
        if going.water.shape != dem.shape:
            raise ValueError(f"water of shape {going.water.shape} for ground of {dem.shape}")
        return replace(going, water=going.water[self.top : self.bottom, self.left : self.right])

    @property
    def blocks(self) -> int:
        """How many cells a block must have each way for few enough blocks to be searched."""
        side = 1
        while (-(-self.shape[0] // side)) * (-(-self.shape[1] // side)) > MOST_CELLS:
            side += 1
        return side

    def cut(self, dem: Dem) -> Dem:
        """The ground in the window."""
        heights = dem.heights_m[self.top : self.bottom, self.left : self.right]
        return Dem(heights, dem.grid.window(self.top, self.left, self.shape))

    def ground(self, dem: Dem) -> Dem:
        """The ground in the window; TerrainError where that is too much to be searched."""
        if self.is_too_large:
            side_km = max(self.shape) * dem.cell_m / 1000.0
            raise TerrainError(
                f"{side_km:.0f} km of {dem.cell_m:g} m cells are too many to search for a walk: "
                "choose a nearer start, or read the raster with larger cells"
            )
        return self.cut(dem)

    def is_left_at(self, dem: Dem, row: Floats, col: Floats) -> bool:
        """Whether a way (rows and columns of the window) touches an edge with ground beyond."""
        rows, cols = self.shape
        return bool(
            (self.top > 0 and row.min() < 2.0)
            or (self.left > 0 and col.min() < 2.0)
            or (self.bottom < dem.shape[0] and row.max() > rows - 3.0)
            or (self.right < dem.shape[1] and col.max() > cols - 3.0)
        )


def window_about(dem: Dem, places: Sequence[Spot], margin_m: float | None = None) -> Window:
    """The window that holds places with a margin, as far as the raster goes.

    Unless given, the margin is half of the way between them, and 1.5 km at least.
    """
    at_row, at_col = dem.grid.rowcol([p.lon_deg for p in places], [p.lat_deg for p in places])
    if margin_m is None:
        straight_m = math.hypot(np.ptp(at_row), np.ptp(at_col)) * dem.cell_m
        margin_m = max(_MARGIN_M, _MARGIN_SHARE * straight_m)
    margin, (rows, cols) = margin_m / dem.cell_m, dem.shape
    return Window(
        top=max(math.floor(at_row.min() - margin), 0),
        left=max(math.floor(at_col.min() - margin), 0),
        bottom=min(math.ceil(at_row.max() + margin) + 1, rows),
        right=min(math.ceil(at_col.max() + margin) + 1, cols),
    )


def quickest_way(dem: Dem, start: Spot, spot: Spot, going: Going) -> tuple[Net, Numbers]:
    """The net, and the nodes of the quickest way through it."""
    window = window_about(dem, [start, spot])
    while True:
        net = lay_net(window.ground(dem), [start, spot], window.going(going, dem))
        route = _route(net)
        if route is not None and not window.is_left_at(
            dem, net.nodes.row[route], net.nodes.col[route]
        ):
            return net, route
        wider = window.doubled(dem)
        if window.shape == dem.shape or wider.is_too_large:
            break
        window = wider
    if route is None:
        net.check_open(0)
        net.check_open(1)
        raise NoAnswer(
            f"no way on foot leads from {start.label} to {spot.label}: water, unknown ground or "
            f"ground steeper than {going.max_slope_deg:.0f} degrees lies between; start elsewhere, "
            "or allow steeper ground, with care"
        )
    return net, route


def _route(net: Net) -> Numbers | None:
    """The nodes of the quickest way from the first place to the second, or None."""
    first, last = net.place(0), net.place(1)
    (seconds,), (before,) = dijkstra(net.graph, indices=[first], return_predecessors=True)
    if not np.isfinite(seconds[last]):
        return None
    route = [last]
    while route[-1] != first:
        route.append(int(before[route[-1]]))
    return np.array(route[::-1], dtype=np.int64)
