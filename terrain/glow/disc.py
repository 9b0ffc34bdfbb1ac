"""The disc of the sun as air shows it: flattened, redder below, dimmer at its rim.

Each direction is followed out of the air: where it ends in truth tells which point of the disc is
seen there, and what lies on the way how much of that is left.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from terrain.arrays import Floats
from terrain.constants import SUN_SEMIDIAMETER_AT_1_AU_DEG
from terrain.glow._path_kernels import columns
from terrain.glow.air import ClearAir
from terrain.glow.layers import horizon_deg
from terrain.glow.media import media_of
from terrain.glow.spectrum import BANDS, bands_of
from terrain.glow.sunlight import sun_seen_deg

_RAYS: Final = 81
_REACH: Final = 2.0
_OVER_SEA_DEG: Final = 0.002
_DARKENING: Final = 0.6
"""Eddington's: the disc is 0.4 + 0.6·cosine as bright as in its middle."""


def sun_disc(
    air: ClearAir,
    *,
    sun_altitude_deg: float,
    azimuth_from_sun_deg: ArrayLike,
    altitude_deg: ArrayLike,
    eye_height_m: float,
    semidiameter_deg: float = SUN_SEMIDIAMETER_AT_1_AU_DEG,
) -> Floats:
    """Light of the sun's own disc from some directions, to be added to that of the sky.

    Parameters
    ----------
    air : ClearAir
        The air.
    sun_altitude_deg : float
        True altitude of the sun's centre, refraction not counted, degrees.
    azimuth_from_sun_deg : array_like
        Of the directions, degrees from the sun's azimuth, either way.
    altitude_deg : array_like
        Of the directions as they are seen, degrees; broadcasts with the azimuth.
    eye_height_m : float
        Height of the eye above the sea, metres.
    semidiameter_deg : float
        Of the sun on the day, degrees.

    Returns
    -------
    ndarray
        Linear sRGB in the shape of the directions and 3, its luminance in cd/m²; 0 beside the disc
        and under the horizon of the sea.

    Examples
    --------
    >>> import terrain
    >>> light = terrain.sun_disc(
    ...     terrain.ClearAir(),
    ...     sun_altitude_deg=0.0,
    ...     azimuth_from_sun_deg=[0.0, 0.2, 0.4],
    ...     altitude_deg=0.47,
    ...     eye_height_m=0.0,
    ... )
    >>> (light[:, 0] > 0.0).tolist()
    [True, True, False]
    """
    aside, up = np.broadcast_arrays(
        np.asarray(azimuth_from_sun_deg, dtype=np.float64),
        np.asarray(altitude_deg, dtype=np.float64),
    )
    eye = max(eye_height_m, 0.0)
    seen = sun_seen_deg(air, sun_altitude_deg=sun_altitude_deg, height_m=eye)
    horizon = horizon_deg(air, eye) + _OVER_SEA_DEG
    lowest = max(seen - _REACH * semidiameter_deg, horizon)
    highest = max(seen + _REACH * semidiameter_deg, lowest + semidiameter_deg)
    rays = np.linspace(lowest, highest, _RAYS)
    found = np.zeros((_RAYS, 5))
    columns(media_of(air, BANDS).layers, eye, np.radians(rays), found)
    across = ((aside + 180.0) % 360.0 - 180.0) * np.cos(np.radians(up))
    over = np.interp(up, rays, np.degrees(found[:, 3])) - sun_altitude_deg
    out = np.hypot(across, over) / semidiameter_deg
    shows = (out < 1.0) & (up >= lowest) & (up <= highest)
    rim = (1.0 - _DARKENING) + _DARKENING * np.sqrt(np.clip(1.0 - out**2, 0.0, 1.0))
    rim /= 1.0 - _DARKENING / 3.0
    whole = np.pi * np.radians(semidiameter_deg) ** 2
    left = _left(air, found) / whole
    light = np.stack([np.interp(up, rays, left[:, colour]) for colour in range(3)], axis=-1)
    return np.asarray(np.where(shows[..., np.newaxis], light * rim[..., np.newaxis], 0.0))


def _left(air: ClearAir, found: Floats) -> Floats:
    """What is left of the sun along each ray: (rays, 3), in lux."""
    media = media_of(air, BANDS)
    depth = np.outer(found[:, 0], media.molecules) + np.outer(found[:, 1], media.haze)
    depth += np.outer(found[:, 2], media.ozone)
    return np.asarray(np.exp(-depth) @ bands_of(air, BANDS).to_rgb.T)
