"""How much of the sun is left at every height, over the horizon and for a while below it.

Light that grazes the earth is bent toward it on the way in and again on the way out, so that high
air is lit by a sun more than a degree under its horizon; and it is spread thin there, because the
lower part of the disc is lifted more than the upper. Rays are walked out from each height as they
are seen, and what is left is told by where the sun truly stands, averaged over its disc.
"""

from __future__ import annotations

from functools import cache
from typing import Final, NamedTuple

import numpy as np

from terrain.arrays import Floats, sealed
from terrain.constants import EARTH_RADIUS_M, SUN_SEMIDIAMETER_AT_1_AU_DEG
from terrain.cores import share_out
from terrain.glow._path_kernels import columns
from terrain.glow.air import ClearAir
from terrain.glow.kept import kept
from terrain.glow.layers import TOP_M, horizon_deg
from terrain.glow.media import media_of

HEIGHTS: Final = 64
ANGLES: Final = 192
LOWEST_DEG: Final = -2.0
"""How far under the geometric horizon of a height the table begins: no ray comes from lower."""
SPAN_DEG: Final = 104.0
_RAYS: Final = 160
_ACROSS: Final = np.linspace(-0.9, 0.9, 10)


class SunTable(NamedTuple):
    """What is left of sunlight: (heights, angles, bands), with the spacing of `place_of`.

    full: in the beam. wide: and with what haze scatters hardly aside. lift: (heights, angles), how
    much higher than its true place the sun is seen, radians.
    """

    full: Floats
    wide: Floats
    lift: Floats


def node_heights() -> Floats:
    """Heights of the rows, close near the sea, metres."""
    return TOP_M * np.linspace(0.0, 1.0, HEIGHTS) ** 2


def node_angles() -> Floats:
    """True altitudes of the columns over the geometric horizon of each height, degrees."""
    return LOWEST_DEG + SPAN_DEG * np.linspace(0.0, 1.0, ANGLES) ** 3


@cache
def sun_table(air: ClearAir, count: int) -> SunTable:
    """The table of this air, worked out once."""
    return SunTable(*map(sealed, kept(("sun", air, count), lambda: _table(air, count))))


def _table(air: ClearAir, count: int) -> tuple[Floats, Floats, Floats]:
    heights = node_heights()
    full, wide = (np.zeros((HEIGHTS, ANGLES, count)) for _ in range(2))
    lift = np.zeros((HEIGHTS, ANGLES))

    def fill(first: int, end: int) -> None:
        for row in range(first, end):
            full[row], wide[row], lift[row] = _row(air, count, float(heights[row]))

    share_out(HEIGHTS, fill)
    return full, wide, lift


def _row(air: ClearAir, count: int, height_m: float) -> tuple[Floats, Floats, Floats]:
    media = media_of(air, count)
    grazing = horizon_deg(air, height_m)
    seen = grazing + 1e-3 + (90.0 - grazing - 1e-3) * np.linspace(0.0, 1.0, _RAYS) ** 3
    found = np.zeros((_RAYS, 5))
    columns(media.layers, height_m, np.radians(seen), found)
    seen, found = seen[found[:, 4] == 0.0], found[found[:, 4] == 0.0]
    true = np.degrees(found[:, 3])
    spread = np.log(np.clip(np.gradient(seen, true), 1e-6, 1.0))
    sky = node_angles() - _dip_deg(height_m)
    left = []
    for haze in (media.haze, media.passed):
        depth = np.outer(found[:, 0], media.molecules) + np.outer(found[:, 1], haze)
        depth += np.outer(found[:, 2], media.ozone)
        left.append(_over_disc(sky, true, spread[:, np.newaxis] - depth))
    lift = np.interp(sky, true, seen - true, left=float(seen[0] - true[0]))
    return left[0], left[1], np.radians(lift)


def _over_disc(sky_deg: Floats, true_deg: Floats, log_left: Floats) -> Floats:
    """Mean over the disc of the sun about each altitude."""
    weights = np.sqrt(1.0 - _ACROSS**2)
    total = np.zeros((sky_deg.size, log_left.shape[1]))
    for across, weight in zip(_ACROSS, weights / weights.sum(), strict=True):
        part = sky_deg + across * SUN_SEMIDIAMETER_AT_1_AU_DEG
        place = np.interp(part, true_deg, np.arange(true_deg.size, dtype=float))
        low = np.minimum(place.astype(int), true_deg.size - 2)
        aside = (place - low)[:, np.newaxis]
        light = np.exp(log_left[low] * (1.0 - aside) + log_left[low + 1] * aside)
        total += weight * np.where((part < true_deg[0])[:, np.newaxis], 0.0, light)
    return total


def _dip_deg(height_m: float) -> float:
    return float(np.degrees(np.arccos(EARTH_RADIUS_M / (EARTH_RADIUS_M + height_m))))
