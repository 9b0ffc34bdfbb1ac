"""The pace of a walk against the published rules."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from terrain.errors import TerrainError
from terrain.walk.pace import (
    PATH_FACTOR,
    Going,
    Pace,
    din_33466,
    fastest_m_s,
    langmuir,
    naismith,
    time_s,
    tobler,
)
from tests.authorities import walking

PACES = [tobler, naismith, langmuir, din_33466]
CASES = [
    (pace, *case)
    for pace, cases in (
        (tobler, walking.TOBLER),
        (naismith, walking.NAISMITH),
        (langmuir, walking.LANGMUIR),
        (din_33466, walking.DIN_33466),
    )
    for case in cases
]

metres = st.floats(1.0, 5000.0)
slopes = st.floats(-1.0, 1.0)


@pytest.mark.parametrize(("pace", "distance_m", "rise_m", "hours"), CASES)
def test_published_times(pace: Pace, distance_m: float, rise_m: float, hours: float) -> None:
    assert float(pace(distance_m, rise_m)) / 3600.0 == pytest.approx(hours, abs=5e-4)


def test_langmuir_changes_at_five_and_at_twelve_degrees() -> None:
    def saved_s(slope_deg: float) -> float:
        distance_m = 300.0 / np.tan(np.radians(slope_deg))
        return float(naismith(distance_m, -300.0) - langmuir(distance_m, -300.0))

    assert [round(saved_s(a)) for a in (4.9, 5.1, 11.9, 12.1)] == [0, 600, 600, -600]


@pytest.mark.parametrize("pace", PACES)
@settings(deadline=None)
@given(distance_m=metres, slope=slopes, parts=st.integers(2, 9))
def test_a_leg_takes_as_long_as_its_parts(
    pace: Pace, distance_m: float, slope: float, parts: int
) -> None:
    whole = float(pace(distance_m, slope * distance_m))
    part = distance_m / parts
    assert parts * float(pace(part, slope * part)) == pytest.approx(whole, rel=1e-6)


@pytest.mark.parametrize("pace", PACES)
@settings(deadline=None)
@given(distance_m=metres, slope=slopes)
@example(distance_m=100.0, slope=-0.2125)
def test_none_is_faster_than_its_fastest(pace: Pace, distance_m: float, slope: float) -> None:
    speed_m_s = distance_m / float(pace(distance_m, slope * distance_m))
    assert speed_m_s <= fastest_m_s(pace) * (1.0 + 1e-9)


@settings(deadline=None)
@given(legs=st.lists(st.tuples(metres, slopes), min_size=2, max_size=6))
def test_din_leg_by_leg_is_never_less_than_for_the_sums(legs: list[tuple[float, float]]) -> None:
    up = [(distance, abs(slope) * distance) for distance, slope in legs]
    by_legs = sum(float(din_33466(*leg)) for leg in up)
    at_once = float(din_33466(sum(leg[0] for leg in up), sum(leg[1] for leg in up)))
    assert by_legs >= at_once * (1.0 - 1e-9)


def test_the_fastest_is_that_of_the_break_between_two_rules() -> None:
    assert fastest_m_s(langmuir) == pytest.approx(walking.LANGMUIR_FASTEST_M_S, rel=1e-6)
    assert fastest_m_s(tobler) * 3.6 == pytest.approx(walking.TOBLER_FASTEST_KM_H, rel=1e-9)
    assert fastest_m_s(naismith) * 3.6 == pytest.approx(5.0)


def test_arrays_of_legs() -> None:
    assert tobler([100.0, 200.0], [[1.0], [2.0], [3.0]]).shape == (3, 2)
    assert float(tobler(0.0, 0.0)) == 0.0


def test_open_ground_is_slower_by_toblers_own_factor() -> None:
    assert pytest.approx(walking.TOBLER_OFF_PATH) == 1.0 / PATH_FACTOR
    going = Going()
    legs, flat = np.full(2, 1000.0), np.zeros(2)
    on, off = going.seconds(legs, flat, np.array([True, False]))
    assert on / off == pytest.approx(walking.TOBLER_OFF_PATH)


@pytest.mark.parametrize(
    "pace",
    [
        lambda distance, rise: -distance,
        lambda distance, rise: distance * np.nan,
        lambda distance, rise: 3.0,
    ],
)
def test_a_pace_that_gives_no_time_is_told_so(pace: Pace) -> None:
    with pytest.raises(ValueError, match="must give a time of 0 s or more"):
        time_s(pace, np.ones(4), np.zeros(4))


@pytest.mark.parametrize(
    ("path_factor", "max_slope_deg", "message"),
    [
        (0.6, 35.0, "1 or more times as long as a path, not 0.6"),
        (np.nan, 35.0, "not nan"),
        (1.0, 90.0, "between 0 and 90 degrees, got 90"),
        (1.0, 0.0, "between 0 and 90 degrees, got 0"),
    ],
)
def test_a_going_that_makes_no_sense(
    path_factor: float, max_slope_deg: float, message: str
) -> None:
    with pytest.raises(TerrainError, match=message):
        Going(path_factor=path_factor, max_slope_deg=max_slope_deg)
