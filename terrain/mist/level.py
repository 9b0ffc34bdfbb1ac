r"""Mists with a flat top: at one height, or at any of several.

::

    level mist      ____________        a range of tops   - - - - - - highest
                 /\             /\                        ____________ hoped for
      _________/   \___________/                          - - - - - - lowest
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, partial

import numpy as np

from terrain.arrays import Flags, Singles, frozen_arrays, sealed
from terrain.errors import NoAnswer, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.mist.flood import MIN_HOLLOW_M, flood_levels
from terrain.mist.mist import Mist, in_metres


def level_mist(
    dem: Dem,
    top_m: float,
    *,
    seeds: Sequence[Spot | Hill] | None = None,
    min_hollow_m: float = MIN_HOLLOW_M,
    levels: Singles | None = None,
) -> Mist:
    """A mist with a flat top, over all ground that it reaches from its sources.

    Parameters
    ----------
    dem : Dem
        The ground.
    top_m : float
        Height of the top, metres above the ground's datum.
    seeds : sequence of Spot or Hill, optional
        The places the mist comes from, as for `flood_levels`; from everywhere unless given.
    min_hollow_m : float, optional
        Least depth of a closed hollow in which it wells up by itself, metres.
    levels : (rows, cols) float32 array, metres, optional
        What `flood_levels` gave for this ground and these sources; with it each further top costs
        one comparison.

    Returns
    -------
    Mist
        Its top is `top_m` everywhere it lies.

    Raises
    ------
    TerrainError
        Where the top is not a number.
    NoAnswer
        Where the mist would cover no ground, or all of it.
    ValueError
        For levels of another shape than the ground.

    Examples
    --------
    >>> from affine import Affine
    >>> from terrain.ground.geodesy import local_transverse_mercator
    >>> from terrain.ground.grid import Grid
    >>> placing = Affine(25.0, 0.0, 0.0, 0.0, -25.0, 0.0)
    >>> grid = Grid(crs=local_transverse_mercator(-24, 54), transform=placing, shape=(3, 5))
    >>> ground = np.array([[9, 9, 9, 9, 9], [1, 5, 2, 7, 4], [9, 9, 9, 9, 9]])
    >>> level_mist(Dem(ground, grid), 4.5).top_m[1].tolist()
    [4.5, nan, nan, nan, 4.5]
    """
    if not math.isfinite(top_m):
        raise TerrainError(f"the top of a mist must be a height in metres, got {top_m}")
    if levels is None:
        levels = flood_levels(dem, seeds=seeds, min_hollow_m=min_hollow_m)
    elif levels.shape != dem.shape:
        raise ValueError(f"flood levels of shape {levels.shape} for ground of {dem.shape}")
    covers = levels < top_m
    _check_some_of_each(dem, covers, levels, top_m)
    top = np.where(covers, np.float32(top_m), np.float32(np.nan))
    unchanging = sealed(levels.copy()) if levels.flags.writeable else levels
    return Mist(sealed(top), dem.grid, raised_by=partial(_raised, top_m, unchanging))


def _raised(top_m: float, levels_m: Singles, dem: Dem, by_m: float) -> Mist:
    return level_mist(dem, top_m + by_m, levels=levels_m)


def _check_some_of_each(dem: Dem, covers: Flags, levels_m: Singles, top_m: float) -> None:
    if not covers.any():
        lowest_m, ground_m = float(np.nanmin(levels_m)), float(np.nanmin(dem.heights_m))
        where = "lowest ground here is" if lowest_m == ground_m else "lowest of its sources is at"
        raise NoAnswer(
            f"mist with its top at {in_metres(top_m)} covers no ground: "
            f"the {where} {in_metres(lowest_m)}",
            loosen=[{"mist_top_m": 10.0 * math.ceil(lowest_m / 10.0 + 1.0)}],
        )
    if np.all(covers | np.isnan(dem.heights_m)):
        highest_m = float(np.nanmax(dem.heights_m))
        raise NoAnswer(
            f"mist with its top at {in_metres(top_m)} covers all ground: "
            f"the highest is {in_metres(highest_m)}",
            loosen=[{"mist_top_m": 10.0 * math.floor(highest_m / 10.0 - 2.0)}],
        )


@dataclass(frozen=True, kw_only=True, eq=False)
@frozen_arrays()
class MistRange:
    """A level mist whose top may stand at any of several heights.

    Parameters
    ----------
    dem : Dem
        The ground.
    levels_m : (rows, cols) float32 array, metres
        Its flood levels; read-only.
    tops_m : tuple of float
        The heights, metres, rising.
    hoped_m : float
        The one of them that is hoped for, metres.

    Examples
    --------
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(50, 0, 5e5, 0, -50, 6e6), shape=(1, 5))
    >>> range_ = terrain.mist_range(terrain.Dem([[0, 20, 40, 60, 80]], grid), [10, 30, 50])
    >>> range_.label, range_.hoped.stated_top_m
    ('10 to 50 m', 30.0)
    """

    dem: Dem
    levels_m: Singles
    tops_m: tuple[float, ...]
    hoped_m: float

    def mist(self, top_m: float) -> Mist:
        """The mist at any top, by one comparison."""
        return level_mist(self.dem, top_m, levels=self.levels_m)

    @cached_property
    def hoped(self) -> Mist:
        """The mist at the top that is hoped for."""
        return self.mist(self.hoped_m)

    @property
    def label(self) -> str:
        """The heights of its top in words."""
        return f"{self.tops_m[0]:.0f} to {self.tops_m[-1]:.0f} m"

    @property
    def stated_top_m(self) -> float:
        """The one height that stands for its top, metres: that hoped for."""
        return self.hoped_m


AnyMist = Mist | MistRange


def hoped_mist(mist: AnyMist | None) -> Mist | None:
    """The one mist that is hoped for: of a range that at its `hoped_m`, else the mist itself."""
    return mist.hoped if isinstance(mist, MistRange) else mist


def mist_range(
    dem: Dem,
    tops_m: Sequence[float],
    *,
    hoped_m: float | None = None,
    seeds: Sequence[Spot | Hill] | None = None,
    levels: Singles | None = None,
) -> MistRange:
    """A level mist whose top may stand at any of several heights, for `find_vantages`.

    Parameters
    ----------
    dem : Dem
        The ground.
    tops_m : sequence of float
        Metres, one or more, in any order.
    hoped_m : float, optional
        The top that is hoped for, within them, metres; the middle one unless given.
    seeds : sequence of Spot or Hill, optional
        The sources of the mist, as for `flood_levels`.
    levels : (rows, cols) float32 array, metres, optional
        What `flood_levels` gave for this ground and these seeds.

    Returns
    -------
    MistRange
        Its tops rise.

    Raises
    ------
    TerrainError
        Where a top is no number, or the one hoped for lies outside the others.
    NoAnswer
        Where the mist would cover no ground at the lowest, or all of it at the highest.

    Examples
    --------
    >>> from affine import Affine
    >>> from terrain.ground.geodesy import local_transverse_mercator
    >>> from terrain.ground.grid import Grid
    >>> placing = Affine(25.0, 0.0, 0.0, 0.0, -25.0, 0.0)
    >>> grid = Grid(crs=local_transverse_mercator(-24, 54), transform=placing, shape=(3, 5))
    >>> ground = np.array([[9, 9, 9, 9, 9], [1, 5, 2, 7, 4], [9, 9, 9, 9, 9]])
    >>> tops = mist_range(Dem(ground, grid), [4, 6, 8])
    >>> tops.hoped_m, tops.label, tops.mist(6).area_km2 * 1e6
    (6.0, '4 to 8 m', 2500.0)
    """
    tops = [float(top) for top in tops_m]
    if not tops or not np.isfinite(tops).all():
        raise TerrainError(f"the tops of a mist must be heights in metres, got {list(tops_m)}")
    if hoped_m is not None:
        if not min(tops) <= hoped_m <= max(tops):
            raise TerrainError(
                f"the top hoped for, {hoped_m:g} m, is not within those that the mist may have, "
                f"{min(tops):g} to {max(tops):g} m"
            )
        tops.append(float(hoped_m))
    rising = tuple(sorted(set(tops)))
    if levels is None:
        levels = flood_levels(dem, seeds=seeds)
    for top in (rising[0], rising[-1]):
        level_mist(dem, top, levels=levels)
    hoped = rising[(len(rising) - 1) // 2] if hoped_m is None else float(hoped_m)
    return MistRange(dem=dem, levels_m=levels, tops_m=rising, hoped_m=hoped)
