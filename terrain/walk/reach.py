"""How far one gets on foot: the time from one start to every place about it, by one search."""

from __future__ import annotations

from dataclasses import dataclass, replace

import geopandas as gpd
import numpy as np
from affine import Affine
from numpy.typing import ArrayLike, NDArray
from scipy.sparse.csgraph import dijkstra

from terrain.arrays import Flags, Floats, Singles, frozen_arrays
from terrain.errors import TerrainError
from terrain.ground.dem import Dem
from terrain.ground.grid import Grid, nearest_cells
from terrain.ground.places import Spot
from terrain.walk.net import lay_net
from terrain.walk.pace import MAX_SLOPE_DEG, PATH_FACTOR, Going, Pace, fastest_m_s, tobler
from terrain.walk.window import window_about


@dataclass(frozen=True, kw_only=True, eq=False)
@frozen_arrays()
class Reach:
    """How long the walk in from one start takes, to every cell of a window of the ground.

    grid: of the window. minutes: (rows, cols) by day, infinite where no way leads within
    `within_min`, NaN where the ground is unknown; read-only. blocks: how many cells each way were
    searched as one.
    """

    start: Spot
    grid: Grid
    minutes: Floats
    within_min: float
    blocks: int = 1

    def within(self, within_min: float) -> Reach | None:
        """The same of a walk no longer; None where another search may tell more."""
        if within_min == self.within_min:
            return self
        if within_min > self.within_min or self.blocks > 1:
            return None
        minutes = np.where(self.minutes > within_min, np.inf, self.minutes)
        return replace(self, minutes=minutes, within_min=within_min)

    def minutes_at(self, lon_deg: ArrayLike, lat_deg: ArrayLike) -> Floats:
        """Minutes to the cells that hold places (any shape); infinite beyond the window."""
        row, col = self.grid.rowcol(lon_deg, lat_deg)
        minutes = self.minutes[nearest_cells(row, col, self.grid.shape)]
        return np.where(self.grid.contains(row, col), minutes, np.inf)

    def over(self, dem: Dem) -> Singles:
        """The minutes on the whole ground they were asked for, (rows, cols); infinite beyond.

        ValueError for ground on another grid.
        """
        own, whole = self.grid.transform, dem.transform
        top, left = round((own.f - whole.f) / whole.e), round((own.c - whole.c) / whole.a)
        if dem.grid.window(top, left, self.grid.shape) != self.grid:
            raise ValueError("the walks were searched on other ground: ask for them on this one")
        minutes = np.full(dem.shape, np.inf, dtype=np.float32)
        minutes[top : top + self.grid.shape[0], left : left + self.grid.shape[1]] = self.minutes
        return minutes


