"""From light to the colours of a picture."""

from __future__ import annotations

from functools import cache
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from terrain.arrays import Floats, sealed
from terrain.cores import share_out
from terrain.errors import TerrainError
from terrain.glow._develop_kernels import develop_pixels, develop_rows
from terrain.glow.spectrum import LUMINANCE

_STEPS: Final = 4096
"""Between which the transfer function is within a hundredth of a byte."""


def develop(
    light: ArrayLike, exposure: float, *, softer: float = 0.0, dithered: bool = False
) -> NDArray[np.uint8]:
    """Develop light as a camera does: one fixed curve for all pictures.

    Parameters
    ----------
    light : array_like
        Linear sRGB in any unit, (..., 3); NaN becomes black.
    exposure : float
        What it is multiplied with first; `Sky.exposure` meters it.
    softer : float
        What share of its colours runs into one another, 0 to 1, as on film.
    dithered : bool, optional
        Whether faint slopes of a picture, (rows, cols, 3), are dithered, so that a wide smooth sky
        shows no bands: where rounding would make bands wider than a dozen pixels a tone is rounded
        by an ordered pattern of two by two pixels, the same every time; not in narrow bands.

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
        If the exposure is not above 0, and for light to be dithered that is no picture.

    Examples
    --------
    >>> import terrain
    >>> terrain.develop([[0.0, 0.0, 0.0], [0.2, 0.2, 0.2], [99.0, 99.0, 99.0]], 1.0).tolist()
    [[0, 0, 0], [149, 149, 149], [255, 255, 255]]
    """
    if not exposure > 0.0:
        raise TerrainError(f"exposure {exposure:g} is not above 0")
    with np.errstate(over="ignore"):
        whole = np.ascontiguousarray(light, dtype=np.float32)
    if dithered and whole.ndim != 3:
        raise TerrainError(f"light of shape {whole.shape} is no picture (rows, cols, 3) to dither")
    shaped = whole if dithered else whole.reshape(-1, 3)
    pixels = np.empty(shaped.shape, dtype=np.uint8)
    dose, encoded = (float(exposure), float(softer)), _encoded()
    fill = develop_rows if dithered else develop_pixels
    share_out(len(shaped), lambda *part: fill(part, shaped, dose, LUMINANCE, encoded, pixels))
    return pixels.reshape(whole.shape)


@cache
def _encoded() -> Floats:
    """Bytes of the transfer function of sRGB (IEC 61966-2-1) at even steps from 0 to 1."""
    linear = np.linspace(0.0, 1.0, _STEPS)
    steep = 1.055 * np.maximum(linear, 0.0031308) ** (1.0 / 2.4) - 0.055
    return sealed(255.0 * np.where(linear <= 0.0031308, 12.92 * linear, steep))
