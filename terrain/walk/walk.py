"""The walk in: the quickest way over the ground from where one parks to where one stands."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import cached_property

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import ArrayLike
from scipy import ndimage

from terrain.arrays import Flags, Floats, Numbers, frozen_arrays
from terrain.errors import TerrainError
from terrain.ground.dem import Dem
from terrain.ground.grid import nearest_cells
from terrain.ground.places import Spot
from terrain.ground.relief.water import level_water
from terrain.sun.clock import shifted
from terrain.walk.dark import by_the_clock
from terrain.walk.net import Net
from terrain.walk.pace import DARK_FACTOR, MAX_SLOPE_DEG, PATH_FACTOR, Going, Pace, tobler
from terrain.walk.window import quickest_way


@dataclass(frozen=True, kw_only=True)
class Steepest:
    """The steepest bit of a walk: where it is, and how steep.

    slope_deg: of the way itself over the length of a cell, as one walks in; negative downhill.
    ground_deg: of the ground there, whichever way one walks on it. after_m: how far along the
    walk.
    """

    lon_deg: float
    lat_deg: float
    slope_deg: float
    ground_deg: float
    after_m: float


@dataclass(frozen=True, kw_only=True, eq=False)
@frozen_arrays()
class Walk:
    """A walk from a start to a spot, and back the same way; the arrays are read-only.

    Attributes
    ----------
    start, spot : Spot
        Where it begins, and where it leads.
    lon_deg, lat_deg : (n,) float array, degrees
        Of the way, WGS 84.
    height_m : (n,) float array, metres
        Of its ground.
    distance_m : (n,) float array, metres
        Walked so far, on the map.
    time_s : (n,) float array, seconds
        So far, by the clock, darkness included.
    on_path : (n - 1,) bool array
        Whether each leg leads along a path.
    there_s : float
        The walk in, seconds, darkness included.
    back_s : float
        The walk out by day, seconds.
    dark_s : float
        How much of it is before civil dawn, or after civil dusk, seconds.
    sets_out, arrives : datetime or None
        None where no moment was given.
    ascent_m, descent_m : float
        On the way in, metres.
    off_path_m : float
        How much of the way in is open ground, metres.
    steepest : Steepest
        Where the way is steepest.
    steepest_ground : Steepest
        Where the ground under it is.

    Examples
    --------
    >>> import datetime as dt
    >>> import numpy as np
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(100, 0, 5e5, 0, -100, 6e6), shape=(61, 81))
    >>> row, col = np.mgrid[-30:31, -40:41]
    >>> cone = terrain.Dem(np.maximum(300.0 - 40.0 * np.hypot(row, col), 0.0), grid)
    >>> hill = terrain.hill_at(cone, *map(float, grid.lonlat(30, 40)), name="Cone")
    >>> lon, lat = (float(part) for part in grid.lonlat(30, 10))
    >>> spot = terrain.Spot(lon_deg=lon, lat_deg=lat, name="the stile")
    >>> walk = terrain.walk_in(cone, spot, terrain.Spot(lon_deg=lon + 0.02, lat_deg=lat))
    >>> round(walk.length_m), round(walk.there_s / 60.0), walk.sets_out
    (1307, 26, None)
    """

    start: Spot
    spot: Spot
    lon_deg: Floats
    lat_deg: Floats
    height_m: Floats
    distance_m: Floats
    time_s: Floats
    on_path: Flags
    there_s: float
    back_s: float
    dark_s: float
    sets_out: dt.datetime | None
    arrives: dt.datetime | None
    ascent_m: float
    descent_m: float
    off_path_m: float
    steepest: Steepest
    steepest_ground: Steepest

    @property
    def length_m(self) -> float:
        """Length on the map, metres."""
        return float(self.distance_m[-1])

    @cached_property
    def line(self) -> shapely.LineString:
        """The way as a line in EPSG:4326."""
        return shapely.LineString(np.column_stack([self.lon_deg, self.lat_deg]))

    def time_at(self, distance_m: ArrayLike) -> Floats:
        """Clock seconds from the start to places so far along the way (any shape)."""
        wanted = np.asarray(distance_m, dtype=float)
        return np.asarray(np.interp(wanted, self.distance_m, self.time_s))


def walk_in(
    dem: Dem,
    start: Spot,
    spot: Spot,
    *,
    paths: gpd.GeoDataFrame | None = None,
    water: Flags | None = None,
    pace: Pace = tobler,
    path_factor: float = PATH_FACTOR,
    max_slope_deg: float = MAX_SLOPE_DEG,
    dark_factor: float = DARK_FACTOR,
    sets_out: dt.datetime | None = None,
    arrives: dt.datetime | None = None,
) -> Walk:
    """The quickest walk from a start to a spot.

    Parameters
    ----------
    dem : Dem
        The ground.
    start : Spot
        Where it begins.
    spot : Spot
        Where it leads.
    paths : geopandas.GeoDataFrame, optional
        Lines in EPSG:4326, as `read_paths` gives them; they are open whatever lies under them.
        Ground off them is open ground, all of it without paths.
    water : (rows, cols) bool array, optional
        On the grid of `dem`, closed. Unless given all of `level_water` but what the start or the
        spot is on.
    pace : callable, optional
        Seconds of a leg by its length and its rise, metres, on a path by day, such as `tobler`.
    path_factor : float, optional
        How many times as long open ground takes.
    max_slope_deg : float, optional
        Steeper open ground is closed, degrees.
    dark_factor : float, optional
        How many times as long it takes before civil dawn.
    sets_out : datetime, optional
        When it begins, timezone-aware; without it and `arrives` the whole walk is by day.
    arrives : datetime, optional
        When it ends, timezone-aware, in place of `sets_out`.

    Returns
    -------
    Walk
        Leg by leg, with its times.

    Raises
    ------
    NoGround
        Where either place is off the known ground.
    NoAnswer
        Where no way leads from the one to the other.
    TerrainError
        For factors that make no sense, for both moments at once, and for places too far apart to be
        searched between.

    Examples
    --------
    >>> import datetime as dt
    >>> import numpy as np
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(100, 0, 5e5, 0, -100, 6e6), shape=(61, 81))
    >>> row, col = np.mgrid[-30:31, -40:41]
    >>> cone = terrain.Dem(np.maximum(300.0 - 40.0 * np.hypot(row, col), 0.0), grid)
    >>> hill = terrain.hill_at(cone, *map(float, grid.lonlat(30, 40)), name="Cone")
    >>> lon, lat = (float(part) for part in grid.lonlat(30, 10))
    >>> spot = terrain.Spot(lon_deg=lon, lat_deg=lat, name="the stile")
    >>> seven = dt.datetime(2025, 3, 30, 7, tzinfo=dt.UTC)
    >>> over_there = terrain.Spot(lon_deg=lon + 0.02, lat_deg=lat)
    >>> walk = terrain.walk_in(cone, spot, over_there, arrives=seven)
    >>> f"{walk.sets_out:%H:%M}", round(walk.dark_s / 60.0)
    ('06:34', 0)
    """
    going = Going(
        paths=paths,
        water=_lakes(dem, start, spot) if water is None else water,
        pace=pace,
        path_factor=path_factor,
        max_slope_deg=max_slope_deg,
        dark_factor=dark_factor,
    )
    return quickest_walk(dem, start, spot, going, sets_out=sets_out, arrives=arrives)


def _lakes(dem: Dem, *places: Spot) -> Flags:
    """Level water, but for level ground that one of the places is on: nobody stands on a lake."""
    patches, _ = ndimage.label(level_water(dem), np.ones((3, 3)))
    row, col = dem.grid.rowcol([at.lon_deg for at in places], [at.lat_deg for at in places])
    inside = dem.grid.contains(row, col)
    at = np.rint(row[inside]).astype(int), np.rint(col[inside]).astype(int)
    return np.asarray((patches > 0) & ~np.isin(patches, patches[at]))


def quickest_walk(
    dem: Dem,
    start: Spot,
    spot: Spot,
    going: Going,
    *,
    sets_out: dt.datetime | None = None,
    arrives: dt.datetime | None = None,
) -> Walk:
    """The quickest walk from a start to a spot for one who walks so; all else as in `walk_in`."""
    if sets_out is not None and arrives is not None:
        raise TerrainError(
            f"a walk that sets out at {sets_out} cannot also be told to arrive at {arrives}: "
            "give one of them"
        )
    for place in (start, spot):
        dem.height_at(place.lon_deg, place.lat_deg)
    net, route = quickest_way(dem, start, spot, going)
    nodes, on_path = net.nodes, net.is_path(route)
    lon, lat = net.ground.grid.lonlat(nodes.row[route], nodes.col[route])
    legs_m, rise_m = nodes.legs(route[:-1], route[1:])
    by_day_s = _so_far(going.seconds(legs_m, rise_m, on_path))
    time_s, dark_s, begin = by_the_clock(by_day_s, start, going.dark_factor, sets_out, arrives)
    steepest, ground = _steepest(net, route, lon, lat, _so_far(legs_m))
    there_s = float(time_s[-1])
    return Walk(
        start=start,
        spot=spot,
        lon_deg=lon,
        lat_deg=lat,
        height_m=nodes.height_m[route],
        distance_m=_so_far(legs_m),
        time_s=time_s,
        on_path=on_path,
        there_s=there_s,
        back_s=float(going.seconds(legs_m, -rise_m, on_path).sum()),
        dark_s=dark_s,
        sets_out=begin,
        arrives=None if begin is None else shifted(begin, dt.timedelta(seconds=there_s)),
        ascent_m=float(np.maximum(rise_m, 0.0).sum()),
        descent_m=float(np.maximum(-rise_m, 0.0).sum()),
        off_path_m=float(legs_m[~on_path].sum()),
        steepest=steepest,
        steepest_ground=ground,
    )


def _steepest(
    net: Net, route: Numbers, lon_deg: Floats, lat_deg: Floats, distance_m: Floats
) -> tuple[Steepest, Steepest]:
    """Where the way is steepest over the length of a cell, and where the ground under it is."""
    nodes, cell_m = net.nodes, net.ground.cell_m
    cells = nearest_cells(nodes.row[route], nodes.col[route], net.slope_deg.shape)
    ground_deg = net.slope_deg[cells].astype(float)
    # less than a cell says nothing of the ground, and between two vertices may be next to nothing
    first_m = np.maximum(distance_m - 0.5 * cell_m, 0.0)
    last_m = np.minimum(distance_m + 0.5 * cell_m, distance_m[-1])
    heights = (np.interp(at_m, distance_m, nodes.height_m[route]) for at_m in (last_m, first_m))
    rise_m = np.subtract(*heights)
    slope_deg = np.degrees(np.arctan2(rise_m, np.maximum(last_m - first_m, 0.5 * cell_m)))

    def at(node: int) -> Steepest:
        return Steepest(
            lon_deg=float(lon_deg[node]),
            lat_deg=float(lat_deg[node]),
            slope_deg=float(slope_deg[node]),
            ground_deg=float(ground_deg[node]),
            after_m=float(distance_m[node]),
        )

    return at(int(np.argmax(np.abs(slope_deg)))), at(int(np.nanargmax(ground_deg)))


def _so_far(values: Floats) -> Floats:
    return np.append(0.0, np.cumsum(values))
