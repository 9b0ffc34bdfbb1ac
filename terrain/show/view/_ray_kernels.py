"""The light of all cells of a picture: of the ground, mist or sky that lies there, through the air.

Ground is worked out in every other cell of every other ray, and wherever an edge may lie between
those; elsewhere it is their mean::

    ray   0     1     2          o  worked out
          o <-- m --> o          m  a mean along the even rays, then across the odd ones
          m <-- m --> m
          o <-- m --> o
"""

from __future__ import annotations

import math

import numpy as np

from terrain.arrays import Floats, Singles
from terrain.compiling import inner, njit
from terrain.show.view._scenery_kernels import Air, Lights, Look, Surface, ground_light
from terrain.show.view._shadow_kernels import air_lit
from terrain.sight._kernels import bilinear

IN_SHADE = 0.2  # of the light of air that the sun does not reach
BENT = 0.005  # of its distance: a cell that lies so little off its neighbours is no edge
UNLIKE = 0.015  # of the light of two: whose mean is then that of the cell between
ALONG = 28  # places along a ray at which the air is asked for its shadow


@inner(error_model="numpy", _nrt=False)
def haze_toward(air: Air, aside: float, hazy: Floats) -> None:
    """Haze in the direction of a ray, (roots of distance, heights, 6); aside: 0 to 1 of the way."""
    place = aside * (air.haze.shape[2] - 1)
    k = min(int(place), air.haze.shape[2] - 2)
    share = place - k
    for i in range(hazy.shape[0]):
        for j in range(hazy.shape[1]):
            for part in range(6):
                near, next_ = air.haze[i, j, k, part], air.haze[i, j, k + 1, part]
                hazy[i, j, part] = near + share * (next_ - near)


@inner(error_model="numpy", _nrt=False)
def add_air(air: Air, hazy: Floats, distance: float, z: float, shade: float, own: Floats) -> None:
    """Dim light from a height so far off, (3,), and add the air's own, shaded by hills."""
    at = min(math.sqrt(distance) / air.far_root, 1.0) * (hazy.shape[0] - 1)
    high = min(max((z - air.low_m) / (air.high_m - air.low_m), 0.0), 1.0) * (hazy.shape[1] - 1)
    i, j = min(int(at), hazy.shape[0] - 2), min(int(high), hazy.shape[1] - 2)
    a, b = at - i, high - j
    p, q, r, s = (1.0 - a) * (1.0 - b), (1.0 - a) * b, a * (1.0 - b), a * b
    for tone in range(3):
        left = p * hazy[i, j, tone] + q * hazy[i, j + 1, tone]
        left += r * hazy[i + 1, j, tone] + s * hazy[i + 1, j + 1, tone]
        veil = p * hazy[i, j, tone + 3] + q * hazy[i, j + 1, tone + 3]
        veil += r * hazy[i + 1, j, tone + 3] + s * hazy[i + 1, j + 1, tone + 3]
        own[tone] = own[tone] * left + veil * shade


@inner(error_model="numpy", _nrt=False)
def is_between(
    distance_m: Singles, light: Singles, cell: tuple[int, int], step: tuple[int, int]
) -> bool:
    """Fill a cell with the mean of its neighbours either way where no edge can lie between them."""
    (ray, up), (x, y) = cell, step
    own = distance_m[ray, up]
    before, after = distance_m[ray - x, up - y], distance_m[ray + x, up + y]
    # no comparison with what is not known holds
    if not abs(before + after - 2.0 * own) <= BENT * own:
        return False
    for tone in range(3):
        one, other = light[ray - x, up - y, tone], light[ray + x, up + y, tone]
        if abs(one - other) > UNLIKE * (one + other):
            return False
    for tone in range(3):
        light[ray, up, tone] = 0.5 * (light[ray - x, up - y, tone] + light[ray + x, up + y, tone])
    return True


@inner(error_model="numpy", _nrt=False)
def shadows_along(surface: Surface, look: Look, ray: int, far_m: float, over_m: Floats) -> None:
    """Of some places along a ray, nearer to one another near by: how high their shadow stands.

    Over a level line from the eye, the fall of the earth taken off.
    """
    up = 0
    while up < look.distance_m.shape[1] - 1 and math.isnan(look.distance_m[ray, up]):
        up += 1
    row_step = (look.row[ray, up] - look.from_row) / look.distance_m[ray, up]
    col_step = (look.col[ray, up] - look.from_col) / look.distance_m[ray, up]
    for part in range(over_m.size):
        along = far_m * (part / (over_m.size - 1.0)) ** 2
        row, col = look.from_row + along * row_step, look.from_col + along * col_step
        height = bilinear(surface.shadow_m, row, col)
        over_m[part] = height - look.eye_m - look.bend * along * along


@inner(error_model="numpy", _nrt=False)
def sky_light(sky: Floats, down: float, aside: float, light: Singles) -> None:
    """Read the coarse picture of the sky, (3,); down, aside: 0 to 1 of the way over it."""
    row, col = down * (sky.shape[0] - 1), aside * (sky.shape[1] - 1)
    i, j = min(int(row), sky.shape[0] - 2), min(int(col), sky.shape[1] - 2)
    a, b = row - i, col - j
    for tone in range(3):
        lower = (1.0 - b) * sky[i, j, tone] + b * sky[i, j + 1, tone]
        upper = (1.0 - b) * sky[i + 1, j, tone] + b * sky[i + 1, j + 1, tone]
        light[tone] = (1.0 - a) * lower + a * upper


@njit(cache=True, nogil=True, error_model="numpy")
def light_rays(
    part: tuple[int, int, int],
    surface: Surface,
    look: Look,
    lights: Lights,
    air: Air,
    light: Singles,
) -> None:
    """Light of all cells of every other ray, (rays, rows, 3), without the sun's own disc.

    part: the first and the end of those rays, counted by twos, and 0 for the even ones, which come
    first, or 1 for the odd. Of even rays the odd cells, and of odd rays all, are means of their
    neighbours where these are alike.
    """
    rays, rows = look.distance_m.shape
    own, shadows = np.empty(3), np.empty(ALONG)
    hazy = np.empty((air.haze.shape[0], air.haze.shape[1], 6))
    far_m, evens = air.far_root**2, (rows + 1) // 2
    for pair in range(part[0], part[1]):
        ray = 2 * pair + part[2]
        aside = ray / max(rays - 1, 1)
        haze_toward(air, aside, hazy)
        if lights.direct > 0.0:
            shadows_along(surface, look, ray, far_m, shadows)
        for count in range(rows):
            up = 2 * count if count < evens else 2 * (count - evens) + 1
            distance = look.distance_m[ray, up]
            if math.isnan(distance):
                sky_light(lights.sky, up / max(rows - 1, 1), aside, light[ray, up])
                continue
            x, y = part[2], 0 if part[2] else up % 2
            within = x + y > 0 and ray + x < rays and up + y < rows
            if within and is_between(look.distance_m, light, (ray, up), (x, y)):
                continue
            z = ground_light(surface, look, lights, ray, up, own)
            shade = 1.0
            if lights.direct > 0.0:
                dark = 1.0 - air_lit(distance, look.slopes[up], far_m, shadows)
                shade -= lights.direct * (1.0 - IN_SHADE) * dark
            add_air(air, hazy, distance, z, shade, own)
            for tone in range(3):
                light[ray, up, tone] = own[tone]
