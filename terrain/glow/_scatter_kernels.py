"""Light scattered into rays: once from the sun, or again from light that was scattered before.

Tables of the sun and of scattered light are read by height and by the altitude of the sun there,
for on a round earth all points with the same two see the same sky. Along a ray the sun's altitude
changes with the arc walked toward it::

    sin(there) = sin(here)·cos(arc) + cos(here)·sin(arc)·cos(azimuth from the sun)
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from terrain.arrays import Floats
from terrain.compiling import inner, njit
from terrain.constants import EARTH_RADIUS_M
from terrain.glow._path_kernels import MOST_STEPS, TOP, Media, walk

SUN_LOWEST = -2.0  # degrees, as in sun_tables
SUN_SPAN = 104.0
MORE_MIDDLE = -4.0  # degrees: where sun altitudes of the scattered light lie closest
MORE_WIDTH = 6.0
MORE_LOWEST = -24.0
MORE_FROM = math.asinh((MORE_LOWEST - MORE_MIDDLE) / MORE_WIDTH)
MORE_TO = math.asinh((90.0 - MORE_MIDDLE) / MORE_WIDTH)
GLOW = 0.93  # asymmetry of the narrow lobe of haze, and its share of the light
GLOW_SHARE = 0.08


class Lights(NamedTuple):
    """Tables of light: (heights, angles, bands), the sun's and the roots of the scattered."""

    sun: Floats
    more: Floats
    asymmetry: float


@inner(error_model="numpy", _nrt=False)
def row_at(height: float, rows: int) -> tuple[int, float]:
    """Row of a table whose heights are close near the sea, and the share of the next one."""
    place = math.sqrt(min(max(height / TOP, 0.0), 1.0)) * (rows - 1)
    row = min(int(place), rows - 2)
    return row, place - row


@inner(error_model="numpy", _nrt=False)
def dip(height: float) -> float:
    return math.degrees(math.acos(EARTH_RADIUS_M / (EARTH_RADIUS_M + max(height, 0.0))))


@inner(error_model="numpy", _nrt=False)
def sun_col(over_horizon_deg: float, cols: int) -> tuple[int, float]:
    share = (over_horizon_deg - SUN_LOWEST) / SUN_SPAN
    place = min(max(share, 0.0), 1.0) ** (1.0 / 3.0) * (cols - 1)
    col = min(int(place), cols - 2)
    return col, place - col


@inner(error_model="numpy", _nrt=False)
def more_col(sun_deg: float, cols: int) -> tuple[int, float]:
    share = math.asinh((sun_deg - MORE_MIDDLE) / MORE_WIDTH) - MORE_FROM
    share /= MORE_TO - MORE_FROM
    place = min(max(share, 0.0), 1.0) * (cols - 1)
    col = min(int(place), cols - 2)
    return col, place - col


@inner(error_model="numpy", inline="always")
def mixed(table: Floats, at: tuple[int, float, int, float], band: int) -> float:
    row, down, col, along = at
    upper = table[row, col, band] * (1.0 - along) + table[row, col + 1, band] * along
    lower = table[row + 1, col, band] * (1.0 - along) + table[row + 1, col + 1, band] * along
    return float(upper * (1.0 - down) + lower * down)


@inner(error_model="numpy", _nrt=False)
def by_molecules(cosine: float) -> float:
    """Share of light scattered so by air, 1/sr (Chandrasekhar 1950; Bucholtz 1995: 0.0144)."""
    spread = 0.0144
    shape = (1.0 + 3.0 * spread) + (1.0 - spread) * cosine * cosine
    return 3.0 / (16.0 * math.pi * (1.0 + 2.0 * spread)) * shape


@inner(error_model="numpy", _nrt=False)
def by_haze(cosine: float, asymmetry: float) -> float:
    """Share of light scattered so by haze, 1/sr: a broad lobe, and the glow close to the sun.

    Two lobes of Henyey and Greenstein 1941, the narrow one with 8 % of the light, so that their
    curve rises toward the sun as that of real haze does (from memory).
    """
    broad = (asymmetry - GLOW_SHARE * GLOW) / (1.0 - GLOW_SHARE)
    return (1.0 - GLOW_SHARE) * lobe(cosine, broad) + GLOW_SHARE * lobe(cosine, GLOW)


@inner(error_model="numpy", _nrt=False)
def lobe(cosine: float, asymmetry: float) -> float:
    square = asymmetry * asymmetry
    below = max(1.0 + square - 2.0 * asymmetry * cosine, 1e-9)
    return float((1.0 - square) / (4.0 * math.pi * below**1.5))


@inner(error_model="numpy", _nrt=False)
def light_left(media: Media, way: Floats, steps: int, left: Floats) -> None:
    """Share of light left from the middle of each step to the eye: (steps + 1, bands).

    Haze lets through what it scatters hardly aside. The last row is of the whole ray.
    """
    for band in range(media.molecules.size):
        depth = 0.0
        for step in range(steps):
            own = (
                way[step, 3] * media.molecules[band]
                + way[step, 4] * media.passed[band]
                + way[step, 5] * media.ozone[band]
            )
            # the mean over the step of what is left, as if it were even
            left[step, band] = math.exp(-depth) * (1.0 if own < 1e-6 else -math.expm1(-own) / own)
            depth += own
        left[steps, band] = math.exp(-depth)


