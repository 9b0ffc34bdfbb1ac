"""How much of a skyline a day's sun needs: which azimuths, and how low a skyline is of no interest.

::

                  N                   the sun's way from dark to dark in autumn, seen from above:
                  |                   what lies to the north of it need not be scanned
             W ---+--- E
            /     |     '\\          and toward the south, where it stands high, no more need be
          dark    S      dark         known of low ground than that it is low

Who asks where the sun first appears needs half of that, from the dark to noon: if it stands clear
of the ground then, all that comes after it is another question (`until_noon`).
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from terrain.arrays import Flags, Floats
from terrain.sight.skyline import AZIMUTH_STEP_DEG, Skyline
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


_BESIDE_DEG: Final = 0.5
"""So far beside the disc the skyline is told: more than it moves in the seconds about a moment."""
_RISES_DEG: Final = 0.25
"""So far under the lowest skyline a rim is out of sight, between two looks at its path too."""
_PAST_NOON: Final = 3
"""Looks at a path after the one nearest to noon, which the sun may pass a little later."""
_CLEAR_DEG: Final = 1.0
"""So far a sun that stands clear is over the ground: more than `Rims` doubts (`_MOVES_DEG`)."""


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


class UntilNoon(NamedTuple):
    """The part of a skyline that the sun needs until noon, and where it stands then.

    asked: (n,) which of the azimuths. sun_deg: (2, m) azimuths and apparent altitudes of its centre
    about noon. semidiameter_deg: of its disc.
    """

    asked: Flags
    sun_deg: Floats
    semidiameter_deg: float

    def of(self, needed: Needed) -> Needed:
        """The part of what a whole day needs."""
        azimuths, least = needed.azimuths_deg, np.asarray(needed.least_deg)
        return Needed(None if azimuths is None else azimuths[self.asked], least[self.asked])

    def is_clear_of(self, sky: Skyline) -> bool:
        """Whether the sun about noon stands clear of the ground under it, by a sure margin.

        So it has come up before, first appears in what was asked of, and is seen whole there.
        """
        azimuth, altitude = self.sun_deg
        wide = self.semidiameter_deg / np.cos(np.radians(np.minimum(altitude, _STEEP_DEG)))
        reach = float(wide.max()) + _BESIDE_DEG / 2.0
        first, last = azimuth.min() - reach, azimuth.max() + reach
        across = np.arange(first, last + AZIMUTH_STEP_DEG, AZIMUTH_STEP_DEG)
        clear_deg = altitude.min() - self.semidiameter_deg - _CLEAR_DEG
        # where the ground is unknown the horizontal stands in for it
        return bool((np.nan_to_num(sky.at(across), nan=0.0) < clear_deg).all())


def until_noon(
    needed: Needed, path: SunPath, toward_deg: float, *, within_deg: float, lowest_deg: float
) -> UntilNoon | None:
    """The part of what a day needs that is enough for the sun's first appearance on a path.

    And for its passage by a hill, if it comes so near to it. needed: as `needed_under` gives it for
    that day. toward_deg: of the hill. lowest_deg: no skyline lies lower. None where all is needed:
    all round, or where the path begins in the light.

    Nothing but the disc and what is next to it is ever compared with a skyline. Before noon it is
    where the path has it; while its upper rim is under the lowest skyline it is hidden, whatever
    the ground; and if at noon it is clear (`is_clear_of`), it neither appears first after that, nor
    is it first clear then. Of a hill that the sun comes near to, no more of the outline counts than
    the disc may touch.
    """
    azimuths = needed.azimuths_deg
    azimuth, true = path.true_at(times := ticks(path))
    if azimuths is None or true[0] > DARK_DEG:
        return None
    apparent = path.at(times)[1]
    # the air lifts an upper rim less than the centre, which is lower
    shows = apparent + path.semidiameter_deg + _RISES_DEG > lowest_deg
    noon = int(np.argmax(true))
    first, end = max(int(np.argmax(shows)) - 1, 0), min(noon + _PAST_NOON, times.size - 1) + 1
    wide = path.semidiameter_deg / np.cos(np.radians(true[first:end])) + _BESIDE_DEG
    low = float((azimuth[first:end] - wide).min())
    high = float((azimuth[first:end] + wide).max())
    own = np.abs((azimuths - toward_deg + 180.0) % 360.0 - 180.0) <= _near_deg(within_deg)
    return UntilNoon(
        asked=own | (np.mod(azimuths - low, 360.0) <= high - low),
        sun_deg=np.stack([azimuth, apparent])[:, noon : end - 1],
        semidiameter_deg=path.semidiameter_deg,
    )


def _near_deg(within_deg: float) -> float:
    """How much of a hill, to either side of its summit, counts for a sun so near to it.

    By azimuth that is twice as far where the sun stands at 60 degrees, higher than over any hill;
    the disc and a degree about it count too.
    """
    return 2.0 * within_deg + 4.0


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
