"""How the sun stands to a hill, moment by moment: over it, on its rim, just hidden by it.

::

                                  o   over: free above the outline, over its width
                       _..---.._
                    o-'         '-.   on the rim: cut by the hill's own outline
      elsewhere  .-'    o          '-.   hidden: wholly behind it, and near its outline
    __  o  ____-'                     '-.___

A hill that does not reach the skyline hides no sun: over it is then where the sun shows over the
ground behind, above the width that is seen of the hill.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from terrain.arrays import Floats
from terrain.sun.path import SunPath
from terrain.view.backlight import Backlight
from terrain.view.facing import WITHIN_DEG, Facing, Stands, SunPose
from terrain.view.look import View
from terrain.view.nearness import UP_TO_DEG
from terrain.view.scene import Scene

_STEP_S: Final = 5.0
_PARTS: Final = 10


@dataclass(frozen=True, kw_only=True)
class SunStand:
    """The sun against a hill at a moment.

    Attributes
    ----------
    at : datetime
        Aware, in the place's zone.
    state : SunPose
        Over the hill, on its rim, just hidden by it, or elsewhere.
    aside_deg : float
        From the summit to the centre of the disc along the circle of equal altitude, degrees,
        positive to the right.
    above_deg : float
        How much higher the centre of the disc stands than the summit, degrees.

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
    >>> scene = terrain.Scene(terrain.Country(cone), hill)
    >>> view = terrain.look(scene, terrain.Spot(lon_deg=lon, lat_deg=lat))
    >>> path = view.sun_on(dt.date(2025, 3, 25))
    >>> stand = terrain.sun_stand(scene, view, path, path.time(6.5 * 3600))
    >>> round(stand.aside_deg, 1), round(stand.above_deg, 1)
    (3.7, -0.4)
    """

    at: dt.datetime
    state: SunPose
    aside_deg: float
    above_deg: float


@dataclass(frozen=True, kw_only=True)
class SunSpell:
    """A time through which the sun stands in one way to a hill.

    Attributes
    ----------
    state : SunPose
        Over the hill, on its rim, or just hidden by it.
    start, end : datetime
        Aware, in the place's zone; to half a second, where the passage does not end there.
    nearest : SunStand
        The moment of it at which the sun is least aside of the summit.

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
    >>> scene = terrain.Scene(terrain.Country(cone), hill)
    >>> view = terrain.look(scene, terrain.Spot(lon_deg=lon, lat_deg=lat))
    >>> spells = terrain.sun_spells(scene, view, view.sun_on(dt.date(2025, 3, 25)))
    >>> f"{spells[-1].start:%H:%M:%S}", round(spells[-1].nearest.above_deg, 1)
    ('06:26:21', -0.9)
    """

    state: SunPose
    start: dt.datetime
    end: dt.datetime
    nearest: SunStand


def sun_stand(
    scene: Scene,
    view: View,
    path: SunPath,
    moment: dt.datetime,
    *,
    within_deg: float = WITHIN_DEG,
) -> SunStand:
    """How the sun stands to the hill of a view at a moment.

    Parameters
    ----------
    scene : Scene
        The hill in its country.
    view : View
        Of that hill, as `look` gives it.
    path : SunPath
        The sun on that day, as `View.sun_on` gives it.
    moment : datetime.datetime
        Aware, on the day of the path.
    within_deg : float, optional
        How far behind the hill's outline the rim of a sun may be that is just hidden, degrees; 1
        unless given (common practice, no source).

    Returns
    -------
    SunStand
        Where the sun is; elsewhere at all times where the summit is hidden.

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
    >>> scene = terrain.Scene(terrain.Country(cone), hill)
    >>> view = terrain.look(scene, terrain.Spot(lon_deg=lon, lat_deg=lat))
    >>> path = view.sun_on(dt.date(2025, 3, 25))
    >>> moments = [path.time(60.0 * minute) for minute in (370, 385, 395)]
    >>> [str(terrain.sun_stand(scene, view, path, each).state) for each in moments]
    ['elsewhere', 'on the rim', 'over']
    """
    moment_s = path.seconds(moment)
    facing = Facing(scene=scene, view=view, path=path, within_deg=within_deg)
    return _stand(path, facing.at([moment_s]), 0)


def sun_spells(
    scene: Scene,
    view: View,
    path: SunPath,
    *,
    up_to_deg: float = UP_TO_DEG,
    within_deg: float = WITHIN_DEG,
) -> tuple[SunSpell, ...]:
    """The times at which the sun stands over a hill, on its rim or just hidden by it, in order.

    Parameters
    ----------
    scene : Scene
        The hill in its country.
    view : View
        Of that hill, as `look` gives it.
    path : SunPath
        The sun on a day, as `View.sun_on` gives it.
    up_to_deg : float, optional
        Apparent altitude of the sun's centre at which its passage ends, degrees.
    within_deg : float, optional
        How far behind the hill's outline the rim of a sun may be that is just hidden, degrees; 1
        unless given (common practice, no source).

    Returns
    -------
    tuple of SunSpell
        By the clock; what is elsewhere is left out, and what lasts less than five seconds may be.

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
    >>> scene = terrain.Scene(terrain.Country(cone), hill)
    >>> view = terrain.look(scene, terrain.Spot(lon_deg=lon, lat_deg=lat))
    >>> for spell in terrain.sun_spells(scene, view, view.sun_on(dt.date(2025, 3, 25))):
    ...     print(f"{spell.start:%H:%M:%S}", f"{spell.end:%H:%M:%S}", spell.state)
    06:18:58 06:23:50 just hidden
    06:23:50 06:26:21 on the rim
    06:26:21 06:35:06 over
    """
    facing = Facing(scene=scene, view=view, path=path, within_deg=within_deg)
    lowest_deg = float(np.nanmin(view.skyline.altitude_deg))
    first_s, last_s = path.rise(up_to_deg, lowest_deg - within_deg - WITHIN_DEG)
    if not first_s < last_s:
        return ()
    times = np.append(np.arange(first_s, last_s, _STEP_S), last_s)
    return tuple(sorted(_spells(facing, times), key=lambda spell: spell.start))


def best_pose(scene: Scene, answer: Backlight) -> SunPose:
    """How the sun stands to the hill of a view at the best moment of a day."""
    path = answer.sun_path
    facing = Facing(scene=scene, view=answer.view, path=path)
    return facing.poses([path.seconds(answer.best.at)])[0]


def _spells(facing: Facing, times_s: Floats) -> Iterator[SunSpell]:
    path, stands = facing.path, facing.at(times_s)
    changes = np.flatnonzero(stands.state[1:] != stands.state[:-1])
    edges_s = [times_s[0], *(_change_s(facing, *times_s[n : n + 2]) for n in changes), times_s[-1]]
    for number, run in enumerate(np.split(np.arange(times_s.size), changes + 1)):
        nearest = _stand(path, stands, int(run[np.argmin(np.abs(stands.aside_deg[run]))]))
        if nearest.state is SunPose.ELSEWHERE:
            continue
        start, end = sorted(path.time(float(edge)) for edge in edges_s[number : number + 2])
        yield SunSpell(state=nearest.state, start=start, end=end, nearest=nearest)


def _change_s(facing: Facing, before_s: float, after_s: float) -> float:
    """When the state that comes after begins, to a part of the step between."""
    times = np.linspace(before_s, after_s, 1 + _PARTS)
    state = facing.at(times).state
    return float(times[np.argmax(state == state[-1])])


def _stand(path: SunPath, stands: Stands, number: int) -> SunStand:
    return SunStand(
        at=path.time(float(stands.times_s[number])),
        state=SunPose(str(stands.state[number])),
        aside_deg=float(stands.aside_deg[number]),
        above_deg=float(stands.above_deg[number]),
    )
