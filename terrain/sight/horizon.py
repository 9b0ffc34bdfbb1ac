"""The horizon of every cell of a raster in one direction.

A direction on the grid is the same azimuth from true north only where the meridians run alike. A
wide raster is therefore taken in blocks, each along its own line of the grid::

       .-----.-----.-----.-----.
       |     |    _.-ahead     |         lines of the block's middle; of the ground ahead of it
       |     | .-' |     |     |         only the hull along each is wanted, and no horizon
       |     |block|     |     |
       '-----'-----'-----'-----'
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from terrain.arrays import Floats, Singles
from terrain.constants import TERRESTRIAL_REFRACTION
from terrain.cores import share_out
from terrain.ground.dem import Dem
from terrain.ground.geodesy import wrap_deg
from terrain.sight._horizon_kernels import Window, far_horizon, lines_over, room_for
from terrain.sight._line_hull_kernels import NEAR, Lay
from terrain.sight._near_kernels import Crossings, near_horizon
from terrain.sight.bend import bend_per_m
from terrain.sight.far import blocks_of

AXIS = 1e-9  # a direction nearer to a grid axis than this, in tangent, runs along it

_ALIKE_DEG: Final = 0.5  # no tile of a degree turns more
_HALF_DEG: Final = 0.36
"""So little in each half of a raster, and two blocks will do."""
_BLOCK_DEG: Final = 0.2
_MOST_SPLIT: Final = 64  # about a pole north turns all round


def horizon(dem: Dem, azimuth_deg: float, *, refraction: float = TERRESTRIAL_REFRACTION) -> Singles:
    """Altitude of the horizon of every cell in one direction.

    Parameters
    ----------
    dem : Dem
        The ground.
    azimuth_deg : float
        From true north, degrees. Where north on the grid turns by no more than half a degree from
        the raster's middle, one direction on the grid is taken everywhere; a wider raster is taken
        in blocks within which it turns by no more than 0.2 degrees from theirs, or in
        two where 0.36 in each is enough.
    refraction : float, optional
        Coefficient k of terrestrial refraction, dimensionless; 0.13 unless given.

    Returns
    -------
    (rows, cols) float32 array, degrees
        The eye is on the ground at the centre of each cell. NaN where the cell is unknown or no
        known ground lies ahead of it within the outermost cell centres. Of unknown ground no more
        is taken than that it is nowhere lower than `Dem.floor_m`: the horizon of the sea is the
        lowest. How far the ground is known that way from each cell is what `known_to` says, and
        `left_out` sums up what hidden ground beyond could change.

    Notes
    -----
    Exact along the ray of each cell for the first 24 lines of centres, interpolated between
    parallel lines for the ground beyond. A raster that is taken in blocks takes somewhat longer,
    since the ground ahead of each is read for it again.

    References
    ----------
    The hull along a line: Dozier, J., Bruno, J. and Downey, P. (1981), A faster solution to the
    horizon problem, Computers & Geosciences 7.

    Examples
    --------
    >>> from affine import Affine
    >>> from pyproj import CRS
    >>> from terrain.ground.grid import Grid
    >>> at = Affine(50, 0, 499_900, 0, -50, 6_000_025)
    >>> dem = Dem(np.array([[0, 50, 0, 100]]), Grid(crs=CRS(32626), transform=at, shape=(1, 4)))
    >>> horizon(dem, 90.0).round(1)
    array([[45. , 26.6, 63.4,  nan]], dtype=float32)
    """
    if is_alike(dem):
        return horizon_on_grid(dem, azimuth_deg, refraction=refraction)
    found, whole = _Found.none(dem.shape), Window(0, 0, *dem.shape)
    for block in _blocks(dem, whole, _most_in_a_block(_most_turn(dem, whole))):
        middle = (block.top + block.end_row - 1) / 2, (block.left + block.end_col - 1) / 2
        lay = _lay(dem, azimuth_deg, *dem.grid.lonlat(*middle))
        _sweep(dem, block, lay, refraction, found)
    return found.altitude_deg


def horizon_on_grid(
    dem: Dem, azimuth_deg: float, *, refraction: float = TERRESTRIAL_REFRACTION
) -> Singles:
    """The horizon of every cell along one line of the grid, that of an azimuth at its middle.

    (rows, cols) float32, degrees, as `horizon` gives it; elsewhere the line's true azimuth differs
    by what the convergence differs.
    """
    lay = _lay(dem, azimuth_deg, *dem.grid.centre_lonlat)
    found = _Found.none(dem.shape)
    _sweep(dem, Window(0, 0, *dem.shape), lay, refraction, found)
    return found.altitude_deg


def horizon_and_distance(
    dem: Dem, azimuth_deg: float, *, refraction: float = TERRESTRIAL_REFRACTION
) -> tuple[Singles, Singles]:
    """The horizon of every cell as `horizon_on_grid` gives it, and the distance of what makes it.

    Both (rows, cols) float32, degrees and metres, NaN together.
    """
    lay = _lay(dem, azimuth_deg, *dem.grid.centre_lonlat)
    found = _Found.none(dem.shape, with_distance=True)
    _sweep(dem, Window(0, 0, *dem.shape), lay, refraction, found)
    return found


def is_alike(dem: Dem) -> bool:
    """Whether a direction on the grid is taken for one azimuth from true north everywhere."""
    return _most_turn(dem, Window(0, 0, *dem.shape)) <= _ALIKE_DEG


class _Found(NamedTuple):
    """Horizons to be filled in, degrees, and the distances of what makes them, metres, or none."""

    altitude_deg: Singles
    distance_m: Singles

    @classmethod
    def none(cls, shape: tuple[int, int], *, with_distance: bool = False) -> _Found:
        """For ground of a shape, NaN all over."""
        sizes = shape, shape if with_distance else (0, 0)
        return cls(*(np.full(size, np.nan, dtype=np.float32) for size in sizes))


def _sweep(dem: Dem, window: Window, lay: Lay, refraction: float, found: _Found) -> None:
    """Fill in the horizons of a part of a raster, along one line of the grid."""
    cell_m, heights, beyond = dem.cell_m, dem.heights_m, blocks_of(dem.far)
    slopes, distances = found
    bend = bend_per_m(refraction) * cell_m**2
    stretch = math.hypot(1.0, lay.tangent)
    lines = lines_over(heights, window, lay, bend, beyond)
    flat = slopes.reshape(-1), distances.reshape(-1)
    share_out(
        lines.bands,
        lambda first, end: far_horizon(
            first, end, lines, dem.shape, lay, beyond, *flat, room_for(lines)
        ),
    )
    crossings, columns = _crossings(lay), (window.left, window.end_col)
    curve = bend * stretch**2
    share_out(
        window.end_row - window.top,
        lambda first, end: near_horizon(
            window.top + first,
            window.top + end,
            heights,
            columns,
            crossings,
            curve,
            slopes,
            distances,
            stretch * cell_m,
            dem.floor_m,
        ),
    )


def _most_turn(dem: Dem, block: Window) -> float:
    """How far north on the grid turns from its middle to anywhere in a block, degrees."""
    return float(np.abs(_turns(dem, block)).max())


def _most_in_a_block(turn_deg: float) -> float:
    """How far north may turn in a block of a raster in which it turns so far, degrees."""
    if turn_deg <= 2.0 * _HALF_DEG:
        return _HALF_DEG
    return max(_BLOCK_DEG, turn_deg / _MOST_SPLIT)


def _turns(dem: Dem, block: Window) -> Floats:
    """What the convergence of a block differs from that at its middle, (3, 3) degrees."""
    top, left, end_row, end_col = block
    at = np.meshgrid(
        np.linspace(top, end_row - 1, 3), np.linspace(left, end_col - 1, 3), indexing="ij"
    )
    found = dem.grid.convergence_deg(*dem.grid.lonlat(*at))
    return np.asarray(wrap_deg(found - found[1, 1]))


def _blocks(dem: Dem, block: Window, most_deg: float) -> Iterator[Window]:
    """A block halved, across the way in which north turns more, until it turns by no more."""
    turns = _turns(dem, block)
    top, left, end_row, end_col = block
    if np.abs(turns).max() <= most_deg or max(end_row - top, end_col - left) < 2 * NEAR:
        yield block
        return
    by_rows = np.abs(turns[::2] - turns[1]).max() > np.abs(turns[:, ::2] - turns[:, 1:2]).max()
    if (by_rows and end_row - top > 1) or end_col - left < 2:
        middle = (top + end_row) // 2
        halves = Window(top, left, middle, end_col), Window(middle, left, end_row, end_col)
    else:
        middle = (left + end_col) // 2
        halves = Window(top, left, end_row, middle), Window(top, middle, end_row, end_col)
    for half in halves:
        yield from _blocks(dem, half, most_deg)


def _lay(dem: Dem, azimuth_deg: float, lon_deg: ArrayLike, lat_deg: ArrayLike) -> Lay:
    """How the grid is turned for an azimuth from true north at a place."""
    turned = math.radians(float(dem.grid.grid_azimuth_deg(azimuth_deg, lon_deg, lat_deg)))
    row_step, col_step = -math.cos(turned), math.sin(turned)
    by_rows = abs(row_step) > abs(col_step)
    ahead, aside = (row_step, col_step) if by_rows else (col_step, row_step)
    tangent = abs(aside / ahead)
    return Lay(
        by_rows=by_rows,
        step=1 if ahead > 0 else -1,
        side=1 if aside >= 0 else -1,
        tangent=tangent if tangent > AXIS else 0.0,
    )


def _crossings(lay: Lay) -> Crossings:
    """The crossings of a cell's ray as near as NEAR lines: cells, shares, and lengths in lines."""
    lines = np.arange(1.0, NEAR)
    place = lay.tangent * lines
    low = np.floor(place)
    on_lines = np.column_stack([lines, low, lines, np.ceil(place), place - low, lines])
    aside = np.arange(1.0, math.ceil(lay.tangent * NEAR))
    place = aside / lay.tangent
    low = np.floor(place)
    between = np.column_stack([low, aside, low + 1.0, aside, place - low, place])
    # where the ray passes through a centre it is counted already
    crossed = np.concatenate([on_lines, between[place > low]])
    crossed = crossed[np.argsort(crossed[:, 5], kind="stable")]
    cells = (crossed[:, :4] * [lay.step, lay.side, lay.step, lay.side]).astype(np.int64)
    if not lay.by_rows:
        cells = cells[:, [1, 0, 3, 2]]
    shares, lengths = crossed[:, 4:].astype(np.float32).T
    return Crossings(np.ascontiguousarray(cells), shares.copy(), lengths.copy())
