"""The curve from light to bytes, pixel by pixel; see `develop`, which says what it is."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from terrain.arrays import Floats, Singles
from terrain.compiling import inner, njit

VIVID = 1.1
WHITE_AT = 60.0
KEEP_HUE = 0.55
BRIGHTEST = 1e12
FAINT = 0.15
"""Bytes by which a tone changes in two pixels where it is dithered in full: by bands of 13 pixels;
not at all by bands of half that (judged by eye, and by what a PNG grows)."""
DITHER = ((-0.375, 0.125), (0.375, -0.125))
"""Bayer's pattern (1973, IEEE Int. Conf. on Communications), in bytes about the middle."""


@inner(error_model="numpy", _nrt=False)
def curve(light: float) -> float:
    toned = light * (2.51 * light + 0.03) / (light * (2.43 * light + 0.59) + 0.14)
    return float(min(toned, 1.0))


@inner(error_model="numpy", _nrt=False)
def within_gamut(light: Floats, grey: float) -> None:
    """A little more vivid, and no part below nothing; luminance stays. light: (3,)."""
    lowest = min(light[0], light[1], light[2])
    share = min(VIVID, grey / max(grey - lowest, 1e-12))
    for tone in range(3):
        light[tone] = max(grey + (light[tone] - grey) * share, 0.0)


@inner(error_model="numpy", _nrt=False)
def tone_of(
    light: Singles, dose: tuple[float, float], luminance: Floats, encoded: Floats, own: Floats
) -> None:
    """The tones of a pixel, 0 to 255 and not rounded, into `own`. light, own: (3,)."""
    last = encoded.size - 1
    grey = 0.0
    for tone in range(3):
        exposed = light[tone] * dose[0]
        if math.isnan(exposed):
            exposed = 0.0
        own[tone] = min(max(exposed, -BRIGHTEST), BRIGHTEST)
        grey += luminance[tone] * own[tone]
    for tone in range(3):
        own[tone] += dose[1] * (grey - own[tone])
    within_gamut(own, max(grey, 0.0))
    peak = max(own[0], own[1], own[2], 1e-12)
    bright = peak * peak / (peak * peak + WHITE_AT * WHITE_AT)
    hue = KEEP_HUE * curve(peak) / peak
    for tone in range(3):
        vivid = own[tone] + (peak - own[tone]) * bright
        toned = (1.0 - KEEP_HUE) * curve(vivid) + hue * vivid
        place = min(toned, 1.0) * last
        node = min(int(place), last - 1)
        own[tone] = encoded[node] + (place - node) * (encoded[node + 1] - encoded[node])


@njit(cache=True, nogil=True, error_model="numpy")
def develop_pixels(
    part: tuple[int, int],
    light: Singles,
    dose: tuple[float, float],
    luminance: Floats,
    encoded: Floats,
    pixels: NDArray[np.uint8],
) -> None:
    """Fill some pixels from their light, (n, 3) each.

    dose: the exposure, and the share of its grey that each colour takes on. encoded: bytes of the
    transfer function, not rounded, at even steps from 0 to 1.
    """
    own = np.empty(3)
    for pixel in range(part[0], part[1]):
        tone_of(light[pixel], dose, luminance, encoded, own)
        for tone in range(3):
            pixels[pixel, tone] = int(own[tone] + 0.5)


@njit(cache=True, nogil=True, error_model="numpy")
def develop_rows(
    part: tuple[int, int],
    light: Singles,
    dose: tuple[float, float],
    luminance: Floats,
    encoded: Floats,
    pixels: NDArray[np.uint8],
) -> None:
    """Fill some rows of a picture, (rows, cols, 3): as `develop_pixels`, faint slopes dithered.

    A tone between two bytes is rounded up in so many of four pixels: ordered dither of two by two.
    """
    rows, cols, _ = light.shape
    # the rows above, at and below the one in hand, each at its number modulo 3
    tones = np.empty((3, cols, 3))
    for row in range(max(part[0] - 1, 0), min(part[1] + 1, rows)):
        for col in range(cols):
            tone_of(light[row, col], dose, luminance, encoded, tones[row % 3, col])
        if row > part[0]:
            round_row(row - 1, rows, tones, pixels)
    if part[1] == rows and part[1] > part[0]:
        round_row(rows - 1, rows, tones, pixels)


@inner(error_model="numpy", _nrt=False)
def round_row(row: int, rows: int, tones: Floats, pixels: NDArray[np.uint8]) -> None:
    """Round the tones of a row; those of the rows beside it are in `tones` too, (3, cols, 3)."""
    cols = tones.shape[1]
    at, over, under = row % 3, max(row - 1, 0) % 3, min(row + 1, rows - 1) % 3
    for col in range(cols):
        left, right = max(col - 1, 0), min(col + 1, cols - 1)
        step = DITHER[row % 2][col % 2]
        for tone in range(3):
            up = abs(tones[under, col, tone] - tones[over, col, tone])
            aside = abs(tones[at, right, tone] - tones[at, left, tone])
            share = min(max(2.0 - max(up, aside) / FAINT, 0.0), 1.0)
            byte = tones[at, col, tone] + share * step
            pixels[row, col, tone] = min(max(int(byte + 0.5), 0), 255)
