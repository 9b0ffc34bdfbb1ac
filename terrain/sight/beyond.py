"""What the unknown ground does to a skyline: the least that it can, and what it ordinarily does.

Unknown ground is never lower than some surface, the sea's unless the raster shows lower ground. So
no skyline lies lower than the horizon of that surface, at its dip below the horizontal::

    eye ----.__ - - - - - - - - - - - - - - - -   horizontal
     |  known  '--.__       ___  dip: tan = 2 √(h c), at the distance √(h / c),
     |  ground       |'--.__          where h is the eye's height over the surface
    _|_______________|      '--.__    and c s² the fall of the earth, refraction included
        known to     |   ?        '*-----.____  the lowest surface

Known ground is nowhere lower than that surface, so where it goes on to the horizon nothing changes.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from terrain.arrays import Floats
from terrain.ground.dem import Dem
from terrain.sight.bend import bend_per_m

_ORDINARY_SLOPE: Final = 0.2


def lowest_deg(dem: Dem, eye_height_m: ArrayLike, refraction: float) -> tuple[Floats, Floats]:
    """The lowest that a skyline can be, degrees, and its distance, metres, from eyes at heights.

    eye_height_m: above the datum, of any shape, and so are both results.

    >>> from terrain.ground.geodesy import local_transverse_mercator
    >>> from terrain.ground.grid import Grid
    >>> crs = local_transverse_mercator(-24.0, 54.4)
    >>> dem = Dem([[80, 60]], Grid(crs=crs, transform=(50, 0, 0, 0, -50, 0), shape=(1, 2)))
    >>> dip_deg, away_m = lowest_deg(dem, [10.0, 100.0, 1000.0], 0.13)
    >>> (-60 * dip_deg).round(1).tolist(), (away_m / 1000).round(1).tolist()
    ([5.7, 18.0, 56.8], [12.1, 38.3, 121.0])
    """
    return _touching(dem.floor_m, np.asarray(eye_height_m, dtype=float), dem.cell_m, refraction)


def floored(dem: Dem, altitude_deg: Floats, eye_height_m: ArrayLike, refraction: float) -> Floats:
    """Altitudes of skylines, degrees, none lower than it can be; NaN stays NaN.

    altitude_deg, eye_height_m: of shapes that broadcast to that of the first.
    """
    return np.maximum(altitude_deg, lowest_deg(dem, eye_height_m, refraction)[0])


def ordinary_deg(dem: Dem, eye_height_m: float, known_m: ArrayLike, refraction: float) -> Floats:
    """Altitude that ordinary hidden ground would reach beyond the known, degrees.

    known_m: how far the ground is known, of any shape. The hidden ground is as high as all but a
    sixth of the raster's own, and comes up to that from the eye's height no more steeply than one
    in five; below the eye it counts where the line of sight touches its level.
    """
    level_m, known = dem.ordinary_m, np.asarray(known_m, dtype=float)
    rises_m = max(level_m - eye_height_m, 0.0) / _ORDINARY_SLOPE
    return _touching(level_m, eye_height_m, np.maximum(known + rises_m, dem.cell_m), refraction)[0]


def _touching(
    level_m: float, eye_height_m: ArrayLike, least_m: ArrayLike, refraction: float
) -> tuple[Floats, Floats]:
    """Highest altitude of a level surface farther off than some distance, and where, degrees, m."""
    bend = bend_per_m(refraction)
    over_m = np.asarray(eye_height_m, dtype=float) - level_m
    with np.errstate(divide="ignore", invalid="ignore"):
        # rays that follow the earth come to no horizon
        horizon_m = np.nan_to_num(np.sqrt(np.maximum(over_m, 0.0) / bend), posinf=np.inf)
        away_m = np.maximum(horizon_m, least_m)
        rise = np.where(np.isinf(away_m), 0.0, -over_m / away_m - bend * away_m)
    return np.degrees(np.arctan(rise)), away_m
