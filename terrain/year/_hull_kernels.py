"""Upper hulls of what rays pass over: all of it that can matter to an eye, found by halving.

::

                o--._
             .-'     '--o         o  the hull, from the summit outwards
       o---'  .  .   .    '--._
     .'  .  .   .  .   .       '-o
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from terrain.arrays import Floats, Numbers
from terrain.compiling import inner


class Hulls(NamedTuple):
    """The upper hull along each ray: points, (points, rays), and how many there are, (rays,).

    Hulls are short, and those of neighbouring rays lie side by side so that all their heads stay
    in the cache.
    """

    us: Floats
    zs: Floats
    sizes: Numbers


@inner()
def no_hulls(points: int, rays: int) -> Hulls:
    """Hulls without a point, with room for so many each."""
    return Hulls(np.empty((points, rays)), np.empty((points, rays)), np.zeros(rays, dtype=np.int64))


@inner(error_model="numpy")
def push(hulls: Hulls, ray: int, u: float, z: float) -> None:
    """Put a point on the upper hull of a ray, whose points recede."""
    us, zs, size = hulls.us, hulls.zs, hulls.sizes[ray]
    while size > 1:
        u_last, z_last = us[size - 1, ray], zs[size - 1, ray]
        rise = (z - z_last) * (u_last - us[size - 2, ray])
        if rise < (z_last - zs[size - 2, ray]) * (u - u_last):
            break
        size -= 1
    us[size, ray], zs[size, ray] = u, z
    hulls.sizes[ray] = size + 1


@inner(error_model="numpy")
def steepest(hulls: Hulls, ray: int, eye_u: float, eye_z: float, way: float) -> float:
    """Slope, per line, from an eye to the point of a hull that stands highest in view.

    way: 1 where the hull lies on the far side of the summit, -1 where it lies before it. Along a
    hull the slope rises to one maximum and falls again. -inf for an empty hull.
    """
    us, zs, size = hulls.us, hulls.zs, hulls.sizes[ray]
    if size == 0:
        return -math.inf
    low, high = 0, size - 1
    while low < high:
        middle = (low + high) // 2
        # second > first, as slopes, without dividing by the distances from the eye
        first = (zs[middle, ray] - eye_z) * (eye_u + way * us[middle + 1, ray])
        second = (zs[middle + 1, ray] - eye_z) * (eye_u + way * us[middle, ray])
        if second > first:
            low = middle + 1
        else:
            high = middle
    slope: float = (zs[low, ray] - eye_z) / (eye_u + way * us[low, ray])
    return slope
