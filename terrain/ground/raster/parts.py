"""Ground too large for memory, part by part: each with a margin of the country about it.

A raster is cut into blocks of cells. Each is read with a margin as wide as what lies there can
matter, and an answer counts for the cells of the block alone::

      .-----.-----.-----.
      |  1  |  2  |  3  |      own cells: the blocks of all parts are the whole raster, each cell of
      |   .-+-----+-.   |      it once
      '---|-+-----+-|---'
      |  4| |  5  | |6  |      window: what part 5 reads, its own cells and a margin about them, as
      |   '-+-----+-'   |      far as the raster goes
      '-----'-----'-----'

A plan of the parts is made before any height is read. It can be pickled, as can each of its parts:
any process that reaches the files reads any of them by its number.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np
from pyproj import CRS

from terrain.arrays import Floats, Singles
from terrain.errors import NoGround, TerrainError
from terrain.ground.grid import Grid
from terrain.ground.raster.cuts import Cells, blocks_of, crossed, even
from terrain.ground.raster.files import RasterFiles
from terrain.ground.raster.mosaic import edges_of
from terrain.ground.raster.planned import GroundPart, PlannedPart, delivered_cells
from terrain.ground.raster.read import laid_out, quietly
from terrain.ground.raster.sheet import Said, Sheet, common_datum
from terrain.ground.raster.warp import square_grid

# blocks of cells that begin in a part are read to their end
_BLOCK_CELLS: Final = 128


@dataclass(frozen=True, kw_only=True)
class PartsPlan:
    """How a raster of any size is read part by part, any of them by its number.

    Small, and can be pickled: heights are read by `read` alone, in whichever process. A file named
    by a path that does not begin at the root is looked for from where that process runs.

    Parameters
    ----------
    whole : Grid
        The cells of all files, as they are delivered.
    grid : Grid or None
        That on which all parts lie, in square metres; None where each has a plane of its own.
    own : tuple of Cells
        The own cells of each part, on `grid`: together all of them, each once. From north to south
        and west to east, in even rows and columns of parts.
    delivered : tuple of Cells
        The same on `whole`.
    margin_m : float
        How far beyond its own cells each is read, metres.
    sheets : tuple
        What the files say of themselves.

    Examples
    --------
    >>> plan_parts("no/such/country.tif", side_m=60_000.0, margin_m=40_000.0)
    Traceback (most recent call last):
    terrain.errors.TerrainError: there is no file no/such/country.tif
    """

    whole: Grid
    grid: Grid | None
    own: tuple[Cells, ...]
    delivered: tuple[Cells, ...]
    margin_m: float
    sheets: tuple[Sheet, ...]

    def __len__(self) -> int:
        return len(self.own)

    def __iter__(self) -> Iterator[PlannedPart]:
        return (self.part(number) for number in range(1, len(self) + 1))

    def part(self, number: int) -> PlannedPart:
        """A part by its number, from 1: what another process needs to read it; IndexError else."""
        if not 1 <= number <= len(self):
            raise IndexError(f"there is no part {number} of {len(self)}")
        planned = PlannedPart(
            number=number,
            count=len(self),
            whole=self.whole,
            grid=self.grid,
            own=self.own[number - 1],
            delivered=self.delivered[number - 1],
            margin_m=self.margin_m,
            sheets=(),
        )
        return replace(planned, sheets=self._sheets_of(planned))

    def read(self, number: int) -> GroundPart:
        """The ground of a part by its number, from 1; NoGround where nothing of it is known."""
        return self.part(number).read()

    def heights_m(self, cells: Cells) -> Singles:
        """Heights of some cells of `whole`, as delivered, metres; NaN unknown."""
        return delivered_cells(self.whole, self.sheets, cells).heights_m

    def _sheets_of(self, part: PlannedPart) -> tuple[Sheet, ...]:
        """The files that know something of the cells that a part is made from."""
        touching = np.zeros(len(self.sheets), dtype=bool)
        top, left, bottom, right = self._edges.T
        for area in (part.shared, part.area):
            down = (top < area.bottom + _BLOCK_CELLS) & (bottom > area.top - _BLOCK_CELLS)
            touching |= (
                down & (left < area.right + _BLOCK_CELLS) & (right > area.left - _BLOCK_CELLS)
            )
        return tuple(self.sheets[at] for at in np.flatnonzero(touching))

    @cached_property
    def _edges(self) -> Floats:
        return edges_of(self.whole, [sheet.placing for sheet in self.sheets])


def plan_parts(
    paths: RasterFiles,
    *,
    side_m: float,
    margin_m: float,
    crs: CRS | str | None = None,
    height_unit: str | None = None,
    band: int | None = None,
    variable: str | None = None,
    trust: bool = False,
) -> PartsPlan:
    """Plan how to read a raster of any size in parts that all lie on one grid; reads no height.

    What is found in the own cells of the parts is, put together, what is found in one piece, but
    for what lies beyond the margins. A raster whose cells are not square metres is brought to the
    plane that `read_dem` brings the whole of it to.

    Parameters
    ----------
    paths : path, or sequence of them
        As in `read_dem`.
    side_m : float
        Of the parts, without their margins, metres, at most (to 1 %).
    margin_m : float
        How far beyond its own cells a part is read, metres, as far as the raster goes: as wide as
        the reach of what is asked.
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

    Returns
    -------
    PartsPlan
        Its parts by number.

    Raises
    ------
    TerrainError
        As in `read_dem`, and for a side or a margin that makes no sense.

    Examples
    --------
    >>> plan_parts("no/such/country.tif", side_m=60_000.0, margin_m=40_000.0)
    Traceback (most recent call last):
    terrain.errors.TerrainError: there is no file no/such/country.tif
    """
    said = Said(crs=crs, height_unit=height_unit, band=band, variable=variable, trust=trust)
    sheets, whole = _laid_out(paths, said, side_m, margin_m)
    grid = square_grid(whole)
    own = blocks_of(grid, max(side_m, *(float(sizes.max()) for sizes in whole.cell_sizes_m())))
    delivered = own
    if grid is not whole:
        counts = len({cells.top for cells in own}), len({cells.left for cells in own})
        delivered = crossed(*map(even, whole.shape, counts))
    return PartsPlan(
        whole=whole, grid=grid, own=own, delivered=delivered, margin_m=margin_m, sheets=sheets
    )


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
    ground beyond the margin could change, `known_to` and `left_out` say. `plan_parts` has any part
    by its number, and all of them on one grid.

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
    said = Said(crs=crs, height_unit=height_unit, band=band, variable=variable, trust=trust)
    sheets, whole = _laid_out(paths, said, side_m, margin_m)
    grid = whole if whole.is_metric else None
    own = blocks_of(whole, side_m)
    plan = PartsPlan(
        whole=whole, grid=grid, own=own, delivered=own, margin_m=margin_m, sheets=sheets
    )
    for part in plan:
        try:
            yield part.read()
        except NoGround:
            continue


def _laid_out(
    paths: RasterFiles, said: Said, side_m: float, margin_m: float
) -> tuple[tuple[Sheet, ...], Grid]:
    """The files and the grid that they share."""
    if not (0.0 < side_m < math.inf and 0.0 <= margin_m < math.inf):
        raise TerrainError(
            f"parts of {side_m} m with a margin of {margin_m} m cannot be: give a side above 0 m"
        )
    with quietly():
        sheets, whole = laid_out(paths, said)
    common_datum(sheets)
    # one reference system for all of them is pickled once
    return tuple(replace(sheet, crs=whole.crs) for sheet in sheets), whole
