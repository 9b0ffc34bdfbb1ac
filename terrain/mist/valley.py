"""A mist that slopes with its valley: its top follows the valley's floor at some depth above it.

Cold air that drains down a valley lies in it like a slow river, deep where the floor is gentle;
it does not stay on steep ground, and an inversion is a lid on it::

    ceiling ......................................
                                    ____----
              ____________------====    |          top, smooth along the valley and across it
    ____------                          | depth
                              ___---'''''          floor: the channel that drains the ground
    ________________-----'''''
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import partial
from typing import Any, Final

import numpy as np
from scipy import ndimage

from terrain.arrays import Flags, Labels, Singles
from terrain.cores import share_out
from terrain.errors import NoAnswer, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.mist._drainage_kernels import Ways, channel_slopes
from terrain.mist._kernels import Onward
from terrain.mist.drainage import CHANNEL_KM2, Drainage, drain
from terrain.mist.floors import carried, heights_and_tops, take_nearest
from terrain.mist.mist import Mist
from terrain.mist.onward import run_on
from terrain.mist.smoothing import smoothed

MAX_FLOOR_SLOPE: Final = 0.08
"""Steepest valley floor that cold air stays in, rise over run (common practice, no source)."""

SMOOTH_M: Final = 300.0
"""How far the top is smoothed, metres: one standard deviation of the spreading."""

_FULL_SHARE: Final = 0.5
# how fast mist thins that runs over a rim, depth over distance; chosen by its look, no source
_THINNING: Final = 0.15
_THINNEST_M: Final = 0.5
_TOUCHING: Final = np.ones((3, 3), dtype=bool)

Depth = float | Mapping[Spot | Hill, float]


def valley_mist(
    dem: Dem,
    depth_m: Depth,
    *,
    ceiling_m: float | None = None,
    seeds: Sequence[Spot | Hill] | None = None,
    max_floor_slope: float = MAX_FLOOR_SLOPE,
    channel_km2: float = CHANNEL_KM2,
    smooth_m: float = SMOOTH_M,
    drainage: Drainage | None = None,
) -> Mist:
    """A mist whose top follows the valley floors downstream at a depth above them.

    Steep side valleys take only what backs up into them, level, from the valley they join. More of
    it, deeper or under a higher ceiling, lies wherever less of it does and nowhere lower.

    Parameters
    ----------
    dem : Dem
        The ground.
    depth_m : float, or mapping from Spot or Hill to float
        Metres above the floor; or that of each of several places, which are then the seeds, and
        between which it goes over from the one to the other by squared distance.
    ceiling_m : float, optional
        Height the top never rises above (the inversion), metres above the ground's datum.
    seeds : sequence of Spot or Hill, optional
        Only the mist over the valleys these places drain to, and what it is joined to; every valley
        unless given.
    max_floor_slope : float, optional
        Rise over run of a valley floor, over twice `smooth_m`, from which on no cold air stays;
        from half of that on it lies less deep.
    channel_km2 : float, optional
        Least ground that drains to what counts as a valley's floor, square kilometres; lakes and
        other flats of that size do too.
    smooth_m : float, optional
        The top is spread by about this far, metres.
    drainage : Drainage, optional
        What `drain` gave for this ground; `Country.drainage` keeps it.

    Returns
    -------
    Mist
        Its top slopes with the floors.

    Raises
    ------
    TerrainError
        For a depth or another figure that is none.
    NoAnswer
        Where the mist would cover no ground.
    NoGround
        Where no ground is known, or a seed lies off it.

    Examples
    --------
    >>> from affine import Affine
    >>> from terrain.ground.geodesy import local_transverse_mercator
    >>> from terrain.ground.grid import Grid
    >>> placing = Affine(100.0, 0.0, 0.0, 0.0, -100.0, 0.0)
    >>> grid = Grid(crs=local_transverse_mercator(-24, 54), transform=placing, shape=(60, 41))
    >>> row, col = np.mgrid[0:60, 0:41]
    >>> tilted = Dem(200 - 2 * row + 30 * abs(col - 20), grid)
    >>> mist = valley_mist(tilted, 50.0, ceiling_m=230.0)
    >>> mist.top_m[[0, 20, 59], 20].round(1).tolist()
    [230.0, 210.0, 132.0]
    """
    asked = _Asked(
        depths_m={**depth_m} if isinstance(depth_m, Mapping) else {None: depth_m},
        ceiling_m=ceiling_m,
        seeds=list(depth_m) if isinstance(depth_m, Mapping) else seeds,
        max_floor_slope=max_floor_slope,
        channel_km2=channel_km2,
        smooth_m=smooth_m,
    )
    asked.check()
    return _mist(asked, drain(dem) if drainage is None else drainage, dem)


@dataclass(frozen=True, kw_only=True)
class _Asked:
    """A mist along valley floors as it is asked for; as `valley_mist` has it.

    depths_m: by place, or one for None.
    """

    depths_m: Mapping[Any, float]
    ceiling_m: float | None
    seeds: Sequence[Spot | Hill] | None
    max_floor_slope: float
    channel_km2: float
    smooth_m: float

    @property
    def deepest_m(self) -> float:
        """The greatest of the depths."""
        return max(self.depths_m.values())

    def raised(self, by_m: float) -> _Asked:
        """The same so much deeper, metres, no depth below 0, under a ceiling higher by as much."""
        depths = {place: max(depth + by_m, 0.0) for place, depth in self.depths_m.items()}
        ceiling = None if self.ceiling_m is None else self.ceiling_m + by_m
        return replace(self, depths_m=depths, ceiling_m=ceiling)

    def check(self) -> None:
        """TerrainError for a figure that is none."""
        if not self.depths_m:
            raise TerrainError("a mist by places needs at least one place with a depth")
        for depth in self.depths_m.values():
            if not 0 < depth < math.inf:
                raise TerrainError(f"a mist {depth} m deep is none: give a depth of more than 0 m")
        if self.ceiling_m is not None and not math.isfinite(self.ceiling_m):
            raise TerrainError(
                f"the ceiling of a mist must be a height in metres, got {self.ceiling_m}"
            )
        slope, channel, smooth = self.max_floor_slope, self.channel_km2, self.smooth_m
        if not (slope > 0 and channel > 0 and 0 <= smooth < math.inf):
            raise TerrainError(
                f"a floor slope of {slope}, channels of {channel} km² and smoothing by {smooth} m "
                "make no mist: the first two must be above 0, the last 0 or more"
            )


def _raised(asked: _Asked, drainage: Drainage, dem: Dem, by_m: float) -> Mist:
    return _mist(asked.raised(by_m), drainage, dem)


def _mist(asked: _Asked, drainage: Drainage, dem: Dem) -> Mist:
    # no step gives less for more, so a deeper mist uncovers nothing: what belongs together is told
    # from the ground alone, and all else is sums without a minus, least and greatest of heights
    share = _shares(asked, drainage)
    own = _own_tops(asked, drainage, dem, share)
    top, unclaimed = _over_floors(asked, drainage, own, share > 0)
    if asked.seeds is not None and not np.isnan(top).all():
        top[~_joined_to(dem, drainage, ~np.isnan(top), asked.seeds, own)] = np.nan
        if np.isnan(top).all():
            # places that have depths of their own are all there is of the mist
            everywhere = [{"seeds": None}] if None in asked.depths_m else []
            raise NoAnswer(_not_from(asked.seeds, asked.deepest_m), loosen=everywhere)
    if np.isnan(top).all():
        raise _nowhere(asked, drainage, dem)
    losses = _THINNING * dem.cell_m * np.array([1, math.sqrt(2)])
    metres = np.array([*losses, _THINNEST_M, asked.deepest_m], dtype=np.float32)
    run_on(top, Onward(drainage.ground_m, drainage.known, unclaimed, drainage.shape[1], *metres))
    top_m = top.reshape(drainage.shape)[1:-1, 1:-1]
    top_m = np.where(np.isnan(dem.heights_m), np.float32(np.nan), top_m)
    return Mist(top_m, dem.grid, raised_by=partial(_raised, asked, drainage))


def _over_floors(
    asked: _Asked, drainage: Drainage, own: Singles, floors: Flags
) -> tuple[Singles, Flags]:
    """Flat: the top over the ground of the valley floors, NaN where it lies below; other ground.

    The other is that which drains to no channel, and which no floor leads up to.
    """
    top, source = carried(drainage.down, own, floors)
    unclaimed = drainage.known & np.isnan(top)
    take_nearest(source, drainage)
    floor, top_of = heights_and_tops(source, drainage.floor_m, top)
    # floors that part by more than the steepest rises over its reach are of different valleys
    jump_m = 2 * asked.smooth_m * asked.max_floor_slope
    smooth = smoothed(drainage, top_of, floor, asked.smooth_m, jump_m)
    smooth[~((top_of > floor) & (smooth > drainage.ground_m))] = np.nan
    return smooth, unclaimed & (source < 0)


def _shares(asked: _Asked, drainage: Drainage) -> Singles:
    """Flat: how much of the depth stays on each channel cell and lake, 0 to 1, NaN elsewhere."""
    shares = np.full(drainage.floor_m.size, np.nan, dtype=np.float32)
    channel = drainage.channels(asked.channel_km2)
    cells = np.flatnonzero(channel.view(bool)).astype(np.int32)
    slope = np.empty(cells.size, dtype=np.float32)
    ways = Ways(drainage.down, drainage.donor, channel, drainage.shape[1], drainage.cell_m)
    floor_m, reach_m = drainage.floor_m, 2 * asked.smooth_m
    share_out(
        cells.size,
        lambda first, end: channel_slopes(first, end, ways, cells, floor_m, reach_m, slope),
    )
    shares[cells] = np.clip((1 - slope / asked.max_floor_slope) / (1 - _FULL_SHARE), 0, 1)
    shares[drainage.level_floors(asked.channel_km2)] = 1
    return shares


def _own_tops(asked: _Asked, drainage: Drainage, dem: Dem, shares: Singles) -> Singles:
    """Flat: the top over each channel cell that its own floor gives it, NaN off the channels."""
    floor_m = drainage.floor_m
    if None in asked.depths_m:
        own = floor_m + shares * np.float32(asked.depths_m[None])
    else:
        cells = np.flatnonzero(shares >= 0).astype(np.int32)
        own = np.full(shares.size, np.nan, dtype=np.float32)
        own[cells] = floor_m[cells] + shares[cells] * _depths_m(asked, drainage, dem, cells)
    return own if asked.ceiling_m is None else np.minimum(own, np.float32(asked.ceiling_m))


def _depths_m(asked: _Asked, drainage: Drainage, dem: Dem, cells: Labels) -> Singles:
    """Depth over each of the cells: that of the places, weighted by 1 / distance squared."""
    row, col = np.divmod(cells, drainage.shape[1])
    total, shares = np.zeros(cells.size), np.zeros(cells.size)
    for place, depth in asked.depths_m.items():
        at_row, at_col = dem.grid.rowcol(place.lon_deg, place.lat_deg)
        # within a cell of the place its own depth holds
        squared = np.maximum((row - 1 - at_row) ** 2 + (col - 1 - at_col) ** 2, 1e-3)
        total += depth / squared
        shares += 1 / squared
    return (total / shares).astype(np.float32)


def _joined_to(
    dem: Dem, drainage: Drainage, covers: Flags, seeds: Sequence[Spot | Hill], own: Singles
) -> Flags:
    """The parts of the mist that lie over the floors the seeds drain to."""
    body, _ = ndimage.label(covers.reshape(drainage.shape), _TOUCHING)
    body = body.reshape(-1)
    floor = ~np.isnan(own)
    wanted = set()
    for seed in seeds:
        dem.height_at(seed.lon_deg, seed.lat_deg)
        cell = drainage.first_on(drainage.cell_of(seed), floor)
        wanted.add(int(body[cell]))
    return np.isin(body, [number for number in wanted if number > 0])


def _not_from(seeds: Sequence[Spot | Hill], depth_m: float) -> str:
    places = [seed.name or f"{seed.lat_deg:.4f}, {seed.lon_deg:.4f}" for seed in seeds]
    return (
        f"mist {depth_m:.10g} m deep from {' and '.join(places)} covers no ground: the way down "
        "from there comes to no valley floor that is wide and level enough; give a place farther "
        "down the valley"
    )


def _nowhere(asked: _Asked, drainage: Drainage, dem: Dem) -> NoAnswer:
    lowest_m, depth_m = float(np.nanmin(dem.heights_m)), asked.deepest_m
    under = "" if asked.ceiling_m is None else f" under a ceiling at {asked.ceiling_m:.10g} m"
    loosen: list[dict[str, Any]] = [{"level_top_m": math.ceil(lowest_m + depth_m)}]
    if asked.ceiling_m is not None:
        with suppress(NoAnswer):
            _mist(replace(asked, ceiling_m=None), drainage, dem)
            loosen = [{"ceiling_m": None}]
    return NoAnswer(
        f"mist {depth_m:.10g} m deep{under} covers no ground: the lowest here is "
        f"{lowest_m:.0f} m, and valley floors may be too steep or too small",
        loosen=loosen,
    )
