"""How far the ground is known from every cell: to the raster's edge, or to the first gap in it.

Unknown ground hides nothing and shows nothing. These are the flags that go with it: an answer
about a cell holds as far as the ground is known in the direction asked, and `lowest_hidden_m`
says how high hidden ground beyond would have to be to change it::

                                       _.-'   the line of sight that an answer was read from
             known         _.-'-'|   |
    eye -------------.-'-'-      | ? |        ? hidden ground that would change it
    ________/\\______/  \\___      |   |
                           ^ known to
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import ArrayLike
from scipy.ndimage import distance_transform_cdt, map_coordinates

from terrain.arrays import Flags, Floats, Labels, Numbers, Singles
from terrain.constants import TERRESTRIAL_REFRACTION
from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.sight.bend import bend_per_m
from terrain.sight.horizon import is_alike
from terrain.sight.rays import PLACES, eye_at

_AXIS: Final = 1e-9  # a direction nearer to a grid axis than this, in tangent, runs along it
_SHARE: Final = 10.0**-PLACES  # of a cell: a neighbour with less of a share than this has none
_NODES: Final = 9
_STEEPEST_DEG: Final = 89.9  # straight up or down there is no distance to speak of
_AT_ONCE: Final = 500_000


def known_to(dem: Dem, azimuth_deg: ArrayLike) -> Singles:
    """How far the ground is known without a gap from each cell.

    Known is what lies before the first line of cell centres on which unknown ground has a share in
    the height, or before the outer edge of the raster; `left_out` and `skyline` count the far
    ground beyond it too.

    Parameters
    ----------
    dem : Dem
        The ground.
    azimuth_deg : float or (rows, cols) array_like, degrees
        From true north; one for all cells, or each cell's own. One for all is one direction on the
        grid where `horizon` takes it for that.

    Returns
    -------
    (rows, cols) float32 array, metres
        NaN where the cell itself is unknown or has no azimuth.

    Raises
    ------
    ValueError
        For an array of another shape.

    Notes
    -----
    With one direction for all, a gap may seem one cell wider than it is: never less is known than
    is said. O(cells); with own directions only cells behind a gap cost more.

    Examples
    --------
    >>> from affine import Affine
    >>> from pyproj import CRS
    >>> from terrain.ground.grid import Grid
    >>> at = Affine(50, 0, 499_875, 0, -50, 6_000_025)
    >>> dem = Dem([[0, 9, 9, np.nan, 9]], Grid(crs=CRS(32626), transform=at, shape=(1, 5)))
    >>> known_to(dem, 90.0)
    array([[100.,  50.,   0.,  nan,  25.]], dtype=float32)
    """
    azimuth = np.asarray(azimuth_deg, dtype=float)
    if azimuth.ndim == 0:
        if is_alike(dem):
            return _known_alike(dem, float(azimuth))
        azimuth = np.full(dem.shape, float(azimuth))
    if azimuth.shape != dem.shape:
        raise ValueError(f"azimuths of shape {azimuth.shape} for ground of {dem.shape}")
    found = np.full(dem.shape, np.nan, dtype=np.float32)
    clear, rows = _clear_about(dem), max(_AT_ONCE // dem.shape[1], 1)
    for first in range(0, dem.shape[0], rows):
        part = slice(first, first + rows)
        row, col = np.nonzero(~np.isnan(dem.heights_m[part] + azimuth[part]))
        way = azimuth[part][row, col]
        found[part][row, col] = _known_m(dem, clear, row + first, col, way)
    return found


def known_along(dem: Dem, row: Numbers, col: Numbers, azimuth_deg: Floats) -> Floats:
    """The same for some known cells: whole rows and columns and true azimuths (n,); metres (n,)."""
    return _known_m(dem, _clear_about(dem), row, col, azimuth_deg)


def known_between(dem: Dem, spot: Spot) -> Flags:
    """Singles to which all ground on the line from a camera is known.

    The flag that goes with `viewshed`: where it is False, and the cell known, hidden ground on the
    way may hide what is taken for seen.

    Parameters
    ----------
    dem : Dem
        The ground.
    spot : Spot
        Where the camera stands, and its height over the ground.

    Returns
    -------
    (rows, cols) bool array
        False for unknown cells.

    Raises
    ------
    NoGround
        Where the spot has no known ground.

    Examples
    --------
    >>> from affine import Affine
    >>> from terrain.ground.geodesy import local_transverse_mercator
    >>> from terrain.ground.grid import Grid
    >>> crs, shape = local_transverse_mercator(-24.0, 54.4), (1, 5)
    >>> grid = Grid(crs=crs, transform=Affine(50, 0, -25, 0, -50, 25), shape=shape)
    >>> dem = Dem([[0, 0, np.nan, 0, 0]], grid)
    >>> known_between(dem, Spot(lon_deg=-24.0, lat_deg=54.4))
    array([[ True,  True, False, False, False]])
    """
    eye = eye_at(dem, spot)
    known = ~np.isnan(dem.heights_m)
    clear = _clear_about(dem)
    if clear is None:
        return known
    places = np.flatnonzero(known)
    for start in range(0, places.size, _AT_ONCE):
        part = places[start : start + _AT_ONCE]
        row, col = np.divmod(part, dem.shape[1])
        down, along = eye.row - row, eye.col - col
        lines = np.maximum(np.abs(down), np.abs(along))
        at = np.maximum(lines, 1.0)
        gap = _lines_before_a_gap(clear, row, col, down / at, along / at, lines)
        known.flat[part] = np.isinf(gap)
    return known


def lowest_hidden_m(
    eye_height_m: ArrayLike,
    altitude_deg: ArrayLike,
    known_m: ArrayLike,
    *,
    refraction: float = TERRESTRIAL_REFRACTION,
) -> Floats:
    """The lowest that ground beyond the known can be and still reach a line of sight, metres.

    eye_height_m: of the eye above the datum; altitude_deg: of the line of sight; known_m: how far
    the ground is known along it. All broadcast to the shape of the result. The line is lowest
    where the earth's curve has turned it level; where that is known, at the end of the known
    ground. Hidden ground that stays lower changes nothing, however far off it is.

    >>> lowest_hidden_m(100.0, [2.0, -0.2], 10_000.0).round(1)
    array([456. ,  55.4])
    """
    bend = bend_per_m(refraction)
    altitude = np.clip(np.asarray(altitude_deg, dtype=float), -_STEEPEST_DEG, _STEEPEST_DEG)
    rise = np.tan(np.radians(altitude))
    level_m = -rise / (2.0 * bend) if bend > 0.0 else -math.inf
    at = np.maximum(np.asarray(known_m, dtype=float), level_m)
    return np.asarray(np.asarray(eye_height_m, dtype=float) + rise * at + bend * at**2)


def _known_alike(dem: Dem, azimuth_deg: float) -> Singles:
    """How far the ground is known in one direction of the grid from every cell."""
    known = ~np.isnan(dem.heights_m)
    down, along = _steps(dem.grid.grid_azimuth_deg(azimuth_deg, *dem.grid.centre_lonlat))
    row, col = np.ogrid[0 : dem.shape[0], 0 : dem.shape[1]]
    lines = _lines_alike(known, float(down), float(along))
    lines = np.minimum(lines, _lines_inside(dem.shape, row, col, down, along))
    stretch_m = dem.cell_m * math.hypot(float(down), float(along))
    return np.where(known, lines * stretch_m, np.nan).astype(np.float32)


def _known_m(
    dem: Dem, clear: Labels | None, row: Numbers, col: Numbers, azimuth_deg: Floats
) -> Floats:
    """How far the ground is known from cells, each in its own direction, metres (n,)."""
    down, along = _steps(azimuth_deg - _turn_deg(dem, row, col))
    lines = _lines_inside(dem.shape, row, col, down, along)
    if clear is not None:
        lines = np.minimum(lines, _lines_before_a_gap(clear, row, col, down, along, lines))
    return np.asarray(lines * np.hypot(down, along) * dem.cell_m)


def _steps(grid_azimuth_deg: ArrayLike) -> tuple[Floats, Floats]:
    """Rows and columns to the next line of centres, the larger of them 1 in size."""
    turned = np.radians(np.asarray(grid_azimuth_deg, dtype=float))
    down, along = -np.cos(turned), np.sin(turned)
    most = np.maximum(np.abs(down), np.abs(along))
    down, along = (np.where(np.abs(part) < _AXIS, 0.0, part) / most for part in (down, along))
    return down, along


def _turn_deg(dem: Dem, row: Numbers, col: Numbers) -> Floats:
    """Convergence at cells, linear between a few nodes: to 0.001 degrees over 200 km."""
    rows, cols = (max(count - 1, 1) for count in dem.shape)
    at = np.meshgrid(np.linspace(0, rows, _NODES), np.linspace(0, cols, _NODES), indexing="ij")
    nodes = dem.grid.convergence_deg(*dem.grid.lonlat(*at))
    share = np.stack([row / rows, col / cols]) * (_NODES - 1)
    return np.asarray(map_coordinates(nodes, share, order=1))


def _lines_inside(
    shape: tuple[int, int], row: ArrayLike, col: ArrayLike, down: ArrayLike, along: ArrayLike
) -> Floats:
    """Lines to the outer edge of the raster, with fractions."""
    ways = []
    for count, place, step in ((shape[0], row, down), (shape[1], col, along)):
        place, step = np.asarray(place, dtype=float), np.asarray(step, dtype=float)
        away = np.where(step > 0.0, count - 0.5 - place, place + 0.5)
        size, never = np.abs(step), np.full(np.broadcast(away, step).shape, np.inf)
        ways.append(np.divide(away, size, out=never, where=size > 0.0))
    return np.asarray(np.minimum(*ways))


def _lines_alike(known: Flags, down: float, along: float) -> Singles:
    """Lines known ahead of every cell in one direction (infinite before the edge).

    Parallel lines of sight one cell apart, each carried from the far end towards the eye; a cell
    takes the lesser of the two it lies between.
    """
    if known.all():
        return np.full(known.shape, np.inf, dtype=np.float32)
    by_rows = abs(down) >= abs(along)
    ahead, aside = (down, along) if by_rows else (along, down)
    order = slice(None, None, 1 if ahead > 0 else -1), slice(None, None, 1 if aside >= 0 else -1)
    laid = np.ascontiguousarray((known if by_rows else known.T)[order])
    count, across = laid.shape
    place = abs(aside / ahead) * np.arange(count)
    whole = np.floor(place + _SHARE).astype(int)
    lines = np.full(across + whole[-1], np.inf, dtype=np.float32)
    found = np.empty(laid.shape, dtype=np.float32)
    for u in range(count - 1, -1, -1):
        first = whole[-1] - whole[u]  # the line that passes cell 0, or between it and the next
        here, ground = lines[first : first + across], laid[u]
        found[u] = here
        if place[u] - whole[u] > _SHARE:
            np.minimum(found[u, 1:], here[:-1], out=found[u, 1:])
            found[u, 0] = min(here[0], lines[first - 1]) if first else here[0]
            ground = ground.copy()
            ground[:-1] &= laid[u, 1:]
        lines += 1.0
        here[~ground] = 0.0
    turned: Singles = found[order]
    return turned if by_rows else turned.T


def _clear_about(dem: Dem) -> Labels | None:
    """For each cell how many cells off, in king's moves, the nearest unknown one is, if any."""
    known = ~np.isnan(dem.heights_m)
    if known.all():
        return None
    return np.asarray(distance_transform_cdt(known, "chessboard"), dtype=np.int32)


