"""The cells of a tile that may be vantages, by what is quick to know.

::

    every cell -> sees the summit over the mist -> stands above it, level enough, near enough
               -> the sun passes near where the sky begins over the summit while it stands low,
                  or comes over the ground there

What is left carries a quick value for each criterion of `terrain.vantage.question`. What holds
on any day is found once (`likely_places`), the rest day by day (`likely_on`).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from terrain.arrays import Flags
from terrain.country import Country
from terrain.ground.dem import Dem
from terrain.ground.geodesy import azimuth_and_distance, drop_m
from terrain.sight.beyond import floored
from terrain.sight.known import known_along
from terrain.sight.rays import altitudes_toward, before_and_behind, stays_below
from terrain.sun.sun_line import SunLine
from terrain.vantage.against import against_backdrop, with_backdrop
from terrain.vantage.gaps import with_gaps_behind
from terrain.vantage.limits import Limits
from terrain.vantage.miss import all_steep, none_above, none_near, none_sees
from terrain.vantage.passing import AzimuthAt, may_pass, near_on, where_sky_begins, with_sun
from terrain.view.prospect import VIEW_DEG
from terrain.view.scene import Scene
from terrain.year.cells import sees_summit

_TOP_CELLS = 1.5
_VIEW_RAYS = 17
_NEAR_M, _NEAR_DIP_DEG = 1000.0, 1.0
_BEFORE_DEG = 0.35
_BEFORE_STEPS = 10


def likely_places(scene: Scene, lines: Sequence[SunLine], limits: Limits) -> pd.DataFrame:
    """Cells that may be vantages on one of some days, and how they see the hill.

    NoAnswer where no cell is fit to stand on, or the sun passes the summit from none.
    """
    cells = _with_geometry(scene, _standing_cells(scene, limits), limits)
    about = may_pass(lines, cells, limits)
    cells = cells.assign(sky_deg=cells["altitude_deg"])
    if about.any():
        cells = with_behind(scene, _toward(scene, cells[about]), limits)
    points = where_sky_begins(cells, lines[0]) if lines else None
    near = np.logical_or.reduce([near_on(cells, points, line, limits) for line in lines])
    if not near.any():
        when = f"on {lines[0].day}" if len(lines) == 1 else "on any of these days"
        passed = [with_sun(cells, line) for line in lines]
        raise none_near(scene, limits, passed, when, one_day=len(lines) == 1)
    return with_openness(scene, cells[near], limits.eye_m)


def likely_on(scene: Scene, cells: pd.DataFrame, line: SunLine, limits: Limits) -> pd.DataFrame:
    """Those of the cells that may be vantages on one day, with a quick value for each criterion.

    cells: as `likely_places` gives them. NoAnswer, with what was lacking, where none may.
    """
    near = near_on(cells, where_sky_begins(cells, line), line, limits)
    if not near.any():
        passed = [with_sun(cells, line)]
        raise none_near(scene, limits, passed, f"on {line.day}", one_day=True)
    return against_backdrop(scene.hill, with_sun(cells[near], line), limits)


def _standing_cells(scene: Scene, limits: Limits) -> pd.DataFrame:
    """Cells that see the summit and are fit to stand on."""
    dem, hill = scene.dem, scene.hill
    row, col = dem.grid.rowcol(hill.lon_deg, hill.lat_deg)
    rows, cols = np.ogrid[: dem.shape[0], : dem.shape[1]]
    distance_m = np.hypot(rows - row, cols - col).astype(np.float32) * np.float32(dem.cell_m)
    sees = limits.holds_distance(distance_m)
    sees &= sees_summit(scene, eye_m=limits.eye_m, reach_m=limits.max_distance_m)
    if not sees.any():
        sees = sees_summit(scene, eye_m=limits.eye_m)
        raise none_sees(hill, limits, distance_m, sees, fit_to_stand(scene.country, limits))
    above = sees & clear_of_mist(scene.country, limits)
    if not above.any():
        raise none_above(hill, limits, scene.country, sees)
    fit = above & (scene.country.slope_deg <= limits.max_slope_deg)
    if not fit.any():
        raise all_steep(hill, limits, scene.country.slope_deg[above])
    return cells_where(fit, scene.country)


def clear_of_mist(country: Country, limits: Limits) -> Flags:
    """Where one stands high enough above the mist, (rows, cols); everywhere without one."""
    if country.mist is None:
        return np.ones(country.dem.shape, dtype=bool)
    return country.freeboard_m >= limits.freeboard_m


def fit_to_stand(country: Country, limits: Limits) -> Flags:
    """Where one stands high enough above the mist, on ground that is level enough, (rows, cols)."""
    return clear_of_mist(country, limits) & (country.slope_deg <= limits.max_slope_deg)


def cells_where(fit: Flags, country: Country, **values: NDArray[np.generic]) -> pd.DataFrame:
    """A table of the cells of a mask: where they are, their slope and freeboard, further values.

    values: (rows, cols) by the name of their column.
    """
    at = np.nonzero(fit)
    lon, lat = country.dem.grid.lonlat(*at)
    every = {"slope_deg": country.slope_deg, "freeboard_m": country.freeboard_m} | values
    return pd.DataFrame(
        {"row": at[0], "col": at[1], "lon_deg": lon, "lat_deg": lat}
        | {name: layer[at] for name, layer in every.items()}
    )


def _with_geometry(scene: Scene, cells: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """Direction, distance and altitude of the summit from each cell."""
    hill = scene.hill
    azimuth, distance = azimuth_and_distance(
        cells["lon_deg"], cells["lat_deg"], hill.lon_deg, hill.lat_deg
    )
    ground = scene.dem.heights_m[cells["row"], cells["col"]].astype(float)
    fall = drop_m(distance, scene.refraction)
    altitude = np.degrees(np.arctan2(hill.height_m - fall - ground - limits.eye_m, distance))
    return cells.assign(azimuth_deg=azimuth, distance_m=distance, altitude_deg=altitude)


def _toward(scene: Scene, cells: pd.DataFrame) -> pd.DataFrame:
    """Cells with the way to the hill from the grid's north."""
    place = cells["azimuth_deg"], cells["lon_deg"], cells["lat_deg"]
    return cells.assign(toward_deg=scene.dem.grid.grid_azimuth_deg(*place))


