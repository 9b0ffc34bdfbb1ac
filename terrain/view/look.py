"""What a spot sees of a hill over ground and mist: all but the sun.

Whether the summit is in sight, what stands behind it, and how far the lines pass over the ground.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass

import numpy as np

from terrain.errors import NoAnswer, TerrainError
from terrain.ground.geodesy import azimuth_and_distance, destination, drop_m
from terrain.ground.places import Spot
from terrain.ground.relief.slope import slope_at
from terrain.sight.line import SightLine, sight_line
from terrain.sight.past import TOP_CELLS
from terrain.sight.rays import eye_at
from terrain.sight.skyline import Skyline, skyline
from terrain.sun.path import SunPath, sun_path
from terrain.view.backdrop import Backdrop, Obstacle, behind_summit, ground_on
from terrain.view.contact import Contact
from terrain.view.scene import Scene, mist_under
from terrain.view.sun_azimuths import Needed, needed_under


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
    hill, seen = scene.hill, scene.seen
    ground_m = scene.dem.height_at(spot.lon_deg, spot.lat_deg)
    freeboard = _freeboard_m(scene, spot, ground_m)
    _, distance = azimuth_and_distance(spot.lon_deg, spot.lat_deg, hill.lon_deg, hill.lat_deg)
    if distance < seen.cell_m:
        raise TerrainError(f"the spot is on the summit of {hill.label}: stand somewhere else")
    line = sight_line(
        seen, spot, hill.lon_deg, hill.lat_deg, hill.height_m, refraction=scene.refraction
    )
    needed = Needed()
    if day is not None:
        eye_m = eye_at(seen, spot).height_m
        path = sun_path(day, lon_deg=spot.lon_deg, lat_deg=spot.lat_deg, height_m=eye_m)
        needed = needed_under(path, line.azimuth_deg)
    sky = skyline(seen, spot, refraction=scene.refraction, **needed._asdict())
    visible = line.visible or _is_top(scene, spot, line)
    behind = None
    if visible:
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
        visible=visible,
        on_skyline=obstacle is None,
        obstacle=obstacle,
        behind=behind,
        clearance_m=clearance_m(scene, spot, line, forgiven_m=0.0),
        known_between=line.known,
        spot_height_m=ground_m,
        slope_deg=slope_at(scene.dem, spot.lon_deg, spot.lat_deg),
        freeboard_m=freeboard,
    )


def clearance_m(
    scene: Scene, spot: Spot, end: SightLine | Contact, *, forgiven_m: float = math.inf
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
    own = scene.is_own(lon, lat)
    top = ahead_m > end.distance_m - TOP_CELLS * scene.dem.cell_m
    least = math.inf
    for bare, ground in ((scene.dem, scene.seen), (scene.dem.as_delivered,) * 2):
        eye = float(bare.heights_at(spot.lon_deg, spot.lat_deg)) + spot.eye_m
        line = eye + (target_m - eye) / end.distance_m * ahead_m + drop_m(ahead_m, scene.refraction)
        over = line - ground.heights_at(lon, lat)
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
