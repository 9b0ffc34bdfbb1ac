"""Values that several layers share, each with its unit and where it comes from.

This module imports nothing, so that every layer may import it.
"""

from __future__ import annotations

from typing import Final

EARTH_RADIUS_M: Final = 6_371_000.0
"""Mean radius of the earth, metres (IUGG mean radius R1, rounded to the kilometre)."""

TERRESTRIAL_REFRACTION: Final = 0.13
"""Coefficient k of terrestrial refraction, dimensionless: ray curvature over earth curvature.

Gauss' value, still the usual one in surveying; 0 to 0.25 is ordinary."""

TERRESTRIAL_REFRACTION_SPREAD: Final = 0.06
"""One standard deviation of k from morning to morning, dimensionless (half of the ordinary
range 0 to 0.25, taken as two standard deviations either way)."""

SUN_SEMIDIAMETER_AT_1_AU_DEG: Final = 959.63 / 3600.0
"""Angular semi-diameter of the sun at one astronomical unit, degrees (959.63 arcsec,
Auwers 1891, the value of the Astronomical Almanac)."""

EYE_HEIGHT_M: Final = 1.7
"""Height of a camera at the eye of a standing person, metres."""

COLOUR_BEFORE_SUNRISE_MIN: Final = 15.0
"""How long before sunrise the colour of the sky is usually best from, minutes (common practice,
no source)."""

FOOT_M: Final = 0.3048
"""The international foot in metres, exact by definition (1959)."""

LOWEST_LAND_M: Final = -500.0
"""No land lies so low, metres: the lowest are the shores of the Dead Sea at some -430 m. What does
is the bed of a sea or a lake."""

DEEPEST_SEA_M: Final = -11_000.0
"""No sea is so deep, metres: the Challenger Deep is 10,902 to 10,935 m deep."""

BLOCK_CELLS: Final = 32
"""Width of the blocks of cells of which it is kept whether all are known."""

SMALL_BLOCK_CELLS: Final = 16
"""Width of the blocks of cells of which it is kept how high they reach."""
