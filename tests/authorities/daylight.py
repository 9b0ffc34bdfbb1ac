"""Published figures for the light of the sun and the sky."""

from __future__ import annotations

# Logarithm of the illuminance of level ground in lux, sun and sky together, by the sun's altitude x
# in 90 degrees: l0 + l1 x + l2 x² + l3 x³ from each altitude up. Seidelmann (ed.), Explanatory
# Supplement to the Astronomical Almanac (1992), table 9.81.1, as Vallado, Fundamentals of
# Astrodynamics and Applications (2022), table 5-1 quotes it, and public code after it.
GROUND_ILLUMINANCE = {
    20.0: (3.74, 3.97, -4.07, 1.47),
    5.0: (3.05, 13.28, -45.98, 64.33),
    -0.8: (2.88, 22.26, -207.64, 1034.30),
    -5.0: (2.88, 21.81, -258.11, -858.36),
    -12.0: (2.70, 12.17, -431.69, -1899.83),
    -18.0: (13.84, 262.72, 1447.42, 2797.93),
}

# "During a clear evening's civil twilight, horizontal illuminance decreases from 585-410 lux to
# 3.5-2 lux": American Meteorological Society, Glossary of Meteorology, "civil twilight".
CIVIL_DUSK_LUX = {"begins": (410.0, 585.0), "ends": (2.0, 3.5)}

# Optical depth of the air's molecules by wavelength in nm at 1013.25 hPa: Bodhaine and others 1999,
# J. Atmos. Oceanic Technol. 16, 1854, table 3 (from memory); others by
# Hansen and Travis 1974, Space Sci. Rev. 16, 527, eq. 2.30.
RAYLEIGH_DEPTH_550 = 0.0973

# Density of the U.S. Standard Atmosphere 1976 in kg/m³ by height in m: table I of the standard
# (from memory).
STANDARD_DENSITY = {0.0: 1.2250, 10_000.0: 0.41351, 30_000.0: 0.018410, 60_000.0: 3.0968e-4}

# Illuminance of sunlight outside the air, lux: 133.1 klx, Darula, Kittler and Gueymard 2005, Solar
# Energy 79, 559 (from memory).
SOLAR_CONSTANT_LUX = 133_100.0


def ground_illuminance_lux(sun_altitude_deg: float) -> float:
    share = sun_altitude_deg / 90.0
    lowest = max(start for start in GROUND_ILLUMINANCE if sun_altitude_deg >= start)
    terms = GROUND_ILLUMINANCE[lowest]
    return float(10.0 ** sum(term * share**power for power, term in enumerate(terms)))


def hansen_travis_depth(wavelength_nm: float) -> float:
    """Optical depth of molecules at 1013.25 hPa, by Hansen and Travis 1974."""
    square = (wavelength_nm / 1000.0) ** -2
    return 0.008569 * square**2 * (1.0 + 0.0113 * square + 0.00013 * square**2)
