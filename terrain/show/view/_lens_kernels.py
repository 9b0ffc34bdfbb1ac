"""From light by azimuth and altitude to the pixels of a sensor behind a rectilinear lens."""

from __future__ import annotations

import math
from typing import NamedTuple

from terrain.arrays import Floats, Singles
from terrain.compiling import njit


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


@njit(cache=True, nogil=True)
def expose_rows(first: int, end: int, sphere: Sphere, sensor: Sensor, pixels: Singles) -> None:
    """Mean light of the pixels of the rows first..end-1, (rows, cols, 3), the upper row first."""
    rows, cols, _ = pixels.shape
    high, wide, _ = sphere.light.shape
    parts, axes = sensor.parts, sensor.axes
    for down in range(first, end):
        for across in range(cols):
            red = green = blue = 0.0
            for part in range(parts * parts):
                right = across - 0.5 * cols + (part % parts + 0.5) / parts
                up = 0.5 * rows - down - (part // parts + 0.5) / parts
                east = sensor.px * axes[0, 0] + right * axes[1, 0] + up * axes[2, 0]
                north = sensor.px * axes[0, 1] + right * axes[1, 1] + up * axes[2, 1]
                above = sensor.px * axes[0, 2] + right * axes[1, 2] + up * axes[2, 2]
                turn = math.degrees(math.atan2(east, north)) - sphere.azimuth_deg
                turn -= 360.0 * math.floor((turn + 90.0) / 360.0)
                altitude = math.degrees(math.atan2(above, math.hypot(east, north)))
                col = min(max(turn / sphere.step_deg, 0.0), wide - 1.001)
                row = min(
                    max((altitude - sphere.altitude_deg) / sphere.step_deg, 0.0), high - 1.001
                )
                i, j = int(row), int(col)
                a, b = row - i, col - j
                w, x, y, z = (1.0 - a) * (1.0 - b), (1.0 - a) * b, a * (1.0 - b), a * b
                light = sphere.light
                red += w * light[i, j, 0] + x * light[i, j + 1, 0]
                red += y * light[i + 1, j, 0] + z * light[i + 1, j + 1, 0]
                green += w * light[i, j, 1] + x * light[i, j + 1, 1]
                green += y * light[i + 1, j, 1] + z * light[i + 1, j + 1, 1]
                blue += w * light[i, j, 2] + x * light[i, j + 1, 2]
                blue += y * light[i + 1, j, 2] + z * light[i + 1, j + 1, 2]
            pixels[down, across, 0] = red / (parts * parts)
            pixels[down, across, 1] = green / (parts * parts)
            pixels[down, across, 2] = blue / (parts * parts)
