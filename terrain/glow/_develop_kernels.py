"""The curve from light to bytes, pixel by pixel; see `develop`, which says what it is."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from terrain.arrays import Floats, Singles
from terrain.compiling import njit

VIVID = 1.1
WHITE_AT = 60.0
KEEP_HUE = 0.55
BRIGHTEST = 1e12


@njit(cache=True, nogil=True, error_model="numpy")
def curve(light: float) -> float:
    toned = light * (2.51 * light + 0.03) / (light * (2.43 * light + 0.59) + 0.14)
    return float(min(toned, 1.0))


@njit(cache=True, nogil=True, error_model="numpy")
def within_gamut(light: Floats, grey: float) -> None:
    """A little more vivid, and no part below nothing; luminance stays. light: (3,)."""
    lowest = min(light[0], light[1], light[2])
    share = min(VIVID, grey / max(grey - lowest, 1e-12))
    for tone in range(3):
        light[tone] = max(grey + (light[tone] - grey) * share, 0.0)


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
    last = encoded.size - 1
    own = np.empty(3)
    for pixel in range(part[0], part[1]):
        grey = 0.0
        for tone in range(3):
            exposed = light[pixel, tone] * dose[0]
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
            byte = encoded[node] + (place - node) * (encoded[node + 1] - encoded[node])
            pixels[pixel, tone] = int(byte + 0.5)
