from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain.air.inversion import find_inversions, inversions
from terrain.air.sounding import read_sounding
from terrain.errors import TerrainError
from tests.air.ascents import NAN, ascent, clear_night, lid_aloft, mixed
from tests.authorities import air as published


def test_a_lid_on_the_ground_worked_by_hand():
    (lid,) = inversions(clear_night()).to_dict("records")
    assert (lid["base_m"], lid["top_m"], lid["depth_m"]) == (150.0, 300.0, 150.0)
    assert (lid["base_temperature_c"], lid["top_temperature_c"]) == (2.0, 8.0)
    assert lid["strength_k"] == 6.0
    assert lid["lapse_k_per_km"] == pytest.approx(-40.0)
    assert lid["on_ground"]
    assert lid["saturated"]
    assert lid["humidity_percent"] == pytest.approx(100.0)
    assert lid["spread_k"] == 0.0
    # temperature and dew point at 180 m and at 300 m
    wet, dry = (
        100.0
        * published.vapour_pressure_kpa(dew_point)
        / published.vapour_pressure_kpa(temperature)
        for temperature, dew_point in ((4.0, 3.8), (8.0, 2.0))
    )
    assert lid["saturated_to_m"] == pytest.approx(180 + 120 * (wet - 95) / (wet - dry), abs=0.5)
    # 6 K more, and what air cools by when it is lifted 150 m; pressure in these ascents falls a
    # little differently than that air's weight would have it
    lifted_k = 0.150 * published.DRY_ADIABATIC_K_PER_KM
    assert lid["potential_rise_k"] == pytest.approx(6.0 + lifted_k, abs=0.1)


def test_a_lid_aloft():
    (lid,) = find_inversions(lid_aloft())
    assert (lid.base_m, lid.top_m, lid.on_ground) == (600.0, 750.0, False)
    assert lid.strength_k == pytest.approx(4.0)
    assert lid.saturated
    assert lid.humidity_percent == pytest.approx(99.3, abs=0.2)
    assert 600.0 < lid.saturated_to_m < 650.0


def test_no_inversion_gives_a_table_without_rows():
    table = inversions(mixed())
    assert table.empty
    assert list(table.columns) == list(inversions(clear_night()).columns)
    assert (table.dtypes == inversions(clear_night()).dtypes).all()


def _temperatures(*pairs):
    return ascent([(height, temperature, temperature - 5, 1.0) for height, temperature in pairs])


def test_a_thin_break_belongs_to_the_inversion():
    broken = _temperatures((100, 2.0), (200, 5.0), (260, 4.5), (400, 7.0), (900, 4.0))
    assert [(lid.base_m, lid.top_m) for lid in find_inversions(broken)] == [(100.0, 400.0)]
    # level air is a break as well
    level = _temperatures((100, 2.0), (200, 5.0), (260, 5.0), (400, 7.0), (900, 4.0))
    assert [(lid.base_m, lid.top_m) for lid in find_inversions(level)] == [(100.0, 400.0)]


def test_breaks_that_part_two_inversions():
    thick = _temperatures((100, 2.0), (200, 5.0), (300, 4.5), (400, 7.0), (900, 4.0))
    assert [(lid.base_m, lid.top_m) for lid in find_inversions(thick)] == [(100, 200), (300, 400)]
    # what lies above is not warmer: the lower one ends where it is warmest
    cooler = _temperatures((100, 2.0), (200, 6.0), (260, 4.5), (400, 5.8), (900, 4.0))
    assert [(lid.base_m, lid.top_m) for lid in find_inversions(cooler)] == [(100, 200), (260, 400)]
    # the air between is colder than below: the upper one begins where it is coldest
    colder = _temperatures((100, 2.0), (200, 3.2), (260, 1.0), (400, 5.8), (900, 4.0))
    assert [(lid.base_m, lid.top_m) for lid in find_inversions(colder)] == [(100, 200), (260, 400)]


def test_moisture_under_an_upper_lid_is_that_above_the_lower():
    air = ascent(
        [
            (100, 2.0, 2.0, 0),
            (200, 6.0, 0.0, 0),
            (700, 3.0, 1.0, 0),
            (800, 5.0, -5.0, 0),
        ]
    )
    lower, upper = find_inversions(air)
    assert lower.saturated
    assert not upper.saturated
    assert upper.spread_k == pytest.approx(2.0)
    assert np.isnan(upper.saturated_to_m)


