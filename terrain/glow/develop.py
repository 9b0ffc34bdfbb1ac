"""From light to the colours of a picture."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from terrain.arrays import Floats
from terrain.errors import TerrainError
from terrain.glow.spectrum import LUMINANCE

_VIVID: Final = 1.1
_WHITE_AT: Final = 60.0
_KEEP_HUE: Final = 0.55


def develop(light: ArrayLike, exposure: float) -> NDArray[np.uint8]:
    """Develop light as a camera does: one fixed curve for all pictures.

    Parameters
    ----------
    light : array_like
        Linear sRGB in any unit, (..., 3); NaN becomes black.
    exposure : float
        What it is multiplied with first; `Sky.exposure` meters it.

    Returns
    -------
    ndarray
        sRGB bytes in the same shape. Colours outside sRGB are drawn toward grey of their own
        luminance, light that is too bright toward white, and what is over the curve in one channel
        alone keeps part of its hue (no source, judged by eye). The curve is Narkowicz' fit of the
        Academy's reference rendering (2015).

    Raises
    ------
    TerrainError
        If the exposure is not above 0.

    Examples
    --------
    >>> import terrain
    >>> terrain.develop([[0.0, 0.0, 0.0], [0.2, 0.2, 0.2], [99.0, 99.0, 99.0]], 1.0).tolist()
    [[0, 0, 0], [149, 149, 149], [255, 255, 255]]
    """
    if not exposure > 0.0:
        raise TerrainError(f"exposure {exposure:g} is not above 0")
    exposed = np.nan_to_num(np.asarray(light, dtype=np.float64)) * exposure
    vivid = _within_gamut(exposed)
    peak = np.maximum(vivid.max(axis=-1, keepdims=True), 1e-12)
    bright = peak**2 / (peak**2 + _WHITE_AT**2)
    vivid += (peak - vivid) * bright
    toned = (1.0 - _KEEP_HUE) * _curve(vivid) + _KEEP_HUE * _curve(peak) * vivid / peak
    return np.asarray(np.rint(255.0 * _encoded(toned)), dtype=np.uint8)


def _within_gamut(light: Floats) -> Floats:
    """A little more vivid, and no part below nothing; luminance stays."""
    grey = np.maximum(light @ LUMINANCE, 0.0)[..., np.newaxis]
    lowest = light.min(axis=-1, keepdims=True)
    room = grey / np.maximum(grey - lowest, 1e-12)
    return np.asarray(np.maximum(grey + (light - grey) * np.minimum(_VIVID, room), 0.0))


def _curve(light: Floats) -> Floats:
    toned = light * (2.51 * light + 0.03) / (light * (2.43 * light + 0.59) + 0.14)
    return np.asarray(np.minimum(toned, 1.0))


def _encoded(linear: Floats) -> Floats:
    """The transfer function of sRGB (IEC 61966-2-1)."""
    steep = 1.055 * np.maximum(linear, 0.0031308) ** (1.0 / 2.4) - 0.055
    return np.asarray(np.where(linear <= 0.0031308, 12.92 * linear, steep))
