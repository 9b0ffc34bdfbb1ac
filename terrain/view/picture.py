"""How a hill stands out of the mist in a frame: its waterline, its height over it, the mist in it.

::

               _A_                    the outline of what is seen of the hill meets the sky from
            _.'   '._                 s to s, ground from s to g, and mist from g to s: its
         s.'         '.s ___          waterline is the share of mist in all that is not sky
     ___/ |   hill    |_/
    other  g.       .~~~~~~~~~        over the mist: from there, where it meets the hill under
    ~~~~~~~~~'~~~~~'~~~~~~~~~~        the summit, up to A
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from terrain.arrays import Flags, Floats
from terrain.view.look import View
from terrain.view.prospect import FIELD_DEG, Prospect, prospect
from terrain.view.scene import Scene

_ALL: Final = 0.995
"""So much of an outline is all of it: cells of a picture are no finer."""


@dataclass(frozen=True, kw_only=True)
class Picture:
    """How a hill and the mist about it look in one frame.

    Attributes
    ----------
    waterline : float
        Share of the hill's outline in the frame that meets mist rather than ground, 0 to 1, by its
        length in the view; what meets the sky does not count. NaN where nothing of the hill is
        seen, or all of its outline meets the sky.
    over_mist_deg : float
        How high the summit stands over the mist's top where it meets the hill under the summit, or
        nearest beside that, degrees; NaN where it meets none of the hill in the frame.
    is_island : bool
        All of that outline meets mist, and the hill ends within the frame.
    mist_share : float
        Share of mist in all of the frame that is not sky, 0 to 1; NaN where all is sky.
    frame_mist_share : float
        Share of mist in the whole frame, the sky counted, 0 to 1.

    Examples
    --------
    >>> import numpy as np
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(100, 0, 5e5, 0, -100, 6e6), shape=(61, 81))
    >>> row, col = np.mgrid[-30:31, -40:41]
    >>> ground = np.maximum(300.0 - 60.0 * np.hypot(row, col), 0.0)
    >>> ground[30, 5] = 120.0
    >>> isle = terrain.Dem(ground, grid)
    >>> hill = terrain.hill_at(isle, *map(float, grid.lonlat(30, 40)), name="Isle")
    >>> lon, lat = (float(part) for part in grid.lonlat(30, 5))
    >>> misty = terrain.Country(isle, mist=terrain.level_mist(isle, 100.0))
    >>> scene = terrain.Scene(misty, hill)
    >>> view = terrain.look(scene, terrain.Spot(lon_deg=lon, lat_deg=lat, eye_m=40.0))
    >>> seen = terrain.picture(scene, view)
    >>> round(seen.mist_share, 2), round(seen.frame_mist_share, 2)
    (0.81, 0.31)
    """

    waterline: float
    over_mist_deg: float
    is_island: bool
    mist_share: float
    frame_mist_share: float


def picture(
    scene: Scene,
    view: View,
    *,
    field_deg: tuple[float, float] = FIELD_DEG,
    aim_deg: tuple[float, float] | None = None,
) -> Picture:
    """How the hill of a view stands out of the mist in a frame.

    Parameters
    ----------
    scene : Scene
        The hill in its country.
    view : View
        Of that hill, as `look` gives it.
    field_deg : (float, float), optional
        Width and height of the frame as the camera is held, degrees; 16 by 16 unless given.
    aim_deg : (float, float), optional
        Azimuth and altitude of its middle, degrees; the summit unless given.

    Returns
    -------
    Picture
        What is seen of the hill's outline and of the mist.

    Raises
    ------
    TerrainError
        For a frame that is not wider and higher than 0 degrees, or larger than 360 by 180.

    Examples
    --------
    >>> import numpy as np
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(100, 0, 5e5, 0, -100, 6e6), shape=(61, 81))
    >>> row, col = np.mgrid[-30:31, -40:41]
    >>> ground = np.maximum(300.0 - 60.0 * np.hypot(row, col), 0.0)
    >>> ground[30, 5] = 120.0
    >>> isle = terrain.Dem(ground, grid)
    >>> hill = terrain.hill_at(isle, *map(float, grid.lonlat(30, 40)), name="Isle")
    >>> lon, lat = (float(part) for part in grid.lonlat(30, 5))
    >>> misty = terrain.Country(isle, mist=terrain.level_mist(isle, 100.0))
    >>> scene = terrain.Scene(misty, hill)
    >>> view = terrain.look(scene, terrain.Spot(lon_deg=lon, lat_deg=lat, eye_m=40.0))
    >>> seen = terrain.picture(scene, view, field_deg=(24.0, 16.0))
    >>> seen.is_island, seen.waterline, round(seen.over_mist_deg, 1)
    (True, 1.0, 3.4)
    """
    aim = aim_deg or (view.azimuth_deg, view.altitude_deg)
    return picture_in(scene, view, prospect(scene.country, view.spot, *aim, field_deg=field_deg))


def picture_in(scene: Scene, view: View, about: Prospect) -> Picture:
    """As `picture` has it, from what is seen in the frame already."""
    own = hill_in(scene, about)
    mist_deg = _outline_deg(about, own, about.is_mist)
    outline_deg = mist_deg + _outline_deg(about, own, about.is_ground & ~own)
    waterline = mist_deg / outline_deg if outline_deg > 0.0 else math.nan
    ends = np.concatenate([own[0], own[-1], own[:, 0], own[:, -1]])
    return Picture(
        waterline=waterline,
        over_mist_deg=view.altitude_deg - _shore_deg(view, about, own),
        is_island=waterline >= _ALL and not ends.any(),
        mist_share=about.mist_share,
        frame_mist_share=about.frame_mist_share,
    )


def hill_in(scene: Scene, about: Prospect) -> Flags:
    """Where the hill is seen in a frame, (rows, cols).

    Its own ground down to the shore, which runs between the cells of the raster.
    """
    bare = scene.country.under(None).own_ground(scene.hill)
    return about.on(bare, about.is_ground)


def _shore_deg(view: View, about: Prospect, own: Flags) -> float:
    """Altitude at which mist meets the hill under the summit, or nearest beside it; else NaN."""
    middles_deg = 0.5 * (about.seen.altitude_deg[1:] + about.seen.altitude_deg[:-1])
    shore = own[1:] & about.is_mist[:-1] & (middles_deg < view.altitude_deg)[:, np.newaxis]
    aside = np.abs(about.seen.azimuth_deg - view.azimuth_deg)
    if not shore.any():
        return math.nan
    col = int(np.argmin(np.where(shore.any(axis=0), aside, np.inf)))
    return float(middles_deg[shore[:, col]].max())


def _outline_deg(about: Prospect, own: Flags, other: Flags) -> float:
    """Length in the view of the line along which a hill meets something else, but for a factor.

    By how many lines of each of four directions cross it (Cauchy and Crofton): so a slanting line
    is no longer for the steps of the picture's cells. Source: any handbook of integral geometry,
    such as Santalo (1976), I.3.
    """
    up = float(about.seen.altitude_deg[1] - about.seen.altitude_deg[0])
    across = about.part_deg2[:, 0] / up
    total, (rows, cols) = 0.0, own.shape
    for down, along, weight in _directions(across, up):
        here = np.s_[: rows - down, max(-along, 0) : cols - max(along, 0)]
        there = np.s_[down:, max(along, 0) : cols + min(along, 0)]
        meets = (own[here] & other[there]) | (other[here] & own[there])
        total += float(meets.sum(axis=1) @ weight[: rows - down])
    return total


def _directions(across_deg: Floats, up_deg: float) -> Iterator[tuple[int, int, Floats]]:
    """Steps from cell to cell, and how much a crossing in that direction counts, by rows.

    That is the distance between two such lines, and the angle that the direction stands for.
    """
    lean = np.arctan2(up_deg, across_deg)
    slant = across_deg * np.sin(lean)
    yield 0, 1, up_deg * lean
    yield 1, 0, across_deg * (0.5 * np.pi - lean)
    yield 1, 1, slant * 0.25 * np.pi
    yield 1, -1, slant * 0.25 * np.pi
