"""Rays from a camera on the grid: where they start, which way they run, the ground they meet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from terrain.arrays import Flags, Floats, Singles, sealed
from terrain.constants import EYE_HEIGHT_M, TERRESTRIAL_REFRACTION
from terrain.cores import share_out
from terrain.ground.dem import Dem
from terrain.ground.geodesy import destination
from terrain.ground.places import Spot
from terrain.sight._kernels import Rays, parted_rays
from terrain.sight._scan_kernels import scan_rays
from terrain.sight.bend import bend_per_m
from terrain.sight.far import with_far

FINE_CELLS: Final = 16
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
    dem: Dem,
    row: ArrayLike,
    col: ArrayLike,
    steps: tuple[ArrayLike, ArrayLike],
    eye_height_m: ArrayLike,
    refraction: float,
) -> Rays:
    """Rays as the kernels take them; rows, columns, steps a metre and heights broadcast to (n,)."""
    parts = np.broadcast_arrays(np.atleast_1d(row), col, *steps, eye_height_m)
    at_row, at_col, down, along, height_m = (np.array(part, dtype=float) for part in parts)
    bend, fine_m = bend_per_m(refraction), FINE_CELLS * dem.cell_m
    rim = 0.5 if dem.far is None else 0.0
    about = dem.highest_m, dem.unknown_sums, dem.block_tops_m
    return Rays(dem.heights_m, at_row, at_col, down, along, height_m, bend, fine_m, *about, rim=rim)


def rays_of(dem: Dem, spot: Spot, azimuth_deg: ArrayLike, refraction: float) -> Rays:
    """The rays of a spot's camera with azimuths (n,) from true north."""
    eye = eye_at(dem, spot)
    steps = grid_steps(dem, spot, azimuth_deg)
    return rays_from(dem, eye.row, eye.col, steps, eye.height_m, refraction)


def rays_toward(
    dem: Dem,
    row: ArrayLike,
    col: ArrayLike,
    grid_azimuth_deg: ArrayLike,
    *,
    eye_m: float,
    refraction: float,
) -> Rays:
    """The rays of cameras over whole cells (n,), each in its direction from the grid's north."""
    eye_height_m = dem.heights_m[np.atleast_1d(row), np.atleast_1d(col)].astype(float) + eye_m
    return rays_from(dem, row, col, _steps(dem, grid_azimuth_deg), eye_height_m, refraction)


def scan(
    rays: Rays, edges_m: Floats, least_deg: ArrayLike = -90.0
) -> tuple[Floats, Floats, Floats]:
    """Altitudes (radians) and distances, both (rays, edges), and how far is known, (rays,).

    edges_m: (edges,) ascending. least_deg: (rays,) or one; of what stands lower than this it is
    only sure that it does.
    """
    least = np.broadcast_to(np.tan(np.radians(least_deg)), rays.row.shape).copy()
    count = rays.row.size
    altitude, distance_m = np.full((2, count, edges_m.size), np.nan)
    known_m = np.empty(count)
    share_out(
        count,
        lambda first, end: scan_rays(
            first, end, rays, least, edges_m, altitude, distance_m, known_m
        ),
    )
    return altitude, distance_m, known_m


def altitudes_toward(
    dem: Dem,
    row: ArrayLike,
    col: ArrayLike,
    grid_azimuth_deg: ArrayLike,
    *,
    eye_m: float = EYE_HEIGHT_M,
    refraction: float = TERRESTRIAL_REFRACTION,
    reach_m: float = np.inf,
) -> tuple[Floats, Floats]:
    """Altitude (degrees) and distance (metres) of the skyline in one direction from each cell.

    row, col: (n,) whole rows and columns of the eyes' cells. grid_azimuth_deg: (n,) or one, from
    the grid's north (`Grid.grid_azimuth_deg`). eye_m: height above the ground. reach_m: ground
    farther off does not count. Both results are (n,), NaN where no ground is known in that
    direction or at the cell.
    """
    eye_height_m = dem.heights_m[np.atleast_1d(row), np.atleast_1d(col)].astype(float) + eye_m
    return altitudes_from(
        dem, row, col, grid_azimuth_deg, eye_height_m, refraction=refraction, reach_m=reach_m
    )


def altitudes_from(
    dem: Dem,
    row: ArrayLike,
    col: ArrayLike,
    grid_azimuth_deg: ArrayLike,
    eye_height_m: ArrayLike,
    *,
    refraction: float = TERRESTRIAL_REFRACTION,
    reach_m: float = np.inf,
) -> tuple[Floats, Floats]:
    """As `altitudes_toward`, from eyes at any height anywhere between the cells.

    row, col: (n,) fractional. eye_height_m: (n,), above the same zero as the ground.
    """
    steps = _steps(dem, grid_azimuth_deg)
    rays = rays_from(dem, row, col, steps, eye_height_m, refraction)
    altitude, distance_m, known_m = scan(rays, np.array([float(reach_m)]))
    found = altitude[:, 0], distance_m[:, 0], known_m
    altitude_rad, at_m, _ = with_far(dem, rays, found) if reach_m == np.inf else found
    return np.degrees(altitude_rad), at_m


