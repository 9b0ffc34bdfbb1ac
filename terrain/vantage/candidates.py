"""The cells of a tile that may be vantages, sifted by what is quick to know.

::

    every cell -> sees the summit over the mist -> stands above it, level enough, near enough
               -> the sun passes the summit as it rises -> the summit makes the skyline
               -> the sun was not up before

What is left carries a quick value for each criterion of `terrain.vantage.criteria`. What holds
on any day is found once (`open_cells`, `with_skyline`), and then sifted day by day (`sift_day`).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from terrain.constants import SUN_SEMIDIAMETER_AT_1_AU_DEG
from terrain.errors import NoAnswer
from terrain.ground.geodesy import azimuth_and_distance, drop_m, wrap_deg
from terrain.ground.places import Spot
from terrain.sight.toward import altitudes_toward, before_and_behind
from terrain.sight.viewshed import viewshed
from terrain.sun.sun_line import SunLine
from terrain.vantage.limits import Limits
from terrain.view.scene import Scene

__all__ = [
    "VIEW_DEG",
    "hidden_before",
    "open_cells",
    "open_shares",
    "passes_near",
    "sift",
    "sift_day",
    "standing_cells",
    "with_behind",
    "with_skyline",
]

AzimuthAt = Callable[[NDArray[np.float64]], NDArray[np.float64]]

VIEW_DEG: Final = 8.0
"""How far to either side of a summit the view about it reaches: a 130 mm lens on a full frame."""

_SLACK_DEG = 0.4
_VIEW_RAYS = 17
_NEAR_M, _NEAR_DIP_DEG = 1000.0, 1.0
_BEFORE_DEG = 0.35
_BEFORE_STEPS = 10


def sift(scene: Scene, line: SunLine, limits: Limits) -> pd.DataFrame:
    """The cells that may be vantages, with a quick value for each criterion."""
    return sift_day(scene, open_cells(scene, limits), line, limits)


def sift_day(scene: Scene, cells: pd.DataFrame, line: SunLine, limits: Limits) -> pd.DataFrame:
    """Those of the cells that may be vantages on one day, with a quick value for each criterion.

    cells: as `open_cells` gives them, or what is left of them after `with_skyline`.
    """
    cells = cells.assign(offset_deg=_offset_deg(cells, line))
    near = cells[_is_near(cells["offset_deg"], limits)]
    if near.empty:
        closest = cells["offset_deg"].abs().min()
        miss = (
            "it never stands as high as the summit"
            if np.isnan(closest)
            else (f"the closest misses by {closest:.1f} degrees")
        )
        raise NoAnswer(
            f"no place that sees {scene.hill.label} has the sun rise within "
            f"{limits.tolerance_deg} degrees of it on {line.day}: {miss}; "
            "try another date or another hill"
        )
    shown = near if "behind_deg" in near else with_skyline(scene, near, limits.eye_m)
    shown = shown[shown["behind_deg"] < shown["altitude_deg"] - 0.01]
    if shown.empty:
        raise NoAnswer(
            f"from every place where the sun rises near {scene.hill.label} on {line.day} "
            "higher ground stands behind it: try another date or another hill"
        )

    def rising(limb_deg: NDArray[np.float64]) -> NDArray[np.float64]:
        return line.azimuth_at(limb_deg - SUN_SEMIDIAMETER_AT_1_AU_DEG, shown["lat_deg"])

    first = shown[hidden_before(scene, shown, rising, limits.eye_m)]
    if first.empty:
        raise NoAnswer(
            f"wherever the sun rises near {scene.hill.label} on {line.day} it has already "
            "appeared over lower ground beside it: try another date or another hill"
        )
    return first


def open_cells(scene: Scene, limits: Limits) -> pd.DataFrame:
    """Cells that see the summit and are fit to stand on, whatever the day, and how they see it."""
    return _with_geometry(scene, standing_cells(scene, limits), limits)


def passes_near(cells: pd.DataFrame, line: SunLine, limits: Limits) -> NDArray[np.bool_]:
    """Whether the sun of a day passes the summit near enough for a cell to be looked at, (n,)."""
    return _is_near(_offset_deg(cells, line), limits)


def standing_cells(scene: Scene, limits: Limits) -> pd.DataFrame:
    """Cells that see the summit and are fit to stand on: row, col, slope, freeboard, distance."""
    dem, hill = scene.dem, scene.hill
    row, col = dem.grid.rowcol(hill.lon_deg, hill.lat_deg)
    rows, cols = np.ogrid[: dem.shape[0], : dem.shape[1]]
    distance_m = np.hypot(rows - row, cols - col).astype(np.float32) * np.float32(dem.cell_m)
    near = (distance_m >= limits.min_distance_m) & (distance_m <= limits.max_distance_m)
    lift = max(hill.height_m - dem.height_at(hill.lon_deg, hill.lat_deg), 0.0)
    summit = Spot(lon_deg=hill.lon_deg, lat_deg=hill.lat_deg, eye_m=lift)
    sees = near & viewshed(
        scene.seen,
        summit,
        target_m=limits.eye_m,
        refraction=scene.refraction,
        reach_m=limits.max_distance_m,
    )
    if not sees.any():
        raise NoAnswer(
            f"no place between {limits.min_distance_m:.0f} and {limits.max_distance_m:.0f} m "
            f"from {hill.label} sees its summit"
        )
    freeboard = scene.country.freeboard_m
    above = sees & (np.isnan(freeboard) | (freeboard >= limits.freeboard_m))
    if scene.mist is not None:
        above &= ~scene.mist.covers
    if not above.any():
        raise NoAnswer(
            f"no place that sees {hill.label} stands {limits.freeboard_m:.0f} m above the mist: "
            "try a lower mist, or less freeboard"
        )
    slope = scene.country.slope_deg
    fit = above & (slope <= limits.max_slope_deg)
    if not fit.any():
        raise NoAnswer(
            f"every place that sees {hill.label} is steeper than {limits.max_slope_deg:.0f} "
            "degrees: allow more, with care"
        )
    at = np.nonzero(fit)
    return pd.DataFrame(
        {
            "row": at[0],
            "col": at[1],
            "slope_deg": slope[at],
            "freeboard_m": freeboard[at],
            "distance_m": distance_m[at],
        }
    )


def _with_geometry(scene: Scene, cells: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """Direction, distance and altitude of the summit from each cell."""
    hill = scene.hill
    lon, lat = scene.dem.grid.lonlat(cells["row"], cells["col"])
    azimuth, distance = azimuth_and_distance(lon, lat, hill.lon_deg, hill.lat_deg)
    ground = scene.dem.heights_m[cells["row"], cells["col"]].astype(float)
    fall = drop_m(distance, scene.refraction)
    altitude = np.degrees(np.arctan2(hill.height_m - fall - ground - limits.eye_m, distance))
    return cells.assign(
        lon_deg=lon,
        lat_deg=lat,
        azimuth_deg=azimuth,
        distance_m=distance,
        altitude_deg=altitude,
    )


def _offset_deg(cells: pd.DataFrame, line: SunLine) -> NDArray[np.float64]:
    """How far from the summit the sun stands as its top comes to the summit's altitude, (n,)."""
    altitude = cells["altitude_deg"].to_numpy()
    rising = line.azimuth_at(altitude - SUN_SEMIDIAMETER_AT_1_AU_DEG, cells["lat_deg"])
    aside = wrap_deg(rising - cells["azimuth_deg"].to_numpy())
    return np.asarray(aside * np.cos(np.radians(altitude)))


