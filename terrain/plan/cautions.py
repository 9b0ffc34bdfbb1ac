"""What a plan must warn of, from the ground and the clock.

Nothing here replaces local rules, a forecast, or people who know the ground; the sentences made
of it (`terrain.words.plan`) end by saying so.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain.ground.dem import Dem
from terrain.ground.geodesy import azimuth_and_distance
from terrain.ground.places import Spot
from terrain.ground.relief.slope import slope_deg
from terrain.mist.mist import Mist
from terrain.plan.cold import Cold
from terrain.view.scene import Scene, View
from terrain.walk.walk import Walk

__all__ = ["EDGE_REACH_M", "Cautions", "cautions_for", "edge_near"]

# what is worth a warning: common practice, no source
EDGE_DEG = 40.0
EDGE_REACH_M = 30.0
_DARK_S = 60.0
_STEEP_WAY_DEG = 20.0
_STEEP_GROUND_DEG = 30.0
_LITTLE_FREEBOARD_M = 30.0
_LITTLE_CLEARANCE_M = 5.0
_IN_MIST_M = 50.0
_COLD_C = 5.0


@dataclass(frozen=True, kw_only=True)
class Cautions:
    """What to warn of; None, or False, where it is no matter.

    dark_s: seconds of the walk in before civil dawn. in_mist_m: metres of it in the mist. steep:
    the way or the ground it crosses is. edge: as `edge_near` gives it. freeboard_m: how little
    the spot stands above the mist. clearance_m: how little the line of sight passes over ground.
    cold: at the spot.
    """

    dark_s: float | None = None
    in_mist_m: float | None = None
    steep: bool = False
    edge: tuple[float, float] | None = None
    freeboard_m: float | None = None
    clearance_m: float | None = None
    cold: Cold | None = None


def cautions_for(scene: Scene, view: View, walk: Walk, cold: Cold | None = None) -> Cautions:
    """What to warn of on a walk to its spot and a wait there.

    view: of the hill of the scene from there. cold: there, where a forecast was given.
    """
    in_mist_m = 0.0 if scene.mist is None else _in_mist_m(walk, scene.mist)
    way_deg, ground_deg = abs(walk.steepest.slope_deg), walk.steepest_ground.ground_deg
    low = view.freeboard_m < _LITTLE_FREEBOARD_M
    close = view.visible and view.clearance_m < _LITTLE_CLEARANCE_M
    return Cautions(
        dark_s=walk.dark_s if walk.dark_s >= _DARK_S else None,
        in_mist_m=in_mist_m if in_mist_m >= _IN_MIST_M else None,
        steep=way_deg >= _STEEP_WAY_DEG or ground_deg >= _STEEP_GROUND_DEG,
        edge=edge_near(scene.dem, walk.spot),
        freeboard_m=view.freeboard_m if low else None,
        clearance_m=view.clearance_m if close else None,
        cold=cold if cold is not None and cold.feels_c < _COLD_C else None,
    )


def edge_near(dem: Dem, spot: Spot) -> tuple[float, float] | None:
    """Slope (degrees) of the steepest ground within 30 m and azimuth of the nearest, if an edge.

    An edge is ground of more than 40 degrees; None where there is none. The cells that the 30 m
    touch count, so on coarse rasters the ground looked at is wider.
    """
    row, col = dem.grid.cell_of(spot.lon_deg, spot.lat_deg)
    reach = int(np.ceil(EDGE_REACH_M / dem.cell_m)) + 1
    top, left = max(row - reach, 0), max(col - reach, 0)
    near = dem.heights_m[top : row + reach + 1, left : col + reach + 1]
    window = Dem(near, dem.grid.window(top, left, (near.shape[0], near.shape[1])))
    slope = slope_deg(window)
    rows, cols = np.indices(slope.shape)
    lon, lat = window.grid.lonlat(rows, cols)
    azimuth, distance = azimuth_and_distance(spot.lon_deg, spot.lat_deg, lon, lat)
    steep = (slope > EDGE_DEG) & (distance <= EDGE_REACH_M + 0.5 * dem.cell_m)
    if not steep.any():
        return None
    nearest = np.unravel_index(np.argmin(np.where(steep, distance, np.inf)), slope.shape)
    return float(slope[steep].max()), float(azimuth[nearest])


def _in_mist_m(walk: Walk, mist: Mist) -> float:
    top_m = np.nan_to_num(mist.top_at(walk.lon_deg, walk.lat_deg), nan=-np.inf)
    misty = walk.height_m < top_m
    return float(np.diff(walk.distance_m)[misty[1:] & misty[:-1]].sum())
