"""A person in the picture: how large, how much of them is seen, and what they stand against.

Slice by slice from the feet to the head, the line of sight is followed past the figure::

    eye o-----_____                 /| <- slice against the sky
              -----_____           | |
                        -----_____ | |      ..-''''-.
                                  -|-|--..-'         '   <- slice against ground, or mist
                                   / \\
                             -------------
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from terrain.errors import TerrainError
from terrain.frame.lens import Frame
from terrain.ground.geodesy import azimuth_and_distance, destination
from terrain.ground.places import Spot
from terrain.sight.bend import bend_per_m
from terrain.sight.rays import eye_at
from terrain.view.backdrop import Backdrop, met_beyond
from terrain.view.scene import Scene

FIGURE_M: Final = 1.75
"""Height of a person, metres."""

_SLICES: Final = (np.arange(40) + 0.5) / 40
_WELL_SEEN, _WELL_SET = 0.95, 0.9
_EYES_M: Final = (1.2, 0.8, 0.4, 2.1)
_STEPS_M: Final = (2.0, 5.0, 10.0, 20.0, 40.0, 80.0)
_STEP_AZIMUTHS_DEG: Final = np.arange(0.0, 360.0, 22.5)


@dataclass(frozen=True, kw_only=True)
class Figure:
    """A person at a place, as a camera sees them.

    place: where they stand. azimuth_deg, distance_m: of it. foot_deg, head_deg: altitudes.
    seen: share of their height that no ground or mist hides; 0 where they are hidden.
    sky, mist, ground: shares of their height that are seen against each.
    """

    place: Spot
    height_m: float
    azimuth_deg: float
    distance_m: float
    foot_deg: float
    head_deg: float
    seen: float
    sky: float
    mist: float
    ground: float

    @property
    def against(self) -> Backdrop | None:
        """What most of them is seen against; None where they are hidden."""
        return max(Backdrop, key=self.share) if self.seen > 0.0 else None

    def share(self, backdrop: Backdrop | str) -> float:
        """Share of their height that is seen against a backdrop, itself or its name."""
        return float(getattr(self, Backdrop(backdrop)))

    def height_px(self, frame: Frame) -> float:
        """Height of the whole figure in a frame, pixels; NaN far off its axis."""
        _, up_mm = frame.on_sensor_mm(self.azimuth_deg, np.array([self.foot_deg, self.head_deg]))
        return float(up_mm[1] - up_mm[0]) * frame.sensor.px_per_mm


@dataclass(frozen=True)
class Step:
    """A move of the camera that changes what a figure stands against.

    spot: where to, and how high the camera is then. azimuth_deg, distance_m: of the step, NaN and
    0 where only the height of the camera changes. rise_m: of the ground, negative downhill.
    figure: as it is seen from there.
    """

    spot: Spot
    azimuth_deg: float
    distance_m: float
    rise_m: float
    figure: Figure


def figure_at(scene: Scene, spot: Spot, place: Spot, *, height_m: float = FIGURE_M) -> Figure:
    """A person standing at a place, as the camera of a spot sees them over ground and mist.

    Parameters
    ----------
    scene : Scene
        The hill in its country.
    spot : Spot
        Where the camera stands.
    place : Spot
        Where the person stands.
    height_m : float, optional
        How tall the person is, metres.

    Returns
    -------
    Figure
        How tall in the view, and against what.

    Raises
    ------
    NoGround
        Where either is off the known ground.
    TerrainError
        Where both are one place, and for a height that is not above 0.

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
    >>> scene = terrain.Scene(terrain.Country(cone), hill)
    >>> top = terrain.Spot(lon_deg=hill.lon_deg, lat_deg=hill.lat_deg)
    >>> person = terrain.figure_at(scene, spot, top)
    >>> round(person.distance_m), person.seen, round(person.sky, 1)
    (3001, 1.0, 1.0)
    """
    if not 0.0 < height_m < math.inf:
        raise TerrainError(f"a figure of {height_m} m cannot be: give a height above 0 m")
    ends = spot.lon_deg, spot.lat_deg, place.lon_deg, place.lat_deg
    azimuth_deg, distance_m = map(float, azimuth_and_distance(*ends))
    if distance_m < 1.0:
        raise TerrainError("the figure stands where the camera is: put them somewhere else")
    foot_m = scene.dem.height_at(place.lon_deg, place.lat_deg)
    eye_m = eye_at(scene.dem, spot).height_m
    heights_m = foot_m + np.array([0.0, 1.0, *_SLICES]) * height_m
    fall = bend_per_m(scene.refraction) * distance_m
    altitude = np.degrees(np.arctan((heights_m - eye_m) / distance_m - fall))
    met = met_beyond(scene, spot, azimuth_deg, distance_m, altitude[2:])
    # the mist that they stand in hides them up to its top
    seen = met.reaches & (
        heights_m[2:] >= float(scene.seen.heights_at(place.lon_deg, place.lat_deg))
    )
    shares = {name: float(np.mean(seen & (met.backdrop == name))) for name in Backdrop}
    return Figure(
        place=place,
        height_m=height_m,
        azimuth_deg=azimuth_deg,
        distance_m=distance_m,
        foot_deg=float(altitude[0]),
        head_deg=float(altitude[1]),
        seen=float(np.mean(seen)),
        **shares,
    )


def step_for(
    scene: Scene,
    spot: Spot,
    place: Spot,
    against: Backdrop | str,
    *,
    height_m: float = FIGURE_M,
    reach_m: float = 80.0,
) -> Step | None:
    """The least move of the camera that sets a figure against a backdrop.

    First the camera as it is, then other heights of it where it stands, then steps in sixteen
    directions, the shortest first, and of equal ones that with the least climb.

    Parameters
    ----------
    scene : Scene
        The hill in its country.
    spot : Spot
        Where the camera stands.
    place : Spot
        Where the person stands.
    against : Backdrop or str
        The backdrop, itself or its name.
    height_m : float, optional
        How tall the person is, metres.
    reach_m : float, optional
        Longest step, metres.

    Returns
    -------
    Step or None
        The move; None where none does.

    Raises
    ------
    NoGround
        Where either is off the known ground.
    TerrainError
        Where both are one place, and for a height that is not above 0.
    ValueError
        For a backdrop that there is not.

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
    >>> scene = terrain.Scene(terrain.Country(cone), hill)
    >>> place = terrain.Spot(lon_deg=hill.lon_deg, lat_deg=hill.lat_deg)
    >>> step = terrain.step_for(scene, spot, place, "sky")
    >>> step.rise_m, round(step.figure.sky, 1)
    (0.0, 1.0)
    """
    wanted = Backdrop(against)
    figure_at(scene, spot, place, height_m=height_m)
    from_m = scene.dem.height_at(spot.lon_deg, spot.lat_deg)
    for group in _moves(scene, spot, reach_m):
        steps = []
        for moved, azimuth_deg, step_m in group:
            with suppress(TerrainError):
                rise_m = scene.dem.height_at(moved.lon_deg, moved.lat_deg) - from_m
                figure = figure_at(scene, moved, place, height_m=height_m)
                if figure.seen >= _WELL_SEEN and figure.share(wanted) >= _WELL_SET * figure.seen:
                    steps.append(Step(moved, azimuth_deg, step_m, rise_m, figure))
        if steps:
            return min(steps, key=lambda step: abs(step.rise_m))
    return None


def steps_for(scene: Scene, spot: Spot, seen: Figure) -> dict[Backdrop, Step | None]:
    """The least move that sets a figure against each backdrop that it does not stand against.

    seen: the figure as `figure_at` has it from the spot. Against mist only where there is any.
    """
    return {
        name: step_for(scene, spot, seen.place, name, height_m=seen.height_m)
        for name in Backdrop
        if name != seen.against and (name != Backdrop.MIST or scene.mist is not None)
    }


def _moves(scene: Scene, spot: Spot, reach_m: float) -> Iterator[list[tuple[Spot, float, float]]]:
    """Where to, azimuth and distance, in groups from the least to the greatest; none into mist."""
    for eye_m in (spot.eye_m, *_EYES_M):
        yield [(replace(spot, eye_m=eye_m), math.nan, 0.0)]
    for step_m in _STEPS_M:
        if step_m > reach_m:
            return
        lon, lat = destination(spot.lon_deg, spot.lat_deg, _STEP_AZIMUTHS_DEG, step_m)
        fit = ~np.isnan(scene.dem.heights_at(lon, lat)) & ~scene.is_misty(lon, lat)
        places = np.column_stack([lon, lat, _STEP_AZIMUTHS_DEG])[fit].tolist()
        yield [
            (replace(spot, lon_deg=lon_deg, lat_deg=lat_deg), azimuth_deg, step_m)
            for lon_deg, lat_deg, azimuth_deg in places
        ]
