"""Where the sun stands in the sky of a place: its true direction, and where it is seen.

The true topocentric direction is pvlib's implementation of NREL's solar position algorithm, good
to 0.0003 degrees. pvlib's own refraction stops at the horizon and is left alone; the apparent
altitude comes from `terrain.sun.refraction`. Universal time is taken to be UTC: they differ by
less than 0.9 s, in which the sky turns 0.004 degrees, and in most years by a tenth of that.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

import numpy as np
import pandas as pd

from terrain.arrays import Floats, frozen_arrays
from terrain.constants import SUN_SEMIDIAMETER_AT_1_AU_DEG
from terrain.ground.places import check_place
from terrain.sun.pvlib_parts import spa
from terrain.sun.refraction import refract, standard_pressure_hpa

Times = Sequence[datetime] | pd.DatetimeIndex

_UNUSED: Final = 0.0
"""For those of pvlib's arguments that serve its own refraction, which is not used."""


@dataclass(frozen=True, kw_only=True, eq=False)
@frozen_arrays(copy=False)
class SunPosition:
    """Where the sun stands, one entry for each time; the arrays are read-only.

    Attributes
    ----------
    time : pandas.DatetimeIndex
        The times, timezone-aware.
    azimuth_deg : float array, degrees
        Clockwise from true north, 0 to 360.
    altitude_deg : float array, degrees
        True altitude of the sun's centre, as if there were no air.
    apparent_altitude_deg : float array, degrees
        The altitude at which the centre is seen.
    semidiameter_deg : float array, degrees
        Half the angle across the disc, one entry for each time.

    Examples
    --------
    >>> import datetime as dt
    >>> import terrain
    >>> noon = dt.datetime(2025, 3, 20, 12, tzinfo=dt.UTC)
    >>> sun = terrain.sun_position([noon], lon_deg=0.0, lat_deg=51.5)
    >>> sun.apparent_altitude_deg.round(2), sun.semidiameter_deg.round(4)
    (array([38.54]), array([0.2677]))
    """

    time: pd.DatetimeIndex
    azimuth_deg: Floats
    altitude_deg: Floats
    apparent_altitude_deg: Floats
    semidiameter_deg: Floats


def sun_position(
    times: Times,
    *,
    lon_deg: float,
    lat_deg: float,
    height_m: float = 0.0,
    pressure_hpa: float | None = None,
    temperature_c: float = 10.0,
) -> SunPosition:
    """The sun over one place at many times.

    Parameters
    ----------
    times : sequence of datetime, or pandas.DatetimeIndex
        Timezone-aware, (n,).
    lon_deg : float
        Longitude, WGS 84 degrees.
    lat_deg : float
        Latitude, WGS 84 degrees.
    height_m : float, optional
        Of the eye above the sea, metres.
    pressure_hpa : float, optional
        Of the air at the eye, hPa; that of the standard atmosphere at its height unless given.
    temperature_c : float, optional
        Of the air at the eye, degrees Celsius.

    Returns
    -------
    SunPosition
        Its arrays are (n,).

    Raises
    ------
    ValueError
        For a time without a zone.
    TerrainError
        For a place that is not on the earth.

    References
    ----------
    Reda, I. and Andreas, A. (2008), Solar position algorithm for solar radiation applications,
    NREL/TP-560-34302. Bennett, G. G. (1982), The calculation of astronomical refraction in marine
    navigation, Journal of Navigation 35, for the refraction.

    Examples
    --------
    >>> from datetime import UTC
    >>> sun = sun_position([datetime(2025, 3, 20, 12, tzinfo=UTC)], lon_deg=0.0, lat_deg=51.5)
    >>> round(float(sun.azimuth_deg[0]), 2), round(float(sun.altitude_deg[0]), 2)
    (177.65, 38.52)
    """
    check_place(lon_deg, lat_deg)
    index = _index(times)
    unix_s = _unix_s(index)
    azimuth, altitude = true_direction(unix_s, lon_deg, lat_deg, height_m)
    pressure = standard_pressure_hpa(height_m) if pressure_hpa is None else pressure_hpa
    return SunPosition(
        time=index,
        azimuth_deg=azimuth,
        altitude_deg=altitude,
        apparent_altitude_deg=refract(altitude, pressure_hpa=pressure, temperature_c=temperature_c),
        semidiameter_deg=semidiameter_at(unix_s),
    )


