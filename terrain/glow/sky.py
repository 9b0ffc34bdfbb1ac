"""The sky as seen from one height under one sun, and the light of all of it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from terrain.arrays import Floats, frozen_arrays
from terrain.cores import share_out
from terrain.errors import TerrainError
from terrain.glow._view_kernels import look_up, sky_rows
from terrain.glow.air import ClearAir
from terrain.glow.layers import horizon_deg
from terrain.glow.media import media_of
from terrain.glow.scattered import lights_of
from terrain.glow.spectrum import BANDS, LUMINANCE, bands_of
from terrain.glow.sunlight import sun_seen_deg

ROWS: Final = 96
COLS: Final = 61
_KEPT: Final = 64
_OVER_SEA_DEG: Final = 0.002
_HIGHEST_EYE_M: Final = 11_000.0
_METERED_DEG: Final = (20.0, 30.0)
_MIDDLE_GREY: Final = 0.25
_BRIGHT: Final = 10_000.0
_DARKER: Final = 0.08


@dataclass(frozen=True, kw_only=True, eq=False)
@frozen_arrays(copy=False)
class Sky:
    """The whole sky over one eye, as a table small enough to be sent to a page.

    A direction's light is even + aureole · p, p the share that haze scatters by the angle t between
    it and the sun: 0.92 h(b) + 0.08 h(0.93), b = (asymmetry - 0.0744)/0.92 and
    h(g) = (1 - g²) / (4π (1 + g² - 2g cos t)^1.5). Rows lie at
    horizon + (90° − horizon)·(row/95)², columns every 3° from the sun's azimuth to the opposite
    one; both halves are alike. With another shape of the table they are spread in the same way.

    Attributes
    ----------
    even : ndarray
        (96, 61, 3), linear sRGB whose luminance is in cd/m²: what air scatters, and haze again.
    aureole : ndarray
        (96, 61, 3), what haze scatters of the sun itself, in all directions together.
    horizon_deg : float
        Altitude at which the sea ends it, degrees; under it the sky is told as at it.
    sun_deg : float
        Altitude at which the sun is seen, degrees.
    asymmetry : float
        Of the haze.

    Examples
    --------
    >>> import terrain
    >>> sky = terrain.sky(terrain.ClearAir(), sun_altitude_deg=-4.0, eye_height_m=800.0)
    >>> red, green, blue = sky.radiance(azimuth_from_sun_deg=0.0, altitude_deg=0.5)
    >>> bool(red > green > blue), round(sky.horizon_deg, 2)
    (True, -0.83)
    """

    even: Floats
    aureole: Floats
    horizon_deg: float
    sun_deg: float
    asymmetry: float

    def radiance(self, *, azimuth_from_sun_deg: ArrayLike, altitude_deg: ArrayLike) -> Floats:
        """Light from some directions, linear sRGB in cd/m²; their shape and 3, NaN where NaN."""
        azimuth, altitude = np.broadcast_arrays(
            np.radians(np.asarray(azimuth_from_sun_deg, dtype=np.float64)),
            np.radians(np.asarray(altitude_deg, dtype=np.float64)),
        )
        asked = np.isfinite(azimuth) & np.isfinite(altitude)
        up, aside = np.where(asked, altitude, 0.0).ravel(), np.where(asked, azimuth, 0.0).ravel()
        answer = np.empty((up.size, 3))
        sight = (*np.radians([self.horizon_deg, self.sun_deg]).tolist(), self.asymmetry)

        def fill(first: int, end: int) -> None:
            look_up((self.even, self.aureole), sight, up, aside, (first, end), answer)

        share_out(up.size, fill)
        answer[~asked.ravel()] = np.nan
        return answer.reshape((*azimuth.shape, 3))

    def irradiance(self) -> Floats:
        """Light of the whole sky on level ground, linear sRGB in lux."""
        altitude = np.arange(0.25, 90.0, 0.5)[:, np.newaxis]
        azimuth = np.arange(0.5, 180.0, 1.0)
        falls = np.sin(2.0 * np.radians(altitude)) * np.radians(0.5) * np.radians(1.0)
        light = self.radiance(azimuth_from_sun_deg=azimuth, altitude_deg=altitude)
        return np.asarray((light * falls[..., np.newaxis]).sum(axis=(0, 1)))

    def exposure(self, *, azimuth_from_sun_deg: float = 0.0) -> float:
        """What a light meter says that is held toward a part of the sky; for `develop`.

        azimuth_from_sun_deg: of the middle of what it looks at, 60 degrees wide and 20 high over
        the horizontal. It follows the sky alone, so that pictures of one place minutes apart do not
        flicker, and lets a dark sky stay darker, as eyes do.
        """
        height, half = _METERED_DEG
        light = self.radiance(
            azimuth_from_sun_deg=azimuth_from_sun_deg + np.linspace(-half, half, 13),
            altitude_deg=np.linspace(0.5, height, 12)[:, np.newaxis],
        )
        metered = float(np.exp(np.log(np.maximum(light @ LUMINANCE, 1e-6)).mean()))
        return float(_MIDDLE_GREY / metered * (metered / _BRIGHT) ** _DARKER)


def sky(
    air: ClearAir,
    *,
    sun_altitude_deg: float,
    eye_height_m: float,
    bands: int = BANDS,
    shape: tuple[int, int] = (ROWS, COLS),
) -> Sky:
    """The sky over an eye under one sun; the last ones asked for are kept.

    Parameters
    ----------
    air : ClearAir
        The air.
    sun_altitude_deg : float
        True altitude of the sun's centre, refraction not counted, degrees; from -18 down it is
        night, and nothing lights it.
    eye_height_m : float
        Height of the eye above the sea, 0 to 11 000 m; less counts as 0.
    bands : int
        Bands of wavelength it is worked out in: 3, 4, 6, 9, 12, 18 or 36.
    shape : tuple of int
        Rows and columns of its table; fewer will do where only the light of all of it is asked for.

    Returns
    -------
    Sky
        Ready to be asked for any direction.

    Raises
    ------
    TerrainError
        If the sun or the eye is where neither can be.

    Examples
    --------
    >>> import terrain
    >>> sky = terrain.sky(terrain.ClearAir(), sun_altitude_deg=-6.0, eye_height_m=0.0)
    >>> round(float(sky.irradiance() @ (0.2126, 0.7152, 0.0722)))
    4
    """
    if not -90.0 <= sun_altitude_deg <= 90.0:
        raise TerrainError(
            f"altitude of the sun {sun_altitude_deg:g} is not between -90 and 90 degrees"
        )
    if not eye_height_m <= _HIGHEST_EYE_M:
        raise TerrainError(f"height of the eye {eye_height_m:g} m is not up to 11000 m")
    return _sky(air, float(sun_altitude_deg), max(float(eye_height_m), 0.0), bands, shape)


@lru_cache(maxsize=_KEPT)
def _sky(
    air: ClearAir, sun_altitude_deg: float, eye_height_m: float, count: int, shape: tuple[int, int]
) -> Sky:
    horizon = horizon_deg(air, eye_height_m) + _OVER_SEA_DEG
    altitudes = horizon + (90.0 - horizon) * np.linspace(0.0, 1.0, shape[0]) ** 2
    directions = (np.radians(altitudes), np.linspace(0.0, np.pi, shape[1]))
    media, lights = media_of(air, count), lights_of(air, count)
    even, aureole = np.zeros((*shape, 3)), np.zeros((*shape, 3))
    eye = (eye_height_m, float(np.radians(sun_altitude_deg)))

    def fill(first: int, end: int) -> None:
        to_rgb = bands_of(air, count).to_rgb
        sky_rows(media, lights, eye, directions, to_rgb, (first, end), even, aureole)

    share_out(shape[0], fill)
    return Sky(
        even=even,
        aureole=aureole,
        horizon_deg=horizon,
        sun_deg=sun_seen_deg(air, sun_altitude_deg=sun_altitude_deg, height_m=eye_height_m),
        asymmetry=air.aerosol_asymmetry,
    )


def sky_radiance(
    air: ClearAir,
    *,
    sun_altitude_deg: float,
    azimuth_from_sun_deg: ArrayLike,
    altitude_deg: ArrayLike,
    eye_height_m: float,
) -> Floats:
    """Light of the sky from some directions; the sun's own disc is not in it.

    Parameters
    ----------
    air : ClearAir
        The air.
    sun_altitude_deg : float
        True altitude of the sun's centre, refraction not counted, degrees.
    azimuth_from_sun_deg : array_like
        Of the directions, degrees from the sun's azimuth, either way.
    altitude_deg : array_like
        Of the directions as they are seen, degrees; broadcasts with the azimuth. Under the horizon
        of the sea the sky is told as at it.
    eye_height_m : float
        Height of the eye above the sea, metres.

    Returns
    -------
    ndarray
        Linear sRGB in the shape of the directions and 3; its luminance is in cd/m². Colours more
        vivid than sRGB have a negative part.

    Raises
    ------
    TerrainError
        If the sun or the eye is where neither can be.

    Examples
    --------
    >>> import terrain
    >>> zenith = terrain.sky_radiance(
    ...     terrain.ClearAir(),
    ...     sun_altitude_deg=-2.0,
    ...     azimuth_from_sun_deg=0.0,
    ...     altitude_deg=90.0,
    ...     eye_height_m=0.0,
    ... )
    >>> int(zenith.argmax())
    2
    """
    over = sky(air, sun_altitude_deg=sun_altitude_deg, eye_height_m=eye_height_m)
    return over.radiance(azimuth_from_sun_deg=azimuth_from_sun_deg, altitude_deg=altitude_deg)


def skylight(air: ClearAir, *, sun_altitude_deg: float, height_m: float) -> Floats:
    """Light of the whole sky on level ground, without the sun's own.

    Parameters
    ----------
    air : ClearAir
        The air.
    sun_altitude_deg : float
        True altitude of the sun's centre, refraction not counted, degrees.
    height_m : float
        Height of the ground above the sea, metres.

    Returns
    -------
    ndarray
        Linear sRGB, (3,); its luminance is the illuminance in lux.

    Raises
    ------
    TerrainError
        If the sun or the ground is where neither can be.

    Examples
    --------
    >>> import terrain
    >>> light = terrain.skylight(terrain.ClearAir(), sun_altitude_deg=-3.0, height_m=0.0)
    >>> bool(light[2] > light[0])
    True
    """
    return sky(air, sun_altitude_deg=sun_altitude_deg, eye_height_m=height_m).irradiance()
