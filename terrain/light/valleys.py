"""Valleys: some ground with a name.

A valley is drawn by hand, or found about a place: the ground within some reach of the place that
drains to the stream there. It is bounded by the ridges that part it from the next valleys, and by
the reach where it is longer than that::

            ridge
        ___/     \\___
       /  slope       \\        reach        x  the place
      (   ----> x      )       of it        =  the stream past it, followed down to where it
       \\   ======.    /                        leaves the reach, or comes to open water
        ---------|---'
                 v
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from terrain.arrays import Flags, Floats, Labels, Numbers, frozen_arrays
from terrain.country import Country, country_of
from terrain.errors import NoAnswer, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.features import Features, read_areas
from terrain.ground.grid import Grid
from terrain.ground.places import Hill, Spot
from terrain.ground.raster.warp import cells_within
from terrain.ground.relief.water import LEAST_WATER_M2
from terrain.mist.drainage import Drainage

VALLEY_REACH_M: Final = 3000.0
"""How far a valley goes on about the place it is called by, metres (no source)."""

_STREAM_M: Final = 500.0
_OPEN_WATER_KM2: Final = 1.0
_LEVEL_KM2: Final = LEAST_WATER_M2 / 1e6
_TOUCHING: Final = np.ones((3, 3), dtype=bool)


@dataclass(frozen=True, kw_only=True, eq=False)
@frozen_arrays()
class Valley:
    """Some ground with a name.

    Parameters
    ----------
    name : str
        What it is called.
    grid : Grid
        Where the cells lie.
    cells : (rows, cols) bool array
        Those that belong to it, at least one; read-only.

    Raises
    ------
    ValueError
        For cells of another shape than the grid.
    NoAnswer
        Where no cell belongs to it.

    Examples
    --------
    >>> import numpy as np
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(500, 0, 5e5, 0, -500, 6e6), shape=(4, 4))
    >>> terrain.Valley(name="the dale", grid=grid, cells=np.eye(4, dtype=bool)).area_km2
    1.0
    """

    name: str
    grid: Grid
    cells: Flags

    def __post_init__(self) -> None:
        if self.cells.shape != self.grid.shape:
            raise ValueError(f"cells of shape {self.cells.shape} on a grid of {self.grid.shape}")
        if not self.cells.any():
            raise NoAnswer(f"no ground of the raster lies in {self.name}: choose another area")

    @property
    def area_km2(self) -> float:
        """Its area on the map, square kilometres."""
        return float(np.count_nonzero(self.cells)) * self.grid.cell_m**2 / 1e6


def valleys_in(dem: Dem, areas: Features) -> list[Valley]:
    """Valleys drawn by hand: one for each name, with the known ground inside its outline.

    Parameters
    ----------
    dem : Dem
        The ground.
    areas : path or geopandas.GeoDataFrame
        A file of outlines with names, or a table of them, as for `read_areas`.

    Returns
    -------
    list of Valley
        In the order of the outlines.

    Raises
    ------
    NoAnswer
        Where an outline holds no known ground.
    TerrainError
        Where `read_areas` raises it.

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
    >>> import geopandas as gpd
    >>> import shapely
    >>> dale = shapely.box(lon - 0.01, lat - 0.01, lon + 0.01, lat + 0.01)
    >>> outline = gpd.GeoDataFrame({"name": ["the dale"]}, geometry=[dale], crs="EPSG:4326")
    >>> [(valley.name, round(valley.area_km2, 1)) for valley in terrain.valleys_in(cone, outline)]
    [('the dale', 3.0)]
    """
    table, known = read_areas(areas), ~np.isnan(dem.heights_m)
    return [
        Valley(name=str(name), grid=dem.grid, cells=cells_within(dem.grid, outline) & known)
        for name, outline in zip(table["name"], table.geometry, strict=True)
    ]


def all_ground(country: Country) -> list[Valley]:
    """All the ground as if it were a valley; with mist, all of that and all ground clear of it."""
    mist, known = country.mist, ~np.isnan(country.dem.heights_m)
    cells = {"all ground": known}
    if mist is not None:
        cells = {"all mist": mist.covers, "all clear ground": known & ~mist.covers}
    return [Valley(name=name, grid=country.dem.grid, cells=where) for name, where in cells.items()]


def valley_about(
    ground: Dem | Country, place: Spot | Hill, *, reach_m: float = VALLEY_REACH_M
) -> Valley:
    """The valley about a place: the ground within reach that drains to the stream there.

    The stream is the one that drains most ground of those within 500 m, followed down to where it
    leaves the reach (and any lake it is in there), or comes to the sea or a lake that goes on over
    the raster's edge.

    Parameters
    ----------
    ground : Dem or Country
        A `Country` keeps the way its water runs, which serves where several valleys are asked for.
    place : Spot or Hill
        Its name becomes that of the valley.
    reach_m : float, optional
        How far the valley goes on about it, metres.

    Returns
    -------
    Valley
        With the name of the place.

    Raises
    ------
    NoGround
        Where the place has no known ground.
    TerrainError
        For a reach of 0 or less.

    Examples
    --------
    >>> from affine import Affine
    >>> from pyproj import CRS
    >>> grid = Grid(crs=CRS(32628), transform=Affine(100, 0, 5e5, 0, -100, 6e6), shape=(80, 81))
    >>> row, col = np.mgrid[0:80, 0:81]
    >>> two_valleys = Dem(20.0 * np.abs(np.abs(col - 40) - 20) - 0.5 * row, grid)
    >>> lon, lat = (float(part) for part in grid.lonlat(40, 22))
    >>> west = valley_about(two_valleys, Spot(lon_deg=lon, lat_deg=lat), reach_m=2500.0)
    >>> np.flatnonzero(west.cells[30])[[0, -1]].tolist()
    [0, 40]
    """
    if not 0.0 < reach_m < np.inf:
        raise TerrainError(f"a valley that reaches {reach_m} m is none: give more than 0 m")
    country = country_of(ground)
    dem, drainage = country.dem, country.drainage
    dem.height_at(place.lon_deg, place.lat_deg)
    near, away_m = _near(dem, drainage, place, reach_m)
    drains = _lead_to(drainage.down, near, _mouth(drainage, near, away_m))
    inside = _flags(drainage, near[drains]).reshape(drainage.shape)[1:-1, 1:-1]
    name = place.name or f"{place.lat_deg:.4f}, {place.lon_deg:.4f}"
    return Valley(name=name, grid=dem.grid, cells=inside & ~np.isnan(dem.heights_m))


def _near(
    dem: Dem, drainage: Drainage, place: Spot | Hill, reach_m: float
) -> tuple[Numbers, Floats]:
    """Known cells of the drainage within reach of a place, and how far from it they are."""
    at_row, at_col = (float(part) for part in dem.grid.rowcol(place.lon_deg, place.lat_deg))
    cells = reach_m / dem.cell_m
    rows, cols = (
        np.arange(max(int(at - cells), 0), min(int(at + cells) + 2, size))
        for at, size in zip((at_row, at_col), dem.shape, strict=True)
    )
    away_m = np.hypot(rows[:, np.newaxis] - at_row, cols - at_col) * dem.cell_m
    flat = np.ravel_multi_index((rows[:, np.newaxis] + 1, cols + 1), drainage.shape)
    within = (away_m <= reach_m) & drainage.known[flat]
    return flat[within], away_m[within]


def _mouth(drainage: Drainage, near: Numbers, away_m: Floats) -> int:
    """Where the stream past a place leaves its reach, or the last cell before open water."""
    water = _open_water(drainage)
    dry = (away_m <= max(_STREAM_M, float(away_m.min()))) & ~water[near]
    stream = near[dry] if dry.any() else near[[int(np.argmin(away_m))]]
    at = int(stream[np.argmax(drainage.catchment_km2[stream])])
    inside = _flags(drainage, near)
    # a lake at the end of the reach belongs to the valley on both its shores
    inside |= drainage.level_floors(_LEVEL_KM2)
    leaves = water[drainage.down] | ~inside[drainage.down]
    return drainage.first_on(at, leaves)


def _open_water(drainage: Drainage) -> Flags:
    """The sea and lakes that go on over the raster's edge, flat."""
    level = drainage.level_floors(_OPEN_WATER_KM2).reshape(drainage.shape)
    number, _ = ndimage.label(level, _TOUCHING)
    # the rim round the raster is not known, nor is what water leaves by; a level cell needs
    # level neighbours, so the outermost ones are two cells from it
    off = ndimage.binary_dilation(~drainage.known.reshape(drainage.shape), _TOUCHING, iterations=2)
    over_edge = np.unique(number[off])
    return np.asarray(np.isin(number, over_edge[over_edge > 0])).reshape(-1)


def _flags(drainage: Drainage, cells: NDArray[np.integer[Any]]) -> Flags:
    """True on some cells of a drainage, flat."""
    flags = np.zeros(drainage.down.size, dtype=bool)
    flags[cells] = True
    return flags


def _lead_to(down: Labels, cells: Numbers, mouth: int) -> Flags:
    """Of which cells the way down leads through a cell."""
    at = cells.astype(np.int64)
    arrived: Flags = np.asarray(at == mouth)
    under_way = np.flatnonzero(~arrived)
    while under_way.size:
        below = down[at[under_way]]
        under_way, below = under_way[below >= 0], below[below >= 0]
        at[under_way] = below
        arrived[under_way] = below == mouth
        under_way = under_way[below != mouth]
    return arrived
