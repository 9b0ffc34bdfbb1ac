"""Published figures for refraction and for the air's pressure."""

from __future__ import annotations

# Meeus, Astronomical Algorithms, ch. 16, example 16.a: the sun's lower limb is seen at 30'.
# As worked in the test of github.com/soniakeys/meeus, refraction/refract_test.go.
MEEUS_APPARENT_DEG = 0.5
MEEUS_REFRACTION_ARCMIN = 28.754
MEEUS_TRUE_ARCMIN = 1.246

# The same example goes on: the upper limb is truly at 33.246', and a second formula, Saemundsson's
# (good to 0.07'), lifts it by 24.618'.
MEEUS_UPPER_TRUE_ARCMIN = 33.246
MEEUS_UPPER_REFRACTION_ARCMIN = 24.618

# Meeus, ch. 16, on Bennett's formula: at the zenith it gives -0.08 arcseconds instead of zero.
MEEUS_ZENITH_ARCSEC = -0.08

# Refraction in arcminutes by apparent altitude in degrees, at 10 degrees C and 1010 hPa: the
# altitude correction table for stars in The Nautical Almanac, from memory.
NAUTICAL_ALMANAC_ARCMIN = {10.0: 5.3, 20.0: 2.6, 30.0: 1.7, 45.0: 1.0, 60.0: 0.6, 90.0: 0.0}

# U.S. Standard Atmosphere 1976, table I: pressure in hPa by geopotential height in metres, from
# memory.
STANDARD_PRESSURE_HPA = {0.0: 1013.25, 1000.0: 898.75, 5000.0: 540.20, 11_000.0: 226.32}
