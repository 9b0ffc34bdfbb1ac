"""NREL's worked example, step by step, by the library that the sun's position is taken from."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone

import numpy as np
from pvlib import spa

from tests.authorities import sun_spa as nrel

NREL_TIME = datetime(2003, 10, 17, 12, 30, 30, tzinfo=timezone(-timedelta(hours=7)))
NREL_PLACE = {"lon_deg": nrel.LON_DEG, "lat_deg": nrel.LAT_DEG, "height_m": nrel.HEIGHT_M}


def nrel_intermediates() -> dict[str, tuple[float, float]]:
    """Each intermediate result of the example by pvlib, beside the published one."""
    julian_day = spa.julian_day(NREL_TIME.timestamp())
    ephemeris_day = spa.julian_ephemeris_day(julian_day, nrel.DELTA_T_S)
    century = spa.julian_ephemeris_century(ephemeris_day)
    millennium = spa.julian_ephemeris_millennium(century)
    radius = spa.heliocentric_radius_vector(millennium)
    longitude = spa.heliocentric_longitude(millennium)
    latitude = spa.heliocentric_latitude(millennium)
    arguments = (
        spa.mean_elongation(century),
        spa.mean_anomaly_sun(century),
        spa.mean_anomaly_moon(century),
        spa.moon_argument_latitude(century),
        spa.moon_ascending_longitude(century),
    )
    nutation = np.empty((2, 1))
    spa.longitude_obliquity_nutation(
        np.array([century]), *(np.array([a]) for a in arguments), nutation
    )
    mean_obliquity = spa.mean_ecliptic_obliquity(millennium)
    obliquity = spa.true_ecliptic_obliquity(mean_obliquity, nutation[1, 0])
    aberration = spa.aberration_correction(radius)
    seen_from = spa.geocentric_longitude(longitude)
    apparent = spa.apparent_sun_longitude(seen_from, nutation[0, 0], aberration)
    mean_sidereal = spa.mean_sidereal_time(julian_day, spa.julian_century(julian_day))
    sidereal = spa.apparent_sidereal_time(mean_sidereal, nutation[0, 0], obliquity)
    geocentric_latitude = spa.geocentric_latitude(latitude)
    ascension = spa.geocentric_sun_right_ascension(apparent, obliquity, geocentric_latitude)
    declination = spa.geocentric_sun_declination(apparent, obliquity, geocentric_latitude)
    hour_angle = spa.local_hour_angle(sidereal, nrel.LON_DEG, ascension)
    parallax = spa.equatorial_horizontal_parallax(radius)
    term = spa.uterm(nrel.LAT_DEG)
    x = spa.xterm(term, nrel.LAT_DEG, nrel.HEIGHT_M)
    y = spa.yterm(term, nrel.LAT_DEG, nrel.HEIGHT_M)
    shift = spa.parallax_sun_right_ascension(x, parallax, hour_angle, declination)
    here = spa.topocentric_sun_declination(declination, x, y, parallax, shift, hour_angle)
    hour_angle_here = spa.topocentric_local_hour_angle(hour_angle, shift)
    altitude = spa.topocentric_elevation_angle_without_atmosphere(
        nrel.LAT_DEG, here, hour_angle_here
    )
    from_south = spa.topocentric_astronomers_azimuth(hour_angle_here, here, nrel.LAT_DEG)
    pairs = {
        f"nutation argument {i}": (ours, theirs)
        for i, (ours, theirs) in enumerate(zip(arguments, nrel.NUTATION_ARGUMENTS_DEG, strict=True))
    }
    return pairs | {
        "julian day": (julian_day, nrel.JULIAN_DAY),
        "R": (radius, nrel.RADIUS_AU),
        "L": (longitude, nrel.HELIOCENTRIC_LONGITUDE_DEG),
        "B": (latitude, nrel.HELIOCENTRIC_LATITUDE_DEG),
        "Theta": (seen_from, nrel.GEOCENTRIC_LONGITUDE_DEG),
        "beta": (geocentric_latitude, nrel.GEOCENTRIC_LATITUDE_DEG),
        "delta psi": (nutation[0, 0], nrel.NUTATION_IN_LONGITUDE_DEG),
        "delta epsilon": (nutation[1, 0], nrel.NUTATION_IN_OBLIQUITY_DEG),
        "epsilon 0": (mean_obliquity, nrel.MEAN_OBLIQUITY_ARCSEC),
        "epsilon": (obliquity, nrel.TRUE_OBLIQUITY_DEG),
        "delta tau": (aberration, nrel.ABERRATION_DEG),
        "lambda": (apparent, nrel.APPARENT_LONGITUDE_DEG),
        "nu 0": (mean_sidereal, nrel.MEAN_SIDEREAL_TIME_DEG),
        "nu": (sidereal, nrel.APPARENT_SIDEREAL_TIME_DEG),
        "alpha": (ascension, nrel.RIGHT_ASCENSION_DEG),
        "delta": (declination, nrel.DECLINATION_DEG),
        "H": (hour_angle, nrel.HOUR_ANGLE_DEG),
        "xi": (parallax, nrel.PARALLAX_DEG),
        "delta alpha": (shift, nrel.PARALLAX_IN_RIGHT_ASCENSION_DEG),
        "alpha'": (ascension + shift, nrel.TOPOCENTRIC_RIGHT_ASCENSION_DEG),
        "delta'": (here, nrel.TOPOCENTRIC_DECLINATION_DEG),
        "H'": (hour_angle_here, nrel.TOPOCENTRIC_HOUR_ANGLE_DEG),
        "e0": (altitude, nrel.TRUE_ALTITUDE_DEG),
        "azimuth": (spa.topocentric_azimuth_angle(from_south), nrel.AZIMUTH_DEG),
    }
