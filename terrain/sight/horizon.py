"""The horizon of every cell of a raster in one direction."""

from __future__ import annotations

import math

import numpy as np

from terrain.arrays import Singles
from terrain.constants import TERRESTRIAL_REFRACTION
from terrain.cores import share_out
from terrain.ground.dem import Dem
from terrain.sight._horizon_kernels import NEAR, Lay, bands_of, far_horizon
from terrain.sight._near_kernels import Crossings, near_horizon
from terrain.sight.rays import bend_per_m

AXIS = 1e-9  # a direction nearer to a grid axis than this, in tangent, runs along it


def horizon(dem: Dem, azimuth_deg: float, *, refraction: float = TERRESTRIAL_REFRACTION) -> Singles:
    """Altitude of the horizon of every cell in one direction.

    Parameters
    ----------
    dem : Dem
        The ground.
    azimuth_deg : float
        From true north at the raster's middle, degrees; the same direction on the grid is taken
        everywhere, so elsewhere the true azimuth differs by what the convergence there differs.
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
    parallel lines for the ground beyond.

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
    altitude_deg, _ = _horizon(dem, azimuth_deg, refraction, with_distance=False)
    return altitude_deg


def horizon_and_distance(
    dem: Dem, azimuth_deg: float, *, refraction: float = TERRESTRIAL_REFRACTION
) -> tuple[Singles, Singles]:
    """The horizon of every cell as `horizon` gives it, and the distance of what makes it.

    Both (rows, cols) float32, degrees and metres, NaN together.
    """
    return _horizon(dem, azimuth_deg, refraction, with_distance=True)


def _horizon(
    dem: Dem, azimuth_deg: float, refraction: float, *, with_distance: bool
) -> tuple[Singles, Singles]:
    grid_azimuth = math.radians(
        float(dem.grid.grid_azimuth_deg(azimuth_deg, *dem.grid.centre_lonlat))
    )
    lay = _lay(-math.cos(grid_azimuth), math.sin(grid_azimuth))
    cell_m = dem.cell_m
    bend = bend_per_m(refraction) * cell_m**2
    stretch = math.hypot(1.0, lay.tangent)
    heights = dem.heights_m
    slopes = np.full(dem.shape, np.nan, dtype=np.float32)
    distances = np.full(dem.shape if with_distance else (0, 0), np.nan, dtype=np.float32)
    share_out(
        bands_of(*dem.shape, lay),
        lambda first, end: far_horizon(first, end, heights, lay, bend, slopes, distances),
    )
    crossings = _crossings(lay)
    curve = bend * stretch**2
    scale = 1.0 / (stretch * cell_m)
    share_out(
        dem.shape[0],
        lambda first, end: near_horizon(
            first, end, heights, crossings, curve, slopes, distances, scale, dem.floor_m
        ),
    )
    if with_distance:
        distances[np.isnan(slopes)] = np.nan
        distances *= np.float32(stretch * cell_m)
    return slopes, distances


def _lay(row_step: float, col_step: float) -> Lay:
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
