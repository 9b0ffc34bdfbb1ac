"""What all places share of the sun's direction, and that it gives what each place alone would."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.sun import sky_times as room
from terrain.sun.position import semidiameter_at, true_direction
from terrain.sun.sky_times import SkyTimes, sky_times

DAYS = [1.77e9 + day * 86_400.0 + np.arange(289) * 300.0 for day in (0, 1, 40)]
PLACES = [(-24.0, 54.4, 300.0), (170.0, -77.0, 0.0), (11.0, 0.1, 3000.0)]


@pytest.fixture
def kept(monkeypatch: pytest.MonkeyPatch) -> dict[tuple[float, float, int], SkyTimes]:
    known: dict[tuple[float, float, int], SkyTimes] = {}
    monkeypatch.setattr(room, "_kept", known)
    return known


@pytest.mark.parametrize("place", PLACES)
def test_to_the_last_digit_what_the_place_alone_gives(place: tuple[float, float, float]) -> None:
    for times, sky in zip(DAYS, sky_times(DAYS), strict=True):
        np.testing.assert_array_equal(sky.direction(*place), true_direction(times, *place))
        assert sky.semidiameter_deg == semidiameter_at(np.array([times.mean()]))[0]


@pytest.mark.usefixtures("kept")
def test_days_are_worked_out_once_in_whatever_order(monkeypatch: pytest.MonkeyPatch) -> None:
    worked: list[int] = []
    work = room._worked_out
    monkeypatch.setattr(room, "_worked_out", lambda days: worked.append(len(days)) or work(days))
    first, second = sky_times(DAYS[:2])
    third, again = sky_times([DAYS[2], DAYS[0]])
    assert worked == [2, 1]
    assert again is first
    assert sky_times(DAYS) == [first, second, third]
    assert not first.declination_deg.flags.writeable


def test_the_longest_unused_is_forgotten(
    kept: dict[tuple[float, float, int], SkyTimes], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(room, "_KEPT", 2)
    sky_times(DAYS[:2])
    sky_times(DAYS[:1])
    sky_times(DAYS[2:])
    assert [key[0] for key in kept] == [DAYS[0][0], DAYS[2][0]]
