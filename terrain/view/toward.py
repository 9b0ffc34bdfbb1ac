"""What a spot sees of a summit along the one line to it, before any skyline.

That is little work, and settles it for most spots from which a hill is not seen well.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from terrain.errors import NoAnswer, TerrainError
from terrain.ground.geodesy import azimuth_and_distance, destination, drop_m
from terrain.ground.places import Spot
from terrain.sight.line import SightLine, sight_line
from terrain.sight.past import TOP_CELLS
from terrain.view.scene import Scene, mist_under
from terrain.view.touch import Touch


@dataclass(frozen=True, kw_only=True)
class Sight:
    """The line from a spot to a summit, on any day.

    line: as `sight_line` finds it. visible: whether the summit is seen, its own top aside.
    clearance_m, ground_m, freeboard_m: as `View` has them.
    """

    spot: Spot
    line: SightLine
    visible: bool
    clearance_m: float
    ground_m: float
    freeboard_m: float


def sight_of(scene: Scene, spot: Spot) -> Sight:
    """The line from a spot to the summit of a scene; errors of `look`."""
    hill, seen = scene.hill, scene.seen
    ground_m = scene.dem.height_at(spot.lon_deg, spot.lat_deg)
    freeboard = _freeboard_m(scene, spot, ground_m)
    _, distance = azimuth_and_distance(spot.lon_deg, spot.lat_deg, hill.lon_deg, hill.lat_deg)
    if distance < seen.cell_m:
        raise TerrainError(f"the spot is on the summit of {hill.label}: stand somewhere else")
    line = sight_line(
        seen, spot, hill.lon_deg, hill.lat_deg, hill.height_m, refraction=scene.refraction
    )
    return Sight(
        spot=spot,
        line=line,
        visible=line.visible or _is_top(scene, spot, line),
        clearance_m=clearance_m(scene, spot, line, forgiven_m=0.0),
        ground_m=ground_m,
        freeboard_m=freeboard,
    )


def clearance_m(
    scene: Scene, spot: Spot, end: SightLine | Touch, *, forgiven_m: float = math.inf
) -> float:
    """How far a line of sight passes over the ground before the hill, at the least, metres.

    end: where it leads. Over the ground as delivered as well as over that of `scene`: on the crest
    at a vantage's feet the two differ by metres. Within a cell of the eye, where the line is still
    near the ground by nature, the height counts in proportion. The hill's own ground counts where
    it stands above the line by more than `forgiven_m`, short of its last two cells. Infinite where
    nothing does.
    """
    target_m = (
        float(scene.dem.heights_at(spot.lon_deg, spot.lat_deg))
        + spot.eye_m
        + end.distance_m * math.tan(math.radians(end.altitude_deg))
    )
    ahead_m = np.arange(0.25 * scene.dem.cell_m, end.distance_m, 0.25 * scene.dem.cell_m)
    lon, lat = destination(spot.lon_deg, spot.lat_deg, end.azimuth_deg, ahead_m)
    at, delivered = scene.dem.grid.rowcol(lon, lat), scene.dem.as_delivered
    there = at if delivered is scene.dem else delivered.grid.rowcol(lon, lat)
    own = scene.owns(*at)
    top = ahead_m > end.distance_m - TOP_CELLS * scene.dem.cell_m
    least = math.inf
    for bare, ground, places in (
        (scene.dem, scene.seen, at),
        (delivered, delivered, there),
    ):
        eye = float(bare.heights_at(spot.lon_deg, spot.lat_deg)) + spot.eye_m
        line = eye + (target_m - eye) / end.distance_m * ahead_m + drop_m(ahead_m, scene.refraction)
        over = line - ground.heights_between(*places)
        counts = np.where(own, ~top & (over < -forgiven_m), ~np.isnan(over))
        over = over * np.maximum(scene.dem.cell_m / ahead_m, 1.0)
        least = min(least, float(np.min(over[counts], initial=math.inf)))
    return least


def _is_top(scene: Scene, spot: Spot, line: SightLine) -> bool:
    """Whether what blocks the line is the hill's own top, so near that cells cannot tell."""
    if line.distance_m - line.blocked_at_m > TOP_CELLS * scene.dem.cell_m:
        return False
    at = destination(spot.lon_deg, spot.lat_deg, line.azimuth_deg, line.blocked_at_m)
    return bool(scene.is_own(*at))


def _freeboard_m(scene: Scene, spot: Spot, ground_m: float) -> float:
    if scene.mist is None:
        return math.nan
    cell = scene.dem.grid.cell_of(spot.lon_deg, spot.lat_deg)
    freeboard = ground_m - float(scene.mist.nearest_top_m[cell])
    # a hollow that the mist does not reach can lie lower than its top and still be clear
    if scene.mist.covers[cell]:
        under_m = max(-freeboard, 0.0)
        raise NoAnswer(
            f"the spot at {spot.lat_deg:.4f}, {spot.lon_deg:.4f} ({ground_m:.0f} m) stands "
            f"{under_m:.0f} m under the mist: choose a higher spot or a lower mist",
            loosen=mist_under(scene.mist, ground_m, under_m),
        )
    return freeboard
