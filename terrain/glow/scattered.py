"""Light that air scatters more than once, as a source of light at every height.

What arrives from all sides at a point is worked out order by order: the sun's light scattered
once with the shares of its directions, then that light scattered evenly again and again, between
the ground and the top of the air, from where the sun still stands to where it is night. After a few
orders each is the same part of the one before, and the rest of the series is one division, as
Hillaire 2020 (Comput. Graph. Forum 39(4), 13, eq. 9) does it from the second on.
"""

from __future__ import annotations

from functools import cache
from typing import Final, NamedTuple

import numpy as np

from terrain.arrays import Floats, sealed
from terrain.cores import share_out
from terrain.glow._path_kernels import TOP
from terrain.glow._scatter_kernels import (
    MORE_LOWEST,
    MORE_MIDDLE,
    MORE_WIDTH,
    Lights,
    gather,
)
from terrain.glow.air import ClearAir
from terrain.glow.kept import kept
from terrain.glow.layers import horizon_deg
from terrain.glow.media import media_of
from terrain.glow.sun_tables import node_angles, sun_table

HEIGHTS: Final = 24
SUNS: Final = 48
ORDERS: Final = 4
_UP: Final = 10
_DOWN: Final = 6


class _Order(NamedTuple):
    """Light of one order: the mean over all sides, and what falls on the ground."""

    mean: Floats
    falling: Floats


def sun_nodes_deg() -> Floats:
    """Altitudes of the sun for which scattered light is known, closest where dusk changes most."""
    low, high = np.arcsinh((np.array([MORE_LOWEST, 90.0]) - MORE_MIDDLE) / MORE_WIDTH).tolist()
    return np.asarray(MORE_MIDDLE + MORE_WIDTH * np.sinh(np.linspace(low, high, SUNS)))


@cache
def lights_of(air: ClearAir, count: int) -> Lights:
    """The sun's light, and all light scattered before, at every height and altitude of the sun."""
    (more,) = kept(("scattered", air, count), lambda: [_more(air, count)])
    return Lights(sun_table(air, count).wide, sealed(more), air.aerosol_asymmetry)


def _more(air: ClearAir, count: int) -> Floats:
    """Roots of the light that was scattered before: (heights, suns, bands)."""
    sun = sun_table(air, count)
    lights = Lights(sun.wide, np.zeros((2, 2, count)), air.aerosol_asymmetry)
    order = _next(air, lights._replace(more=np.zeros((HEIGHTS, SUNS, count))), _sunny(air, count))
    total = order.mean.copy()
    for _ in range(ORDERS - 1):
        before = order
        order = _next(air, lights._replace(more=np.sqrt(order.mean)), order.falling, again=True)
        total += order.mean
    ratio = order.mean / np.maximum(before.mean, 1e-30)
    total += order.mean * ratio / (1.0 - np.minimum(ratio, 0.9))
    return np.sqrt(total)


def _sunny(air: ClearAir, count: int) -> Floats:
    """What the sun itself lays on level ground: (suns, bands)."""
    suns = np.clip(sun_nodes_deg(), None, 90.0)
    wide = sun_table(air, count).wide[0]
    nodes = node_angles()
    direct = np.stack([np.interp(suns, nodes, wide[:, band]) for band in range(count)], axis=1)
    return np.asarray(direct * np.maximum(np.sin(np.radians(suns)), 0.0)[:, np.newaxis])


def _next(air: ClearAir, lights: Lights, fallen: Floats, *, again: bool = False) -> _Order:
    media = media_of(air, lights.sun.shape[2])
    heights = TOP * np.linspace(0.0, 1.0, HEIGHTS) ** 2
    mean = np.zeros((HEIGHTS, SUNS, lights.sun.shape[2]))
    falling = np.zeros(mean.shape[1:])
    rays = _rays(air, heights)
    suns = np.radians(sun_nodes_deg())

    def fill(first: int, end: int) -> None:
        ground = (fallen, air.ground_albedo)
        gather(media, lights, ground, rays, suns, heights, (first, end), again, mean, falling)

    share_out(HEIGHTS, fill)
    return _Order(mean, falling)


def _rays(air: ClearAir, heights: Floats) -> tuple[Floats, Floats]:
    """Sines of the altitudes of rays above and below each horizon, and weights that add up to 2."""
    up, up_weights = np.polynomial.legendre.leggauss(_UP)
    down, down_weights = np.polynomial.legendre.leggauss(_DOWN)
    sines, weights = [], []
    for height in heights:
        horizon = np.sin(np.radians(horizon_deg(air, float(height))))
        sines.append(
            np.concatenate(
                [
                    -1.0 + (horizon + 1.0) * (down + 1.0) / 2.0,
                    horizon + (1.0 - horizon) * (up + 1.0) / 2.0,
                ]
            )
        )
        weights.append(
            np.concatenate(
                [down_weights * (horizon + 1.0) / 2.0, up_weights * (1.0 - horizon) / 2.0]
            )
        )
    return np.array(sines), np.array(weights)
