"""What a plan must warn of, from the ground and the clock, in plain words.

Nothing here replaces local rules, a forecast, or people who know the ground; each list ends by
saying so.
"""

from __future__ import annotations

import numpy as np

from terrain.ground.dem import Dem
from terrain.ground.geodesy import azimuth_and_distance
from terrain.ground.places import Spot
from terrain.ground.relief.slope import slope_deg
from terrain.mist.mist import Mist
from terrain.plan.cold import Cold
from terrain.view.scene import View
from terrain.walk.walk import Walk

__all__ = ["cautions_for", "edge_near"]

EDGE_DEG = 40.0
EDGE_REACH_M = 30.0
_STEEP_WAY_DEG = 20.0
_STEEP_GROUND_DEG = 30.0
_LITTLE_FREEBOARD_M = 30.0
_LITTLE_CLEARANCE_M = 5.0
_IN_MIST_M = 50.0
_POINTS = ["north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"]

STANDING = (
    "Heights come from a raster, not a survey: walls, crags and drops smaller than its cells are "
    "not in it. Look at the way and the spot by day.",
    "Ask about access, and follow local rules. Take the forecast from the national weather "
    "service, and advice on kit and on calling for help from the local mountain rescue.",
    "Tell someone where you go and when you will be back.",
    "Never look at the sun through a lens or an optical viewfinder.",
)


def cautions_for(
    dem: Dem,
    walk: Walk,
    cold: Cold | None = None,
    *,
    view: View | None = None,
    mist: Mist | None = None,
) -> tuple[str, ...]:
    """Cautions for a walk to its spot and a wait there, one sentence or two each.

    dem: the ground of the walk. cold: at the spot, where a forecast was given. view: of the hill
    from there. mist: as planned.
    """
    found = [
        _darkness(walk),
        _in_mist(walk, mist),
        _steepness(walk),
        _edge(dem, walk.spot),
        _freeboard(view),
        _clearance(view),
        _chill(cold),
    ]
    return (*(text for text in found if text), *STANDING)


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


def _darkness(walk: Walk) -> str:
    minutes = walk.dark_s / 60.0
    if minutes < 1.0:
        return ""
    return (
        f"{minutes:.0f} minutes of the walk in are before civil dawn: carry a head lamp and a "
        "spare, and walk the way once by day."
    )


def _in_mist(walk: Walk, mist: Mist | None) -> str:
    if mist is None:
        return ""
    top_m = np.nan_to_num(mist.top_at(walk.lon_deg, walk.lat_deg), nan=-np.inf)
    misty = walk.height_m < top_m
    in_mist_m = float(np.diff(walk.distance_m)[misty[1:] & misty[:-1]].sum())
    if in_mist_m < _IN_MIST_M:
        return ""
    return (
        f"{in_mist_m / 1000.0:.1f} km of the walk in lie in the mist as planned: there a lamp "
        "shows only the next few metres. Take the way along as a file, and a compass."
    )


def _steepness(walk: Walk) -> str:
    worst, ground = walk.steepest, walk.steepest_ground
    if abs(worst.slope_deg) < _STEEP_WAY_DEG and ground.ground_deg < _STEEP_GROUND_DEG:
        return ""
    way = "up" if worst.slope_deg > 0 else "down"
    return (
        f"The steepest bit of the way goes {way} at {abs(worst.slope_deg):.0f}°, "
        f"{worst.after_m / 1000.0:.1f} km from the start ({worst.lat_deg:.5f}, "
        f"{worst.lon_deg:.5f}); the steepest ground crossed is {ground.ground_deg:.0f}°. "
        "Steep ground is dangerous in the dark, wet or frozen."
    )


def _edge(dem: Dem, spot: Spot) -> str:
    edge = edge_near(dem, spot)
    if edge is None:
        return ""
    slope, azimuth = edge
    point = _POINTS[round(azimuth / 45.0) % 8]
    return (
        f"Ground of {slope:.0f}° lies within about {EDGE_REACH_M:.0f} m of the spot, to the "
        f"{point}: find its edge by daylight and stay back from it."
    )


def _freeboard(view: View | None) -> str:
    if view is None or not view.freeboard_m < _LITTLE_FREEBOARD_M:
        return ""
    return (
        f"The spot stands only {view.freeboard_m:.0f} m above the mist as planned, and mist is "
        "never quite level: a little more of it takes the view."
    )


def _clearance(view: View | None) -> str:
    if view is None or not view.visible or not view.clearance_m < _LITTLE_CLEARANCE_M:
        return ""
    return (
        f"The line of sight to the summit passes only {max(view.clearance_m, 0.0):.0f} m over "
        "ground before it, no more than a raster may be wrong: see by day that the hill is seen."
    )


def _chill(cold: Cold | None) -> str:
    if cold is None or cold.feels_c >= 5.0:
        return ""
    return (
        f"At the spot the air is about {cold.temperature_c:.0f} °C and feels like "
        f"{cold.feels_c:.0f} °C in a wind of {cold.wind_kmh:.0f} km/h: you will be standing still, "
        "so carry more layers than for the walk."
    )