def declination_deg(times: Times) -> Floats:
    """Apparent geocentric declination of the sun, degrees, one for each time.

    times: as for `sun_position`, with the same error. The sun passes azimuth A at true altitude
    a as seen from latitude phi when ``sin d = sin phi sin a + cos phi cos a cos A``, but for its
    parallax of up to 0.0024 degrees.

    >>> from datetime import UTC
    >>> declination_deg([datetime(2025, 6, 21, 3, tzinfo=UTC)]).round(3).tolist()
    [23.438]
    """
    unix_s = _unix_s(_index(times))
    _, _, declination = spa.solar_position(
        unix_s, *(_UNUSED,) * 5, delta_t_s(unix_s), _UNUSED, numthreads=1, sst=True
    )
    return np.asarray(declination)


def equation_of_time_min(times: Times) -> Floats:
    """Minutes by which the sun runs ahead of the mean sun, one for each time.

    times: as for `sun_position`, with the same error. The sun crosses the meridian of longitude
    L at ``12 h - L/15 - equation of time`` UTC.

    >>> from datetime import UTC
    >>> equation_of_time_min([datetime(2025, 11, 3, tzinfo=UTC)]).round(1).tolist()
    [16.4]
    """
    return _all_angles(_unix_s(_index(times)), 0.0, 0.0, 0.0)[5]


def true_direction(
    unix_s: Floats, lon_deg: float | Floats, lat_deg: float | Floats, height_m: float | Floats
) -> tuple[Floats, Floats]:
    """True azimuth (0 to 360) and true topocentric altitude of the sun's centre, degrees.

    unix_s: seconds since 1970 UTC, one-dimensional. The place is either one place, or arrays of
    the shape of `unix_s`, or one-dimensional arrays under a single time.
    """
    _, _, _, altitude, azimuth, _ = _all_angles(unix_s, lon_deg, lat_deg, height_m)
    return azimuth, altitude


def semidiameter_at(unix_s: Floats) -> Floats:
    """Angular semi-diameter of the sun seen from the earth, degrees, shape of `unix_s`."""
    distance_au = np.asarray(spa.earthsun_distance(unix_s, delta_t_s(unix_s), 1))
    return SUN_SEMIDIAMETER_AT_1_AU_DEG / distance_au


def _all_angles(
    unix_s: Floats, lon_deg: float | Floats, lat_deg: float | Floats, height_m: float | Floats
) -> tuple[Floats, ...]:
    """pvlib's six results: zenith with and without air, altitude likewise, azimuth, time."""
    place, ahead_s = (lat_deg, lon_deg, height_m), delta_t_s(unix_s)
    results = spa.solar_position(unix_s, *place, _UNUSED, _UNUSED, ahead_s, _UNUSED, numthreads=1)
    return tuple(np.asarray(angle) for angle in results)


def delta_t_s(unix_s: Floats) -> Floats:
    """Terrestrial time minus universal time, seconds (NASA's polynomials, through pvlib)."""
    months = unix_s.astype("datetime64[s]").astype("datetime64[M]").astype(np.int64)
    return np.asarray(spa.calculate_deltat(1970 + months // 12, 1 + months % 12), float)


def _index(times: Times) -> pd.DatetimeIndex:
    """The times as an index with a time zone; refuses those without one."""
    if isinstance(times, pd.DatetimeIndex):
        if times.tz is None:
            raise ValueError(f"times from {times[0]} have no time zone: give them one")
        return times
    for moment in times:
        if moment.tzinfo is None:
            raise ValueError(f"{moment} has no time zone: give an aware datetime")
    return pd.DatetimeIndex(pd.to_datetime(list(times), utc=True))


def _unix_s(index: pd.DatetimeIndex) -> Floats:
    """Seconds since 1970 UTC."""
    since = index - pd.Timestamp(0, tz="UTC")
    return np.asarray(since / pd.Timedelta(seconds=1), dtype=np.float64)