def far_toward(
    dem: Dem,
    row: ArrayLike,
    col: ArrayLike,
    grid_azimuth_deg: ArrayLike,
    eye_height_m: ArrayLike,
    known_m: Floats,
    *,
    refraction: float,
) -> tuple[Floats, Floats]:
    """Altitude of the highest far ground beyond the Dem, degrees, and how far is known with it.

    As in `altitudes_from`; known_m: how far the ground is known on the Dem. Both results are (n,);
    the altitude is -90 where there is none.
    """
    rays = rays_from(dem, row, col, _steps(dem, grid_azimuth_deg), eye_height_m, refraction)
    nothing = np.full(rays.row.size, -np.pi / 2.0)
    altitude, _, known_m = with_far(dem, rays, (nothing, known_m, known_m))
    return np.degrees(altitude), known_m


def stays_below(
    dem: Dem,
    row: ArrayLike,
    col: ArrayLike,
    grid_azimuth_deg: ArrayLike,
    altitude_deg: float,
    *,
    reach_m: float,
    eye_m: float = EYE_HEIGHT_M,
    refraction: float = TERRESTRIAL_REFRACTION,
) -> Flags:
    """Whether all ground nearer than a reach is known and lower in view than an altitude, (n,).

    Unknown ground may stand up, so where some of it lies on the way the answer is no. Arguments
    as in `altitudes_toward`.
    """
    rays = rays_toward(dem, row, col, grid_azimuth_deg, eye_m=eye_m, refraction=refraction)
    altitude, _, known_m = scan(rays, np.array([float(reach_m)]))
    return np.asarray((np.degrees(altitude[:, 0]) < altitude_deg) & (known_m >= reach_m))


def before_and_behind(
    dem: Dem,
    own_ground: Flags,
    row: ArrayLike,
    col: ArrayLike,
    grid_azimuth_deg: ArrayLike,
    target_m: ArrayLike,
    *,
    eye_m: float = EYE_HEIGHT_M,
    refraction: float = TERRESTRIAL_REFRACTION,
) -> tuple[Floats, Floats]:
    """Altitudes (degrees) of the highest ground before a hill and of the highest behind it, (n,).

    own_ground: (rows, cols), the hill's own ground, which counts for neither. target_m: (n,)
    distance to its summit; the other arguments as in `altitudes_toward`. Cell by cell, so a
    measure to rank by rather than a line of sight; -90 where there is no such ground. Before a hill
    NaN where some of the ground on the way to it is unknown.
    """
    rays = rays_toward(dem, row, col, grid_azimuth_deg, eye_m=eye_m, refraction=refraction)
    target = np.broadcast_to(np.asarray(target_m, dtype=float), rays.row.shape).copy()
    own = sealed(own_ground.view())
    before, behind = np.empty((2, rays.row.size))
    share_out(
        rays.row.size, lambda first, end: parted_rays(first, end, rays, own, target, before, behind)
    )
    behind, _, _ = with_far(dem, rays, (behind, target, target))
    return np.degrees(before), np.degrees(behind)


def highest_behind(
    dem: Dem,
    some: Singles,
    row: ArrayLike,
    col: ArrayLike,
    grid_azimuth_deg: ArrayLike,
    target_m: ArrayLike,
    *,
    eye_m: float,
    refraction: float,
) -> Floats:
    """Altitude (degrees) of the highest of some ground beyond targets, (n,); -90 where none is.

    some: (rows, cols) heights of that ground, NaN elsewhere; the eyes stand on the Dem. The other
    arguments as in `before_and_behind`, and cell by cell as there.
    """
    rays = rays_toward(dem, row, col, grid_azimuth_deg, eye_m=eye_m, refraction=refraction)
    rays, count = rays._replace(heights=sealed(some.view())), rays.row.size
    target, nobodys = np.broadcast_to(target_m, count).astype(float), np.zeros(dem.shape, bool)
    before, behind = np.empty((2, count))
    share_out(
        count,
        lambda first, end: parted_rays(first, end, rays, sealed(nobodys), target, before, behind),
    )
    return np.degrees(behind)


def _steps(dem: Dem, grid_azimuth_deg: ArrayLike) -> tuple[Floats, Floats]:
    """Rows and columns for each metre in directions from the grid's north."""
    turned = np.radians(np.asarray(grid_azimuth_deg, dtype=float))
    return -np.cos(turned) / dem.cell_m, np.sin(turned) / dem.cell_m
