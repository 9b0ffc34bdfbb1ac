"""The camera on the grid: where it is, how high, and which way its rays run."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from terrain.arrays import Floats, Singles, sealed
from terrain.constants import EARTH_RADIUS_M
from terrain.ground.dem import Dem
from terrain.ground.geodesy import destination
from terrain.ground.places import Spot
from terrain.sight._kernels import Rays

__all__ = ["Eye", "bend_per_m", "eye_at", "grid_steps", "kernel_heights", "rays_from"]

CHORD_M = 20_000.0
PLACES = 6  # decimals of rows and columns that mean anything


@dataclass(frozen=True, kw_only=True)
class Eye:
    """A camera on a grid.

    row, col: fractional; height_m: of the camera above the raster's vertical datum, metres.
    """

    row: float
    col: float
    height_m: float


def eye_at(dem: Dem, spot: Spot) -> Eye:
    """The camera of a spot on a raster; NoGround off the raster or on unknown ground."""
    ground_m = dem.height_at(spot.lon_deg, spot.lat_deg)
    row, col = dem.grid.rowcol(spot.lon_deg, spot.lat_deg)
    return Eye(
        # a centre that a projection has shifted by nanometres must not cross its own lines
        row=round(float(row), PLACES),
        col=round(float(col), PLACES),
        height_m=ground_m + spot.eye_m,
    )


def bend_per_m(refraction: float) -> float:
    """How far ground at distance d sinks below the horizontal, divided by d²: (1 - k) / 2R.

    With a coefficient of 1 the rays follow the earth, as if it were flat. ValueError beyond 1.

    >>> round(bend_per_m(0.13) * 10_000.0**2, 2)
    6.83
    """
    if not -2.0 <= refraction <= 1.0:
        raise ValueError(f"a coefficient of refraction of {refraction} is not within -2 to 1")
    return (1.0 - refraction) / (2.0 * EARTH_RADIUS_M)


def grid_steps(dem: Dem, spot: Spot, azimuth_deg: ArrayLike) -> tuple[Floats, Floats]:
    """Rows and columns (n,) a ray advances by for each metre on the ground.

    The ray is the straight line on the grid to the end of a geodesic of 20 km that starts at the
    spot with this azimuth (n,) from true north. That takes in the convergence of the meridians,
    the scale of the projection, and most of the bend of the geodesic on the map, which is below
    0.01 degrees at 60 km anywhere in an ordinary national grid.
    """
    dem.cell_m  # noqa: B018 - a grid without square metric cells has no straight rays
    lon, lat = destination(spot.lon_deg, spot.lat_deg, azimuth_deg, CHORD_M)
    row, col = dem.grid.rowcol(lon, lat)
    from_row, from_col = dem.grid.rowcol(spot.lon_deg, spot.lat_deg)
    return np.ravel((row - from_row) / CHORD_M), np.ravel((col - from_col) / CHORD_M)


def rays_from(
    row: ArrayLike,
    col: ArrayLike,
    steps: tuple[ArrayLike, ArrayLike],
    eye_height_m: ArrayLike,
    refraction: float,
) -> Rays:
    """Rays as the kernels take them; rows, columns, steps a metre and heights broadcast to (n,)."""
    parts = np.broadcast_arrays(np.atleast_1d(row), col, *steps, eye_height_m)
    at_row, at_col, down, along, height_m = (np.array(part, dtype=float) for part in parts)
    return Rays(at_row, at_col, down, along, height_m, bend_per_m(refraction))


def kernel_heights(dem: Dem) -> Singles:
    """The heights as every kernel takes them, so that each compiles once: C order, read-only."""
    return sealed(np.ascontiguousarray(dem.heights_m, dtype=np.float32).view())
