from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from terrain.sun.crossings import crossings

Floats = NDArray[np.float64]
LENGTH_S = 86_400.0
STEP_S = 300.0


def test_both_directions_in_order() -> None:
    found = crossings(lambda t: np.cos(t / 100.0), 0.0, 1000.0, 30.0, 1e-6)
    expected = np.pi * 100.0 * np.array([0.5, 1.5, 2.5])
    assert [t for t, _ in found] == pytest.approx(expected, abs=1e-5)
    assert [rising for _, rising in found] == [False, True, False]


def test_a_dip_between_two_samples() -> None:
    # zero at 1000 ± 10 s, sampled every 300 s
    found = crossings(lambda t: (t - 1000.0) ** 2 - 100.0, 0.0, 3000.0, STEP_S)
    assert [t for t, _ in found] == pytest.approx([990.0, 1010.0], abs=0.5)
    assert [rising for _, rising in found] == [False, True]


@pytest.mark.parametrize("centre_s", [12.0, 2988.0])
def test_a_hump_beside_either_end(centre_s: float) -> None:
    found = crossings(lambda t: 25.0 - (t - centre_s) ** 2, 0.0, 3000.0, STEP_S)
    assert [t for t, _ in found] == pytest.approx([centre_s - 5.0, centre_s + 5.0], abs=0.5)
    assert [rising for _, rising in found] == [True, False]


def test_a_jump_is_a_crossing() -> None:
    found = crossings(lambda t: np.where(t < 777.0, -1.0, 2.0), 0.0, 3000.0, STEP_S)
    assert [(round(t), rising) for t, rising in found] == [(777, True)]


def test_a_corner_that_passes_through() -> None:
    found = crossings(lambda t: np.abs(t - 1234.0) - 20.0, 0.0, 3000.0, STEP_S)
    assert [t for t, _ in found] == pytest.approx([1214.0, 1254.0], abs=0.5)


@pytest.mark.parametrize("level", [-1.0, 0.0, 1.0])
def test_no_change_no_crossing(level: float) -> None:
    assert crossings(lambda t: np.full_like(t, level), 0.0, 3000.0, STEP_S) == []


def test_a_touch_from_above_is_none() -> None:
    assert crossings(lambda t: (t - 1500.0) ** 2, 0.0, 3000.0, STEP_S) == []


def test_nothing_is_found_where_it_is_unknown() -> None:
    def unknown_for_a_while(t: Floats) -> Floats:
        return np.where((t > 400.0) & (t < 1600.0), np.nan, 1000.0 - t)

    assert crossings(unknown_for_a_while, 0.0, 3000.0, STEP_S) == []


def test_nothing_is_found_across_a_gap_that_no_sample_meets() -> None:
    def unknown_between_samples(t: Floats) -> Floats:
        return np.where((t > 910.0) & (t < 1190.0), np.nan, 1000.0 - t)

    assert crossings(unknown_between_samples, 0.0, 3000.0, STEP_S) == []


def test_the_first_of_several_between_two_samples() -> None:
    def three_times(t: Floats) -> Floats:
        return (t - 910.0) * (t - 990.0) * (t - 1150.0)

    assert crossings(three_times, 0.0, 3000.0, STEP_S) == [(pytest.approx(910.0, abs=0.1), True)]


def test_many_moments_and_turning_points_in_a_few_calls() -> None:
    calls = []

    def wave(t: Floats) -> Floats:
        calls.append(t.size)
        return np.sin(t / 300.0) + 0.999

    found = crossings(wave, 0.0, LENGTH_S, STEP_S)
    assert len(found) == 92
    assert len(calls) <= 8


@pytest.mark.parametrize("tolerance_s", [5.0, 0.5, 1e-3])
def test_a_hump_as_wide_as_the_tolerance_is_found(tolerance_s: float) -> None:
    for middle_s in np.random.default_rng(5).uniform(STEP_S, 9.0 * STEP_S, 30):
        up, down = crossings(
            lambda t, m=middle_s: (0.5 * tolerance_s) ** 2 - (t - m) ** 2,
            *(0.0, 10.0 * STEP_S, STEP_S, tolerance_s),
        )
        assert (up.rising, down.rising) == (True, False)
        assert up.t_s <= middle_s <= down.t_s


def test_tolerance_is_kept() -> None:
    for tolerance_s in (1000.0, 10.0, 0.5, 1e-4, 1e-15):
        ((t, _),) = crossings(lambda t: np.exp(t / 500.0) - 9.0, 0.0, 3000.0, STEP_S, tolerance_s)
        assert t == pytest.approx(500.0 * np.log(9.0), abs=max(tolerance_s, 1e-9))


@pytest.mark.parametrize("bad", [(0.0, 0.0, 10.0, 1.0), (0.0, 9.0, 0.0, 1.0), (0.0, 9.0, 1.0, 0.0)])
def test_a_search_that_cannot_be_made(bad: tuple[float, float, float, float]) -> None:
    with pytest.raises(ValueError, match="is not a search"):
        crossings(np.sin, *bad)


waves = st.lists(
    st.tuples(
        st.floats(0.05, 1.0),  # amplitude
        st.floats(10.0 * STEP_S, LENGTH_S),  # period
        st.floats(0.0, 2.0 * np.pi),  # phase
    ),
    min_size=1,
    max_size=4,
)


@settings(max_examples=150, deadline=None)
@given(waves=waves, level=st.floats(-1.0, 1.0))
def test_every_root_of_slow_waves(waves: list[tuple[float, float, float]], level: float) -> None:
    def wave(t: Floats) -> Floats:
        return sum(a * np.sin(2 * np.pi * t / p + phase) for a, p, phase in waves) - level

    dense_t = np.linspace(0.0, LENGTH_S, int(LENGTH_S) + 1)
    dense = wave(dense_t)
    turns = np.flatnonzero(np.diff(np.sign(np.diff(dense))) != 0) + 1
    # humps that end within a hundredth of a thousandth of zero may be either side of it
    assume(np.abs(dense[[0, -1, *turns]]).min() > 1e-5)
    changes = np.flatnonzero((dense[:-1] >= 0.0) != (dense[1:] >= 0.0))
    found = crossings(wave, 0.0, LENGTH_S, STEP_S)
    assert [rising for _, rising in found] == [bool(dense[i + 1] >= 0.0) for i in changes]
    assert [t for t, _ in found] == pytest.approx(dense_t[changes] + 0.5, abs=1.0)