def with_behind(scene: Scene, cells: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """Cells with the ground before the hill and behind it, on any day.

    Stature is not known, NaN, where some of the ground before the hill is not.
    """
    eye_m, cells = limits.eye_m, with_backdrop(scene, cells, limits)
    before, behind = before_and_behind(
        scene.seen,
        scene.own_ground,
        cells["row"],
        cells["col"],
        cells["toward_deg"],
        cells["distance_m"],
        eye_m=eye_m,
        refraction=scene.refraction,
    )
    eye_height_m = scene.dem.heights_m[cells["row"], cells["col"]].astype(float) + eye_m
    behind = floored(scene.seen, behind, eye_height_m, scene.refraction)
    cells = cells.assign(
        behind_deg=behind,
        sky_deg=np.maximum(cells["altitude_deg"], behind),
        known_between=~np.isnan(before),
        stature_deg=cells["altitude_deg"] - before,
        isolation_deg=np.minimum(cells["altitude_deg"] - behind, 90.0),
    )
    return with_gaps_behind(scene.country, cells, cells["sky_deg"], eye_m)


def known_to_hill(dem: Dem, cells: pd.DataFrame, azimuth_deg: ArrayLike) -> Flags:
    """Whether all ground on the way from cells to their hill is known, (n,), but for its last cell.

    azimuth_deg: (n,) of the summit from each.
    """
    at = cells["row"].to_numpy(), cells["col"].to_numpy()
    known_m = known_along(dem, *at, np.asarray(azimuth_deg, dtype=float))
    return np.asarray(known_m > cells["distance_m"] - _TOP_CELLS * dem.cell_m)


def with_openness(scene: Scene, cells: pd.DataFrame, eye_m: float) -> pd.DataFrame:
    """Cells with how open the view about the hill is, and the way to it from the grid's north.

    Open is the share of the directions that no near ground stands up into, nor may: unknown near
    ground is not open.
    """
    cells = _toward(scene, cells)
    is_open = [
        stays_below(
            scene.seen,
            cells["row"],
            cells["col"],
            cells["toward_deg"] + turn,
            -_NEAR_DIP_DEG,
            reach_m=_NEAR_M,
            eye_m=eye_m,
            refraction=scene.refraction,
        )
        for turn in np.linspace(-VIEW_DEG, VIEW_DEG, _VIEW_RAYS)
    ]
    return cells.assign(open_share=np.stack(is_open).mean(axis=0))


def hidden_before(scene: Scene, cells: pd.DataFrame, azimuth_at: AzimuthAt, eye_m: float) -> Flags:
    """Whether the skyline hid the whole disc at each of its earlier, lower places, (n,).

    azimuth_at: the sun's azimuth (steps, n), degrees, when its upper limb is at altitudes of that
    shape, for these cells.
    """
    down = _BEFORE_DEG * np.arange(1, _BEFORE_STEPS + 1)[:, np.newaxis]
    limb = cells["altitude_deg"].to_numpy(dtype=float) - down
    lon, lat = (np.tile(cells[name], _BEFORE_STEPS) for name in ("lon_deg", "lat_deg"))
    ground, _ = altitudes_toward(
        scene.seen,
        np.tile(cells["row"], _BEFORE_STEPS),
        np.tile(cells["col"], _BEFORE_STEPS),
        scene.dem.grid.grid_azimuth_deg(azimuth_at(limb).ravel(), lon, lat),
        eye_m=eye_m,
        refraction=scene.refraction,
    )
    eye_height_m = scene.seen.heights_m[cells["row"], cells["col"]].astype(float) + eye_m
    skyline = floored(scene.seen, ground.reshape(limb.shape), eye_height_m, scene.refraction)
    return np.asarray(~(skyline < limb).any(axis=0))
