"""When and where the sun's disc stands up over a skyline.

The disc appears when any part of it stands above the ground, and is clear when all of it does:
when its upper rim first rises over the ground somewhere, and its lower rim last (see `rims`).
In an evening the same is asked of the sun's path in time reversed: the last moment at which any of
the disc is seen, and the last at which all of it was.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from terrain.arrays import Floats
from terrain.errors import NoSun
from terrain.ground.accuracy import Accuracy, AngleDoubt
from terrain.sight.known import lowest_hidden_m
from terrain.sight.skyline import Skyline
from terrain.view.rims import Rims, rims_on
from terrain.view.touch import Touch, starts_of, touch_at, why_no_sun


@dataclass(frozen=True, kw_only=True)
class Contact(Touch):
    """The sun's appearance over a skyline, in an evening its going, and where it happens.

    Attributes
    ----------
    appears : datetime
        The first of the disc is seen; in an evening the last of it goes. Aware, in the place's
        zone.
    azimuth_deg, altitude_deg : float
        Of the point of the skyline where the first of the disc is seen (in an evening the last),
        degrees from true north and from the true horizontal.
    distance_m : float
        To that point, metres.
    lon_deg, lat_deg : float
        Where that point is, WGS 84 degrees.
    sun_azimuth_deg, sun_altitude_deg : float
        Apparent centre of the disc at that moment, degrees.
    evening : bool
        Whether it is the sun's going.
    clears : datetime or None
        All of the disc stands free; in an evening it first touches the ground. None where it is
        hidden in between, or where the day ends in between.
    semidiameter_deg : float
        Half of the disc's width, degrees.
    uncertainty_s : float
        One standard deviation of `appears`, seconds.
    uncertainty_deg : float
        The same of `azimuth_deg`, degrees.
    doubt : AngleDoubt
        The parts of it, degrees of altitude.
    known_to_m : float
        How far the ground is known in that direction, metres.
    beyond_height_m : float
        Ground higher than this anywhere beyond would delay the sun, in an evening hide it sooner,
        metres.
    later : tuple of Contact
        Further appearances of the same day, after the ground hid the sun again; in an evening
        those at which it went before, the latest first, as they follow on its path back. Those
        over ground that is unknown from the spot on are left out.
    clears_uncertainty_s : float
        One standard deviation of `clears`, seconds; NaN where that is None, or where the ground
        under it is unknown.
    clears_doubt : AngleDoubt or None
        The parts of it.

    Examples
    --------
    >>> import datetime as dt
    >>> import numpy as np
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(100, 0, 5e5, 0, -100, 6e6), shape=(61, 81))
    >>> row, col = np.mgrid[-30:31, -40:41]
    >>> cone = terrain.Dem(np.maximum(300.0 - 40.0 * np.hypot(row, col), 0.0), grid)
    >>> hill = terrain.hill_at(cone, *map(float, grid.lonlat(30, 40)), name="Cone")
    >>> lon, lat = (float(part) for part in grid.lonlat(30, 10))
    >>> spot = terrain.Spot(lon_deg=lon, lat_deg=lat, name="the stile")
    >>> contact = terrain.sun_contact(terrain.skyline(cone, spot), dt.date(2025, 3, 30))
    >>> f"{contact.appears:%H:%M:%S}", round(contact.uncertainty_s), round(contact.azimuth_deg, 1)
    ('06:17:30', 38, 90.5)
    """

    clears: dt.datetime | None
    semidiameter_deg: float
    uncertainty_s: float
    uncertainty_deg: float
    doubt: AngleDoubt
    known_to_m: float
    beyond_height_m: float
    later: tuple[Contact, ...] = ()
    clears_uncertainty_s: float = math.nan
    clears_doubt: AngleDoubt | None = None


def sun_contact(
    skyline: Skyline,
    day: dt.date,
    *,
    accuracy: Accuracy | None = None,
    spot_slope: float = 0.2,
    pressure_hpa: float | None = None,
    temperature_c: float = 10.0,
    evening: bool = False,
) -> Contact:
    """First appearance of the sun over a skyline on a local calendar day, found to a second.

    In an evening its last. That of a date is the last between the two midnights of that date at
    the place: where the sun goes down after midnight, it is that of the night with which the date
    begins, unless it goes down before the next midnight too.

    Parameters
    ----------
    skyline : Skyline
        As `skyline` gives it, with the spot it belongs to.
    day : datetime.date
        The date at the place.
    accuracy : Accuracy, optional
        Errors of the inputs, one standard deviation of each.
    spot_slope : float, optional
        Rise over run of the ground at the spot, for the share of the position's error.
    pressure_hpa : float, optional
        Of the air at the spot, hPa; that of the standard atmosphere at its height unless given.
    temperature_c : float, optional
        Of the air at the spot, degrees Celsius.
    evening : bool, optional
        When and where the last of it goes.

    Returns
    -------
    Contact
        When and where it appears.

    Raises
    ------
    NoSun
        Where the sun does not appear, or in an evening does not go, with the reason.
    NoGround
        Where the ground toward it is unknown from the spot on.

    Examples
    --------
    >>> import datetime as dt
    >>> import numpy as np
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(100, 0, 5e5, 0, -100, 6e6), shape=(61, 81))
    >>> row, col = np.mgrid[-30:31, -40:41]
    >>> cone = terrain.Dem(np.maximum(300.0 - 40.0 * np.hypot(row, col), 0.0), grid)
    >>> hill = terrain.hill_at(cone, *map(float, grid.lonlat(30, 40)), name="Cone")
    >>> lon, lat = (float(part) for part in grid.lonlat(30, 10))
    >>> spot = terrain.Spot(lon_deg=lon, lat_deg=lat, name="the stile")
    >>> contact = terrain.sun_contact(terrain.skyline(cone, spot), dt.date(2025, 3, 30))
    >>> f"{contact.appears:%H:%M:%S %Z}", round(contact.altitude_deg, 2)
    ('06:17:30 -01', 5.48)
    >>> beyond = terrain.Spot(lon_deg=2.0 * hill.lon_deg - lon, lat_deg=lat)
    >>> sky = terrain.skyline(cone, beyond)
    >>> gone = terrain.sun_contact(sky, dt.date(2025, 3, 30), evening=True)
    >>> f"{gone.appears:%H:%M:%S %Z}", round(gone.azimuth_deg, 1)
    ('17:51:09 -01', 269.7)
    """
    rims = rims_on(
        skyline, day, pressure_hpa=pressure_hpa, temperature_c=temperature_c, evening=evening
    )
    starts = list(starts_of(rims))
    if not starts:
        raise NoSun(why_no_sun(rims))
    contact = partial(_contact, rims, accuracy=accuracy or Accuracy(), spot_slope=spot_slope)
    first, *later = (
        contact(start, rims.first_clear(start, end))
        for start, end in zip(starts, [*starts[1:], rims.path.length_s], strict=True)
        if start == starts[0] or np.isfinite(skyline.at(rims.touching_azimuth(start)))
    )
    return replace(first, later=tuple(later))


def _contact(
    rims: Rims, start_s: float, clear_s: float | None, *, accuracy: Accuracy, spot_slope: float
) -> Contact:
    skyline, path = rims.skyline, rims.path
    touch = touch_at(rims, start_s)
    azimuth, altitude = touch.azimuth_deg, touch.altitude_deg
    doubts = partial(_doubt, rims, accuracy, spot_slope)
    doubt, uncertainty_s = doubts(rims.upper, start_s, azimuth)
    clears_doubt, clears_s = None, math.nan
    if clear_s is not None:
        last = rims.leaving_azimuth(clear_s)
        if math.isfinite(float(skyline.at(last))):
            clears_doubt, clears_s = doubts(rims.lower, clear_s, last)
    drift = rims.rate(lambda t: path.at(t)[0], start_s) * math.cos(math.radians(altitude))
    known_to = float(skyline.known_to_at(azimuth))
    return Contact(
        **vars(touch),
        clears=None if clear_s is None else path.time(clear_s),
        semidiameter_deg=path.semidiameter_deg,
        uncertainty_s=uncertainty_s,
        uncertainty_deg=abs(drift) * uncertainty_s,
        doubt=doubt,
        known_to_m=known_to,
        beyond_height_m=float(
            lowest_hidden_m(skyline.eye_height_m, altitude, known_to, refraction=skyline.refraction)
        ),
        clears_uncertainty_s=clears_s,
        clears_doubt=clears_doubt,
    )


def _doubt(
    rims: Rims,
    accuracy: Accuracy,
    spot_slope: float,
    height: Callable[[Floats], Floats],
    time_s: float,
    azimuth_deg: float,
) -> tuple[AngleDoubt, float]:
    """What makes the altitude of a rim over the skyline doubtful, and the moment, in seconds."""
    left, right = rims.skyline.at(np.array([azimuth_deg - 0.1, azimuth_deg + 0.1]))
    across = float(np.nan_to_num(right - left)) / 0.2
    doubt = accuracy.of_altitude(
        float(rims.skyline.distance_at(azimuth_deg)),
        slope=math.hypot(spot_slope, across),
        refraction_deg=float(rims.path.at(time_s)[1] - rims.path.true_at(time_s)[1]),
        hidden_deg=float(rims.skyline.hidden_at(azimuth_deg)),
    )
    # a sun that slides along the ground has no rate to speak of, and no certain moment either
    return doubt, doubt.total_deg / max(rims.rate(height, time_s), 1e-6)
