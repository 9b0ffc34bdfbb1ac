"""The colour of each cell of a view, ray by ray, as `seen_rays` finds the ground in it.

Cell (ray, up) of a picture is `up` rows above its lower edge. Colours are of single precision, and
so is all that is mixed of them.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from terrain.arrays import Floats, Singles
from terrain.compiling import njit
from terrain.sight._kernels import bilinear

Single = np.floating[Any]

ONE, NONE = np.float32(1.0), np.float32(0.0)
PALER = np.float32(0.7)  # so much less of the light and the shade of ground far off
MIST_PALER = np.float32(1.1)
SHORE, SHORE_PALER = np.float32(0.6), np.float32(0.8)
CREST, CREST_PALER = np.float32(0.5), np.float32(0.75)
CREST_FARTHER, CREST_FARTHER_M = np.float32(1.07), np.float32(80.0)
DARK = 0.75


class Ground(NamedTuple):
    """What lies in each cell, (rays, rows): its distance, NaN where it is sky, and what is on it.

    pale: 0 near to 1 far off. shade: 0.5 on level ground. over_m: above the mist, infinite without
    one; veil: how much mist hides of it.
    """

    distance_m: Singles
    pale: Singles
    shade: Floats
    over_m: Singles
    veil: Singles


class Tints(NamedTuple):
    """Colours (3,): of ridges near and far, of light on them, of mist, of its shore, of crests."""

    near: Singles
    far: Singles
    light: Singles
    mist_near: Singles
    mist_far: Singles
    shore: Singles
    crest: Singles


@njit(cache=True, nogil=True)
def sample_rays(
    first: int, end: int, values: NDArray[Any], row: Singles, col: Singles, found: Floats
) -> None:
    """Values of a raster where the ground lies that is seen, in the rays first..end-1."""
    for ray in range(first, end):
        for up in range(row.shape[1]):
            if not math.isnan(row[ray, up]):
                found[ray, up] = bilinear(values, float(row[ray, up]), float(col[ray, up]))


@njit(cache=True, nogil=True)
def mixed(first: Single, second: Single, share: Single) -> Single:
    """So much of a second colour in a first."""
    return first + share * (second - first)


@njit(cache=True, nogil=True)
def is_shore(over_m: Singles, ray: int, up: int) -> bool:
    """Whether a cell is dry, and the one below or beside it under mist."""
    return not over_m[ray, up] < NONE and (
        (up > 0 and over_m[ray, up - 1] < NONE)
        or (ray > 0 and over_m[ray - 1, up] < NONE)
        or (ray + 1 < over_m.shape[0] and over_m[ray + 1, up] < NONE)
    )


@njit(cache=True, nogil=True)
def is_crest(distance_m: Singles, ray: int, up: int) -> bool:
    """Whether what is seen just above a cell is much farther off, or sky."""
    if up + 1 == distance_m.shape[1]:
        return False
    above_m = distance_m[ray, up + 1]
    return math.isnan(above_m) or above_m > CREST_FARTHER * distance_m[ray, up] + CREST_FARTHER_M


@njit(cache=True, nogil=True)
def colour_rays(first: int, end: int, ground: Ground, tints: Tints, colours: Singles) -> None:
    """RGBA of the cells of the rays first..end-1 in which there is ground, (rays, rows, 4)."""
    for ray in range(first, end):
        for up in range(colours.shape[1]):
            if math.isnan(ground.distance_m[ray, up]):
                continue
            pale, shade = ground.pale[ray, up], ground.shade[ray, up]
            faint = ONE - PALER * pale
            dark, light = DARK * max(0.5 - shade, 0.0) * faint, max(shade - 0.5, 0.0) * faint
            veil, mist = ground.veil[ray, up], min(MIST_PALER * np.sqrt(pale), ONE)
            shore = crest = NONE
            if is_shore(ground.over_m, ray, up):
                shore = SHORE * (ONE - SHORE_PALER * pale)
            if is_crest(ground.distance_m, ray, up):
                crest = CREST * (ONE - CREST_PALER * pale)
            for tone in range(3):
                ridge = mixed(tints.near[tone], tints.far[tone], pale)
                colour = np.float32(ridge * (1.0 - dark) + light * tints.light[tone])
                misty = mixed(tints.mist_near[tone], tints.mist_far[tone], mist)
                colour = mixed(colour, misty, veil)
                colour = mixed(colour, tints.shore[tone], shore)
                colour = mixed(colour, tints.crest[tone], crest)
                colours[ray, up, tone] = min(max(colour, NONE), ONE)
            colours[ray, up, 3] = ONE
