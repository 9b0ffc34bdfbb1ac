"""What a spot sees of a hill over ground and mist: all but the sun.

Whether the summit is in sight, what stands behind it, and how far the lines pass over the ground.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass

import numpy as np

from terrain.ground.places import Spot
from terrain.ground.relief.slope import slope_at
from terrain.sight.beyond import lowest_deg
from terrain.sight.line import SightLine
from terrain.sight.past import TOP_CELLS
from terrain.sight.rays import eye_at
from terrain.sight.skyline import Skyline, skyline
from terrain.sun.path import SunPath, sun_path
from terrain.view.backdrop import Backdrop, Obstacle, behind_summit, ground_on
from terrain.view.scene import Scene
from terrain.view.sun_azimuths import Needed, needed_under, until_noon
from terrain.view.toward import Sight, sight_of


@dataclass(frozen=True, kw_only=True)
class View:
    """A hill as a spot sees it; holds for any date, or for the one that `look` was told.

    Attributes
    ----------
    spot : Spot
        Where the camera stands.
    skyline : Skyline
        Over ground and mist, all round the spot unless `look` was told a day.
    azimuth_deg, altitude_deg : float
        Of the summit, degrees.
    distance_m : float
        To the summit, metres.
    visible : bool
        The summit is seen: no known ground hides it.
    on_skyline : bool
        And no other ground stands behind it.
    obstacle : Obstacle or None
        The ground that hides the summit or makes the skyline behind it, None where neither does.
    behind : Obstacle or None
        The ground or mist that the line past the summit meets, with its place and height; None for
        the sky, and where the summit is hidden.
    clearance_m : float
        How far the line to the summit passes over the ground before the hill, metres; a little
        error of the raster hides the hill where it is small.
    known_between : bool
        All ground on the line to the summit is known; where it is not, hidden ground there may
        hide the hill, or pass nearer under the line.
    spot_height_m : float
        Height of the ground at the spot, metres.
    slope_deg : float
        Its slope, degrees.
    freeboard_m : float
        How far it stands above the mist, metres, NaN without mist.
    backdrop : Backdrop or None
        What the summit is seen against: sky, mist or ground; None where it is hidden.
    backdrop_distance_m : float
        How far off that is, metres: infinite for the sky, NaN where the summit is hidden.
    under_skyline_deg : float
        How far the summit stands under the skyline behind it, degrees: 0 where it is on it, NaN
        where it is hidden.
    sky_from_deg : float
        Altitude at which the sky begins over the summit, degrees: its own where it is on the
        skyline or hidden.

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
    >>> view = terrain.look(terrain.Scene(terrain.Country(cone), hill), spot)
    >>> round(view.azimuth_deg), round(view.altitude_deg, 1), view.on_skyline
    (90, 5.7, True)
    """

    spot: Spot
    skyline: Skyline
    azimuth_deg: float
    altitude_deg: float
    distance_m: float
    visible: bool
    on_skyline: bool
    obstacle: Obstacle | None
    behind: Obstacle | None
    clearance_m: float
    known_between: bool
    spot_height_m: float
    slope_deg: float
    freeboard_m: float

    @property
    def backdrop(self) -> Backdrop | None:
        """What the summit is seen against; None where it is hidden."""
        if not self.visible:
            return None
        return Backdrop.SKY if self.behind is None else self.behind.backdrop

    @property
    def backdrop_distance_m(self) -> float:
        """How far off that is, metres: infinite for the sky, NaN where the summit is hidden."""
        if not self.visible:
            return math.nan
        return math.inf if self.behind is None else self.behind.distance_m

    @property
    def under_skyline_deg(self) -> float:
        """How far the summit stands under the skyline behind it, degrees, NaN where it is hidden.

        0 where it is on the skyline.
        """
        if not self.visible:
            return math.nan
        if self.on_skyline:
            return 0.0
        return max(float(self.skyline.at(self.azimuth_deg)) - self.altitude_deg, 0.0)

    @property
    def sky_from_deg(self) -> float:
        """Altitude at which the sky begins over the summit, degrees.

        The summit's own where it is on the skyline or hidden.
        """
        return self.altitude_deg + float(np.nan_to_num(self.under_skyline_deg))

    def sun_on(self, day: dt.date, *, evening: bool = False) -> SunPath:
        """The sun's way over the spot on a local day, through the air at the camera.

        evening: from the end of the day back.
        """
        spot, eye_m = self.spot, self.skyline.eye_height_m
        return sun_path(
            day, lon_deg=spot.lon_deg, lat_deg=spot.lat_deg, height_m=eye_m, evening=evening
        )


def look(scene: Scene, spot: Spot, *, day: dt.date | None = None) -> View:
    """The hill as a spot sees it, over ground and mist.

    Parameters
    ----------
    scene : Scene
        The hill in its country.
    spot : Spot
        Where the camera stands, and its height over the ground.
    day : datetime.date, optional
        Where one is given, the skyline may be no wider than `backlight` needs on that day; and
        where it lies well below the sun, aside of the hill, it may be told lower yet than it is.

    Returns
    -------
    View
        What is seen of the hill, and the skyline.

    Raises
    ------
    NoGround
        Where the spot is off the known ground.
    NoAnswer
        Where it lies under the mist.
    TerrainError
        Where the spot is the summit itself.

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
    >>> view = terrain.look(terrain.Scene(terrain.Country(cone), hill), spot)
    >>> view.visible, round(view.distance_m)
    (True, 3001)
    """
    sight = sight_of(scene, spot)
    needed = Needed()
    if day is not None:
        needed = needed_under(_sun_on(scene, spot, day), sight.line.azimuth_deg)
    return _view(scene, sight, _skyline(scene, spot, needed))


def look_for_sun(
    scene: Scene, sight: Sight, day: dt.date, *, within_deg: float, evening: bool = False
) -> View:
    """The same, with no more of the skyline than tells how the sun first appears on a day.

    And how it passes the summit after that; to the last digit as by `look` with that day, where it
    comes within so many degrees of the summit. evening: how it last appears. What appearances a
    `Contact` has `later`, after noon, is not told. Errors of `look`, but those of `sight_of`.
    """
    spot, toward_deg = sight.spot, sight.line.azimuth_deg
    whole = needed_under(_sun_on(scene, spot, day), toward_deg)
    lowest, _ = lowest_deg(scene.seen, eye_at(scene.seen, spot).height_m, scene.refraction)
    some = until_noon(
        whole,
        _sun_on(scene, spot, day, evening=evening),
        toward_deg,
        within_deg=within_deg,
        lowest_deg=float(lowest),
    )
    if some is not None and whole.azimuths_deg is not None:
        part = _skyline(scene, spot, some.of(whole)).among(whole.azimuths_deg)
        if some.is_clear_of(part):
            return _view(scene, sight, part)
    return _view(scene, sight, _skyline(scene, spot, whole))


def _sun_on(scene: Scene, spot: Spot, day: dt.date, *, evening: bool = False) -> SunPath:
    eye_m = eye_at(scene.seen, spot).height_m
    return sun_path(
        day, lon_deg=spot.lon_deg, lat_deg=spot.lat_deg, height_m=eye_m, evening=evening
    )


def _skyline(scene: Scene, spot: Spot, needed: Needed) -> Skyline:
    return skyline(scene.seen, spot, refraction=scene.refraction, **needed._asdict())


def _view(scene: Scene, sight: Sight, sky: Skyline) -> View:
    spot, line = sight.spot, sight.line
    behind = None
    if sight.visible:
        obstacle = _on_skyline_behind(scene, sky, line)
        # a skyline of unknown ground lies beyond all that the line can meet
        behind = obstacle and (behind_summit(scene, spot, line) or obstacle)
    else:
        obstacle = ground_on(scene, spot, line.azimuth_deg, line.blocked_at_m)
    return View(
        spot=spot,
        skyline=sky,
        azimuth_deg=line.azimuth_deg,
        altitude_deg=line.altitude_deg,
        distance_m=line.distance_m,
        visible=sight.visible,
        on_skyline=obstacle is None,
        obstacle=obstacle,
        behind=behind,
        clearance_m=sight.clearance_m,
        known_between=line.known,
        spot_height_m=sight.ground_m,
        slope_deg=slope_at(scene.dem, spot.lon_deg, spot.lat_deg),
        freeboard_m=sight.freeboard_m,
    )


def _on_skyline_behind(scene: Scene, sky: Skyline, line: SightLine) -> Obstacle | None:
    """Other ground on the skyline behind a summit."""
    skyline_m = float(sky.distance_at(line.azimuth_deg))
    if not math.isfinite(skyline_m):
        # unknown ground all round the summit: nothing is known to stand behind it
        return None
    if skyline_m < line.distance_m - TOP_CELLS * scene.dem.cell_m:
        # the summit is seen, so ground before it ties with it at most: it does not stand behind
        return None
    behind = ground_on(scene, sky.spot, line.azimuth_deg, skyline_m)
    return None if scene.is_own(behind.lon_deg, behind.lat_deg) else behind
