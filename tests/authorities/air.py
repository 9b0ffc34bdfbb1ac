"""Published figures for moist air, lapse rates and units."""

from __future__ import annotations

import math

# Saturation vapour pressure over water in kPa by temperature in degrees C: CRC Handbook of
# Chemistry and Physics, 77th edition, p. 6-13, as quoted in the test of
# github.com/firelab/met_utils, tests/testmet.py.
VAPOUR_PRESSURE_KPA = {0.0: 0.61129, 5.0: 0.87260, 10.0: 1.2281, 20.0: 2.3388, 30.0: 4.2455}

# Answers read off a thermodynamic diagram, College of DuPage, weather.cod.edu/sirvatka/
# answer.part1.html: relative humidity in % by temperature and dew point in degrees C at 1000 hPa
# (question 4 a, b).
DIAGRAM_HUMIDITY_PERCENT = {(24.0, 8.0): 36.0, (5.0, -2.0): 62.0}

# College of DuPage, the same page, question 5: potential temperature in K by pressure in hPa and
# temperature in degrees C.
DIAGRAM_POTENTIAL_K = {(500.0, -11.0): 320.0, (850.0, 2.0): 287.0}

# College of DuPage, the same page, question 7: pressure of the lifting condensation level in hPa,
# by pressure, temperature and dew point at the start.
DIAGRAM_CONDENSATION_HPA = {
    (1000.0, 25.0, 20.0): 930.0,
    (1000.0, 18.0, -1.0): 750.0,
    (900.0, 25.0, 20.0): 850.0,
}

# Standard atmosphere, temperature in degrees C by geopotential height in metres: bounds of the
# lowest layer in the table of the layers, J. Denker, av8n.com/physics/altimetry.htm, section 1.
STANDARD_TEMPERATURE_C = {0.0: 15.0, 11_000.0: -56.5}

# Cooling of dry air that is lifted, gravity over its specific heat, in K/km: Aviation dictionary,
# aviation_dictionary.enacademic.com/2268/dry_adiabatic_lapse_rate.
DRY_ADIABATIC_K_PER_KM = 9.767


def vapour_pressure_kpa(temperature_c: float) -> float:
    """Saturation vapour pressure over water.

    WMO-No. 8, 7th edition (2008), as hydro-wiki.de/en/hydro/saturated-vapour-pressure quotes it.
    """
    return 0.6112 * math.exp(17.62 * temperature_c / (243.12 + temperature_c))


# Units, all exact by definition: standard gravity in m/s2 (1901), the international knot (1929) and
# foot (1959), the mile per hour, the ice point of the Celsius scale, and the Fahrenheit scale's two
# fixed points.
STANDARD_GRAVITY = 9.80665
KNOT_MS = 1852.0 / 3600.0
FOOT_M = 0.3048
MILE_PER_HOUR_MS = 1609.344 / 3600.0
ICE_POINT_K = 273.15
FAHRENHEIT_C = {32.0: 0.0, 212.0: 100.0}
