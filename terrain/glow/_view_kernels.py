"""What an eye sees of the sky: row by row, and in any direction."""

from __future__ import annotations

import math

import numpy as np

from terrain.arrays import Floats
from terrain.compiling import njit
from terrain.glow._path_kernels import MOST_STEPS, Media, walk
from terrain.glow._scatter_kernels import Lights, by_haze, light_left, scattered_toward


@njit(cache=True, nogil=True, error_model="numpy")
def sky_rows(
    media: Media,
    lights: Lights,
    eye: tuple[float, float],
    directions: tuple[Floats, Floats],
    to_rgb: Floats,
    part: tuple[int, int],
    even: Floats,
    aureole: Floats,
) -> None:
    """Fill rows of the sky: (altitudes, azimuths, 3) each, in colours.

    eye: its height and the altitude of the sun, radians. directions: altitudes and azimuths from
    the sun, radians.
    """
    bands = media.molecules.size
    way = np.empty((MOST_STEPS, 6))
    left = np.empty((MOST_STEPS, bands))
    smooth = np.empty(bands)
    peaked = np.empty(bands)
    sun = (math.sin(eye[1]), math.cos(eye[1]))
    for row in range(part[0], part[1]):
        altitude = directions[0][row]
        steps, _ = walk(media.layers, (eye[0], altitude), 1.0, way)
        light_left(media, way, steps, left)
        for col in range(directions[1].size):
            course = (math.sin(altitude), math.cos(directions[1][col]))
            scattered_toward(media, lights, sun, course, (way, left, steps), smooth, peaked)
            for colour in range(3):
                for band in range(bands):
                    even[row, col, colour] += to_rgb[colour, band] * smooth[band]
                    aureole[row, col, colour] += to_rgb[colour, band] * peaked[band]


@njit(cache=True, nogil=True, error_model="numpy", _nrt=False)
def look_up(
    sky: tuple[Floats, Floats],
    sight: tuple[float, float, float],
    altitudes: Floats,
    azimuths: Floats,
    part: tuple[int, int],
    answer: Floats,
) -> None:
    """Read the two layers of a sky in some directions: (directions, 3).

    sight: altitudes of the horizon and of the sun as seen, radians, and the haze's asymmetry.
    """
    rows, cols = sky[0].shape[0], sky[0].shape[1]
    sun_sine, sun_cosine = math.sin(sight[1]), math.cos(sight[1])
    for each in range(part[0], part[1]):
        altitude = altitudes[each]
        over = (altitude - sight[0]) / (0.5 * math.pi - sight[0])
        down = math.sqrt(min(max(over, 0.0), 1.0)) * (rows - 1)
        row = min(int(down), rows - 2)
        down -= row
        toward = math.cos(azimuths[each])
        along = math.acos(min(max(toward, -1.0), 1.0)) / math.pi * (cols - 1)
        col = min(int(along), cols - 2)
        along -= col
        cosine = sun_sine * math.sin(altitude) + sun_cosine * math.cos(altitude) * toward
        share = by_haze(cosine, sight[2])
        for colour in range(3):
            upper = (sky[0][row, col, colour] + share * sky[1][row, col, colour]) * (1.0 - along)
            upper += (sky[0][row, col + 1, colour] + share * sky[1][row, col + 1, colour]) * along
            lower = (sky[0][row + 1, col, colour] + share * sky[1][row + 1, col, colour]) * (
                1.0 - along
            )
            lower += (
                sky[0][row + 1, col + 1, colour] + share * sky[1][row + 1, col + 1, colour]
            ) * along
            answer[each, colour] = upper * (1.0 - down) + lower * down
