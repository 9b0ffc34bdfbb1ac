"""The air between an eye and the ground it looks at."""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from terrain.arrays import Floats
from terrain.cores import share_out
from terrain.errors import TerrainError
from terrain.glow._haze_kernels import Eye, Targets, hazes, read_hazes, veil
from terrain.glow.air import ClearAir
from terrain.glow.media import media_of
from terrain.glow.scattered import lights_of
from terrain.glow.spectrum import BANDS, bands_of
from terrain.glow.sunlight import sun_seen_deg

_NODES: Final = (40, 24, 21)
"""Of the grid for pictures: roots of distance, heights, azimuths."""
_NEAREST_M: Final = 0.01


class Haze(NamedTuple):
    """What the air does to the light of ground: it is seen as its own · transmittance + light.

    Attributes
    ----------
    transmittance : ndarray
        Share of the ground's own light that arrives, by colour, 0 to 1.
    light : ndarray
        What the air adds, linear sRGB whose luminance is in cd/m².

    Examples
    --------
    >>> import terrain
    >>> near = terrain.haze(
    ...     terrain.ClearAir(),
    ...     sun_altitude_deg=3.0,
    ...     azimuth_from_sun_deg=90.0,
    ...     distance_m=1_000.0,
    ...     eye_height_m=900.0,
    ...     target_height_m=700.0,
    ... )
    >>> bool((near.transmittance > 0.9).all())
    True
    """

    transmittance: Floats
    light: Floats


def haze(
    air: ClearAir,
    *,
    sun_altitude_deg: float,
    azimuth_from_sun_deg: ArrayLike,
    distance_m: ArrayLike,
    eye_height_m: float,
    target_height_m: ArrayLike,
    bands: int = BANDS,
) -> Haze:
    """The same light as the sky's, gathered only as far as the ground that is looked at.

    The air is lit by the sun wherever the sea does not hide it: shadows of hills in it are not
    known here. More ground than 20 000 places is read between those of a grid, within a per cent.

    Parameters
    ----------
    air : ClearAir
        The air.
    sun_altitude_deg : float
        True altitude of the sun's centre, refraction not counted, degrees.
    azimuth_from_sun_deg : array_like
        Of the ground, degrees from the sun's azimuth, either way.
    distance_m : array_like
        Of the ground, metres; NaN where none is seen.
    eye_height_m : float
        Height of the eye above the sea, metres.
    target_height_m : array_like
        Height of the ground above the sea, metres. The three broadcast.
    bands : int
        Bands of wavelength it is worked out in: 3, 4, 6, 9, 12, 18 or 36.

    Returns
    -------
    Haze
        What is left and what is added, each in the shape of the ground and 3, NaN where none is.

    Raises
    ------
    TerrainError
        If a distance is not above 0.

    Examples
    --------
    >>> import terrain
    >>> far = terrain.haze(
    ...     terrain.ClearAir(),
    ...     sun_altitude_deg=3.0,
    ...     azimuth_from_sun_deg=90.0,
    ...     distance_m=[5_000.0, 50_000.0],
    ...     eye_height_m=900.0,
    ...     target_height_m=700.0,
    ... )
    >>> bool((far.transmittance[0] > far.transmittance[1]).all())
    True
    """
    aside, distance, height = np.broadcast_arrays(
        np.abs((np.asarray(azimuth_from_sun_deg, dtype=np.float64) + 180.0) % 360.0 - 180.0),
        np.asarray(distance_m, dtype=np.float64),
        np.asarray(target_height_m, dtype=np.float64),
    )
    if (distance <= 0.0).any():
        raise TerrainError(f"distance {np.nanmin(distance):g} m to the ground is not above 0")
    asked = np.isfinite(aside) & np.isfinite(distance) & np.isfinite(height)
    targets = Targets(distance[asked], height[asked], np.radians(aside[asked]))
    seen = sun_seen_deg(air, sun_altitude_deg=sun_altitude_deg, height_m=max(eye_height_m, 0.0))
    eye = Eye(eye_height_m, *np.radians([sun_altitude_deg, seen]).tolist())
    few = targets.distances.size <= math.prod(_NODES)
    nine = (_single if few else _from_grid)(air, eye, targets, bands)
    left, light = (np.full((*distance.shape, 3), np.nan) for _ in range(2))
    left[asked], light[asked] = nine[:, :3], _veil(air, eye, targets, nine)
    return Haze(left, light)


def _single(air: ClearAir, eye: Eye, targets: Targets, count: int) -> Floats:
    """The nine values of each target, worked out for itself."""
    media, lights = media_of(air, count), lights_of(air, count)
    to_rgb = bands_of(air, count).to_rgb
    answer = np.zeros((targets.distances.size, 9))
    share_out(len(answer), lambda *part: hazes(media, lights, eye, targets, to_rgb, part, answer))
    return answer


def _from_grid(air: ClearAir, eye: Eye, targets: Targets, count: int) -> Floats:
    """The nine values of many targets, read between those of a grid that spans them."""
    ends = np.array(
        [
            [0.0, math.sqrt(targets.distances.max())],
            [targets.heights.min(), targets.heights.max()],
            [targets.azimuths.min(), targets.azimuths.max()],
        ]
    )
    axes = [np.linspace(low, high, nodes) for (low, high), nodes in zip(ends, _NODES, strict=True)]
    roots, heights, azimuths = (each.ravel() for each in np.meshgrid(*axes, indexing="ij"))
    nodes = Targets(np.maximum(roots**2, _NEAREST_M), heights, azimuths)
    grid = _single(air, eye, nodes, count).reshape(*_NODES, 9)
    answer = np.empty((targets.distances.size, 9))
    share_out(len(answer), lambda *part: read_hazes(grid, ends, targets, part, answer))
    return answer


def _veil(air: ClearAir, eye: Eye, targets: Targets, nine: Floats) -> Floats:
    light = np.empty((len(nine), 3))
    asymmetry = air.aerosol_asymmetry
    share_out(len(nine), lambda *part: veil(eye, asymmetry, targets, part, nine, light))
    return light
