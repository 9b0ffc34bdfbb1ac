"""Every cell at once: what stands before a hill and behind it, and when the sun passes it."""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np
import pandas as pd

from terrain.arrays import Flags, Floats, Singles
from terrain.cores import share_out
from terrain.ground.geodesy import azimuth_and_distance, wrap_deg
from terrain.ground.grid import Grid
from terrain.ground.places import Spot
from terrain.sight.bend import bend_per_m
from terrain.sight.beyond import lowest_deg
from terrain.sight.known import lowest_hidden_m
from terrain.sight.rays import far_toward
from terrain.sight.viewshed import viewshed
from terrain.sun.clock import local_zone
from terrain.view.backdrop import Backdrop
from terrain.view.backdrops import backdrops, owned
from terrain.view.scene import Scene
from terrain.year._days_kernels import Asked, days_of_year
from terrain.year._fan_kernels import PARTS, Ground, Summit, fan_part
from terrain.year.tables import sun_year

RAYS_PER_CELL: Final = 1.5
PLACE_STEP: Final = 1.0 / 4096.0
LATTICE_CELLS: Final = 64

_DAYS: Final = (
    *("distance_m", "azimuth_deg", "altitude_deg"),
    *("north_day", "north_spell_days", "south_day", "south_spell_days"),
)
"""What the kernel finds, in its order, as an atlas calls it."""


def sees_summit(scene: Scene, *, eye_m: float, reach_m: float | None = None) -> Flags:
    """Which cells see the summit: those that the summit sees, as sight goes both ways."""
    hill = scene.hill
    lift = max(hill.height_m - scene.dem.height_at(hill.lon_deg, hill.lat_deg), 0.0)
    summit = Spot(lon_deg=hill.lon_deg, lat_deg=hill.lat_deg, eye_m=lift)
    return viewshed(
        scene.seen, summit, target_m=eye_m, refraction=scene.refraction, reach_m=reach_m
    )


def cells_of(
    scene: Scene,
    year: int,
    *,
    tolerance_deg: float,
    against: Backdrop | str | None,
    evening: bool,
    eye_m: float,
) -> dict[str, Any]:
    """The arrays of an `Atlas` by their names, (rows, cols) each."""
    dem, hill = scene.dem, scene.hill
    sees = sees_summit(scene, eye_m=eye_m)
    if scene.mist is not None:
        sees &= ~scene.mist.covers
    on_skyline, stature, isolation = _before_and_behind(scene, sees, eye_m)
    under = np.where(on_skyline, np.float32(0.0), -isolation)
    if against is not None:
        under[on_skyline != (against == Backdrop.SKY)] = np.nan
        _leave_out_others(scene, sees & ~on_skyline, against, under, eye_m)
    row, col = _place(scene)
    asked = Asked(
        row=row,
        col=col,
        height_m=hill.height_m,
        eye_m=eye_m,
        tolerance=math.radians(tolerance_deg),
        evening=evening,
        cell_m=dem.cell_m,
        bend=bend_per_m(scene.refraction),
    )
    found = np.empty((len(_DAYS), *dem.shape), dtype=np.float32)
    heights, lattice = dem.heights_m, _lattice(dem.grid, row, col)
    tables = sun_year(year, local_zone(hill.lon_deg, hill.lat_deg))
    share_out(
        dem.shape[0],
        lambda first, end: days_of_year(
            first, end, heights, sees, under, asked, lattice, LATTICE_CELLS, tables, found
        ),
    )
    before = {"sees": sees, "on_skyline": on_skyline}
    over = {"stature_deg": stature, "isolation_deg": isolation}
    return {**before, **over, **dict(zip(_DAYS, found, strict=True))}


def _before_and_behind(scene: Scene, sees: Flags, eye_m: float) -> tuple[Flags, Singles, Singles]:
    """On the skyline or not, and degrees over the other ground before the hill and behind it."""
    dem, hill = scene.dem, scene.hill
    on_skyline = np.zeros(dem.shape, dtype=bool)
    stature, isolation = np.full((2, *dem.shape), np.nan, dtype=np.float32)
    ground = Ground(
        surface=scene.seen.heights_m,
        bare=dem.heights_m,
        own=scene.own_ground,
        wanted=sees,
        cell_m=dem.cell_m,
        bend=bend_per_m(scene.refraction),
        eye_m=eye_m,
    )
    row, col = (round(place / PLACE_STEP) * PLACE_STEP for place in _place(scene))
    summit = Summit(row, col, hill.height_m)

    def fan(first: int, end: int) -> None:
        for part in range(first, end):
            fan_part(part, ground, summit, RAYS_PER_CELL, on_skyline, stature, isolation)

    share_out(PARTS, fan)
    found = sees, on_skyline, isolation
    share_out(dem.shape[0], lambda first, end: _hide_by_sea(scene, *found, eye_m, first, end))
    _hide_by_far(scene, *found, eye_m)
    return on_skyline, stature, isolation


