"""The air before the ground: worked out for single targets, or read from a grid of them.

Of each target nine values are told: what is left of its light, what the air adds of its own, and
what haze adds of the sun's before the share that goes into the direction; each by colour. The grid
lies along the roots of distance, along height and along the azimuth from the sun.
"""

from __future__ import annotations

import math
from typing import NamedTuple, cast

import numpy as np

from terrain.arrays import Floats
from terrain.compiling import inner, njit
from terrain.constants import EARTH_RADIUS_M, TERRESTRIAL_REFRACTION
from terrain.glow._path_kernels import Media, layer_at
from terrain.glow._scatter_kernels import Lights, by_haze, light_left, scattered_toward

STEPS = cast(int, np.int64(16))  # a plain 16 is a type of its own to numba
FALL = (1.0 - TERRESTRIAL_REFRACTION) / (2.0 * EARTH_RADIUS_M)


class Targets(NamedTuple):
    """Ground that is looked at: distances and heights, m, azimuths from the sun, radians."""

    distances: Floats
    heights: Floats
    azimuths: Floats


class Eye(NamedTuple):
    """Its height, m, and altitudes of the sun, true and as it is seen, radians."""

    height: float
    sun: float
    sun_seen: float


@inner(error_model="numpy", _nrt=False)
def slope_to(eye: Eye, distance: float, height: float) -> float:
    """Altitude at which a target is seen, radians: along the chord of a light-bent earth."""
    return math.atan((height - eye.height) / distance - FALL * distance)


@njit(cache=True, nogil=True, error_model="numpy")
def hazes(
    media: Media,
    lights: Lights,
    eye: Eye,
    targets: Targets,
    to_rgb: Floats,
    part: tuple[int, int],
    answer: Floats,
) -> None:
    """Fill the nine values of some targets: (targets, 9)."""
    bands = media.molecules.size
    way = np.zeros((STEPS + 1, 6))
    left = np.empty((STEPS + 1, bands))
    even = np.empty(bands)
    aureole = np.empty(bands)
    sun = (math.sin(eye.sun), math.cos(eye.sun))
    for each in range(part[0], part[1]):
        distance, rise = targets.distances[each], targets.heights[each] - eye.height
        haze = 0.0
        for step in range(STEPS):
            near = distance * (step / STEPS) ** 2
            far = distance * ((step + 1.0) / STEPS) ** 2
            middle = 0.5 * (near + far)
            height = eye.height + rise * middle / distance - FALL * middle * (distance - middle)
            height = max(height, 0.0)
            way[step, 0] = height
            way[step, 2] = middle / EARTH_RADIUS_M
            for kind in range(3):
                way[step, 3 + kind] = (far - near) * layer_at(media.layers, height, kind)
            haze += way[step, 4]
        sine = math.sin(slope_to(eye, distance, targets.heights[each]))
        course = (sine, math.cos(targets.azimuths[each]))
        light_left(media, way, STEPS, left)
        scattered_toward(media, lights, sun, course, (way, left, STEPS), even, aureole)
        for colour in range(3):
            whole = 0.0
            for band in range(bands):
                # what hardly leaves the beam blurs the ground: here it is lost
                beam = left[STEPS, band] * math.exp(-haze * (media.haze[band] - media.passed[band]))
                whole += to_rgb[colour, band]
                answer[each, colour] += to_rgb[colour, band] * beam
                answer[each, 3 + colour] += to_rgb[colour, band] * even[band]
                answer[each, 6 + colour] += to_rgb[colour, band] * aureole[band]
            answer[each, colour] = min(max(answer[each, colour] / whole, 0.0), 1.0)


@inner(error_model="numpy", _nrt=False)
def place(value: float, low: float, high: float, nodes: int) -> tuple[int, float]:
    """Where a value lies on an even axis: the node before it, and the share of the next."""
    along = (value - low) / max(high - low, 1e-9) * (nodes - 1)
    along = min(max(along, 0.0), nodes - 1.0)
    node = min(int(along), nodes - 2)
    return node, along - node


@njit(cache=True, nogil=True, error_model="numpy", _nrt=False)
def read_hazes(
    grid: Floats, ends: Floats, targets: Targets, part: tuple[int, int], answer: Floats
) -> None:
    """Read the nine values of targets from a grid of them.

    grid: (roots of distance, heights, azimuths, 9). ends: (3, 2), the least and most of each axis.
    """
    for each in range(part[0], part[1]):
        root = math.sqrt(targets.distances[each])
        at, far = place(root, ends[0, 0], ends[0, 1], grid.shape[0])
        row, up = place(targets.heights[each], ends[1, 0], ends[1, 1], grid.shape[1])
        col, aside = place(targets.azimuths[each], ends[2, 0], ends[2, 1], grid.shape[2])
        for value in range(9):
            answer[each, value] = 0.0
        for corner in range(8):
            next_at, next_row, next_col = corner & 1, (corner >> 1) & 1, corner >> 2
            weight = far if next_at else 1.0 - far
            weight *= up if next_row else 1.0 - up
            weight *= aside if next_col else 1.0 - aside
            for value in range(9):
                answer[each, value] += (
                    weight * grid[at + next_at, row + next_row, col + next_col, value]
                )


@njit(cache=True, nogil=True, error_model="numpy", _nrt=False)
def veil(
    eye: Eye,
    asymmetry: float,
    targets: Targets,
    part: tuple[int, int],
    nine: Floats,
    light: Floats,
) -> None:
    """What the air adds, in the direction of each target: (targets, 3)."""
    for each in range(part[0], part[1]):
        slope = slope_to(eye, targets.distances[each], targets.heights[each])
        cosine = math.sin(eye.sun_seen) * math.sin(slope)
        cosine += math.cos(eye.sun_seen) * math.cos(slope) * math.cos(targets.azimuths[each])
        share = by_haze(cosine, asymmetry)
        for colour in range(3):
            light[each, colour] = nine[each, 3 + colour] + share * nine[each, 6 + colour]
