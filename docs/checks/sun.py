"""The sun: where it stands, when it rises and sets, how far the air lifts it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

import numpy as np

from docs.checks.check import Check, Row, clocks, moments, numbers
from terrain.sun.position import (
    declination_deg,
    equation_of_time_min,
    semidiameter_at,
    sun_position,
)
from terrain.sun.refraction import refract, refraction_deg, standard_pressure_hpa
from terrain.sun.twilight import Twilight, twilight
from tests.authorities import sun_refraction as air
from tests.authorities import sun_spa as nrel
from tests.authorities import sun_tables as tables
from tests.sun.astropy_sun import astropy_altaz, drawn_everywhere
from tests.sun.nrel_example import NREL_PLACE, NREL_TIME, nrel_intermediates

_SUN, _CLOCK, _LIFT = "Where the sun stands", "When it rises and sets", "What the air does to it"
_TO_THE_MINUTE = "The table is to the minute, so up to 30 s of a difference is its rounding."


def checks() -> Iterator[Check]:
    """All checks of the sun."""
    yield from (_position(), _steps(), _astropy(), _turning(), _distance())
    yield from (_nrel_day(), _nrel_site(), _north_60(), _south_60(), _north_80())
    yield from (_one_day(), _defiance(), _quoted())
    yield from (_meeus(), _allen(), _laplace(), _pressure())


def _position() -> Check:
    sun = sun_position(
        [NREL_TIME],
        **NREL_PLACE,
        pressure_hpa=nrel.PRESSURE_HPA,
        temperature_c=nrel.TEMPERATURE_C,
    )
    true, seen = float(sun.altitude_deg[0]), float(sun.apparent_altitude_deg[0])
    pairs = {
        "true altitude": (nrel.TRUE_ALTITUDE_DEG, true),
        "azimuth": (nrel.AZIMUTH_DEG, float(sun.azimuth_deg[0])),
        "refraction": (nrel.REFRACTION_DEG, seen - true),
        "apparent altitude": (nrel.APPARENT_ALTITUDE_DEG, seen),
        "zenith angle": (nrel.ZENITH_DEG, 90.0 - seen),
        "declination": (nrel.DECLINATION_DEG, float(declination_deg([NREL_TIME])[0])),
    }
    names = (
        *("TRUE_ALTITUDE_DEG", "AZIMUTH_DEG", "ZENITH_DEG", "REFRACTION_DEG", "DECLINATION_DEG"),
        *("APPARENT_ALTITUDE_DEG", "LON_DEG", "LAT_DEG", "HEIGHT_M", "PRESSURE_HPA"),
        "TEMPERATURE_C",
    )
    but = "Refraction is by Bennett's formula here, by Saemundsson's there."
    rows = numbers(pairs, 5)
    return Check("NREL's worked example", _SUN, "sun_spa", names, "°", 5, rows, but)


def _steps() -> Check:
    pairs = {name: (theirs, ours) for name, (ours, theirs) in nrel_intermediates().items()}
    held = ("DELTA_T_S", *(name for name in vars(nrel) if name in _STEP_NAMES))
    (ahead_min,) = equation_of_time_min([NREL_TIME])
    rows = numbers(pairs, 6)
    rows += numbers({"equation of time, minutes": (nrel.EQUATION_OF_TIME_MIN, float(ahead_min))}, 2)
    but = "Each intermediate result of the report, by pvlib, from which the sun is taken."
    title = "NREL's example step by step"
    return Check(title, _SUN, "sun_spa", held, "in each row's unit", 6, rows, but)


_STEP_NAMES = {
    *("JULIAN_DAY", "HELIOCENTRIC_LONGITUDE_DEG", "HELIOCENTRIC_LATITUDE_DEG", "RADIUS_AU"),
    *("GEOCENTRIC_LONGITUDE_DEG", "GEOCENTRIC_LATITUDE_DEG", "NUTATION_ARGUMENTS_DEG"),
    *("NUTATION_IN_LONGITUDE_DEG", "NUTATION_IN_OBLIQUITY_DEG", "MEAN_OBLIQUITY_ARCSEC"),
    *("TRUE_OBLIQUITY_DEG", "ABERRATION_DEG", "APPARENT_LONGITUDE_DEG", "MEAN_SIDEREAL_TIME_DEG"),
    *("APPARENT_SIDEREAL_TIME_DEG", "RIGHT_ASCENSION_DEG", "HOUR_ANGLE_DEG", "PARALLAX_DEG"),
    *("PARALLAX_IN_RIGHT_ASCENSION_DEG", "TOPOCENTRIC_RIGHT_ASCENSION_DEG"),
    *("TOPOCENTRIC_DECLINATION_DEG", "TOPOCENTRIC_HOUR_ANGLE_DEG", "EQUATION_OF_TIME_MIN"),
}


def _astropy() -> Check:
    times, lon, lat, height = drawn_everywhere()
    azimuth, altitude = astropy_altaz(times, lon, lat, height)
    ours = [
        sun_position([t], lon_deg=x, lat_deg=y, height_m=z)
        for t, x, y, z in zip(times, lon, lat, height, strict=True)
    ]
    up = np.array([sun.altitude_deg[0] for sun in ours]) - altitude
    turn = (np.array([sun.azimuth_deg[0] for sun in ours]) - azimuth + 180.0) % 360.0 - 180.0
    across = turn * np.cos(np.radians(altitude))
    rows = [
        Row(f"{what}, {kind} of {len(times)}", "0", f"{value:.5f}", float(value))
        for what, off in (("altitude", np.abs(up)), ("across the sky", np.abs(across)))
        for kind, value in (("median", np.median(off)), ("greatest", off.max()))
    ]
    but = (
        "Not a table but another program: astropy, at times and places drawn over all the earth "
        "and eight years. What is told is how far apart the two are."
    )
    return Check("The sun by astropy", _SUN, "", (), "°", 5, rows, but)


def _turning() -> Check:
    rows = []
    for year, turns in tables.SOLSTICES.items():
        for name, sign, (day, clock) in zip(("June", "December"), (1, -1), turns, strict=True):
            hours, minutes = map(int, clock.split(":"))
            there = dt.datetime(year, 1, 1, tzinfo=dt.UTC) + dt.timedelta(
                days=day, hours=hours, minutes=minutes
            )
            rows.append(_turn_row(f"{name} {year}", there, sign))
    but = (
        "The observatory's solstice is that of the sun's longitude, ours the turn of its "
        "declination, which a sun that stands a second of arc off the ecliptic moves by minutes."
    )
    names = ("SOLSTICES",)
    return Check("The solstices", _SUN, "sun_tables", names, "min", 1, rows, but)


def _turn_row(what: str, there: dt.datetime, sign: int) -> Row:
    hours = np.arange(-48.0, 49.0, 4.0)
    times = [there + dt.timedelta(hours=float(each)) for each in hours]
    fit = np.polynomial.Polynomial.fit(hours, sign * declination_deg(times), 4)
    (turn,) = (
        float(root.real)
        for root in fit.deriv().roots()
        if abs(root.imag) < 1e-9 and abs(root) < 40.0
    )
    ours = there + dt.timedelta(hours=turn)
    return Row(what, f"{there:%d %H:%M}", f"{ours:%d %H:%M}", 60.0 * turn)


def _distance() -> Check:
    times = np.array([moment.timestamp() for moment in tables.APSIDES_AU])
    ours = semidiameter_at(times) * 3600.0
    pairs = {
        f"semi-diameter on {moment:%d %B %Y}": (tables.SEMIDIAMETER_AT_UNIT_ARCSEC / au, float(own))
        for (moment, au), own in zip(tables.APSIDES_AU.items(), ours, strict=True)
    }
    names = ("APSIDES_AU", "SEMIDIAMETER_AT_UNIT_ARCSEC")
    rows = numbers(pairs, 2)
    return Check("The width of the sun", _SUN, "sun_tables", names, "arcsec", 3, rows)


def _nrel_day() -> Check:
    before, light = (twilight(dt.date(2003, 10, day), **NREL_PLACE) for day in (16, 17))
    rows = moments(
        [("sunrise", nrel.SUNRISE, light.sunrise), ("sunset", nrel.SUNSET_BEFORE, before.sunset)]
    )
    names = ("SUNRISE", "SUNSET_BEFORE")
    return Check("The day of NREL's example", _CLOCK, "sun_spa", names, "s", 1, rows)


def _nrel_site() -> Check:
    places = (
        ((nrel.LON_DEG, nrel.LAT_DEG), nrel.WEB_GOLDEN),
        (nrel.SOUTH_LON_LAT_DEG, nrel.WEB_SOUTH),
    )
    rows = []
    for (lon, lat), days in places:
        for day, published in days.items():
            light = twilight(day, lon_deg=lon, lat_deg=lat)
            ours = (light.sunrise, light.transit, light.sunset)
            names = (f"{name} {day}, {lat:.1f}°" for name in ("rise", "noon", "set"))
            rows += moments(zip(names, published, ours, strict=True))
    held = ("WEB_GOLDEN", "WEB_SOUTH", "SOUTH_LON_LAT_DEG")
    return Check("Days by NREL's own program", _CLOCK, "sun_spa", held, "s", 1, rows)


def _rise_and_set(what: str, light: Twilight, pair: tuple[str | None, str | None]) -> list[Row]:
    return clocks(
        [(f"rise, {what}", pair[0], light.sunrise), (f"set, {what}", pair[1], light.sunset)]
    )


def _north_60() -> Check:
    rows: list[Row] = []
    for (month, day), pair in tables.NORTH_60.items():
        date = dt.date(2019, month, day)
        rows += _rise_and_set(f"{date:%d %B}", twilight(date, lon_deg=0.0, lat_deg=60.0), pair)
    return Check(
        "The naval observatory at 60° N",
        *(_CLOCK, "sun_tables", ("NORTH_60",), "s", 0, rows, _TO_THE_MINUTE),
    )


def _south_60() -> Check:
    rows: list[Row] = []
    for (month, day), (rise, set_) in tables.SOUTH_60_WEST_150.items():
        date = dt.date(2019, month, day)
        place = {"lon_deg": -150.0, "lat_deg": -60.0}
        before, today = (twilight(date - dt.timedelta(days=back), **place) for back in (1, 0))
        rows += clocks(
            [
                (f"rise, {date:%d %B}", rise, _utc(today.sunrise)),
                (f"set, {date:%d %B}", set_, _utc(before.sunset)),
            ]
        )
    return Check(
        "The naval observatory at 60° S 150° W",
        *(_CLOCK, "sun_tables", ("SOUTH_60_WEST_150",), "s", 0, rows, _TO_THE_MINUTE),
    )


def _north_80() -> Check:
    rows: list[Row] = []
    for (month, day), pair in tables.NORTH_80.items():
        date = dt.date(2019, month, day)
        rows += _rise_and_set(f"{date:%d %B}", twilight(date, lon_deg=0.0, lat_deg=80.0), pair)
    but = (
        f"{_TO_THE_MINUTE} Here the sun moves so flatly that a second of arc is seconds of time; "
        "never is where it stays up, or down, all day."
    )
    return Check(
        "The naval observatory at 80° N",
        *(_CLOCK, "sun_tables", ("NORTH_80",), "s", 0, rows, but),
    )


def _one_day() -> Check:
    rows: list[Row] = []
    for name, (lon, lat, day, events) in tables.ONE_DAY.items():
        light = twilight(day, lon_deg=lon, lat_deg=lat)
        rows += _events(name, light, events)
    return Check(
        "One day at two places", _CLOCK, "sun_tables", ("ONE_DAY",), "s", 0, rows, _TO_THE_MINUTE
    )


def _defiance() -> Check:
    lon, lat, day, events = tables.DEFIANCE
    rows = _events("Defiance", twilight(day, lon_deg=lon, lat_deg=lat), events)
    return Check(
        "All bounds of twilight", _CLOCK, "sun_tables", ("DEFIANCE",), "s", 0, rows, _TO_THE_MINUTE
    )


def _events(place: str, light: Twilight, events: dict[str, str]) -> list[Row]:
    return clocks(
        (f"{name.replace('_', ' ')}, {place}", hhmm, _utc(getattr(light, name)))
        for name, hhmm in events.items()
    )


def _quoted() -> Check:
    rows: list[Row] = []
    for place, (lon, lat), table, hours in (
        ("Golden", tables.GOLDEN_LON_LAT_DEG, tables.GOLDEN_2015, -7),
        ("Beijing", tables.BEIJING_LON_LAT_DEG, tables.BEIJING_2015, 8),
    ):
        zone = dt.timezone(dt.timedelta(hours=hours))
        for (month, day), (rise, set_) in table.items():
            date = dt.date(2015, month, day)
            light = twilight(date, lon_deg=lon, lat_deg=lat)
            assert light.sunrise is not None
            assert light.sunset is not None
            what = f"{date:%d %B}, {place}"
            rows += clocks(
                [
                    (f"rise, {what}", rise, light.sunrise.astimezone(zone)),
                    (f"set, {what}", set_, light.sunset.astimezone(zone)),
                ]
            )
    names = ("GOLDEN_2015", "BEIJING_2015", "GOLDEN_LON_LAT_DEG", "BEIJING_LON_LAT_DEG")
    return Check("Two places in 2015", _CLOCK, "sun_tables", names, "s", 0, rows, _TO_THE_MINUTE)


def _utc(moment: dt.datetime | None) -> dt.datetime | None:
    return None if moment is None else moment.astimezone(dt.UTC)


def _meeus() -> Check:
    lifted = 60.0 * float(refraction_deg(air.MEEUS_APPARENT_DEG))
    apparent = 60.0 * float(refract(air.MEEUS_TRUE_ARCMIN / 60.0))
    upper = 60.0 * float(refract(air.MEEUS_UPPER_TRUE_ARCMIN / 60.0)) - air.MEEUS_UPPER_TRUE_ARCMIN
    pairs = {
        "refraction at 30'": (air.MEEUS_REFRACTION_ARCMIN, lifted),
        "apparent altitude of a limb truly at 1.246'": (60.0 * air.MEEUS_APPARENT_DEG, apparent),
        "refraction of the upper limb": (air.MEEUS_UPPER_REFRACTION_ARCMIN, upper),
    }
    names = tuple(name for name in vars(air) if name.startswith("MEEUS"))
    rows = numbers(pairs, 3)
    return Check("Meeus's example of refraction", _LIFT, "sun_refraction", names, "'", 3, rows)


def _allen() -> Check:
    pairs = {
        f"at {altitude:g}°, Allen": (theirs, _arcmin(altitude, 1013.0, 10.0))
        for altitude, theirs in air.ALLEN_ARCMIN.items()
    }
    pairs |= {
        f"at {altitude:g}°, Pulkovo": (theirs, _arcmin(altitude, 1013.25, 15.0))
        for altitude, theirs in air.PULKOVO_ARCMIN.items()
    }
    names = ("ALLEN_ARCMIN", "PULKOVO_ARCMIN")
    rows = numbers(pairs, 2)
    return Check("Tables of refraction", _LIFT, "sun_refraction", names, "'", 2, rows)


def _arcmin(altitude_deg: float, pressure_hpa: float, temperature_c: float) -> float:
    return 60.0 * float(
        refraction_deg(altitude_deg, pressure_hpa=pressure_hpa, temperature_c=temperature_c)
    )


def _laplace() -> Check:
    pairs = {
        f"at {altitude:g}°": (
            air.LAPLACE_ARCSEC / float(np.tan(np.radians(altitude))),
            60.0 * _arcmin(altitude, 1013.25, 15.0),
        )
        for altitude in (45.0, 60.0, 75.0, 89.9)
    }
    names = ("LAPLACE_ARCSEC",)
    rows = numbers(pairs, 2)
    return Check("Laplace's formula high up", _LIFT, "sun_refraction", names, '"', 2, rows)


def _pressure() -> Check:
    pairs = {
        f"at {height:.0f} m": (theirs, float(standard_pressure_hpa(height)))
        for height, theirs in air.STANDARD_PRESSURE_HPA.items()
    }
    names = ("STANDARD_PRESSURE_HPA",)
    rows = numbers(pairs, 2)
    return Check("Pressure by height", _LIFT, "sun_refraction", names, "hPa", 2, rows)
