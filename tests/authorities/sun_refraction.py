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

# Refraction in arcminutes by apparent altitude in degrees, at 10 degrees C and 1013 hPa: C. W.
# Allen, Astrophysical Quantities (1976), p. 125, as quoted at
# liquisearch.com/atmospheric_refraction/values.
ALLEN_ARCMIN = {2.0: 18.4, 5.0: 9.9, 10.0: 5.3}

# The same at 15 degrees C and 1013.25 hPa: the Pulkovo refraction tables, by a formula good to
# 0.3" (hp41programs.yolasite.com/refraction.php, the example at 27 degrees: 1' 51.7").
PULKOVO_ARCMIN = {27.0: 1.862}

# Laplace's formula for the Pulkovo tables, in arcseconds by the cotangent of the altitude
# (hp41programs.yolasite.com/refraction.php).
LAPLACE_ARCSEC = 57.085

# Heights of the levels of pressure in the ICAO standard atmosphere of 1964, to the metre: hPa by
# geopotential height (meteowvl.be/MetInfo/StandAtmosfeer.html).
STANDARD_PRESSURE_HPA = {
    0.0: 1013.25,
    540.0: 950.0,
    988.0: 900.0,
    1457.0: 850.0,
    3012.0: 700.0,
    4206.0: 600.0,
    7185.0: 400.0,
    9164.0: 300.0,
}