def _hide_by_sea(
    scene: Scene,
    sees: Flags,
    on_skyline: Flags,
    isolation: Singles,
    eye_m: float,
    first: int,
    end: int,
) -> None:
    """Take from rows the cells that see the sea's horizon, or what hides it, over the summit."""
    row, col = _place(scene)
    down, along = np.ogrid[first:end, : scene.dem.shape[1]]
    away_m = np.maximum(np.hypot(down - row, along - col), 1.0) * scene.dem.cell_m
    eye_height_m = scene.dem.heights_m[first:end] + eye_m
    rise = (scene.hill.height_m - eye_height_m) / away_m - bend_per_m(scene.refraction) * away_m
    lowest, _ = lowest_deg(scene.seen, eye_height_m, scene.refraction)
    over = np.degrees(np.arctan(rise)) - lowest
    hidden = sees[first:end] & (over < 0.0)
    on_skyline[first:end] &= ~hidden
    isolation[first:end][hidden] = np.fmin(isolation[first:end], over)[hidden]


def _hide_by_far(
    scene: Scene, sees: Flags, on_skyline: Flags, isolation: Singles, eye_m: float
) -> None:
    """Take from cells what ground beyond the raster takes that stands behind the summit."""
    if scene.seen.far is None:
        return
    summit, cells = _place(scene), np.nonzero(sees)
    down, along = (cell - place for cell, place in zip(cells, summit, strict=True))
    away_m, top_deg = _summit_from(scene, cells, eye_m)
    eyes_m = scene.dem.heights_m[cells].astype(float) + eye_m
    behind_deg = np.nan_to_num(top_deg - isolation[cells], nan=-90.0)
    least_m = lowest_hidden_m(eyes_m, behind_deg, away_m, refraction=scene.refraction)
    some = least_m < scene.seen.far.highest_m
    cells, top_deg = (cells[0][some], cells[1][some]), top_deg[some]
    toward_deg = np.degrees(np.arctan2(-along[some], down[some]))
    far_deg, _ = far_toward(
        scene.seen, *cells, toward_deg, eyes_m[some], away_m[some], refraction=scene.refraction
    )
    on_skyline[cells] &= far_deg <= top_deg
    isolation[cells] = np.fmin(isolation[cells], top_deg - far_deg)


def _summit_from(scene: Scene, cells: tuple[Any, ...], eye_m: float) -> tuple[Floats, Floats]:
    """How far off the summit is from cells, metres, and its altitude, degrees, (n,) each."""
    row, col = _place(scene)
    away_m = np.maximum(np.hypot(cells[0] - row, cells[1] - col), 1.0) * scene.dem.cell_m
    eyes_m = scene.dem.heights_m[cells].astype(float) + eye_m
    rise = (scene.hill.height_m - eyes_m) / away_m - bend_per_m(scene.refraction) * away_m
    return away_m, np.degrees(np.arctan(rise))


def _leave_out_others(
    scene: Scene, below: Flags, against: Backdrop | str, under: Singles, eye_m: float
) -> None:
    """Take from cells that have no sky behind the summit those with mist there for ground, or so.

    below: (rows, cols) those cells. under: (rows, cols), to be NaN where another backdrop is.
    """
    if scene.mist is None or against == Backdrop.SKY:
        under[below & (against == Backdrop.MIST)] = np.nan
        return
    summit, (row, col) = _place(scene), np.nonzero(below)
    away_m, top_deg = _summit_from(scene, (row, col), eye_m)
    cells = pd.DataFrame({"row": row, "col": col, "distance_m": away_m, "altitude_deg": top_deg})
    cells["toward_deg"] = np.degrees(np.arctan2(summit[1] - col, row - summit[0]))
    met = backdrops(scene.country, cells, owned(scene), 1, eye_m=eye_m)[:, 0]
    other = met == (Backdrop.GROUND if against == Backdrop.MIST else Backdrop.MIST)
    under[row[other], col[other]] = np.nan


def _place(scene: Scene) -> tuple[float, float]:
    """Row and column of the summit, fractional."""
    row, col = scene.dem.grid.rowcol(scene.hill.lon_deg, scene.hill.lat_deg)
    return float(row), float(col)


def _lattice(grid: Grid, row: float, col: float) -> Floats:
    """What changes slowly over a raster, every `LATTICE_CELLS` cells, (4, n, m).

    Latitude and longitude, radians; what the true azimuth of a summit at (row, col) is more than
    that of the straight line to it on the grid, radians; and how much longer than that line the
    geodesic is.
    """
    spans = (max(math.ceil((size - 1) / LATTICE_CELLS), 1) for size in grid.shape)
    nodes = [np.arange(span + 1) * float(LATTICE_CELLS) for span in spans]
    at_row, at_col = np.meshgrid(*nodes, indexing="ij")
    lon, lat = grid.lonlat(at_row, at_col)
    # at the summit itself there is no direction to it: take that from the next cell
    on_top = np.hypot(row - at_row, col - at_col) < 1.0
    from_row = at_row + on_top * 2.0
    to_lon, to_lat = grid.lonlat(row, col)
    azimuth, distance = azimuth_and_distance(*grid.lonlat(from_row, at_col), to_lon, to_lat)
    on_grid = np.degrees(np.arctan2(col - at_col, from_row - row))
    length = np.hypot(row - from_row, col - at_col) * grid.cell_m
    # over 180 degrees the longitude must not jump back
    lon = lon[0, 0] + wrap_deg(lon - lon[0, 0])
    turned = wrap_deg(azimuth - on_grid)
    return np.stack([np.radians(lat), np.radians(lon), np.radians(turned), distance / length])
