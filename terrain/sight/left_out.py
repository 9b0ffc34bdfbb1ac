"""What the raster's edge and its gaps leave open of an answer about many cells, in figures."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from terrain.arrays import Flags, Floats, Numbers, Singles, sealed
from terrain.constants import TERRESTRIAL_REFRACTION
from terrain.ground.dem import Dem
from terrain.sight.known import known_along, known_to, lowest_hidden_m
from terrain.sight.rays import far_toward

_MOST_CELLS: Final = 100_000
_ALL_BUT: Final = 10.0  # percent of the cells
_GOLDEN: Final = (1.0 + 5.0**0.5) / 2.0  # steps of its inverse fill an interval evenly


@dataclass(frozen=True, kw_only=True)
class LeftOut:
    """How far the ground is known in the directions asked, and what hidden ground could change.

    Attributes
    ----------
    cells : int
        How many were looked at, evenly over all that were asked about.
    known_m : float
        In nine cells of ten the ground is known at least so far, metres.
    median_known_m : float
        And so far in half of them, metres.
    hidden_m : float
        In nine of ten only hidden ground higher than this would change the answer, metres above the
        datum.
    median_hidden_m : float
        The same in half of them.
    lowest_m, highest_m : float
        The lowest and the highest known ground of the raster, metres.
    open_share : float
        The share of the cells, 0 to 1, in which hidden ground no higher than the highest would do;
        those count too in which no known ground lies that way at all.

    Examples
    --------
    >>> import numpy as np
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(50, 0, 5e5, 0, -50, 6e6), shape=(3, 9))
    >>> ridge = terrain.Dem(np.tile([0, 0, 0, 0, 0, 60, 0, 0, 30], (3, 1)), grid)
    >>> lon, lat = (float(part) for part in grid.lonlat(1, 1))
    >>> spot = terrain.Spot(lon_deg=lon, lat_deg=lat)
    >>> open_sides = terrain.left_out(ridge, 90.0, terrain.horizon(ridge, 90.0))
    >>> open_sides.cells, round(open_sides.known_m), open_sides.highest_m
    (27, 55, 60.0)
    """

    cells: int
    known_m: float
    median_known_m: float
    hidden_m: float
    median_hidden_m: float
    lowest_m: float
    highest_m: float
    open_share: float

    def sentence(self, toward: str) -> str:
        """The same in words; toward: what was looked at, such as "the sunrise".

        Where any ground would do, however low, the height is that of the lowest known.
        """
        hidden_m = max(self.hidden_m, self.lowest_m)
        return (
            f"Toward {toward} the ground is known for at least {self.known_m / 1000.0:.1f} km in "
            f"nine of ten cells. Hidden ground beyond must rise above {hidden_m:.0f} m to change "
            f"the answer in nine of ten; in {100.0 * self.open_share:.0f} % of them it need not "
            f"be higher than the highest here, {self.highest_m:.0f} m."
        )


def left_out(
    dem: Dem,
    azimuth_deg: ArrayLike,
    altitude_deg: ArrayLike,
    *,
    eye_m: float = 0.0,
    refraction: float = TERRESTRIAL_REFRACTION,
) -> LeftOut:
    """What an answer about the cells of a raster leaves out, from at most 100 000 of them.

    Parameters
    ----------
    dem : Dem
        The ground.
    azimuth_deg : float or (rows, cols) array_like, degrees
        The direction asked, from true north, one for all or each cell's own.
    altitude_deg : (rows, cols) array_like, degrees
        Of the lines of sight that the answer was read from, such as `horizon` gives, or where the
        sun comes over; NaN where no known ground lies that way.
    eye_m : float, optional
        Height of the eyes over the ground, metres.
    refraction : float, optional
        Coefficient k of terrestrial refraction, dimensionless; 0.13 unless given.

    Returns
    -------
    LeftOut
        Cells that are unknown, and those without an azimuth, are not asked about; without any all
        figures are NaN.

    Raises
    ------
    ValueError
        For an array of another shape.

    Examples
    --------
    >>> from affine import Affine
    >>> from pyproj import CRS
    >>> from terrain.ground.grid import Grid
    >>> from terrain.sight.horizon import horizon
    >>> grid = Grid(crs=CRS(32626), transform=Affine(50, 0, 5e5, 0, -50, 6e6), shape=(9, 99))
    >>> dem = Dem(np.where(np.arange(99) > 90, 200.0, 0.0) + np.zeros(grid.shape), grid)
    >>> left_out(dem, 90.0, horizon(dem, 90.0)).median_hidden_m > 200.0
    True
    """
    azimuth, altitude = np.broadcast_to(azimuth_deg, dem.shape), np.asarray(altitude_deg)
    if altitude.shape != dem.shape:
        raise ValueError(f"altitudes of shape {altitude.shape} for ground of {dem.shape}")
    row, col = np.divmod(_some(~np.isnan(dem.heights_m) & ~np.isnan(azimuth)), dem.shape[1])
    way, eyes = azimuth[row, col].astype(float), dem.heights_m[row, col] + eye_m
    known = known_along(dem, row, col, way)
    if dem.far is not None:
        on_grid = dem.grid.grid_azimuth_deg(way, *dem.grid.lonlat(row, col))
        _, known = far_toward(dem, row, col, on_grid, eyes, known, refraction=refraction)
    hidden = lowest_hidden_m(eyes, altitude[row, col], known, refraction=refraction)
    ground = dem.heights_m[~np.isnan(dem.heights_m)]
    lowest, highest = (ground.min(), ground.max()) if ground.size else (np.nan, np.nan)
    is_open = ~(hidden > highest)
    return LeftOut(
        cells=int(row.size),
        known_m=_percentile(known, _ALL_BUT),
        median_known_m=_percentile(known, 50.0),
        hidden_m=_percentile(hidden, _ALL_BUT),
        median_hidden_m=_percentile(hidden, 50.0),
        lowest_m=float(lowest),
        highest_m=float(highest),
        open_share=float(is_open.mean()) if is_open.size else np.nan,
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class Margins:
    """How far the lines of sight behind an answer run over known ground, and what that leaves open.

    ground: that hides; eye_m: height of the eyes over it. azimuth_deg, altitude_deg: (rows, cols)
    of the line of sight from each cell, from true north and apparent, NaN where there is none.
    """

    ground: Dem
    azimuth_deg: Singles
    altitude_deg: Singles
    eye_m: float = 0.0
    refraction: float

    @cached_property
    def known_to_m(self) -> Singles:
        """How far the ground is known along each line, metres, by `known_to`; read-only."""
        return sealed(known_to(self.ground, self.azimuth_deg))

    @property
    def beyond_height_m(self) -> Singles:
        """The lowest that hidden ground beyond can be and still reach each line, metres."""
        eyes_m = self.ground.heights_m + np.float32(self.eye_m)
        hidden_m = lowest_hidden_m(
            eyes_m, self.altitude_deg, self.known_to_m, refraction=self.refraction
        )
        return hidden_m.astype(np.float32)

    def left_out(self) -> LeftOut:
        """The same of all the cells in a few figures."""
        return left_out(
            self.ground,
            self.azimuth_deg,
            self.altitude_deg,
            eye_m=self.eye_m,
            refraction=self.refraction,
        )


def _some(asked: Flags) -> Numbers:
    """Flat indices of some cells that were asked about, spread evenly whatever their pattern."""
    cells = np.flatnonzero(asked)
    if cells.size <= _MOST_CELLS:
        return cells
    turns = np.mod(np.arange(1, _MOST_CELLS + 1) / _GOLDEN, 1.0)
    return np.asarray(cells[(turns * cells.size).astype(np.int64)])


def _percentile(values: Floats, percent: float) -> float:
    """Of the values that are known; NaN without any."""
    known = values[~np.isnan(values)]
    return float(np.percentile(known, percent)) if known.size else np.nan
