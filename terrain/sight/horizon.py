"""The horizon of every cell of a raster in one direction.

A direction on the grid is the same azimuth from true north only where the meridians run alike. A
wide raster is therefore taken in blocks, each along its own line of the grid, and each with all of
the ground ahead of it::

       .-----.-----.-----.-----.
       |     |    _.-ahead     |         the line of the block's middle; a little ground beside it
       |     | .-' |     |     |         and behind it is read too, since a horizon is carried over
       |     |block|     |     |         to a cell from the lines on either side of it
       '-----'-----'-----'-----'
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from terrain.arrays import Floats, Singles, sealed
from terrain.constants import TERRESTRIAL_REFRACTION
from terrain.cores import share_out
from terrain.ground.dem import Dem
from terrain.ground.geodesy import wrap_deg
from terrain.sight._horizon_kernels import NEAR, Lay, bands_of, far_horizon
from terrain.sight._near_kernels import Crossings, near_horizon
from terrain.sight.far import blocks_of
from terrain.sight.rays import bend_per_m

AXIS = 1e-9  # a direction nearer to a grid axis than this, in tangent, runs along it
Block = tuple[int, int, int, int]  # first row and column, and those after the last

_ALIKE_DEG: Final = 0.5  # no tile of a degree turns more
_BLOCK_DEG: Final = 0.2
_MOST_SPLIT: Final = 64  # about a pole north turns all round
_BESIDE: Final = 4


def horizon(dem: Dem, azimuth_deg: float, *, refraction: float = TERRESTRIAL_REFRACTION) -> Singles:
    """Altitude of the horizon of every cell in one direction.

    Parameters
    ----------
    dem : Dem
        The ground.
    azimuth_deg : float
        From true north, degrees. Where north on the grid turns by no more than half a degree from
        the raster's middle, one direction on the grid is taken everywhere; a wider raster is taken
        in blocks within which it turns by no more than 0.2 degrees from theirs.
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
    parallel lines for the ground beyond. A raster that is taken in blocks takes several times as
    long, since each is read with all of the ground ahead of it.

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
    altitude_deg = np.empty(dem.shape, dtype=np.float32)
    whole = 0, 0, *dem.shape
    for block in _blocks(dem, whole, max(_BLOCK_DEG, _most_turn(dem, whole) / _MOST_SPLIT)):
        top, left, end_row, end_col = block
        middle = dem.grid.lonlat((top + end_row - 1) / 2, (left + end_col - 1) / 2)
        lay = _lay(dem, azimuth_deg, *middle)
        from_row, from_col, to_row, to_col = _with_ground_ahead(block, lay, dem.shape)
        heights = np.ascontiguousarray(dem.heights_m[from_row:to_row, from_col:to_col])
        corner = from_row, from_col
        found, _ = _swept(dem, sealed(heights), lay, refraction, with_distance=False, corner=corner)
        rows, cols = end_row - top, end_col - left
        down, aside = top - from_row, left - from_col
        altitude_deg[top:end_row, left:end_col] = found[down : down + rows, aside : aside + cols]
    return altitude_deg


def horizon_on_grid(
    dem: Dem, azimuth_deg: float, *, refraction: float = TERRESTRIAL_REFRACTION
) -> Singles:
    """The horizon of every cell along one line of the grid, that of an azimuth at its middle.

    (rows, cols) float32, degrees, as `horizon` gives it; elsewhere the line's true azimuth differs
    by what the convergence differs.
    """
    lay = _lay(dem, azimuth_deg, *dem.grid.centre_lonlat)
    return _swept(dem, dem.heights_m, lay, refraction, with_distance=False)[0]


def horizon_and_distance(
    dem: Dem, azimuth_deg: float, *, refraction: float = TERRESTRIAL_REFRACTION
) -> tuple[Singles, Singles]:
    """The horizon of every cell as `horizon_on_grid` gives it, and the distance of what makes it.

    Both (rows, cols) float32, degrees and metres, NaN together.
    """
    lay = _lay(dem, azimuth_deg, *dem.grid.centre_lonlat)
    return _swept(dem, dem.heights_m, lay, refraction, with_distance=True)


