"""The sun by astropy, at times and places drawn over all the earth."""

from __future__ import annotations

import warnings
from datetime import UTC, datetime, timedelta

import astropy.units as u
import numpy as np
from astropy.coordinates import AltAz, EarthLocation, get_body
from astropy.time import Time
from astropy.utils.iers import conf as iers_conf
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def drawn_everywhere() -> tuple[list[datetime], Floats, Floats, Floats]:
    """500 times and places: all latitudes, thirty of them within a degree of a pole."""
    draw = np.random.default_rng(20240229)
    first = datetime(2018, 1, 1, tzinfo=UTC)
    times = [
        first + timedelta(seconds=float(s)) for s in draw.uniform(0.0, 7.5 * 31_557_600.0, 500)
    ]
    lat = np.degrees(np.arcsin(draw.uniform(-1.0, 1.0, 500)))
    lat[:15], lat[15:30] = draw.uniform(89.0, 90.0, 15), draw.uniform(-90.0, -89.0, 15)
    lat[0], lat[15] = 90.0, -90.0
    return times, draw.uniform(-180.0, 180.0, 500), lat, draw.uniform(0.0, 4000.0, 500)


def astropy_altaz(
    times: list[datetime], lon: Floats, lat: Floats, height: Floats
) -> tuple[Floats, Floats]:
    """Azimuth and airless altitude of the sun by astropy, from its own earth orientation data."""
    place = EarthLocation.from_geodetic(lon * u.deg, lat * u.deg, height * u.m)
    with iers_conf.set_temp("auto_download", False), warnings.catch_warnings():
        warnings.simplefilter("ignore")
        when = Time(times)
        sun = get_body("sun", when, place).transform_to(AltAz(obstime=when, location=place))
    return sun.az.deg, sun.alt.deg