def walks_from(
    dem: Dem,
    start: Spot,
    *,
    within_min: float = 90.0,
    paths: gpd.GeoDataFrame | None = None,
    water: Flags | None = None,
    pace: Pace = tobler,
    path_factor: float = PATH_FACTOR,
    max_slope_deg: float = MAX_SLOPE_DEG,
) -> Reach:
    """How long the walk from a start takes to every cell within some minutes.

    Parameters
    ----------
    dem : Dem
        The ground.
    start : Spot
        Where the walks begin.
    within_min : float, optional
        Minutes by day; what is farther is not told.
    paths : geopandas.GeoDataFrame, optional
        As for `walk_in`.
    water : (rows, cols) bool array, optional
        As for `walk_in`.
    pace : callable, optional
        As for `walk_in`.
    path_factor : float, optional
        As for `walk_in`.
    max_slope_deg : float, optional
        As for `walk_in`, degrees.

    Returns
    -------
    Reach
        Minutes to every cell of a window of the ground, infinite where no way leads in that time.

    Raises
    ------
    NoGround
        Where the start is off the known ground.
    NoAnswer
        Where no step leads from the start.
    TerrainError
        For a time or factors that make no sense.

    Notes
    -----
    The window holds all ground that the fastest leg of the pace could reach in that time, so no way
    round is missed; where it has more cells than are searched at once, blocks of them are. The
    times are those of `walk_in`, but for the last steps: a walk ends at the spot, these end at the
    centres of cells or blocks.

    Examples
    --------
    >>> import datetime as dt
    >>> import numpy as np
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(100, 0, 5e5, 0, -100, 6e6), shape=(61, 81))
    >>> row, col = np.mgrid[-30:31, -40:41]
    >>> cone = terrain.Dem(np.maximum(300.0 - 40.0 * np.hypot(row, col), 0.0), grid)
    >>> hill = terrain.hill_at(cone, *map(float, grid.lonlat(30, 40)), name="Cone")
    >>> lon, lat = (float(part) for part in grid.lonlat(30, 10))
    >>> spot = terrain.Spot(lon_deg=lon, lat_deg=lat, name="the stile")
    >>> reach = terrain.walks_from(cone, spot, within_min=20.0)
    >>> reach.minutes_at([lon + 0.01, lon + 0.5], [lat, lat]).round(1).tolist()
    [13.9, inf]
    """
    going = Going(
        paths=paths, water=water, pace=pace, path_factor=path_factor, max_slope_deg=max_slope_deg
    )
    return reach_from(dem, start, within_min, going)


def reach_from(dem: Dem, start: Spot, within_min: float, going: Going) -> Reach:
    """How long the walk from a start takes for one who walks so; all else as in `walks_from`."""
    if not 0.0 < within_min < np.inf:
        raise TerrainError(f"a walk within {within_min} minutes: give a time above 0")
    dem.height_at(start.lon_deg, start.lat_deg)
    limit_s = within_min * 60.0
    window = window_about(dem, [start], limit_s * fastest_m_s(going.pace))
    ground, going = window.cut(dem), window.going(going, dem)
    blocks, going = _in_blocks(ground, going, window.blocks)
    net = lay_net(blocks, [start], going)
    net.check_open(0)
    (seconds,) = dijkstra(net.graph, indices=[net.place(0)], limit=limit_s)
    minutes = np.reshape(seconds[: net.is_open.size] / 60.0, net.is_open.shape)
    # every cell is as far as the block it lies in
    minutes = minutes.repeat(window.blocks, axis=0).repeat(window.blocks, axis=1)
    minutes = minutes[: ground.shape[0], : ground.shape[1]]
    minutes[np.isnan(ground.heights_m)] = np.nan
    return Reach(
        start=start,
        grid=ground.grid,
        minutes=minutes,
        within_min=within_min,
        blocks=window.blocks,
    )


def _in_blocks(ground: Dem, going: Going, side: int) -> tuple[Dem, Going]:
    """The ground in blocks of so many cells each way: their mean height, and the wetter half."""
    if side == 1:
        return ground, going
    rows, cols = ground.shape
    over = (0, -rows % side), (0, -cols % side)
    with np.errstate(invalid="ignore"):
        heights = np.pad(ground.heights_m, over, constant_values=np.nan)
        known = ~np.isnan(heights)
        count = _block_sum(known, side)
        mean = _block_sum(np.where(known, heights, 0.0), side) / count
    own = ground.grid.transform
    larger = Affine(own.a * side, 0.0, own.c, 0.0, own.e * side, own.f)
    coarse = Grid(crs=ground.grid.crs, transform=larger, shape=(mean.shape[0], mean.shape[1]))
    if going.water is not None:
        wet = _block_sum(np.pad(going.water, over), side) > 0.5 * side**2
        going = replace(going, water=wet)
    return Dem(mean.astype(np.float32), coarse), going


def _block_sum(values: NDArray[np.generic], side: int) -> Floats:
    rows, cols = values.shape
    blocks = values.reshape(rows // side, side, cols // side, side)
    return np.asarray(blocks.sum(axis=(1, 3), dtype=float))