def _is_near(offset_deg: ArrayLike, limits: Limits) -> NDArray[np.bool_]:
    return np.asarray(np.abs(offset_deg) <= limits.tolerance_deg + _SLACK_DEG)


def with_skyline(scene: Scene, cells: pd.DataFrame, eye_m: float) -> pd.DataFrame:
    """The ground before the hill, behind it and beside it, from each cell, on any day."""
    toward = _toward_deg(scene, cells)
    shares = open_shares(scene, cells, toward, eye_m)
    return _with_behind(scene, cells.assign(open_share=shares), toward, eye_m)


def with_behind(scene: Scene, cells: pd.DataFrame, eye_m: float) -> pd.DataFrame:
    """The ground before the hill and behind it alone, from each cell, on any day."""
    return _with_behind(scene, cells, _toward_deg(scene, cells), eye_m)


def _toward_deg(scene: Scene, cells: pd.DataFrame) -> NDArray[np.float64]:
    """From each cell to the summit, from the grid's north, (n,)."""
    return scene.dem.grid.grid_azimuth_deg(cells["azimuth_deg"], cells["lon_deg"], cells["lat_deg"])


def _with_behind(
    scene: Scene, cells: pd.DataFrame, toward_deg: NDArray[np.float64], eye_m: float
) -> pd.DataFrame:
    before, behind = before_and_behind(
        scene.seen,
        scene.own_ground,
        cells["row"],
        cells["col"],
        toward_deg,
        cells["distance_m"],
        eye_m=eye_m,
        refraction=scene.refraction,
    )
    return cells.assign(
        behind_deg=behind,
        stature_deg=cells["altitude_deg"] - before,
        isolation_deg=np.minimum(cells["altitude_deg"] - behind, 90.0),
    )


def open_shares(
    scene: Scene, cells: pd.DataFrame, toward_deg: NDArray[np.float64], eye_m: float
) -> NDArray[np.float64]:
    """Share of the directions about the hill that no near ground stands up into."""
    aside = np.linspace(-VIEW_DEG, VIEW_DEG, _VIEW_RAYS)
    near = [
        altitudes_toward(
            scene.seen,
            cells["row"],
            cells["col"],
            toward_deg + turn,
            eye_m=eye_m,
            refraction=scene.refraction,
            reach_m=_NEAR_M,
        )[0]
        for turn in aside
    ]
    return np.asarray((np.stack(near) < -_NEAR_DIP_DEG).mean(axis=0))


def hidden_before(
    scene: Scene, cells: pd.DataFrame, azimuth_at: AzimuthAt, eye_m: float
) -> NDArray[np.bool_]:
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
    return np.asarray(~(ground.reshape(limb.shape) < limb).any(axis=0))
