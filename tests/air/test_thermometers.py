from __future__ import annotations

import pytest

from terrain.air.suggestion import NOT_A_FORECAST
from terrain.air.thermometers import suggest_from_two_thermometers as suggest
from terrain.errors import TerrainError


def _has(sentences, *words):
    return any(all(word in sentence for word in words) for sentence in sentences)


def test_a_warmer_hill_over_a_saturated_valley():
    found = suggest((210, 2.5, 98), (540, 6.0))
    assert found.range_m == (210.0, 540.0)
    assert _has(found.reasons, "2.5 °C", "330 m above", "6.0 °C", "2.1 K colder")
    assert _has(found.reasons, "3.5 K warmer", "inversion")
    assert _has(found.reasons, "saturated (98 % humidity)")
    assert found.against == ()
    assert found.cautions[0] == NOT_A_FORECAST
    assert _has(found.cautions, "nor the wind")


def test_a_valley_colder_than_it_should_be():
    # 400 m at 6.5 K/km: the valley would have 5.6 degrees under a hill of 3.0
    found = suggest((200, 3.0), (600, 3.0))
    assert found.range_m == (200.0, 600.0)
    assert _has(found.reasons, "2.6 K colder", "lower heights")
    assert _has(found.against, "no lid is certain")
    assert _has(found.cautions, "How moist")


@pytest.mark.parametrize(
    ("valley", "hill", "words"),
    [
        ((200, 9.0), (600, 6.4), ["6.5 K/km", "no inversion"]),
        ((200, 9.0), (600, 7.5), ["3.8 K/km", "no inversion"]),
        ((200, 9.0), (600, 4.0), ["12.5 K/km", "sun shines"]),
        ((200, 5.0), (240, 5.9), ["-22.5 K/km"]),
    ],
)
def test_air_without_a_lid(valley, hill, words):
    found = suggest(valley, hill)
    assert found.range_m is None
    assert _has(found.against, *words)
    assert "not a forecast" in found.text


def test_one_kelvin_is_enough_of_a_rise():
    assert suggest((200, 5.0), (240, 6.0)).range_m == (200.0, 240.0)


def test_a_dry_valley():
    # dew point of 10 degrees and 52.5 %: vapour pressure 0.645 kPa, that of 0.7 degrees
    found = suggest((200, 10.0, 52.5), (600, 12.0))
    assert found.range_m == (200.0, 600.0)
    (dry,) = found.against
    assert "is dry" in dry
    assert "cool by 9.2 K" in dry or "cool by 9.3 K" in dry
    assert _has(suggest((200, 10.0, 85), (600, 12.0)).against, "not saturated")


@pytest.mark.parametrize(
    ("valley", "hill", "words"),
    [
        ((540, 2.5), (210, 6.0), ["210 m", "540 m", "at least 20 m higher"]),
        ((210, 2.5), (215, 6.0), ["at least 20 m"]),
        ((210, 275.6), (540, 6.0), ["temperature", "valley", "275.6"]),
        ((210, 2.5), (540, float("nan")), ["temperature", "hill", "nan"]),
        ((2.5, 210), (6.0, 540), ["temperature", "210"]),
        ((21_000, 2.5), (54_000, 6.0), ["height", "21000"]),
        ((210, 2.5, 0), (540, 6.0), ["humidity", "got 0"]),
        ((210, 2.5, 120), (540, 6.0), ["humidity", "120"]),
    ],
)
def test_readings_that_cannot_be(valley, hill, words):
    with pytest.raises(TerrainError) as caught:
        suggest(valley, hill)
    for word in words:
        assert word in str(caught.value)