def test_air_saturated_right_through_the_lid_and_unknown_humidity():
    wet = ascent([(100, 2.0, 2.0, 0), (200, 6.0, 6.0, 0), (300, 5.5, 5.5, 0)])
    assert find_inversions(wet)[0].saturated_to_m == 200.0
    unknown = ascent([(100, 2.0, NAN, 0), (200, 6.0, NAN, 0), (300, 5.5, 5.5, 0)])
    (lid,) = find_inversions(unknown)
    assert np.isnan([lid.humidity_percent, lid.spread_k, lid.saturated_to_m]).all()
    assert not lid.saturated
    gap = ascent([(100, 2.0, 2.0, 0), (150, 3.0, NAN, 0), (200, 6.0, -6.0, 0), (300, 5.5, NAN, 0)])
    assert 100.0 < find_inversions(gap)[0].saturated_to_m < 150.0


def test_limits():
    # 4.1 - 3.1 is a little less than 1 in binary, and is 1 K all the same
    air = _temperatures((100, 3.1), (200, 4.1), (5000, -10.0), (5100, -7.0), (6000, -12.0))
    assert [lid.base_m for lid in find_inversions(air)] == [100.0]
    assert [lid.base_m for lid in find_inversions(air, within_m=4900.0)] == [100.0, 5000.0]
    assert [lid.base_m for lid in find_inversions(air, least_k=1.1, within_m=9e3)] == [5000.0]
    with pytest.raises(TerrainError, match="strength must be 0 or more, got -1"):
        inversions(air, least_k=-1.0)
    with pytest.raises(TerrainError, match="height above the ground must be 0 or more, got nan"):
        inversions(air, within_m=float("nan"))


@settings(max_examples=80, deadline=None)
@given(st.lists(st.tuples(st.integers(5, 300), st.integers(-60, 60)), min_size=3, max_size=14))
def test_what_is_true_of_every_inversion(steps):
    height = 50.0 + np.cumsum([rise for rise, _ in steps])
    temperature = np.array([tenths / 10.0 for _, tenths in steps])
    air = ascent([(h, t, t - 1.0, 1.0) for h, t in zip(height, temperature, strict=True)])
    lids = find_inversions(air, least_k=0.0, within_m=1e5)
    for lid in lids:
        inside = temperature[(height >= lid.base_m) & (height <= lid.top_m)]
        assert inside[0] == lid.base_temperature_c == inside.min()
        assert inside[-1] == lid.top_temperature_c == inside.max()
        assert lid.lapse_k_per_km < 0.0 < lid.depth_m
        assert lid.potential_rise_k > lid.strength_k
    assert all(low.top_m <= high.base_m for low, high in pairwise(lids))
    # every rise of temperature is in one of them
    for level in np.flatnonzero(np.diff(temperature) > 0):
        assert any(lid.base_m <= height[level] and height[level + 1] <= lid.top_m for lid in lids)


def test_the_saturated_ascent(open_data):
    table = inversions(read_sounding(open_data / "sounding_saturated_base.csv"))
    lowest = table.iloc[0]
    assert (lowest["base_m"], lowest["top_m"]) == (345.0, 493.0)
    assert lowest["strength_k"] == pytest.approx(16.6 - 12.8)
    assert lowest["on_ground"]
    assert lowest["saturated"]
    # humidity in the file: 100 % at 345 m and 86 % at 397 m
    assert lowest["saturated_to_m"] == pytest.approx(345 + 52 * 5 / 14, abs=1.0)
    assert not table.iloc[1:]["saturated"].any()


def test_the_ascent_without_an_inversion(open_data):
    found = read_sounding(open_data / "sounding_no_inversion.txt")
    assert inversions(found).empty
    # what rise there is lies within the thermometer's error: 12.0 to 12.8 degrees C
    weak = inversions(found, least_k=0.5)
    assert weak[["base_m", "top_m"]].to_numpy().tolist() == [[27.0, 115.0]]
    assert weak["strength_k"].to_list() == pytest.approx([0.8])
