"""The spherical triangle of pole, zenith and sun: direction, declination and hour angle.

::

                pole                          H   hour angle, at the pole, positive after noon
               / H  '.                        A   azimuth, at the zenith, from north
     90 - φ   /       '.  90 - δ              φ   latitude
             / A        '.                    δ   declination
        zenith ----------- sun                a   altitude, true
                  90 - a

All angles are radians and of any shape; the functions are plain formulae that raise nothing.
Source: any textbook of astronomy, such as Meeus, Astronomical Algorithms (1998), chapter 13.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from terrain.arrays import Floats

_LEAST_LEVEL = 1e-12  # at a pole the sun is as high at every hour


def declination_sine(latitude: Any, altitude: Any, azimuth: Any) -> Floats:
    """Sine of the declination of what stands in a direction: sin φ sin a + cos φ cos a cos A."""
    return np.asarray(
        np.sin(latitude) * np.sin(altitude) + np.cos(latitude) * np.cos(altitude) * np.cos(azimuth)
    )


def azimuth_cosine(latitude: Any, altitude: Any, sine: Any) -> Floats:
    """Cosine of the azimuth, east or west, at which a declination of this sine stands so high.

    Beyond 1 in size where it never does.
    """
    return np.asarray(
        (sine - np.sin(latitude) * np.sin(altitude)) / (np.cos(latitude) * np.cos(altitude))
    )


def hour_angle(latitude: Any, altitude: Any, azimuth: Any) -> Floats:
    """How far what stands in a direction is past the meridian, from -π to π."""
    west = -np.cos(altitude) * np.sin(azimuth)
    up = np.cos(latitude) * np.sin(altitude)
    south = np.sin(latitude) * np.cos(altitude) * np.cos(azimuth)
    return np.asarray(np.arctan2(west, up - south))


def hour_cosine(latitude: Any, altitude: Any, declination: Any) -> Floats:
    """Cosine of the hour angle at which the sun is so high; beyond 1 in size where it never is."""
    level = np.maximum(np.cos(latitude) * np.cos(declination), _LEAST_LEVEL)
    return np.asarray((np.sin(altitude) - np.sin(latitude) * np.sin(declination)) / level)


def azimuth(latitude: Any, declination: Any, hour: Any) -> Floats:
    """Azimuth at an hour angle, from -π to π, negative in the west."""
    east = -np.cos(declination) * np.sin(hour)
    north = np.sin(declination) * np.cos(latitude)
    south = np.cos(declination) * np.cos(hour) * np.sin(latitude)
    return np.asarray(np.arctan2(east, north - south))