def _lines_before_a_gap(
    clear: Labels, row: Numbers, col: Numbers, down: Floats, along: Floats, most: Floats
) -> Floats:
    """Lines known before the first gap nearer than `most` lines, (n,); infinite without one.

    A line advances no faster aside than ahead, so that where the cells on either side of it are
    n king's moves from the nearest unknown one, the next n - 1 lines are known.
    """
    found = np.full(row.size, np.inf)
    looking, line = np.arange(row.size), np.ones(row.size)
    while looking.size:
        on = line < most[looking]
        looking, line = looking[on], line[on]
        at_row, at_col = row[looking] + line * down[looking], col[looking] + line * along[looking]
        before, after = (
            clear[_whole(at_row, side, clear.shape[0]), _whole(at_col, side, clear.shape[1])]
            for side in (-1, 1)
        )
        about = np.minimum(before, after)
        ends = about == 0
        found[looking[ends]] = line[ends] - 1.0
        looking, line = looking[~ends], (line + about)[~ends]
    return found


def _whole(place: Floats, side: int, count: int) -> Numbers:
    """The row or column on one side of a place (-1 before, 1 after) with a share in it."""
    near = np.floor(place + _SHARE) if side < 0 else np.ceil(place - _SHARE)
    return np.clip(near, 0, count - 1).astype(np.int64)
