"""One line from a camera: the ground along it, and whether it is clear."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain.arrays import Floats, frozen_arrays
from terrain.constants import TERRESTRIAL_REFRACTION
from terrain.errors import NoGround
from terrain.ground.dem import Dem
from terrain.ground.geodesy import azimuth_and_distance
from terrain.ground.places import Spot
from terrain.sight._kernels import heights_along
from terrain.sight._line_kernels import ground_between
from terrain.sight.bend import bend_per_m
from terrain.sight.rays import PLACES, eye_at, grid_steps, rays_from


@dataclass(frozen=True, kw_only=True, eq=False)
@frozen_arrays()
class Profile:
    """The ground along one line of sight.

    distance_m: (n,) from the camera, ascending; height_m: (n,) of the ground above the datum, NaN
    where unknown; altitude_deg: (n,) of the ground as the camera sees it. Read-only.
    """

    distance_m: Floats
    height_m: Floats
    altitude_deg: Floats


@dataclass(frozen=True, kw_only=True)
class SightLine:
    """The line from a camera to a target.

    visible: whether no known ground stands above the line; known: whether all of the ground up to
    the target is known, so that no hidden ground can hide it; clearance_deg: altitude of the
    target above the highest ground in front of it, negative where hidden, infinite where no known
    ground lies between; blocked_at_m: distance of the highest ground in front where it hides the
    target, NaN where it does not; altitude_deg, azimuth_deg (true), distance_m: of the target.
    """

    visible: bool
    known: bool
    clearance_deg: float
    blocked_at_m: float
    altitude_deg: float
    azimuth_deg: float
    distance_m: float


def profile(
    dem: Dem,
    spot: Spot,
    azimuth_deg: float,
    *,
    reach_m: float | None = None,
    step_m: float | None = None,
    refraction: float = TERRESTRIAL_REFRACTION,
) -> Profile:
    """The ground along one azimuth from true north, from the camera to the raster's edge.

    Parameters
    ----------
    dem : Dem
        The ground.
    spot : Spot
        Where the camera stands, and its height over the ground.
    azimuth_deg : float
        The direction, degrees from true north.
    reach_m : float, optional
        No farther than this, metres.
    step_m : float, optional
        From one sample to the next, metres; at every line of cell centres crossed unless given.
    refraction : float, optional
        Coefficient k of terrestrial refraction, dimensionless; 0.13 unless given.

    Returns
    -------
    Profile
        Distances and heights of the ground, metres, (n,) each.

    Raises
    ------
    NoGround
        Where the spot has no known ground.

    Examples
    --------
    >>> from affine import Affine
    >>> from terrain.ground.geodesy import local_transverse_mercator
    >>> from terrain.ground.grid import Grid
    >>> crs, shape = local_transverse_mercator(-24.0, 54.4), (3, 9)
    >>> grid = Grid(crs=crs, transform=Affine(50, 0, -75, 0, -50, 75), shape=shape)
    >>> dem = Dem(np.tile([0, 0, 0, 0, 0, 60, 0, 0, 30], (3, 1)), grid)
    >>> spot = Spot(lon_deg=-24.0, lat_deg=54.4)
    >>> profile(dem, spot, 90.0, step_m=100.0).height_m.round(1)
    array([ 0., 60.,  0.])
    """
    eye = eye_at(dem, spot)
    (row_step,), (col_step,) = grid_steps(dem, spot, [azimuth_deg])
    rows, cols = dem.shape
    ends_m = _way_out(eye.row, row_step, rows), _way_out(eye.col, col_step, cols)
    reach = min(*ends_m, np.inf if reach_m is None else reach_m)
    if step_m is not None:
        distance_m = np.arange(1, int(reach / step_m) + 1, dtype=np.float64) * step_m
    else:
        lines_m = (_crossings(eye.row, row_step, rows), _crossings(eye.col, col_step, cols))
        distance_m = np.unique(np.concatenate(lines_m))
        distance_m = distance_m[(distance_m > 0) & (distance_m <= reach)]
    row, col = eye.row + row_step * distance_m, eye.col + col_step * distance_m
    height_m = heights_along(dem.heights_m, row, col)
    rise = (height_m - eye.height_m) / distance_m - bend_per_m(refraction) * distance_m
    return Profile(
        distance_m=distance_m, height_m=height_m, altitude_deg=np.degrees(np.arctan(rise))
    )


def sight_line(
    dem: Dem,
    spot: Spot,
    lon_deg: float,
    lat_deg: float,
    height_m: float,
    *,
    refraction: float = TERRESTRIAL_REFRACTION,
) -> SightLine:
    """Whether a camera sees a point at a height, and what hides it.

    Looks at all of the surface through the cell centres on the way, so that two cameras see each
    other or neither does. What lies within half a cell of either end hides nothing, nor what lies
    within a cell of an end beside a top: a summit's place and height are those of the raster as
    delivered, and its top on square cells stands a little beside them.

    Parameters
    ----------
    dem : Dem
        The ground.
    spot : Spot
        Where the camera stands, and its height over the ground.
    lon_deg : float
        Longitude of the point, WGS 84 degrees.
    lat_deg : float
        Latitude of the point, WGS 84 degrees.
    height_m : float
        Of the point above the datum, metres.
    refraction : float, optional
        Coefficient k of terrestrial refraction, dimensionless; 0.13 unless given.

    Returns
    -------
    SightLine
        Whether it is seen, whether all of the ground between is known, by how many degrees the line
        clears the ground, and where it is hidden.

    Raises
    ------
    NoGround
        Where the spot has no known ground, or the point lies off the raster.
    ValueError
        Where the point is where the camera stands.

    Examples
    --------
    >>> from affine import Affine
    >>> from terrain.ground.geodesy import local_transverse_mercator
    >>> from terrain.ground.grid import Grid
    >>> crs, shape = local_transverse_mercator(-24.0, 54.4), (3, 9)
    >>> grid = Grid(crs=crs, transform=Affine(50, 0, -75, 0, -50, 75), shape=shape)
    >>> dem = Dem(np.tile([0, 0, 0, 0, 0, 60, 0, 0, 30], (3, 1)), grid)
    >>> spot = Spot(lon_deg=-24.0, lat_deg=54.4)
    >>> lon, lat = (float(degrees) for degrees in grid.lonlat(1, 8))
    >>> hidden = sight_line(dem, spot, lon, lat, height_m=30.0)
    >>> hidden.visible, round(hidden.clearance_deg, 1), round(hidden.blocked_at_m)
    (False, -11.6, 200)
    """
    eye = eye_at(dem, spot)
    # as for the eye: a line between two centres of a row must not stray from it by nanometres
    row, col = (round(float(part), PLACES) for part in dem.grid.rowcol(lon_deg, lat_deg))
    if not dem.grid.contains(row, col):
        raise NoGround(f"no ground at {lat_deg:.4f}, {lon_deg:.4f}: {dem.grid.coverage()}")
    azimuth, distance = azimuth_and_distance(spot.lon_deg, spot.lat_deg, lon_deg, lat_deg)
    distance_m = float(distance)
    if distance_m == 0.0:
        raise ValueError("the target is where the camera stands: there is no line between them")
    steps = (row - eye.row) / distance_m, (col - eye.col) / distance_m
    rays = rays_from(dem, eye.row, eye.col, steps, eye.height_m, refraction)
    front, front_m, known = ground_between(rays, row, col, distance_m, np.full((3, 2), np.nan))
    rise = (height_m - eye.height_m) / distance_m - bend_per_m(refraction) * distance_m
    altitude_deg = float(np.degrees(np.arctan(rise)))
    clearance = np.inf if np.isnan(front) else altitude_deg - np.degrees(np.arctan(front))
    return SightLine(
        visible=bool(clearance >= 0.0),
        known=known,
        clearance_deg=float(clearance),
        blocked_at_m=front_m if clearance < 0.0 else np.nan,
        altitude_deg=altitude_deg,
        azimuth_deg=float(azimuth),
        distance_m=distance_m,
    )


def _crossings(start: float, step: float, count: int) -> Floats:
    return (np.arange(count, dtype=np.float64) - start) / step if step else np.empty(0)


def _way_out(start: float, step: float, count: int) -> float:
    return max(((count - 0.5 if step > 0 else -0.5) - start) / step, 0.0) if step else np.inf