@njit(cache=True, nogil=True, error_model="numpy")
def gather(
    media: Media,
    lights: Lights,
    ground: tuple[Floats, float],
    rays: tuple[Floats, Floats],
    suns: Floats,
    heights: Floats,
    part: tuple[int, int],
    again: bool,
    mean: Floats,
    falling: Floats,
) -> None:
    """Light that reaches heights from all sides, scattered once more than that of `lights`.

    ground: (angles, bands) light that falls on the ground, and its albedo. rays: (heights, rays)
    sines of altitudes, and their weights, which add up to 2. suns: altitudes, radians. part: first
    height and the end. again: whether light of `lights.more` is scattered, not the sun's. Fills
    mean: (heights, angles, bands), the mean over all sides; falling: (angles, bands), what falls on
    level ground at the first height.
    """
    bands = media.molecules.size
    way = np.empty((MOST_STEPS, 6))
    left = np.empty((MOST_STEPS, bands))
    arcs = np.empty((MOST_STEPS, 2))
    light = np.empty(bands)
    sides = 6
    narrow = lights.asymmetry / (1.0 + lights.asymmetry)
    sun_rows, sun_cols = lights.sun.shape[0], lights.sun.shape[1]
    more_rows, more_cols = lights.more.shape[0], lights.more.shape[1]
    for row in range(part[0], part[1]):
        for ray in range(rays[0].shape[1]):
            sine = rays[0][row, ray]
            cosine = math.sqrt(1.0 - sine * sine)
            steps, sea = walk(media.layers, (heights[row], math.asin(sine)), 4.0, way)
            light_left(media, way, steps, left)
            for step in range(steps + 1):
                arcs[step, 0], arcs[step, 1] = math.cos(way[step, 2]), math.sin(way[step, 2])
            for side in range(sides):
                toward = math.cos(math.pi * (side + 0.5) / sides)
                for sun in range(suns.size):
                    sun_sine, sun_cosine = math.sin(suns[sun]), math.cos(suns[sun])
                    turn = sun_sine * sine + sun_cosine * cosine * toward
                    air_share = by_molecules(turn)
                    haze_share = lobe(turn, narrow)
                    light[:] = 0.0
                    for step in range(steps + 1):
                        if step == steps and not sea:
                            break
                        there = sun_sine * arcs[step, 0] + sun_cosine * arcs[step, 1] * toward
                        there_deg = math.degrees(math.asin(min(max(there, -1.0), 1.0)))
                        if step == steps:
                            col, along = more_col(there_deg, more_cols)
                            for band in range(bands):
                                fallen = ground[0][col, band] * (1.0 - along)
                                fallen += ground[0][col + 1, band] * along
                                light[band] += left[step, band] * fallen * ground[1] / math.pi
                        elif again:
                            down, share = row_at(way[step, 0], more_rows)
                            col, along = more_col(there_deg, more_cols)
                            for band in range(bands):
                                root = mixed(lights.more, (down, share, col, along), band)
                                aside = way[step, 3] * media.molecules[band]
                                aside += way[step, 4] * media.aside[band]
                                light[band] += left[step, band] * aside * root * root
                        else:
                            over = there_deg + dip(way[step, 0])
                            if over < SUN_LOWEST:
                                continue
                            down, share = row_at(way[step, 0], sun_rows)
                            col, along = sun_col(over, sun_cols)
                            for band in range(bands):
                                aside = way[step, 3] * media.molecules[band] * air_share
                                aside += way[step, 4] * media.aside[band] * haze_share
                                sunlit = mixed(lights.sun, (down, share, col, along), band)
                                light[band] += left[step, band] * aside * sunlit
                    weight = rays[1][row, ray] / (2.0 * sides)
                    for band in range(bands):
                        mean[row, sun, band] += weight * light[band]
                        if row == 0 and sine > 0.0:
                            falling[sun, band] += weight * light[band] * sine * 4.0 * math.pi


@inner(error_model="numpy")
def scattered_toward(
    media: Media,
    lights: Lights,
    sun: tuple[float, float],
    course: tuple[float, float],
    ray: tuple[Floats, Floats, int],
    even: Floats,
    aureole: Floats,
) -> None:
    """Light scattered along one ray to the eye, in each band.

    sun: sine and cosine of its altitude at the eye. course: of the ray, the sine of its altitude
    and the cosine of its azimuth from the sun. ray: its way, what is left, and its steps. aureole
    is what haze scatters from the sun, before the share that goes into this direction.
    """
    even[:] = 0.0
    aureole[:] = 0.0
    way, left, steps = ray
    sine, toward = course
    air_share = by_molecules(sun[0] * sine + sun[1] * math.sqrt(1.0 - sine * sine) * toward)
    sun_rows, sun_cols = lights.sun.shape[0], lights.sun.shape[1]
    more_rows, more_cols = lights.more.shape[0], lights.more.shape[1]
    for step in range(steps):
        height, arc = way[step, 0], way[step, 2]
        there = sun[0] * math.cos(arc) + sun[1] * math.sin(arc) * toward
        there_deg = math.degrees(math.asin(min(max(there, -1.0), 1.0)))
        down, share = row_at(height, more_rows)
        col, along = more_col(there_deg, more_cols)
        for band in range(media.molecules.size):
            root = mixed(lights.more, (down, share, col, along), band)
            aside = way[step, 3] * media.molecules[band] + way[step, 4] * media.aside[band]
            even[band] += left[step, band] * aside * root * root
        over = there_deg + dip(height)
        if over < SUN_LOWEST:
            continue
        down, share = row_at(height, sun_rows)
        col, along = sun_col(over, sun_cols)
        for band in range(media.molecules.size):
            sunlit = left[step, band] * mixed(lights.sun, (down, share, col, along), band)
            even[band] += sunlit * way[step, 3] * media.molecules[band] * air_share
            aureole[band] += sunlit * way[step, 4] * media.scattered[band]
