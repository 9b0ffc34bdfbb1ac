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
from dataclasses import dataclass, replace
from functools import partial
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from terrain.cores import share_out
from terrain.errors import NoAnswer, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.mist._drainage_kernels import channel_slopes
from terrain.mist._kernels import (
    IN,
    OUT,
    SHORE,
    carry_over_the_rest,
    carry_tops,
    diffuse,
    spill,
    spread_across,
)
from terrain.mist.drainage import CHANNEL_KM2, Drainage, drain
from terrain.mist.mist import Mist

__all__ = ["MAX_FLOOR_SLOPE", "SMOOTH_M", "valley_mist"]

MAX_FLOOR_SLOPE: Final = 0.08
"""Steepest valley floor that cold air stays in, rise over run (common practice, no source)."""

SMOOTH_M: Final = 300.0
"""How far the top is smoothed, metres: one standard deviation of the spreading."""

_FULL_SHARE: Final = 0.5
_MARGIN_SHARE: Final = 0.25
# how fast mist thins that runs over a rim, depth over distance; chosen by its look, no source
_THINNING: Final = 0.15
_THINNEST_M: Final = 0.5
# explicit diffusion over the four neighbours is stable up to this step, in cells squared
_STABLE_STEP: Final = 0.25
_LONG_STEPS: Final = 3
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

    depth_m: metres above the floor; or that of each of several places, which are then the
    seeds, and between which it goes over from the one to the other by squared distance.
    ceiling_m: height the top never rises above (the inversion), metres above the ground's
    datum. seeds: only the mist over the valleys these places drain to, and what it is joined
    to; None: every valley. max_floor_slope: rise over run of a valley floor, over twice
    smooth_m, from which on no cold air stays; from half of that on it lies less deep.
    channel_km2: least ground that drains to what counts as a valley's floor; lakes and other
    flats of that size do too. smooth_m: the top is spread by about this far, metres.
    drainage: what `drain` gave for this ground.

    Steep side valleys take only what backs up into them, level, from the valley they join.
    Raises TerrainError for a depth or another figure that is none, NoAnswer where the mist
    would cover no ground, NoGround where no ground is known or a seed lies off it.

    >>> from affine import Affine
    >>> from terrain.ground.geodesy import local_transverse_mercator
    >>> from terrain.ground.grid import Grid
    >>> placing = Affine(100.0, 0.0, 0.0, 0.0, -100.0, 0.0)
    >>> grid = Grid(crs=local_transverse_mercator(-24, 54), transform=placing, shape=(60, 41))
    >>> row, col = np.mgrid[0:60, 0:41]
    >>> tilted = Dem(200 - 2 * row + 30 * abs(col - 20), grid)
    >>> mist = valley_mist(tilted, 50.0, ceiling_m=230.0)
    >>> mist.top_m[[0, 20, 59], 20].round(2).tolist()
    [230.0, 210.0, 132.0]
    """
    asked = _Asked(
        depth_m=depth_m,
        ceiling_m=ceiling_m,
        seeds=seeds,
        max_floor_slope=max_floor_slope,
        channel_km2=channel_km2,
        smooth_m=smooth_m,
    )
    asked.check()
    return _mist(asked, drain(dem) if drainage is None else drainage, dem)


@dataclass(frozen=True, kw_only=True)
class _Asked:
    """A mist along valley floors as it is asked for; the fields as `valley_mist` has them."""

    depth_m: Depth
    ceiling_m: float | None
    seeds: Sequence[Spot | Hill] | None
    max_floor_slope: float
    channel_km2: float
    smooth_m: float

    @property
    def depths_m(self) -> list[float]:
        """Those of all places, or the one."""
        return list(self.depth_m.values() if isinstance(self.depth_m, Mapping) else [self.depth_m])

    @property
    def places(self) -> Sequence[Spot | Hill] | None:
        """Where the mist comes from; None where it comes from everywhere."""
        return list(self.depth_m) if isinstance(self.depth_m, Mapping) else self.seeds

    def raised(self, by_m: float) -> _Asked:
        """The same so much deeper, metres, no depth below 0, under a ceiling higher by as much."""
        depth: Depth
        if isinstance(self.depth_m, Mapping):
            depth = {place: max(own_m + by_m, 0.0) for place, own_m in self.depth_m.items()}
        else:
            depth = max(self.depth_m + by_m, 0.0)
        ceiling = None if self.ceiling_m is None else self.ceiling_m + by_m
        return replace(self, depth_m=depth, ceiling_m=ceiling)

    def check(self) -> None:
        """TerrainError for a figure that is none."""
        if not self.depths_m:
            raise TerrainError("a mist by places needs at least one place with a depth")
        for depth in self.depths_m:
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
    own = _own_tops(asked, drainage, dem)
    if asked.ceiling_m is not None:
        np.minimum(own, np.float32(asked.ceiling_m), out=own)
    top, misty = carry_tops(drainage.down, drainage.floor_m, own)
    deepest_m = max(asked.depths_m)
    ground, known, cols = drainage.ground_m, drainage.known, drainage.shape[1]
    carry_over_the_rest(top, misty, ground, known, cols, deepest_m)
    within = misty & (top > ground - _MARGIN_SHARE * deepest_m)
    spread_across(top, within, own, ground, cols)
    smooth = _smoothed(drainage, top, within, asked.smooth_m)
    smooth[~(smooth > ground)] = np.nan
    seeds = asked.places
    if seeds is not None and not np.isnan(smooth).all():
        smooth[~_joined_to(dem, drainage, ~np.isnan(smooth), seeds, own)] = np.nan
        if np.isnan(smooth).all():
            raise NoAnswer(_not_from(seeds, deepest_m))
    if np.isnan(smooth).all():
        raise NoAnswer(_nowhere(dem, deepest_m, asked.ceiling_m))
    spill(smooth, ground, known, cols, _THINNING * dem.cell_m, _THINNEST_M)
    top_m = smooth.reshape(drainage.shape)[1:-1, 1:-1]
    top_m = np.where(np.isnan(dem.heights_m), np.float32(np.nan), top_m)
    return Mist(top_m, dem.grid, raised_by=partial(_raised, asked, drainage))


def _own_tops(asked: _Asked, drainage: Drainage, dem: Dem) -> NDArray[np.float32]:
    """Flat: the top over each channel cell that its own floor gives it, NaN off the channels."""
    own = np.full(drainage.floor_m.size, np.nan, dtype=np.float32)
    channel = drainage.channels(asked.channel_km2)
    cells = np.flatnonzero(channel).astype(np.int32)
    slope = np.empty(cells.size, dtype=np.float32)
    share_out(
        cells.size,
        lambda first, end: channel_slopes(
            first, end, channel, cells, drainage.floor_m, drainage.down, drainage.donor,
            drainage.shape[1], drainage.cell_m, 2 * asked.smooth_m, slope,
        ),
    )  # fmt: skip
    share = np.clip((1 - slope / asked.max_floor_slope) / (1 - _FULL_SHARE), 0, 1)
    own[cells] = drainage.floor_m[cells] + share * _depths_m(dem, drainage, asked.depth_m, cells)
    flats = drainage.level_floors(asked.channel_km2)
    own[flats] = drainage.floor_m[flats] + _depths_m(dem, drainage, asked.depth_m, flats)
    return own


def _depths_m(
    dem: Dem, drainage: Drainage, depth_m: Depth, cells: NDArray[np.int32]
) -> NDArray[np.float32]:
    """Depth over each of the cells: that of the places, weighted by 1 / distance squared."""
    if not isinstance(depth_m, Mapping):
        return np.full(cells.size, depth_m, dtype=np.float32)
    row, col = np.divmod(cells, drainage.shape[1])
    total, shares = np.zeros(cells.size), np.zeros(cells.size)
    for place, depth in depth_m.items():
        at_row, at_col = dem.grid.rowcol(place.lon_deg, place.lat_deg)
        # within a cell of the place its own depth holds
        squared = np.maximum((row - 1 - at_row) ** 2 + (col - 1 - at_col) ** 2, 1e-3)
        total += depth / squared
        shares += 1 / squared
    return (total / shares).astype(np.float32)


def _smoothed(
    drainage: Drainage,
    top_m: NDArray[np.float32],
    within: NDArray[np.bool_],
    smooth_m: float,
) -> NDArray[np.float32]:
    """Flat: the top spread within the mist and its margin, NaN elsewhere.

    By diffusion through the mist, not through the ground, so that valleys side by side keep
    their own tops. Source: the RKL1 scheme of Meyer, Balsara & Aslam (2014), J. Comput. Phys.
    257, which lets no value out of the range of those around it.
    """
    state = np.where(within, np.uint8(IN), np.where(drainage.known, np.uint8(SHORE), np.uint8(OUT)))
    state = state.reshape(drainage.shape)
    surface = np.where(within, top_m, np.float32(np.nan)).reshape(drainage.shape)
    time = (smooth_m / drainage.cell_m) ** 2 / 2
    # one long step leaves ripples about a sudden drop; the next ones smooth them out
    for _ in range(_LONG_STEPS) if time > 0 else ():
        surface = _diffused(surface, state, time / _LONG_STEPS)
    return surface.reshape(-1)


def _diffused(
    surface: NDArray[np.float32], state: NDArray[np.uint8], time: float
) -> NDArray[np.float32]:
    """The surface after diffusion for some time, in cells squared, by one long step."""
    # the stages of one long step cover (s² + s) / 2 stable steps; s is odd
    stages = 2 * math.ceil((math.sqrt(8 * time / _STABLE_STEP + 1) - 1) / 4) + 1
    unit = 2 * time / (stages * stages + stages)
    before, at, after = surface, surface, surface.copy()
    for stage in range(1, stages + 1):
        ahead, back = (2 * stage - 1) / stage, (1 - stage) / stage
        weights = (ahead, back, ahead * unit)
        share_out(
            surface.shape[0] - 2,
            partial(diffuse, surface=after, before=before, at=at, state=state, weights=weights),
        )
        before, at, after = at, after, (before if stage > 1 else before.copy())
    return at


def _joined_to(
    dem: Dem,
    drainage: Drainage,
    covers: NDArray[np.bool_],
    seeds: Sequence[Spot | Hill],
    own: NDArray[np.float32],
) -> NDArray[np.bool_]:
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


def _nowhere(dem: Dem, depth_m: float, ceiling_m: float | None) -> str:
    under = "" if ceiling_m is None else f" under a ceiling at {ceiling_m:.10g} m"
    return (
        f"mist {depth_m:.10g} m deep{under} covers no ground: the lowest here is "
        f"{float(np.nanmin(dem.heights_m)):.0f} m, and valley floors may be too steep or too small"
    )
