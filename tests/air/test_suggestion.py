from __future__ import annotations

import pytest

from terrain.air.inversion import find_inversions
from terrain.air.objections import richardson
from terrain.air.sounding import read_sounding
from terrain.air.suggestion import NOT_A_FORECAST, suggest_mist_top
from terrain.errors import TerrainError
from tests.air.ascents import NAN, ascent, clear_night, lid_aloft, mixed
from tests.authorities import air as published


def _has(sentences, *words):
    return any(all(word in sentence for word in words) for sentence in sentences)


def test_a_clear_night_with_saturated_ground():
    found = suggest_mist_top(clear_night())
    low, high = found.range_m
    assert low == pytest.approx(193.0, abs=1.0)
    assert high == 300.0
    assert found.against == ()
    assert _has(found.reasons, "on the ground", "2.0 °C at 150 m", "8.0 °C at 300 m", "6.0 K")
    assert _has(found.reasons, "saturated (100 % humidity)", "193 m")
    assert found.headline == "Heights to try for the top of a mist: 193 to 300 m."


@pytest.mark.parametrize("air", [clear_night(), lid_aloft(), mixed()])
def test_it_always_says_that_it_is_no_forecast(air):
    found = suggest_mist_top(air)
    assert found.cautions[0] == NOT_A_FORECAST
    assert "not a forecast" in found.text
    lines = found.text.splitlines()
    assert lines[0] == found.headline
    for sentence in (*found.reasons, *found.against, *found.cautions):
        assert sum(line.endswith(sentence) for line in lines) == 1


def test_mixed_air_has_no_height_to_try():
    found = suggest_mist_top(mixed())
    assert found.range_m is None
    assert found.headline.startswith("No height")
    assert _has(found.reasons, "no inversion", "between 50 and 1550 m")
    assert _has(found.reasons, "falls by 8.0 K/km", "6.5", "9.8")
    assert _has(found.against, "no inversion")
    assert _has(found.against, "not saturated", "10.0 K")
    assert _has(found.against, "wind of 6.0 m/s (12 kt) at 50 m")


def test_a_rise_too_small_to_be_sure_of():
    air = ascent([(100, 5.0, 5.0, 1), (180, 5.6, 5.0, 1), (900, 1.0, 0.0, 1), (3000, -9, -9, 1)])
    found = suggest_mist_top(air)
    assert found.range_m is None
    assert _has(found.reasons, "0.6 K", "100 to 180 m", "error")
    assert not _has(found.against, "saturated")


def test_under_a_lid_aloft_the_base_comes_first():
    found = suggest_mist_top(lid_aloft())
    assert found.range_m == (600.0, 750.0)
    assert _has(found.reasons, "500 m above it")
    assert _has(found.reasons, "begin with 600 m")
    # 125 m of lift for every K of spread (a rule of thumb): 3 K at 100 m
    (cloud,) = [s for s in found.reasons if "forms cloud" in s]
    base_m = float(cloud.split("about ")[1].split(" m")[0])
    assert base_m == pytest.approx(100 + 3 * 125, abs=30)


def test_the_lid_over_saturated_air_is_taken():
    air = ascent(
        [
            (100, 3.0, -3.0, 1),
            (200, 6.0, -3.0, 1),
            (700, 2.0, 1.9, 1),
            (800, 5.0, -9.0, 1),
            (3000, -9.0, -20.0, 1),
        ]
    )
    found = suggest_mist_top(air)
    assert found.range_m == (700.0, 800.0)
    assert _has(found.reasons, "another inversion from 100 to 200 m", "3.0 K")


@pytest.mark.parametrize(
    ("lower_dew_c", "upper_dew_c", "taken"),
    [
        (2.0, 1.9, (700.0, 800.0)),  # moist air below, saturated air above
        (-3.0, 1.0, (700.0, 800.0)),  # dry air below, moist air above
        (2.0, 1.0, (100.0, 200.0)),  # moist air under both
        (-3.0, -4.0, (100.0, 200.0)),  # dry air under both
    ],
)
def test_saturated_air_goes_before_moist_air_and_that_before_dry_air(
    lower_dew_c, upper_dew_c, taken
):
    levels = [
        (100, 3.0, lower_dew_c, 1),
        (200, 6.0, -3.0, 1),
        (700, 2.0, upper_dew_c, 1),
        (800, 5.0, -9.0, 1),
        (3000, -9.0, -20.0, 1),
    ]
    assert suggest_mist_top(ascent(levels)).range_m == taken


def test_dry_air_speaks_against_mist():
    dry = ascent([(100, 3.0, -4.0, 1), (250, 6.0, -6.0, 1), (900, 2.0, -9.0, 1)])
    found = suggest_mist_top(dry)
    assert found.range_m == (100.0, 250.0)
    assert _has(found.against, "is dry", "cool by 7.0 K")
    assert found.headline == "Heights to try for the top of a mist, if there is one: 100 to 250 m."
    damp = ascent([(100, 3.0, 1.0, 1), (250, 6.0, -6.0, 1), (900, 2.0, -9.0, 1)])
    assert _has(suggest_mist_top(damp).against, "is not saturated", "cool by 2.0 K")


