"""The light of each cell of a view, ray by ray, as `seen_rays` finds the ground in it.

Cell (ray, up) of a picture is `up` rows above its lower edge. Directions are those of the grid:
east, north and up along its columns, its rows and the vertical. Light is linear sRGB whose
luminance is in cd/m²; it and all that is kept of each cell are of single precision.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from terrain.arrays import Floats, Singles
from terrain.compiling import inner
from terrain.sight._kernels import bilinear

ROCK_FROM, ROCK_TO = 0.55, 1.1  # slopes between which grass gives way to rock
RIM = 0.6  # of grass and stones on an edge that the sun is behind
MIST_PER_M = 0.1  # extinction of mist: 40 m of visibility
MIST_ASIDE = 0.15  # 1 - asymmetry of its droplets
MIST_LEAST = 4.0  # optical depth of the thinnest that is drawn
MIST_FORWARD = 0.75  # asymmetry of what it scatters once, its narrowest peak left in the beam
SKY_ON_MIST = 0.04  # how much of the sky over it mist throws toward an eye that grazes it
ROUGH = 0.015  # least sine at which the sun meets the top of mist, which is not quite level
FEET, FEET_M = 0.45, 9.0  # mist on the ground beside its shore, and the height in which it thins
GRAZING = 0.08
CLOSED = 0.995  # mist through which nothing is seen
SWELL = 0.06  # how much the top of mist follows the ground under it


class Surface(NamedTuple):
    """The ground in a part of a raster, (rows, cols) each.

    east, north: how steeply it rises that way; swell_east, swell_north: the same of ground smoothed
    widely. lit: the share of the sun's disc that shows over its horizon. shadow_m: height above
    which the sun reaches the air over it. over_m: above the mist; of no rows without one.
    """

    east: Singles
    north: Singles
    swell_east: Singles
    swell_north: Singles
    lit: Singles
    shadow_m: Singles
    over_m: Singles


class Look(NamedTuple):
    """Where each cell lies: (rays, rows) on the part of the raster, and the directions of view.

    distance_m: NaN where it is sky. sines, cosines: (rays,) of the azimuth on the grid. slopes:
    (rows,) tangents of the altitude. from_row, from_col, eye_m: where the eye is. bend: as in
    `Rays`. near_m: as far as this a cell of the raster is so wide that its edges would show.
    """

    distance_m: Singles
    row: Singles
    col: Singles
    sines: Floats
    cosines: Floats
    slopes: Floats
    from_row: float
    from_col: float
    eye_m: float
    bend: float
    near_m: float


class Lights(NamedTuple):
    """All the light there is at one moment.

    toward: (3,) the sun. sun: (n, 3) lux on what faces it, at n even heights from low_m to high_m.
    round: (9, 3) light of the sky on ground that leans any way, as polynomials of its normal.
    sky: (rows, rays, 3) of a coarse picture of the sky, from its lowest altitude. over_mist:
    (rays, 3) of it just over the mist. albedo: (2, 3) of grass and of rock. lift: of the sky's
    light on ground. direct: how much of the light of the air is the sun's own.
    """

    toward: Floats
    sun: Floats
    low_m: float
    high_m: float
    round: Floats
    sky: Floats
    over_mist: Floats
    albedo: Floats
    lift: float
    direct: float


class Air(NamedTuple):
    """Haze on a grid, (roots of distance, heights, azimuths, 6): what is left, what is added."""

    haze: Floats
    far_root: float
    low_m: float
    high_m: float


@inner(error_model="numpy", _nrt=False)
def smooth(values: Singles, row: float, col: float) -> float:
    """Between cells by quadratic B-splines, which have no creases."""
    rows, cols = values.shape
    top, left = math.floor(row + 0.5), math.floor(col + 0.5)
    down, aside = row - top, col - left
    found = 0.0
    for i in range(-1, 2):
        weight = 0.75 - down * down if i == 0 else 0.5 * (0.5 + i * down) ** 2
        at = min(max(top + i, 0), rows - 1)
        for j in range(-1, 2):
            share = 0.75 - aside * aside if j == 0 else 0.5 * (0.5 + j * aside) ** 2
            found += weight * share * values[at, min(max(left + j, 0), cols - 1)]
    return found


@inner(error_model="numpy", _nrt=False)
def forward(cosine: float, asymmetry: float) -> float:
    """Henyey and Greenstein 1941: the share that is scattered by an angle, a steradian."""
    g = asymmetry
    below = 1.0 + g * g - 2.0 * g * cosine
    return float((1.0 - g * g) / (4.0 * math.pi * below * math.sqrt(below)))


@inner(error_model="numpy", _nrt=False)
def sky_on(round_: Floats, east: float, north: float, up: float, tone: int) -> float:
    """Light of the whole sky on a surface of this normal (Ramamoorthi and Hanrahan 2001)."""
    return float(
        round_[0, tone]
        + round_[1, tone] * east
        + round_[2, tone] * north
        + round_[3, tone] * up
        + round_[4, tone] * east * north
        + round_[5, tone] * north * up
        + round_[6, tone] * east * up
        + round_[7, tone] * (3.0 * up * up - 1.0)
        + round_[8, tone] * (east * east - north * north)
    )


@inner(error_model="numpy", _nrt=False)
def mist_share(over_m: float, down: float) -> float:
    """How much of what is seen is mist: it thins at its shore, and on the feet of hills."""
    if over_m >= 0.0:
        return FEET * math.exp(-over_m / FEET_M)
    return 1.0 - (1.0 - FEET) * math.exp(MIST_PER_M * over_m / max(down, GRAZING))


@inner(error_model="numpy", _nrt=False)
def ground_light(
    surface: Surface, look: Look, lights: Lights, ray: int, up: int, own: Floats
) -> float:
    """Light that leaves the ground or mist of a cell toward the eye, (3,); its height."""
    distance = look.distance_m[ray, up]
    # not `float`, which leaves to numba what has 32 bits
    row, col = np.float64(look.row[ray, up]), np.float64(look.col[ray, up])
    slope = look.slopes[up]
    z = float(look.eye_m + slope * distance + look.bend * distance * distance)
    level = 1.0 / math.sqrt(1.0 + slope * slope)
    v_east, v_north, v_up = look.sines[ray] * level, look.cosines[ray] * level, slope * level
    share = 0.0
    over = math.inf
    if surface.over_m.shape[0] > 0:
        over = bilinear(surface.over_m, row, col)
        if over < 8.0 * FEET_M:
            share = mist_share(over, -v_up)
    east = north = top_east = top_north = 0.0
    if share < CLOSED:
        if distance < look.near_m:
            east, north = smooth(surface.east, row, col), smooth(surface.north, row, col)
        else:
            east, north = bilinear(surface.east, row, col), bilinear(surface.north, row, col)
    if share > 0.0:
        top_east = bilinear(surface.swell_east, row, col)
        top_north = bilinear(surface.swell_north, row, col)
    steep = math.sqrt(east * east + north * north)
    long = math.sqrt(1.0 + steep * steep)
    n_east, n_north, n_up = -east / long, -north / long, 1.0 / long
    sun = lights.toward
    facing = n_east * sun[0] + n_north * sun[1] + n_up * sun[2]
    ahead = v_east * sun[0] + v_north * sun[1] + v_up * sun[2]
    seen = abs(n_east * v_east + n_north * v_north + n_up * v_up)
    lit = bilinear(surface.lit, row, col)
    edge = 0.0
    if share < CLOSED and facing > -0.1 and lit > 0.0:
        rim = max(1.0 - seen, 0.0) ** 2
        edge = RIM * rim * rim * forward(ahead, 0.6) * (facing + 0.1)
    rock = min(max((steep - ROCK_FROM) / (ROCK_TO - ROCK_FROM), 0.0), 1.0)
    height = (z - lights.low_m) / (lights.high_m - lights.low_m) * (lights.sun.shape[0] - 1)
    height = min(max(height, 0.0), lights.sun.shape[0] - 1.001)
    node = int(height)
    part = height - node
    deep = max(-over * MIST_PER_M, MIST_LEAST) if share > 0.0 else 0.0
    bounce = MIST_ASIDE * deep / (2.0 + MIST_ASIDE * deep)
    tilt = sun[2] - SWELL * (top_east * sun[0] + top_north * sun[1])
    sinks, rises = max(tilt, ROUGH), max(-v_up, GRAZING / 4.0)
    once = forward(ahead, MIST_FORWARD) * sinks / (sinks + rises)
    once *= 1.0 - math.exp(-deep * (1.0 / sinks + 1.0 / rises))
    grazes = SKY_ON_MIST * (1.0 - min(rises, 1.0)) ** 2
    for tone in range(3):
        beam = (1.0 - part) * lights.sun[node, tone] + part * lights.sun[node + 1, tone]
        beam *= lit
        albedo = (1.0 - rock) * lights.albedo[0, tone] + rock * lights.albedo[1, tone]
        glow = max(sky_on(lights.round, n_east, n_north, n_up, tone), 0.0) * lights.lift
        light = albedo * ((glow + beam * max(facing, 0.0)) / math.pi + beam * edge)
        if share > 0.0:
            whole = max(sky_on(lights.round, -SWELL * top_east, -SWELL * top_north, 1.0, tone), 0.0)
            misty = bounce * (whole * lights.lift + beam * sinks) / math.pi + beam * once
            misty += grazes * lights.over_mist[ray, tone]
            light += share * (misty - light)
        own[tone] = light
    return z
