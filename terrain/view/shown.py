"""What of a hill shows from a spot: its outline, the mist before its foot, and how much of it.

::

            summit  .-'''-.   ^
                  .'       '. | height_m: down to the lowest of its ground that is seen
      ridge     .'           '.
    ___/\\______'_ _ _ _ _ _ _ _v_
                 hidden by the ridge
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from terrain.arrays import Flags, Floats, frozen_arrays
from terrain.errors import NoAnswer
from terrain.ground.geodesy import destination, wrap_deg
from terrain.ground.places import Spot
from terrain.sight.line import profile
from terrain.sight.viewshed import margin
from terrain.view.look import View
from terrain.view.picture import hill_in
from terrain.view.scene import Scene

_SUMMIT_DEG: Final = 0.3
_MIST_LINES: Final = 9
_MIST_SHARE: Final = 0.5


@dataclass(frozen=True, kw_only=True, eq=False)
@frozen_arrays()
class Outline:
    """The part of a skyline that a hill's own ground makes, about its summit.

    azimuth_deg: (n,) ascending, may pass 360; altitude_deg: (n,). Read-only.
    """

    azimuth_deg: Floats
    altitude_deg: Floats

    @property
    def width_deg(self) -> float:
        """From its left end to its right, degrees of azimuth."""
        return float(self.azimuth_deg[-1] - self.azimuth_deg[0])

    def within(self, azimuth_deg: float, width_deg: float) -> Outline:
        """The part of it that lies within a width about an azimuth; at least one direction."""
        away = np.abs(wrap_deg(self.azimuth_deg - azimuth_deg))
        kept = away <= max(width_deg / 2.0, float(away.min()))
        return Outline(azimuth_deg=self.azimuth_deg[kept], altitude_deg=self.altitude_deg[kept])


def hill_outline(scene: Scene, view: View) -> Outline:
    """The directions about the summit in which a hill's own ground makes the skyline.

    Without a gap from one end to the other. NoAnswer where its summit is not on the skyline.
    """
    if not view.on_skyline:
        raise _no_skyline(scene, view)
    sky = view.skyline
    own = np.isfinite(sky.distance_m)
    own[own] = scene.is_own(*sky.place_at(sky.azimuth_deg[own]))
    away = np.where(own, np.abs(wrap_deg(sky.azimuth_deg - view.azimuth_deg)), np.inf)
    summit, count = int(np.argmin(away)), own.size
    if away[summit] > _SUMMIT_DEG:
        raise _no_skyline(scene, view)
    left = _run(own[np.arange(summit, summit - count, -1)])
    right = _run(own[np.arange(summit, summit + count) % count])
    kept = np.arange(summit - left + 1, summit + min(right, count - left + 1))
    turn = 360.0 * (kept // count - (summit - left + 1) // count)
    return Outline(
        azimuth_deg=sky.azimuth_deg[kept % count] + turn,
        altitude_deg=sky.altitude_deg[kept % count],
    )


def _no_skyline(scene: Scene, view: View) -> NoAnswer:
    behind = f": {view.obstacle} hides it or stands behind it" if view.obstacle else ""
    return NoAnswer(f"{scene.hill.label} makes no skyline from this spot{behind}")


def seen_outline(scene: Scene, view: View) -> Outline:
    """The upper edge of what is seen of a hill about its summit, on the skyline or under it.

    Under it to the cells of a picture 16 degrees wide. NoAnswer where its summit is hidden.
    """
    if view.on_skyline or not view.visible:
        return hill_outline(scene, view)
    about = scene.frame_about(view.spot, view.azimuth_deg, view.altitude_deg)
    own, seen = hill_in(scene, about), about.seen
    shows = np.asarray(own.any(axis=0))
    if not shows.any():
        return Outline(
            azimuth_deg=np.array([view.azimuth_deg]), altitude_deg=np.array([view.altitude_deg])
        )
    aside = np.where(shows, np.abs(wrap_deg(seen.azimuth_deg - view.azimuth_deg)), np.inf)
    summit = int(np.argmin(aside))
    kept = np.s_[summit + 1 - _run(shows[summit::-1]) : summit + _run(shows[summit:])]
    top = own.shape[0] - 1 - np.argmax(own[::-1], axis=0)
    return Outline(azimuth_deg=seen.azimuth_deg[kept], altitude_deg=seen.altitude_deg[top[kept]])


def mist_strip(scene: Scene, view: View, outline: Outline) -> tuple[Floats, Floats]:
    """Directions (n,), (n,) where a frame may end in the mist before a hill; empty without any.

    Half as far below the foot of the hill, where it comes out of the mist, as its summit stands
    above that; or at the nearest mist in view, if that is higher.
    """
    azimuths = np.linspace(outline.azimuth_deg[0], outline.azimuth_deg[-1], _MIST_LINES)
    if scene.mist is None:
        return np.empty(0), np.empty(0)
    seen = [_mist_before(scene, view, float(azimuth)) for azimuth in azimuths]
    known = np.array([not math.isnan(foot) for foot, _ in seen])
    if not known.any():
        return np.empty(0), np.empty(0)
    foot, near = np.array(seen)[known].T
    strip_deg = _MIST_SHARE * max(view.altitude_deg - float(foot.max()), 0.0)
    return azimuths[known], np.maximum(near, foot - strip_deg)


def _mist_before(scene: Scene, view: View, azimuth_deg: float) -> tuple[float, float]:
    """Altitudes of the farthest and the nearest mist that is seen before the hill, or NaN."""
    spot = view.spot
    reach_m = view.distance_m
    if view.on_skyline:
        reach_m = float(view.skyline.distance_at(azimuth_deg))
    if not math.isfinite(reach_m):
        return math.nan, math.nan
    ground = profile(
        scene.seen, spot, azimuth_deg % 360.0, reach_m=reach_m, refraction=scene.refraction
    )
    lon, lat = destination(spot.lon_deg, spot.lat_deg, azimuth_deg, ground.distance_m)
    altitude = np.nan_to_num(ground.altitude_deg, nan=-90.0)
    in_view = altitude >= np.maximum.accumulate(altitude)
    mist = altitude[in_view & scene.is_misty(lon, lat)]
    return (float(mist.max()), float(mist.min())) if mist.size else (math.nan, math.nan)


def _run(own: Flags) -> int:
    """How many come before the first that is not."""
    return own.size if own.all() else int(np.argmin(own))


@dataclass(frozen=True, kw_only=True)
class Shown:
    """What of a hill is seen over ground and mist.

    Attributes
    ----------
    height_m : float
        From its summit down to the lowest of its own ground that is seen, metres, 0 where none is.
    share : float
        Of its own ground above the mist, by area on the map, 0 to 1.

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
    >>> round(terrain.hill_shown(scene, spot).share, 2)
    0.62
    """

    height_m: float
    share: float


def hill_shown(scene: Scene, spot: Spot) -> Shown:
    """How much of the hill of a scene shows from a spot.

    A cell of the hill's own ground is seen where nothing need rise on it to be seen.

    Parameters
    ----------
    scene : Scene
        The hill in its country.
    spot : Spot
        Where the camera stands, and its height over the ground.

    Returns
    -------
    Shown
        Its height and its share.

    Raises
    ------
    NoGround
        Where the spot has no known ground.

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
    >>> round(terrain.hill_shown(scene, spot).height_m)
    300
    """
    hidden_m = margin(scene.seen, spot, refraction=scene.refraction)
    own = scene.own_ground
    seen = own & (hidden_m == 0.0)
    if not seen.any():
        return Shown(height_m=0.0, share=0.0)
    lowest_m = float(scene.seen.heights_m[seen].min())
    return Shown(
        height_m=max(scene.hill.height_m - lowest_m, 0.0),
        share=float(np.count_nonzero(seen) / np.count_nonzero(own)),
    )