@pytest.mark.parametrize(
    ("wind_ms", "word"), [(1.0, None), (5.0, None), (8.0, "ruffles"), (15.0, "tears")]
)
def test_wind_over_the_pool(wind_ms, word):
    air = clear_night(wind_ms)
    (lid,) = find_inversions(air)
    # by hand: 7.5 K of potential temperature over 150 m, in air of 279 K
    by_hand = published.STANDARD_GRAVITY / 279.3 * 7.46 * 150.0 / wind_ms**2
    assert richardson(air, lid) == pytest.approx(by_hand, rel=0.02)
    against = suggest_mist_top(air).against
    assert _has(against, "wind over the pool") == (word is not None)
    if word is not None:
        assert _has(against, word, f"{wind_ms:.1f} m/s")


def test_the_same_wind_at_base_and_top_does_not_tear():
    steady = ascent([(100, 3.0, 3.0, 2), (250, 6.0, -6.0, 2), (900, 2.0, -9.0, 2)])
    assert richardson(steady, find_inversions(steady)[0]) == float("inf")
    assert suggest_mist_top(steady).against == ()


def test_what_was_not_measured_is_said():
    bare = ascent([(100, 3.0, NAN, NAN), (250, 6.0, NAN, NAN), (900, 2.0, NAN, NAN)])
    found = suggest_mist_top(bare)
    assert found.range_m == (100.0, 250.0)
    assert found.against == ()
    assert _has(found.cautions, "How moist")
    assert _has(found.cautions, "wind near the ground")
    assert _has(found.cautions, "wind over the pool")
    without = ascent([(100, 6.0, NAN, NAN), (250, 5.0, NAN, NAN), (900, 2.0, NAN, 4)])
    assert _has(suggest_mist_top(without).cautions, "How moist")
    assert _has(suggest_mist_top(without).cautions, "wind near the ground")


def test_a_sounding_that_ends_inside_the_inversion():
    drone = ascent([(100, 3.0, 3.0, 1), (160, 5.0, 4.0, 1), (220, 7.0, 3.0, 1)])
    assert _has(suggest_mist_top(drone).cautions, "ends at 220 m", "may be higher")
    assert not _has(suggest_mist_top(clear_night()).cautions, "ends at")


def test_a_valley_floor_of_ones_own():
    night = clear_night()
    below = suggest_mist_top(night, 90.0)
    assert below.range_m == suggest_mist_top(night).range_m
    assert _has(below.cautions, "valley floor at 90 m", "not measured")
    inside = suggest_mist_top(night, 250.0)
    assert inside.range_m == (250.0, 300.0)
    assert _has(inside.against, "ends at about 193 m", "250 m")
    assert suggest_mist_top(night, 300.0).range_m is None
    for floor_m in (1600.0, 9000.0, -9999.0, NAN):
        with pytest.raises(TerrainError, match="valley floor must lie under the top"):
            suggest_mist_top(night, floor_m)


def test_a_lid_high_over_the_valley_does_not_count():
    high = ascent([(100, 9.0, 8.9, 1), (1700, -3.0, -3.0, 1), (1900, 2.0, -9.0, 1)])
    assert suggest_mist_top(high).range_m is None
    assert suggest_mist_top(high, 300.0).range_m is not None
    lower = ascent([(100, 9.0, 8.9, 1), (1500, -3.0, -3.0, 1), (1900, 2.0, -9.0, 1)])
    assert suggest_mist_top(lower).range_m is not None
    assert suggest_mist_top(lower, -50.0).range_m is None


def test_the_source_is_named():
    levels = [(100, 3.0, 3.0, 1), (160, 5.0, 4.0, 1), (220, 4.0, 3.0, 1)]
    named = ascent(levels, station="Nowhere Moor", time="06Z")
    assert _has(suggest_mist_top(named).cautions, "(Nowhere Moor, 06Z)")


def test_the_saturated_ascent(open_data):
    found = suggest_mist_top(read_sounding(open_data / "sounding_saturated_base.csv"))
    low, high = found.range_m
    assert low == pytest.approx(364.0, abs=1.0)
    assert high == 493.0
    assert _has(found.reasons, "ground", "345 m", "493 m", "3.8 K")
    assert _has(found.reasons, "saturated (100 % humidity)")
    assert _has(found.against, "7.6 m/s", "ruffles")
    assert len(found.against) == 1


def test_the_ascent_without_an_inversion(open_data):
    found = suggest_mist_top(read_sounding(open_data / "sounding_no_inversion.txt"))
    assert found.range_m is None
    assert _has(found.reasons, "no inversion", "27")
    assert _has(found.reasons, "0.8 K", "27 to 115 m")
    assert _has(found.against, "7.2 m/s (14 kt)")
    assert _has(found.against, "89 % humidity")
