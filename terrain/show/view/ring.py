"""A ring round a spot: azimuths clockwise from north at the top, altitudes outward.

::

              N
         ,-'     '-.        outer edge   highest altitude
       /    ,---.    \\
      |    ( spot )   |     the level is a circle between the two edges
       \\    '---'    /
         '-.     ,-'        inner edge   lowest altitude

It lies as a map does, so that what is seen in a direction stands on that side of the page.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.path import Path
from numpy.typing import ArrayLike
from scipy import ndimage

from terrain.arrays import Flags, Floats

INNER: Final = 0.52
"""Radius of the inner edge, of 1 at the outer."""
_BESIDE_PX: Final = 16.0


@dataclass(frozen=True, kw_only=True)
class Ring:
    """The altitudes of a ring at its inner and its outer edge, degrees."""

    low_deg: float
    high_deg: float

    @property
    def steeper(self) -> float:
        """How many times as steep as they are things stand at the level."""
        outward = (1.0 - INNER) / (self.high_deg - self.low_deg)
        return float(outward / (self.radius(0.0) * np.pi / 180.0))

    def radius(self, altitude_deg: ArrayLike) -> Floats:
        """How far out altitudes lie, none beyond the edges; of unknown ones NaN."""
        share = (np.asarray(altitude_deg) - self.low_deg) / (self.high_deg - self.low_deg)
        return np.asarray(INNER + (1.0 - INNER) * np.clip(share, 0.0, 1.0))

    def places(self, azimuth_deg: ArrayLike, altitude_deg: ArrayLike) -> Floats:
        """Directions on the page, (n, 2)."""
        return at_radius(azimuth_deg, self.radius(altitude_deg))

    def picture(self, colours: Floats, pixels: int) -> Floats:
        """A picture (altitudes, azimuths, 4) bent to the ring, (pixels, pixels, 4), row 0 low.

        Its azimuths go all round, evenly; its altitudes evenly from the inner edge to the outer.
        """
        rows, cols, _ = colours.shape
        across = np.linspace(-1.0, 1.0, pixels)
        right, up = np.meshgrid(across, across)
        out = np.hypot(right, up)
        col = np.mod(np.arctan2(right, up) / (2.0 * np.pi), 1.0) * cols
        row = (out - INNER) / (1.0 - INNER) * (rows - 1)
        round_it = np.concatenate([colours, colours[:, :1]], axis=1)
        # a little beyond the edges too, whose colours a picture of another size is mixed of
        beside = _BESIDE_PX * 2.0 / pixels
        near = (out > INNER - beside) & (out < 1.0 + beside)
        bent = np.zeros((pixels, pixels, 4))
        for part in range(4):
            bent[near, part] = ndimage.map_coordinates(
                round_it[..., part], [row[near], col[near]], order=1, mode="nearest"
            )
        bent[(out < INNER) | (out > 1.0), 3] = 0.0
        return bent

    def between(self, azimuth_deg: Floats, low_deg: Floats, high_deg: Floats) -> Path:
        """What lies between two altitudes in some directions one after another."""
        return bounded(azimuth_deg, self.radius(low_deg), self.radius(high_deg))


def at_radius(azimuth_deg: ArrayLike, radius: ArrayLike) -> Floats:
    """Places (n, 2) that far out in directions."""
    turn = np.radians(np.atleast_1d(np.asarray(azimuth_deg, dtype=float)))
    return np.stack([radius * np.sin(turn), radius * np.cos(turn)], axis=-1)


def bounded(azimuth_deg: Floats, inner: ArrayLike, outer: ArrayLike) -> Path:
    """What lies between two radii in some directions one after another."""
    inside, outside = at_radius(azimuth_deg, inner), at_radius(azimuth_deg, outer)
    return Path(np.concatenate([inside, outside[::-1], inside[:1]]), closed=True)


def runs(wanted: Flags) -> Iterator[slice]:
    """The stretches of some directions in their order that are wanted."""
    number, count = ndimage.label(wanted)
    for (found,) in ndimage.find_objects(number, max_label=count):
        yield found


def draw_circle(ax: Axes, radius: float, **look: Any) -> None:
    """A circle about the middle."""
    ax.plot(*at_radius(np.linspace(0.0, 360.0, 361), radius).T, **look)
