"""Summits with their topographic prominence, and the hill a name or a place means."""

from __future__ import annotations

import difflib
from collections.abc import Sequence

import geopandas as gpd
import numpy as np

from terrain.errors import NoGround, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.features import Features
from terrain.ground.geodesy import azimuth_and_distance
from terrain.ground.places import Hill
from terrain.ground.relief.prominence import DEFAULT_PROMINENCE_M
from terrain.ground.relief.summit_table import check_prominence, summit_cells, summit_table
from terrain.ground.relief.tops import Tops, cells_about, find_tops

SNAP_M = 300.0
"""How far from a given place its hill's highest cell is looked for, metres."""


def find_summits(
    dem: Dem,
    *,
    min_prominence_m: float = DEFAULT_PROMINENCE_M,
    names: Features | None = None,
    tops: Tops | None = None,
) -> gpd.GeoDataFrame:
    """Every summit of the ground as delivered with at least some prominence, highest first.

    Prominence is the height above the highest col on the way to higher ground; steps lead to
    all eight neighbours. Of summits of one height the more northern, then western, is taken for
    the higher.

    Parameters
    ----------
    dem : Dem
        The ground.
    min_prominence_m : float, optional
        Metres, above 0.
    names : path or geopandas.GeoDataFrame, optional
        Named places, as for `read_names`; each name goes to the nearest summit within 300 m.
    tops : Tops, optional
        Those of `dem`, found here unless given; `Country.summits` keeps them.

    Returns
    -------
    geopandas.GeoDataFrame
        One row a summit: `name` ("" if none), `height_m`, `prominence_m`, `col_height_m` (of the
        key col), `bounded`, `col_lon_deg`, `col_lat_deg`, `geometry` (points, EPSG:4326). Where the
        way to higher ground may leave by the raster's edge or over unknown ground at a higher level
        than any known col, `bounded` is True, the prominence is a lower bound and the col is the
        lowest point of the way out; so it is always for the highest summit, for higher ground must
        lie elsewhere. Where the names come with heights, `listed_m`, NaN where one has none. The
        table's `attrs` hold `min_prominence_m`.

    Raises
    ------
    TerrainError
        For a prominence that is not above 0, and for names that cannot be read.

    References
    ----------
    The definition by key cols: e.g. Kirmse, A. and de Ferranti, J. (2017), Calculating the
    prominence and isolation of every mountain in the world, Progress in Physical Geography 41.

    Examples
    --------
    >>> from affine import Affine
    >>> from pyproj import CRS
    >>> from terrain.ground.grid import Grid
    >>> transform = Affine(50, 0, 5e5, 0, -50, 6e6)
    >>> grid = Grid(crs=CRS("EPSG:32628"), transform=transform, shape=(3, 5))
    >>> ridge = Dem([[0, 0, 0, 0, 0], [0, 90, 40, 70, 0], [0, 0, 0, 0, 0]], grid)
    >>> find_summits(ridge)[["height_m", "prominence_m", "col_height_m"]].values.tolist()
    [[90.0, 90.0, 0.0], [70.0, 30.0, 40.0]]
    """
    check_prominence(min_prominence_m)
    tops = find_tops(dem) if tops is None else tops
    ground = dem.as_delivered
    found = summit_cells(tops, ground.heights_m, min_prominence_m)
    return summit_table(ground.grid, found, min_prominence_m=min_prominence_m, names=names)


def hill_named(summits: gpd.GeoDataFrame, name: str) -> Hill:
    """The hill of a table of summits that a name means; capitals do not matter.

    A whole name is preferred; else a part that only one name contains.

    Parameters
    ----------
    summits : geopandas.GeoDataFrame
        As `find_summits` gives it.
    name : str
        The name, or a part of it.

    Returns
    -------
    Hill
        The one that is meant.

    Raises
    ------
    TerrainError
        Where no name or several fit.

    Examples
    --------
    >>> from shapely import Point
    >>> table = {"name": ["Great Hoo", "Hoo Pike"], "height_m": [812.0, 640.0]}
    >>> summits = gpd.GeoDataFrame(table, geometry=[Point(-24, 54.4), Point(-24.1, 54.4)])
    >>> hill_named(summits, "pike").name
    'Hoo Pike'
    >>> hill_named(summits, "hoo")
    Traceback (most recent call last):
    terrain.errors.TerrainError: 'hoo' may be Great Hoo or Hoo Pike: say which
    """
    wanted = name.strip().casefold()
    known = [str(known).casefold() for known in summits["name"]]
    whole = [row for row, is_known in enumerate(known) if wanted and is_known == wanted]
    part = [row for row, is_known in enumerate(known) if wanted and wanted in is_known]
    fitting = whole or part
    if len(fitting) != 1:
        raise TerrainError(_which(summits, name, fitting))
    return hill_in(summits, fitting[0])


