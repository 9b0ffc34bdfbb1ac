"""Ground too large for memory, part by part: each with a margin of the country about it.

A raster is cut into blocks of cells. Each is read with a margin as wide as what lies there can
matter, and an answer counts for the cells of the block alone::

      .-----------------------.
      |  margin               |      a part: what is read at once
      |     .-----------.     |
      |     | is_own    |     |      its own cells: those of one block; the blocks of all parts
      |     |           |     |      are the whole raster, each cell of it once
      |     '-----------'     |
      |                       |
      '-----------------------'
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from pyproj import CRS

from terrain.arrays import Flags, frozen_arrays
from terrain.errors import NoGround, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.grid import Grid
from terrain.ground.places import Spot
from terrain.ground.raster.files import RasterFiles
from terrain.ground.raster.read import grid_of, read_dem
from terrain.ground.raster.sheet import Said
from terrain.ground.raster.warp import to_grid


@dataclass(frozen=True, kw_only=True, eq=False)
@frozen_arrays(copy=False)
class GroundPart:
    """A part of a large raster, with the country about it.

    Parameters
    ----------
    number : int
        Which part it is, from 1.
    count : int
        Of how many.
    dem : Dem
        The ground of the part and of its margin.
    is_own : (rows, cols) bool array
        Whether a cell is this part's and no other's; read-only.

    Raises
    ------
    ValueError
        For flags of another shape than the ground.

    Examples
    --------
    >>> import numpy as np
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(50, 0, 5e5, 0, -50, 6e6), shape=(2, 3))
    >>> west = np.array([[True, True, False], [True, True, False]])
    >>> plain = terrain.Dem(np.zeros(grid.shape), grid)
    >>> part = terrain.GroundPart(number=1, count=2, dem=plain, is_own=west)
    >>> int(part.is_own.sum())
    4
    """

    number: int
    count: int
    dem: Dem
    is_own: Flags

    def __post_init__(self) -> None:
        if self.is_own.shape != self.dem.shape:
            raise ValueError(f"flags of shape {self.is_own.shape} for ground of {self.dem.shape}")


def read_parts(
    paths: RasterFiles,
    *,
    side_m: float,
    margin_m: float,
    crs: CRS | str | None = None,
    height_unit: str | None = None,
    band: int | None = None,
    variable: str | None = None,
    trust: bool = False,
) -> Iterator[GroundPart]:
    """Read a raster of any size part by part, from north to south and west to east.

    Only one part is in memory at a time. Where the cells of the raster are square metres the
    parts keep them, so that their own cells fit together; from other rasters each part is warped
    to a plane of its own, and every place of the raster is in one part's own cells. What hidden
    ground beyond the margin could change, `known_to` and `left_out` say.

    Parameters
    ----------
    paths : path, or sequence of them
        As in `read_dem`.
    side_m : float
        Of the blocks, metres, at most (to 1 %).
    margin_m : float
        How far beyond a block the ground is read, metres, as far as the raster goes: as wide as the
        reach of what is asked.
    crs : pyproj.CRS or str, optional
        As in `read_dem`.
    height_unit : str, optional
        As in `read_dem`.
    band : int, optional
        As in `read_dem`.
    variable : str, optional
        As in `read_dem`.
    trust : bool, optional
        As in `read_dem`.

    Yields
    ------
    GroundPart
        Parts in whose block no ground is known are left out.

    Raises
    ------
    TerrainError
        As in `read_dem`, and for a side or a margin that makes no sense.

    Examples
    --------
    >>> for part in read_parts("no/such/country.tif", side_m=60_000.0, margin_m=40_000.0):
    ...     print(part.number, part.count)
    Traceback (most recent call last):
    terrain.errors.TerrainError: there is no file no/such/country.tif
    """
    if not (0.0 < side_m < math.inf and 0.0 <= margin_m < math.inf):
        raise TerrainError(
            f"parts of {side_m} m with a margin of {margin_m} m cannot be: give a side above 0 m"
        )
    said = Said(crs=crs, height_unit=height_unit, band=band, variable=variable, trust=trust)
    whole = grid_of(paths, said)
    blocks = list(_blocks(whole, side_m))
    for number, block in enumerate(blocks, start=1):
        lon, lat = block.centre_lonlat
        try:
            dem = read_dem(
                paths,
                around=Spot(lon_deg=lon, lat_deg=lat),
                reach_m=_half_m(block) + margin_m,
                crs=crs,
                height_unit=height_unit,
                band=band,
                variable=variable,
                trust=trust,
            )
        except NoGround:
            continue
        is_own = to_grid(np.ones(block.shape, dtype=np.int32), block, dem.grid) == 1
        if not np.isnan(dem.heights_m[is_own]).all():
            yield GroundPart(number=number, count=len(blocks), dem=dem, is_own=is_own)


def _blocks(whole: Grid, side_m: float) -> Iterator[Grid]:
    """The grids of the blocks, of even size, row by row."""
    width_m, depth_m = whole.cell_sizes_m()
    for top, bottom in _cuts(whole.shape[0], side_m / float(depth_m.max())):
        widest_m = float(width_m[top:bottom].max())
        for left, right in _cuts(whole.shape[1], side_m / widest_m):
            yield whole.window(top, left, (bottom - top, right - left))


def _cuts(cells: int, most: float) -> list[tuple[int, int]]:
    """Where to cut so many cells into even runs of at most `most`, but of one at least."""
    # the scale of a projection must not add a block for its thousandths
    count = min(math.ceil(cells / max(most, 1.0) - 0.01), cells)
    edges = [cells * at // count for at in range(count + 1)]
    return list(pairwise(edges))


def _half_m(block: Grid) -> float:
    """Half side of a square about the middle of a block, upright there, that holds the block."""
    rows, cols = block.shape
    if block.is_metric:
        return max(rows, cols) * block.cell_m / 2.0
    width_m, depth_m = block.cell_sizes_m()
    return math.hypot(rows * float(depth_m.max()), cols * float(width_m.max())) / 2.0