def is_alike(dem: Dem) -> bool:
    """Whether a direction on the grid is taken for one azimuth from true north everywhere."""
    return _most_turn(dem, (0, 0, *dem.shape)) <= _ALIKE_DEG


def _swept(
    dem: Dem,
    heights: Singles,
    lay: Lay,
    refraction: float,
    *,
    with_distance: bool,
    corner: tuple[int, int] = (0, 0),
) -> tuple[Singles, Singles]:
    """The horizons of some heights, all of a raster or a part of it, and their distances.

    corner: first row and column of the part.
    """
    cell_m, beyond = dem.cell_m, blocks_of(dem.far)
    beyond = beyond._replace(row=beyond.row - corner[0], col=beyond.col - corner[1])
    bend = bend_per_m(refraction) * cell_m**2
    stretch = math.hypot(1.0, lay.tangent)
    slopes = np.full(heights.shape, np.nan, dtype=np.float32)
    distances = np.full(heights.shape if with_distance else (0, 0), np.nan, dtype=np.float32)
    share_out(
        bands_of(heights.shape[0], heights.shape[1], lay),
        lambda first, end: far_horizon(first, end, heights, lay, bend, slopes, distances, beyond),
    )
    crossings = _crossings(lay)
    curve = bend * stretch**2
    scale = 1.0 / (stretch * cell_m)
    share_out(
        heights.shape[0],
        lambda first, end: near_horizon(
            first, end, heights, crossings, curve, slopes, distances, scale, dem.floor_m
        ),
    )
    if with_distance:
        distances[np.isnan(slopes)] = np.nan
        distances *= np.float32(stretch * cell_m)
    return slopes, distances


def _most_turn(dem: Dem, block: Block) -> float:
    """How far north on the grid turns from its middle to anywhere in a block, degrees."""
    return float(np.abs(_turns(dem, block)).max())


def _turns(dem: Dem, block: Block) -> Floats:
    """What the convergence of a block differs from that at its middle, (3, 3) degrees."""
    top, left, end_row, end_col = block
    at = np.meshgrid(
        np.linspace(top, end_row - 1, 3), np.linspace(left, end_col - 1, 3), indexing="ij"
    )
    found = dem.grid.convergence_deg(*dem.grid.lonlat(*at))
    return np.asarray(wrap_deg(found - found[1, 1]))


def _blocks(dem: Dem, block: Block, most_deg: float) -> Iterator[Block]:
    """A block halved, across the way in which north turns more, until it turns by no more."""
    turns = _turns(dem, block)
    top, left, end_row, end_col = block
    if np.abs(turns).max() <= most_deg or max(end_row - top, end_col - left) < 2 * NEAR:
        yield block
        return
    by_rows = np.abs(turns[::2] - turns[1]).max() > np.abs(turns[:, ::2] - turns[:, 1:2]).max()
    if (by_rows and end_row - top > 1) or end_col - left < 2:
        middle = (top + end_row) // 2
        halves = (top, left, middle, end_col), (middle, left, end_row, end_col)
    else:
        middle = (left + end_col) // 2
        halves = (top, left, end_row, middle), (top, middle, end_row, end_col)
    for half in halves:
        yield from _blocks(dem, half, most_deg)


def _with_ground_ahead(block: Block, lay: Lay, shape: tuple[int, int]) -> Block:
    """A block with all of the ground that lines through it come to, and a little beside it."""
    ahead, aside = float(lay.step), lay.side * lay.tangent
    steps = (ahead, aside) if lay.by_rows else (aside, ahead)
    firsts, ends = np.array(block[:2]), np.array(block[2:])
    count, size = np.array(shape), np.abs(steps)
    inside = np.where(np.sign(steps) > 0, count - firsts, ends)
    lines = float(np.min(np.divide(inside, size, out=np.full(2, np.inf), where=size > 0.0)))
    reach = np.ceil(size * lines).astype(int) + _BESIDE
    firsts = np.where(np.sign(steps) < 0, firsts - reach, firsts - _BESIDE)
    ends = np.where(np.sign(steps) > 0, ends + reach, ends + _BESIDE)
    (top, left), (end_row, end_col) = np.maximum(firsts, 0), np.minimum(ends, count)
    return int(top), int(left), int(end_row), int(end_col)


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