def hill_in(summits: gpd.GeoDataFrame, number: int) -> Hill:
    """The hill of a row of a table from `find_summits`, by its number from 0."""
    summit = summits.iloc[number]
    return Hill(
        lon_deg=float(summit.geometry.x),
        lat_deg=float(summit.geometry.y),
        height_m=float(summit["height_m"]),
        name=str(summit["name"]),
        min_prominence_m=float(summits.attrs.get("min_prominence_m", DEFAULT_PROMINENCE_M)),
    )


def summits_called(summits: gpd.GeoDataFrame, names: Sequence[str]) -> gpd.GeoDataFrame:
    """The rows of some names in a table of summits; without any, all that have a name, or all.

    Raises what `hill_named` raises of each name.

    >>> from shapely import Point
    >>> table = {"name": ["Great Hoo", ""], "height_m": [812.0, 640.0]}
    >>> summits = gpd.GeoDataFrame(table, geometry=[Point(-24, 54.4), Point(-24.1, 54.4)])
    >>> list(summits_called(summits, [])["height_m"])
    [812.0]
    """
    if names:
        chosen = {hill_named(summits, name).name for name in names}
        return summits[summits["name"].isin(chosen)]
    named = summits[summits["name"] != ""]
    return named if len(named) else summits


def hill_at(
    dem: Dem, lon_deg: float, lat_deg: float, *, snap_m: float = SNAP_M, name: str = ""
) -> Hill:
    """The hill at a place: the highest cell of the ground as delivered near it.

    Of cells of one height the nearest to the place. The cell that holds the place always counts.

    Parameters
    ----------
    dem : Dem
        The ground.
    lon_deg : float
        Longitude, WGS 84 degrees.
    lat_deg : float
        Latitude, WGS 84 degrees.
    snap_m : float, optional
        How far about the place is looked, metres.
    name : str, optional
        What to call the hill.

    Returns
    -------
    Hill
        At the middle of that cell.

    Raises
    ------
    NoGround
        Off the raster, and where nothing within `snap_m` is known.
    TerrainError
        For a `snap_m` that is below 0.

    Examples
    --------
    >>> from affine import Affine
    >>> from pyproj import CRS
    >>> from terrain.ground.grid import Grid
    >>> transform = Affine(50, 0, 5e5, 0, -50, 6e6)
    >>> grid = Grid(crs=CRS("EPSG:32628"), transform=transform, shape=(3, 5))
    >>> ridge = Dem([[0, 0, 0, 0, 0], [0, 90, 40, 70, 0], [0, 0, 0, 0, 0]], grid)
    >>> hill_at(ridge, *map(float, grid.lonlat(1, 3)), snap_m=60).height_m
    70.0
    """
    if not 0 <= snap_m < np.inf:
        raise TerrainError(f"{snap_m} m is no distance to look for a hill in: give 0 or more")
    ground = dem.as_delivered
    at_row, at_col = ground.grid.cell_of(lon_deg, lat_deg)
    width_m, depth_m = ground.grid.cell_sizes_m()
    rows = cells_about(at_row, snap_m / depth_m[at_row] + 1.0, ground.shape[0])
    cols = cells_about(at_col, snap_m / width_m[at_row] + 1.0, ground.shape[1])
    row, col = (part.ravel() for part in np.mgrid[rows, cols])
    lon, lat = ground.grid.lonlat(row, col)
    _, distance_m = azimuth_and_distance(lon_deg, lat_deg, lon, lat)
    near = (distance_m <= snap_m) | ((row == at_row) & (col == at_col))
    heights = np.where(near, ground.heights_m[row, col], np.nan)
    if np.isnan(heights).all():
        raise NoGround(
            f"the ground at {lat_deg:.4f}, {lon_deg:.4f} is unknown for {snap_m:.0f} m around: "
            "choose another place or another raster"
        )
    best = np.lexsort((distance_m, -heights))[0]
    return Hill(
        lon_deg=float(lon[best]), lat_deg=float(lat[best]), height_m=float(heights[best]), name=name
    )


def _which(summits: gpd.GeoDataFrame, name: str, fitting: list[int]) -> str:
    names = [str(summits["name"].iloc[row]) for row in fitting]
    if len(set(names)) > 1:
        return f"{name!r} may be {', '.join(names[:-1])} or {names[-1]}: say which"
    if names:
        at = " and ".join(f"{p.y:.4f}, {p.x:.4f}" for p in summits.geometry.iloc[fitting])
        return f"{len(names)} summits are called {names[0]}, at {at}: give the place instead"
    known = [str(known) for known in summits["name"] if known]
    if not known:
        return f"no summit is called {name!r}: none has a name, give a file of names or a place"
    by_fold = {known.casefold(): known for known in known}
    close = difflib.get_close_matches(name.strip().casefold(), by_fold, n=3, cutoff=0.5)
    meant = " or ".join(by_fold[fold] for fold in close)
    return f"no summit is called {name!r}" + (f": did you mean {meant}?" if meant else "")
