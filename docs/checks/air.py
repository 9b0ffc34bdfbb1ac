"""The air: moisture and lapse, cold wind; and the pace of a walk."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import Any

import numpy as np

from docs.checks.check import Check, Row, numbers
from terrain.air.column_headings import meaning_of
from terrain.air.physics import (
    DRY_ADIABATIC_K_PER_KM,
    STANDARD_LAPSE_K_PER_KM,
    condensation_pressure_hpa,
    humidity_percent,
    potential_temperature_k,
)
from terrain.plan.cautions import wind_chill_c
from terrain.walk.pace import PATH_FACTOR, din_33466, fastest_m_s, langmuir, naismith, tobler
from tests.authorities import air as published
from tests.authorities import cold, walking

_AIR, _WALK = "Soundings and cold", "How long a walk takes"


def checks() -> Iterator[Check]:
    """All checks of the air and of the walk."""
    yield from (_vapour(), _humidity(), _potential(), _condensation(), _lapse(), _units(), _chill())
    yield from (
        _pace("Tobler's function", "TOBLER", tobler),
        _pace("Naismith's rule", "NAISMITH", naismith),
        _pace("Langmuir's corrections", "LANGMUIR", langmuir),
        _pace("DIN 33466", "DIN_33466", din_33466),
        _fastest(),
    )


def _vapour() -> Check:
    known = published.VAPOUR_PRESSURE_KPA
    pairs = {
        f"{warm:.0f} °C, dew point {dew:.0f} °C": (
            100.0 * known[dew] / known[warm],
            float(humidity_percent(warm, dew)),
        )
        for warm in known
        for dew in known
        if dew < warm
    }
    names = ("VAPOUR_PRESSURE_KPA", "vapour_pressure_kpa")
    but = "Relative humidity: the ratio of two published vapour pressures, and ours by MetPy."
    rows = numbers(pairs, 2)
    return Check("Vapour pressures", _AIR, "air", names, "%", 2, rows, but)


def _read_off(name: str, ours: Callable[..., Any], digits: int) -> list[Row]:
    table: dict[tuple[float, ...], float] = getattr(published, name)
    pairs = {
        ", ".join(f"{each:g}" for each in start): (theirs, float(ours(*start)))
        for start, theirs in table.items()
    }
    return numbers(pairs, digits)


def _humidity() -> Check:
    names = ("DIAGRAM_HUMIDITY_PERCENT",)
    rows = _read_off(names[0], humidity_percent, 1)
    title, but = "Humidity off a diagram", "Read by eye to two units or so."
    return Check(title, _AIR, "air", names, "%", 1, rows, but)


def _potential() -> Check:
    names = ("DIAGRAM_POTENTIAL_K",)
    rows = _read_off(names[0], potential_temperature_k, 1)
    return Check("Potential temperature off a diagram", _AIR, "air", names, "K", 1, rows)


def _condensation() -> Check:
    names = ("DIAGRAM_CONDENSATION_HPA",)
    rows = _read_off(names[0], condensation_pressure_hpa, 0)
    but = "Read by eye to 15 hPa or so."
    return Check("Condensation off a diagram", _AIR, "air", names, "hPa", 0, rows, but)


def _lapse() -> Check:
    known = published.STANDARD_TEMPERATURE_C
    pairs = {
        f"°C at {height:.0f} m": (theirs, known[0.0] - STANDARD_LAPSE_K_PER_KM * height / 1000.0)
        for height, theirs in known.items()
    }
    pairs["K/km, dry air that is lifted"] = (
        published.DRY_ADIABATIC_K_PER_KM,
        DRY_ADIABATIC_K_PER_KM,
    )
    names = ("STANDARD_TEMPERATURE_C", "DRY_ADIABATIC_K_PER_KM")
    rows = numbers(pairs, 2)
    return Check("How air cools with height", _AIR, "air", names, "K", 2, rows)


def _units() -> Check:
    pairs = {}
    for column, given, theirs in (
        ("wind speed_kt", 10.0, 10.0 * published.KNOT_MS),
        ("wind speed_mph", 10.0, 10.0 * published.MILE_PER_HOUR_MS),
        ("height_ft", 1000.0, 1000.0 * published.FOOT_M),
        ("temperature_K", 280.0, 280.0 - published.ICE_POINT_K),
        *(("temperature_F", f, c) for f, c in published.FAHRENHEIT_C.items()),
    ):
        pairs[f"{given:g} {column.rpartition('_')[2]}"] = (
            theirs,
            float(meaning_of(column).convert(np.array([given]))[0]),
        )
    names = (
        *("KNOT_MS", "MILE_PER_HOUR_MS", "FOOT_M", "ICE_POINT_K", "FAHRENHEIT_C"),
        "STANDARD_GRAVITY",
    )
    rows = numbers(pairs, 4)
    return Check("Units of soundings", _AIR, "air", names, "in m/s, m, °C", 5, rows)


def _chill() -> Check:
    rows = []
    for warm, wind, theirs in cold.WIND_CHILL_C:
        ours = round(wind_chill_c(warm, wind))
        rows.append(Row(f"{warm:g} °C, {wind:g} km/h", str(theirs), str(ours), ours - theirs))
    return Check("Wind chill", _AIR, "cold", ("WIND_CHILL_C",), "°C", 0, rows)


def _pace(title: str, name: str, pace: Callable[[float, float], Any]) -> Check:
    cases: list[tuple[float, float, float]] = getattr(walking, name)
    pairs = {
        f"{distance / 1000:g} km, {rise:+.0f} m": (hours, float(pace(distance, rise)) / 3600.0)
        for distance, rise, hours in cases
    }
    rows = numbers(pairs, 3)
    return Check(title, _WALK, "walking", (name,), "h", 3, rows)


def _fastest() -> Check:
    pairs = {
        "Tobler's fastest, km/h": (walking.TOBLER_FASTEST_KM_H, fastest_m_s(tobler) * 3.6),
        "Langmuir's fastest, m/s": (walking.LANGMUIR_FASTEST_M_S, fastest_m_s(langmuir)),
        "Tobler's speed off paths": (walking.TOBLER_OFF_PATH, 1.0 / PATH_FACTOR),
    }
    names = ("TOBLER_FASTEST_KM_H", "LANGMUIR_FASTEST_M_S", "TOBLER_OFF_PATH")
    rows = numbers(pairs, 4)
    assert math.isfinite(rows[0].off or 0.0)
    return Check("The fastest of a pace", _WALK, "walking", names, "in each row's unit", 4, rows)
