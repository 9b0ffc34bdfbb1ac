"""How much of a skyline a day's sun needs: which azimuths, and how low a skyline is of no interest.

::

                  N                   the sun's way from dark to dark in autumn, seen from above:
                  |                   what lies to the north of it need not be scanned
             W ---+--- E
            /     |     '\\          and toward the south, where it stands high, no more need be
          dark    S      dark         known of low ground than that it is low
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from terrain.arrays import Floats
from terrain.sight.skyline import AZIMUTH_STEP_DEG
from terrain.sun.path import SunPath
from terrain.view.rims import DARK_DEG, ticks

_ASIDE_DEG: Final = 2.0
_STEEP_DEG: Final = 75.0
"""Up to this altitude half a disc spans an azimuth of a degree at most."""

_OWN_DEG: Final = 30.0
"""So far to either side of a hill all of the skyline is told, whatever the sun does there."""
_UNDER_DEG: Final = 1.5
"""So far under the lower rim of the sun a skyline is of no interest.

Well over the degree within which `Rims` takes the sun to be near the ground.
"""


class Needed(NamedTuple):
    """What of a skyline is needed, as `skyline` takes it: all round, and all of it, unless told."""

    azimuths_deg: Floats | None = None
    least_deg: float | Floats = -90.0


def needed_under(path: SunPath, toward_deg: float | None = None) -> Needed:
    """What a day's sun needs; toward_deg: of a hill, about which all of the skyline is needed."""
    azimuths = azimuths_under(path, toward_deg)
    if azimuths is None:
        return Needed()
    return Needed(azimuths, least_under(path, azimuths, toward_deg))


def azimuths_under(path: SunPath, toward_deg: float | None = None) -> Floats | None:
    """Azimuths (n,) in the steps of a skyline that a day's sun passes over, and a little more.

    toward_deg: an azimuth that must be among them, if any must. None where all round is needed:
    where the sun goes all round or not at all, passes near the zenith, or is never near it.
    """
    azimuth, true = path.true_at(ticks(path))
    light = np.flatnonzero(true > DARK_DEG)
    if light.size == 0 or true.max() > _STEEP_DEG:
        return None
    way = azimuth[max(light[0] - 1, 0) : light[-1] + 2]
    low, high = float(way.min()) - _ASIDE_DEG, float(way.max()) + _ASIDE_DEG
    aside = 0.0 if toward_deg is None else np.mod(toward_deg - low, 360.0)
    if not aside < high - low < 360.0 - AZIMUTH_STEP_DEG:
        return None
    first, last = np.floor(low / AZIMUTH_STEP_DEG), np.ceil(high / AZIMUTH_STEP_DEG)
    return np.asarray(np.arange(first, last + 1.0) * AZIMUTH_STEP_DEG)


def least_under(path: SunPath, azimuth_deg: Floats, toward_deg: float | None = None) -> Floats:
    """Altitudes (n,), degrees, under which a skyline does not matter to a day's sun.

    azimuth_deg: as `azimuths_under` gives them for that path. toward_deg: the azimuth of a hill,
    about which every skyline matters; so does it where the sun does not pass: -90 there.
    """
    azimuth, true = path.true_at(ticks(path))
    half = path.semidiameter_deg
    wide = half / np.cos(np.radians(np.minimum(true, _STEEP_DEG)))
    # from one moment to the next, the disc is between where it stands at both
    low = np.minimum((azimuth - wide)[:-1], (azimuth - wide)[1:])
    high = np.maximum((azimuth + wide)[:-1], (azimuth + wide)[1:])
    under = np.minimum(true[:-1], true[1:]) - half - _UNDER_DEG
    first, end = _span(azimuth_deg, low), _span(azimuth_deg, high) + 1
    light = np.maximum(true[:-1], true[1:]) > DARK_DEG
    least = np.full(azimuth_deg.size, np.inf)
    for begin, until, altitude_deg in zip(first[light], end[light], under[light], strict=True):
        np.minimum(least[begin:until], altitude_deg, out=least[begin:until])
    away = 0.0 if toward_deg is None else np.abs((azimuth_deg - toward_deg + 180.0) % 360.0 - 180.0)
    matters = np.isinf(least) | ((away < _OWN_DEG) & (toward_deg is not None))
    return np.where(matters, -90.0, np.maximum(least, -90.0))


def _span(azimuth_deg: Floats, at_deg: Floats) -> NDArray[np.intp]:
    """The samples next to some azimuths, those at the ends for what lies beyond."""
    number = np.rint((at_deg - azimuth_deg[0]) / AZIMUTH_STEP_DEG)
    return np.asarray(np.clip(number, 0, azimuth_deg.size - 1), dtype=np.intp)
