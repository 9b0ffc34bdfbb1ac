"""Bent rays through the layers of the air, and what of light is left along them.

A ray is walked in steps that are short where it is steep and the air dense::

                              _ - '
        altitude     _  -  '          height grows by sin(altitude),
    eye o - - '- - - - - -            altitude by cos(altitude)·(1/r - bending),
        |  arc = way over the ground / r
"""

from __future__ import annotations

import math
from typing import NamedTuple, cast

import numpy as np

from terrain.arrays import Floats
from terrain.compiling import inner, njit
from terrain.constants import EARTH_RADIUS_M

TOP = 100_000.0
LAYER = 100.0
MOST_STEPS = 1200
BENDING = cast(int, np.int64(3))  # of a layer; a plain 3 is a type of its own to numba


class Media(NamedTuple):
    """What lies where and what it does to light; arrays are (bands,) but for the layers.

    layers: (heights, 4) of `layers_of`. molecules: scattering, 1/m. haze: extinction over that at
    550 nm. passed: the same, less what it scatters so little aside that it stays in the beam.
    scattered: the share of light that haze scatters, over that at 550 nm. aside: the same, less
    what stays in the beam. ozone: cross section, m².
    """

    layers: Floats
    molecules: Floats
    haze: Floats
    passed: Floats
    scattered: Floats
    aside: Floats
    ozone: Floats


@inner(error_model="numpy", _nrt=False)
def layer_at(layers: Floats, height: float, kind: int) -> float:
    place = min(max(height / LAYER, 0.0), layers.shape[0] - 1.001)
    low = int(place)
    return float(layers[low, kind] + (place - low) * (layers[low + 1, kind] - layers[low, kind]))


@inner(error_model="numpy", _nrt=False)
def walk(layers: Floats, start: tuple[float, float], pace: float, way: Floats) -> tuple[int, bool]:
    """Follow a ray from a height at an altitude in radians out of the air or to the sea.

    pace: 1 walks finely, more is coarser. way: (steps, 6), filled with the middle of each step:
    height, altitude, arc, and with how much of molecules, haze and ozone lies along it. Gives the
    number of steps, and whether it ends at the sea. The last row is where the ray ends.
    """
    height, altitude = start
    arc = 0.0
    steps = 0
    sea = False
    while steps < way.shape[0] - 1:
        rise = abs(math.sin(altitude))
        step = pace * min(5000.0 + 0.3 * height, (100.0 + 0.04 * height) / max(rise, 1e-6))
        radius = EARTH_RADIUS_M + height
        turn = math.cos(altitude) * (1.0 / radius - layer_at(layers, height, BENDING))
        middle_altitude = altitude + 0.5 * step * turn
        middle_height = height + 0.5 * step * math.sin(altitude + 0.25 * step * turn)
        last = height + step * math.sin(middle_altitude)
        share = 1.0
        if last < 0.0:
            share = height / max(height - last, 1e-9)
            sea = True
        elif last > TOP:
            share = (TOP - height) / (last - height)
        step *= share
        middle_height = max(height + share * (middle_height - height), 0.0)
        for kind in range(3):
            way[steps, 3 + kind] = step * layer_at(layers, middle_height, kind)
        middle_radius = EARTH_RADIUS_M + middle_height
        turn = math.cos(middle_altitude) * (
            1.0 / middle_radius - layer_at(layers, middle_height, BENDING)
        )
        along = step * math.cos(middle_altitude) / middle_radius
        way[steps, 0] = middle_height
        way[steps, 1] = altitude + 0.5 * step * turn
        way[steps, 2] = arc + 0.5 * along
        height += share * (last - height)
        altitude += step * turn
        arc += along
        steps += 1
        if share < 1.0 or height >= TOP:
            break
    way[steps, 0] = height
    way[steps, 1] = altitude
    way[steps, 2] = arc
    return steps, sea


@njit(cache=True, nogil=True, error_model="numpy")
def columns(layers: Floats, height: float, altitudes: Floats, answer: Floats) -> None:
    """Rays from one height: (altitudes, 5), what lies along each, true altitude, 1 at the sea."""
    way = np.empty((MOST_STEPS, 6))
    for each in range(altitudes.size):
        steps, sea = walk(layers, (height, altitudes[each]), 0.5, way)
        for kind in range(3):
            answer[each, kind] = way[:steps, 3 + kind].sum()
        answer[each, 3] = way[steps, 1] - way[steps, 2]
        answer[each, 4] = 1.0 if sea else 0.0
