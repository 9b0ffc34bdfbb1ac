"""From light by azimuth and altitude to the pixels of a sensor behind a rectilinear lens."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from terrain.arrays import Floats, Singles
from terrain.compiling import inner, njit

NODE = 8  # pixels between two places at which directions are worked out


class Sphere(NamedTuple):
    """Light on even steps of direction, (rows, cols, 3), from the first azimuth and altitude."""

    light: Singles
    azimuth_deg: float
    altitude_deg: float
    step_deg: float


class Sensor(NamedTuple):
    """axes: (3, 3) forward, right and up of the camera; px: pixels to its focal length."""

    axes: Floats
    px: float
    parts: int


@inner(error_model="numpy", _nrt=False)
def cells_along(sphere: Sphere, sensor: Sensor, line: tuple[float, float], at: Floats) -> None:
    """Columns and rows of the light at every few pixels of a line of them.

    line: the middle of its length from its left end, and its height over the sensor's middle. at:
    (2, nodes).
    """
    axes, up = sensor.axes, line[1]
    for node in range(at.shape[1]):
        right = NODE * node - line[0]
        east = sensor.px * axes[0, 0] + right * axes[1, 0] + up * axes[2, 0]
        north = sensor.px * axes[0, 1] + right * axes[1, 1] + up * axes[2, 1]
        above = sensor.px * axes[0, 2] + right * axes[1, 2] + up * axes[2, 2]
        turn = math.degrees(math.atan2(east, north)) - sphere.azimuth_deg
        turn -= 360.0 * math.floor((turn + 90.0) / 360.0)
        altitude = math.degrees(math.atan2(above, math.hypot(east, north)))
        at[0, node] = turn / sphere.step_deg
        at[1, node] = (altitude - sphere.altitude_deg) / sphere.step_deg


@njit(cache=True, nogil=True, error_model="numpy")
def expose_rows(first: int, end: int, sphere: Sphere, sensor: Sensor, pixels: Singles) -> None:
    """Mean light of the pixels of the rows first..end-1, (rows, cols, 3), the upper row first."""
    rows, cols, _ = pixels.shape
    light, parts = sphere.light, sensor.parts
    high, wide, _ = light.shape
    at = np.empty((2, cols // NODE + 2))
    share = 1.0 / (parts * parts)
    for down in range(first, end):
        pixels[down] = 0.0
        for line in range(parts):
            up = 0.5 * rows - down - (line + 0.5) / parts
            cells_along(sphere, sensor, (0.5 * cols, up), at)
            for place in range(cols * parts):
                along = (place + 0.5) / (parts * NODE)
                node = int(along)
                along -= node
                col = at[0, node] + along * (at[0, node + 1] - at[0, node])
                row = at[1, node] + along * (at[1, node + 1] - at[1, node])
                col = min(max(col, 0.0), wide - 1.001)
                row = min(max(row, 0.0), high - 1.001)
                i, j = int(row), int(col)
                a, b = row - i, col - j
                w, x = share * (1.0 - a) * (1.0 - b), share * (1.0 - a) * b
                y, z = share * a * (1.0 - b), share * a * b
                pixel = place // parts
                for tone in range(3):
                    pixels[down, pixel, tone] += (
                        w * light[i, j, tone]
                        + x * light[i, j + 1, tone]
                        + y * light[i + 1, j, tone]
                        + z * light[i + 1, j + 1, tone]
                    )
