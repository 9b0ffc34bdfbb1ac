"""How far ground can matter to a skyline, and the ground about a place read as far as that."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike
from pyproj import CRS

from terrain.arrays import Flags, Floats
from terrain.constants import TERRESTRIAL_REFRACTION
from terrain.ground.dem import Dem
from terrain.ground.geodesy import azimuth_and_distance
from terrain.ground.places import Hill, Spot
from terrain.ground.raster.far import Needed, blocks_of, files_of, highest_m, read_far
from terrain.ground.raster.files import RasterFiles
from terrain.ground.raster.sheet import Said
from terrain.sight.bend import bend_per_m
from terrain.sight.beyond import lowest_deg
from terrain.sight.skyline import skyline

_LEAST_BEND = 1e-12


def with_far_ground(
    dem: Dem,
    paths: RasterFiles,
    *,
    around: Spot | Hill,
    only_there: bool = False,
    refraction: float = TERRESTRIAL_REFRACTION,
    crs: CRS | str | None = None,
    height_unit: str | None = None,
    band: int | None = None,
    variable: str | None = None,
    trust: bool = False,
) -> Dem:
    """The ground about a place with what lies beyond, as far as it can make a skyline.

    How far that is follows from the earth's curve and the highest ground of the files. Of the
    ground beyond the highest of each block of cells is kept, so that no skyline is too low; where
    it makes the skyline of a spot, `skyline` reads the cells themselves.

    Parameters
    ----------
    dem : Dem
        The ground about the place, as `read_dem` gives it.
    paths : path, or sequence of them
        The files that it was read from.
    around : Spot or Hill
        The place.
    only_there : bool, optional
        Only the skyline of the place itself is wanted, a `Spot`, which nearer ground bounds; unless
        given, those of all the ground about it.
    refraction : float, optional
        Coefficient k of terrestrial refraction, dimensionless; 0.13 unless given.
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
    Dem
        The same with its `far` ground, which says in words what was read `how`; without any where
        the files hold no more, or none that can matter.

    Raises
    ------
    TerrainError
        As in `read_dem`.

    Examples
    --------
    >>> import numpy as np
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(50, 0, 5e5, 0, -50, 6e6), shape=(2, 3))
    >>> spot = terrain.Spot(lon_deg=-15.0, lat_deg=54.1)
    >>> terrain.with_far_ground(terrain.Dem(np.zeros(grid.shape), grid), "no.tif", around=spot)
    Traceback (most recent call last):
    terrain.errors.TerrainError: there is no file no.tif
    """
    said = Said(crs=crs, height_unit=height_unit, band=band, variable=variable, trust=trust)
    files = files_of(paths, said)
    side = blocks_of(dem, files)
    if tuple(-(-count // side) for count in files[1].shape) == dem.as_delivered.shape:
        return dem
    top_m = max(highest_m(files), float(np.nanmax(dem.heights_m)))
    if only_there and isinstance(around, Spot):
        line = skyline(dem, around, refraction=refraction)
        lines_deg, eye_m = line.altitude_deg, line.eye_height_m
    else:
        eye_m = float(np.nanmax(dem.heights_m))
        lines_deg = np.broadcast_to(lowest_deg(dem, eye_m, refraction)[0], (4,))
    far_m = farthest_m(top_m, eye_m, lines_deg, refraction)
    far = read_far(
        dem,
        files,
        needed=_nearer_than(around, far_m),
        place=(around.lon_deg, around.lat_deg),
        to_m=float(far_m.max()),
    )
    return replace(dem, far=far if np.isfinite(far.highest_m) else None)


def farthest_m(
    top_m: float, eye_height_m: float, altitude_deg: ArrayLike, refraction: float
) -> Floats:
    """How far off ground no higher than some can stand over lines of sight, metres.

    top_m, eye_height_m: above the same zero. altitude_deg: of the lines, any shape. 0 where it
    stands over them nowhere.

    >>> (farthest_m(1000.0, 100.0, [-0.3, 1.0], 0.13) / 1000).round(1).tolist()
    [159.4, 44.0]
    """
    rise = np.tan(np.radians(np.asarray(altitude_deg, dtype=float)))
    bend = max(bend_per_m(refraction), _LEAST_BEND)
    square = rise**2 + 4.0 * bend * (top_m - eye_height_m)
    return np.asarray(np.maximum((np.sqrt(np.maximum(square, 0.0)) - rise) / (2.0 * bend), 0.0))


def _nearer_than(around: Spot | Hill, far_m: Floats) -> Needed:
    """Whether places are nearer than so many metres, (n,) in directions that go all round."""

    def needed(lon_deg: Floats, lat_deg: Floats, slack_m: float) -> Flags:
        azimuth, distance_m = azimuth_and_distance(around.lon_deg, around.lat_deg, lon_deg, lat_deg)
        aside = np.degrees(np.arctan2(slack_m, distance_m))
        first, last = ((azimuth + side * aside) / 360.0 * far_m.size for side in (-1.0, 1.0))
        most = [
            far_m.take(np.arange(int(one) - 1, int(other) + 2), mode="wrap").max()
            for one, other in zip(np.floor(first), np.floor(last), strict=True)
        ]
        return np.asarray(distance_m - slack_m <= np.array(most))

    return needed
