"""The part of a skyline that the sun of one day can stand over: all that a morning asks of it.

::

              N                   the sun's way from dark to dark in autumn, seen from above:
              |                   what lies to the north of it need not be scanned
         W ---+--- E
        /     |     '\\
      dark    S      dark
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from terrain.sight.skyline import AZIMUTH_STEP_DEG
from terrain.sun.path import SunPath

__all__ = ["DARK_DEG", "azimuths_under"]

DARK_DEG: Final = -6.0
"""Below this true altitude the sun is under any skyline on earth."""

_TICK_S: Final = 300.0
_ASIDE_DEG: Final = 2.0
_STEEP_DEG: Final = 75.0
"""Up to this altitude half a disc spans an azimuth of a degree at most."""


def azimuths_under(path: SunPath, toward_deg: float) -> NDArray[np.float64] | None:
    """Azimuths (n,) in the steps of a skyline that a day's sun passes over, and a little more.

    toward_deg: an azimuth that must be among them. None where all round is needed: where the sun
    goes all round or not at all, passes near the zenith, or is never near that azimuth.
    """
    azimuth, true = path.true_at(np.append(np.arange(0.0, path.length_s, _TICK_S), path.length_s))
    light = np.flatnonzero(true > DARK_DEG)
    if light.size == 0 or true.max() > _STEEP_DEG:
        return None
    way = azimuth[max(light[0] - 1, 0) : light[-1] + 2]
    low, high = float(way.min()) - _ASIDE_DEG, float(way.max()) + _ASIDE_DEG
    if not np.mod(toward_deg - low, 360.0) < high - low < 360.0 - AZIMUTH_STEP_DEG:
        return None
    first, last = np.floor(low / AZIMUTH_STEP_DEG), np.ceil(high / AZIMUTH_STEP_DEG)
    return np.asarray(np.arange(first, last + 1.0) * AZIMUTH_STEP_DEG)
