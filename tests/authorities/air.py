"""Published figures for moist air, lapse rates and units."""

from __future__ import annotations

# Saturation vapour pressure over water in kPa by temperature in degrees C: CRC Handbook of
# Chemistry and Physics, 77th edition, p. 6-13, as quoted in the test of
# github.com/firelab/met_utils, tests/testmet.py.
VAPOUR_PRESSURE_KPA = {0.0: 0.61129, 5.0: 0.87260, 10.0: 1.2281, 20.0: 2.3388, 30.0: 4.2455}

# Answers read off a thermodynamic diagram, College of DuPage, weather.cod.edu/sirvatka/
# answer.part1.html: relative humidity in % by temperature and dew point in degrees C at 1000 hPa
# (question 4 a, b).
DIAGRAM_HUMIDITY_PERCENT = {(24.0, 8.0): 36.0, (5.0, -2.0): 62.0}

# The same, question 5: potential temperature in K by pressure in hPa and temperature in degrees C.
DIAGRAM_POTENTIAL_K = {(500.0, -11.0): 320.0, (850.0, 2.0): 287.0}

# The same, question 7: pressure of the lifting condensation level in hPa, by pressure,
# temperature and dew point at the start.
DIAGRAM_CONDENSATION_HPA = {
    (1000.0, 25.0, 20.0): 930.0,
    (1000.0, 18.0, -1.0): 750.0,
    (900.0, 25.0, 20.0): 850.0,
}

# Standard atmosphere, temperature in degrees C by geopotential height in metres (ICAO Doc 7488;
# the same in U.S. Standard Atmosphere 1976, table I), from memory.
STANDARD_TEMPERATURE_C = {0.0: 15.0, 1000.0: 8.5, 2000.0: 2.0, 11_000.0: -56.5}

# Gravity in m/s2 (standard, exact) and specific heat of dry air at constant pressure in J/(kg K)
# (Glossary of Meteorology, American Meteorological Society, dry-adiabatic lapse rate; from memory).
STANDARD_GRAVITY = 9.80665
DRY_AIR_HEAT = 1004.0

# Units, all exact by definition: the international knot (1929) and foot (1959), the mile per hour,
# the ice point of the Celsius scale, and the Fahrenheit scale's two fixed points.
KNOT_MS = 1852.0 / 3600.0
FOOT_M = 0.3048
MILE_PER_HOUR_MS = 1609.344 / 3600.0
ICE_POINT_K = 273.15
FAHRENHEIT_C = {32.0: 0.0, 212.0: 100.0}
