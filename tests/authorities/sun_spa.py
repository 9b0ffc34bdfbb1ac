"""NREL's worked example of its solar position algorithm, with the intermediate results.

Source: I. Reda and A. Andreas, Solar Position Algorithm for Solar Radiation Applications,
NREL/TP-560-34302 (revised 2008), section 3.2 and appendix A.5: 17 October 2003, 12:30:30 local
standard time (UTC - 7 h). The figures beyond the report's decimals, and those that the report
leaves out (the five arguments of nutation among them), are the ones in pvlib's own tests.
"""

from __future__ import annotations

from datetime import date

LON_DEG = -105.1786
LAT_DEG = 39.742476
HEIGHT_M = 1830.14
PRESSURE_HPA = 820.0
TEMPERATURE_C = 11.0
DELTA_T_S = 67.0

JULIAN_DAY = 2452930.312847
HELIOCENTRIC_LONGITUDE_DEG = 24.0182616917
HELIOCENTRIC_LATITUDE_DEG = -0.0001011219
RADIUS_AU = 0.9965422974
GEOCENTRIC_LONGITUDE_DEG = 204.0182616917
GEOCENTRIC_LATITUDE_DEG = 0.0001011219
NUTATION_ARGUMENTS_DEG = (17185.861179, 1722.893218, 18234.075703, 18420.071012, 51.686951)
NUTATION_IN_LONGITUDE_DEG = -0.00399840
NUTATION_IN_OBLIQUITY_DEG = 0.00166657
MEAN_OBLIQUITY_ARCSEC = 84379.672625
TRUE_OBLIQUITY_DEG = 23.440465
ABERRATION_DEG = -0.005711
APPARENT_LONGITUDE_DEG = 204.0085519281
MEAN_SIDEREAL_TIME_DEG = 318.515579
APPARENT_SIDEREAL_TIME_DEG = 318.511910
RIGHT_ASCENSION_DEG = 202.227408
DECLINATION_DEG = -9.31434
HOUR_ANGLE_DEG = 11.105900
PARALLAX_DEG = 0.002451
PARALLAX_IN_RIGHT_ASCENSION_DEG = -0.000369
TOPOCENTRIC_RIGHT_ASCENSION_DEG = 202.22704
TOPOCENTRIC_DECLINATION_DEG = -9.316179
TOPOCENTRIC_HOUR_ANGLE_DEG = 11.10627
TRUE_ALTITUDE_DEG = 39.872046
REFRACTION_DEG = 0.016332
APPARENT_ALTITUDE_DEG = 39.888378
ZENITH_DEG = 50.11162
AZIMUTH_DEG = 194.34024

# Rise and set that NREL's own program prints for this example (the remark at the end of its
# spa_tester.c, as in github.com/mvanderlyn27/golden-hour-calculator), local standard time. Its set
# is the one in the universal day, which is the evening before.
SUNRISE = "2003-10-17T06:12:43-07:00"
SUNSET_BEFORE = "2003-10-16T17:20:19-07:00"

# Equation of time of the example, minutes: as in pvlib's tests (test_spa.py).
EQUATION_OF_TIME_MIN = 14.64

# Rise, transit and set by NREL's program on its web site, as in pvlib's tests
# (test_solarposition.py, test_sun_rise_set_transit_spa): the place above, and 0 E 35 S.
WEB_GOLDEN = {
    date(2015, 1, 2): (
        "2015-01-02T07:21:55-07:00",
        "2015-01-02T12:04:45-07:00",
        "2015-01-02T16:47:43-07:00",
    ),
}
WEB_SOUTH = {
    date(1996, 7, 5): (
        "1996-07-05T07:08:15+00:00",
        "1996-07-05T12:04:36+00:00",
        "1996-07-05T17:01:04+00:00",
    ),
    date(2004, 12, 4): (
        "2004-12-04T04:38:57+00:00",
        "2004-12-04T11:50:22+00:00",
        "2004-12-04T19:02:03+00:00",
    ),
}
SOUTH_LON_LAT_DEG = (0.0, -35.0)
