"""The ground that a camera sees, cell by cell of a picture, and the summits among it."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
from numpy.typing import ArrayLike

from terrain.arrays import Floats, Singles, frozen_arrays, sealed
from terrain.constants import TERRESTRIAL_REFRACTION
from terrain.cores import share_out
from terrain.ground.dem import Dem
from terrain.ground.geodesy import azimuth_and_distance
from terrain.ground.places import Spot
from terrain.sight._kernels import Rays
from terrain.sight._seen_kernels import seen_rays
from terrain.sight.line import sight_line
from terrain.sight.rays import rays_of, rays_toward

# a summit as delivered may stand a little above or below the surface through the cell centres
_SUMMIT_SLACK_DEG = 0.05
_UNDER_M = 2.0


@dataclass(frozen=True, kw_only=True, eq=False)
@frozen_arrays(copy=False)
class SeenGround:
    """A picture of the ground: what is seen in each direction and at each altitude.

    azimuth_deg: (cols,) from true north; altitude_deg: (rows,) ascending.
    distance_m: (rows, cols) float32, to the ground seen there; NaN where it is sky.
    row, col: (rows, cols) float32, where on the grid that ground is, fractional; NaN with it.
    eye_height_m: of the eye above the datum. bend_per_m: of a line of sight, per square metre. The
    arrays are read-only.
    """

    azimuth_deg: Floats
    altitude_deg: Floats
    distance_m: Singles
    row: Singles
    col: Singles
    eye_height_m: float
    bend_per_m: float

    @property
    def height_m(self) -> Singles:
        """Height of what is seen above the datum, metres, (rows, cols) float32; NaN for sky."""
        slope = np.tan(np.radians(self.altitude_deg)).astype(np.float32)[:, np.newaxis]
        bent = slope + np.float32(self.bend_per_m) * self.distance_m
        return np.asarray(np.float32(self.eye_height_m) + self.distance_m * bent)


def seen_ground(
    dem: Dem,
    spot: Spot,
    azimuths_deg: ArrayLike,
    altitudes_deg: ArrayLike,
    *,
    lid_m: Singles | None = None,
    lid_top_m: float | None = None,
    refraction: float = TERRESTRIAL_REFRACTION,
) -> SeenGround:
    """The ground a camera sees in each cell of a picture.

    azimuths_deg: (cols,) from true north, in the order wanted. altitudes_deg: (rows,) above the
    horizontal, ascending, between -90 and 90; row 0 is the lowest. lid_m: (rows, cols) of the
    grid, height of something that lies over the ground, such as the top of a mist, NaN where
    nothing does; what is seen is the higher of the two. It has to reach one cell beyond the place
    where the ground comes out of it. lid_top_m: the highest of it, looked up there unless given,
    which takes as long as half a picture does on a large raster. refraction: coefficient k.

    Above the skyline, and where only unknown ground lies, there is sky. Raises NoGround where the
    spot has no known ground, ValueError for altitudes that do not ascend and for a lid of another
    shape than the ground.

    >>> from affine import Affine
    >>> from pyproj import CRS
    >>> from terrain.ground.grid import Grid
    >>> placing = Affine(50, 0, 5e5, 0, -50, 6e6)
    >>> grid = Grid(crs=CRS(32628), transform=placing, shape=(99, 99))
    >>> lon, lat = (float(part) for part in grid.lonlat(49, 49))
    >>> floor = Dem(np.zeros(grid.shape), grid)
    >>> spot = Spot(lon_deg=lon, lat_deg=lat, eye_m=10)
    >>> seen = seen_ground(floor, spot, azimuths_deg=[90], altitudes_deg=[-45, -1, 1])
    >>> seen.distance_m.round().ravel().tolist(), bool(abs(seen.height_m[:2]).max() < 0.01)
    ([10.0, 574.0, nan], True)
    """
    azimuths = np.atleast_1d(np.array(azimuths_deg, dtype=float))
    altitudes = np.atleast_1d(np.array(altitudes_deg, dtype=float))
    if np.any(np.diff(altitudes) <= 0) or np.any(np.abs(altitudes) >= 90.0):
        raise ValueError("altitudes must ascend strictly between -90 and 90 degrees")
    rays = rays_of(dem, spot, azimuths, refraction)
    distance_m, row, col = _seen_along(dem, rays, altitudes, lid_m, lid_top_m)
    return SeenGround(
        azimuth_deg=azimuths,
        altitude_deg=altitudes,
        distance_m=distance_m,
        row=row,
        col=col,
        eye_height_m=float(rays.eye[0]) if azimuths.size else np.nan,
        bend_per_m=float(rays.bend),
    )


def seen_from_cells(
    dem: Dem,
    row: ArrayLike,
    col: ArrayLike,
    grid_azimuth_deg: ArrayLike,
    altitudes_deg: Floats,
    *,
    eye_m: float,
    lid_m: Singles | None = None,
    lid_top_m: float | None = None,
    refraction: float = TERRESTRIAL_REFRACTION,
) -> tuple[Singles, Singles]:
    """Rows and columns of the ground seen at altitudes in one direction from each cell.

    row, col: (n,) whole, of the eyes' cells. grid_azimuth_deg: (n,) from the grid's north. Both
    results are (altitudes, n), fractional, NaN where it is sky; the rest is as for `seen_ground`.
    """
    rays = rays_toward(dem, row, col, grid_azimuth_deg, eye_m=eye_m, refraction=refraction)
    _, seen_row, seen_col = _seen_along(dem, rays, altitudes_deg, lid_m, lid_top_m)
    return seen_row, seen_col


def _seen_along(
    dem: Dem,
    rays: Rays,
    altitudes_deg: Floats,
    lid_m: Singles | None,
    lid_top_m: float | None,
) -> tuple[Singles, Singles, Singles]:
    """Distance, row and column of what rays meet at altitudes, each (altitudes, rays)."""
    lid, slopes = _lid(dem, lid_m), np.tan(np.radians(altitudes_deg))
    along_rays_m = np.full((rays.row.size, slopes.size), np.nan, dtype=np.float32)
    if lid_top_m is None:
        lid_top_m = float(np.fmax.reduce(lid, axis=None, initial=-np.inf))
    share_out(
        rays.row.size,
        lambda first, end: seen_rays(first, end, rays, lid, lid_top_m, slopes, along_rays_m),
    )
    distance_m = along_rays_m.T
    return (
        distance_m,
        (rays.row + distance_m * rays.row_step).astype(np.float32),
        (rays.col + distance_m * rays.col_step).astype(np.float32),
    )


def summits_in_view(
    dem: Dem, spot: Spot, summits: gpd.GeoDataFrame, *, refraction: float = TERRESTRIAL_REFRACTION
) -> gpd.GeoDataFrame:
    """The summits that a camera sees, in the order and with the index of `summits`.

    dem: the ground, with mist on it where there is some. summits: a table with `height_m` and
    points in EPSG:4326, as `find_summits` gives it; those off the raster and the one the camera
    stands on do not count. Columns are added: azimuth_deg, altitude_deg and distance_m. Raises
    NoGround where the spot has no known ground.
    """
    lon, lat = summits.geometry.x.to_numpy(), summits.geometry.y.to_numpy()
    row, col = dem.grid.rowcol(lon, lat)
    _, distance_m = azimuth_and_distance(spot.lon_deg, spot.lat_deg, lon, lat)
    heights = summits["height_m"].to_numpy(dtype=float)
    stands_out = dem.heights_at(lon, lat) < heights + _UNDER_M  # and is not drowned in mist
    far = distance_m > 2.0 * dem.cell_m
    asked = np.flatnonzero(dem.grid.contains(row, col) & stands_out & far)
    lines = {
        at: sight_line(dem, spot, lon[at], lat[at], heights[at], refraction=refraction)
        for at in asked
    }
    seen = [at for at in asked if lines[at].clearance_deg >= -_SUMMIT_SLACK_DEG]
    return summits.iloc[seen].assign(
        azimuth_deg=[lines[at].azimuth_deg for at in seen],
        altitude_deg=[lines[at].altitude_deg for at in seen],
        distance_m=[lines[at].distance_m for at in seen],
    )


def _lid(dem: Dem, lid_m: Singles | None) -> Singles:
    """The lid as the kernel takes it: of no rows where there is none."""
    if lid_m is not None and lid_m.shape != dem.shape:
        raise ValueError(f"a lid of shape {lid_m.shape} on ground of {dem.shape}")
    lid = np.empty((0, 0)) if lid_m is None else lid_m
    return sealed(np.ascontiguousarray(lid, dtype=np.float32).view())
