from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from terrain.air.physics import (
    DRY_ADIABATIC_K_PER_KM,
    STANDARD_LAPSE_K_PER_KM,
    condensation_pressure_hpa,
    dewpoint_c,
    humidity_percent,
    potential_temperature_k,
)
from tests.authorities import air as published


@pytest.mark.parametrize("dew_point_c", published.VAPOUR_PRESSURE_KPA)
@pytest.mark.parametrize("temperature_c", published.VAPOUR_PRESSURE_KPA)
def test_humidity_is_the_ratio_of_published_vapour_pressures(temperature_c, dew_point_c):
    if dew_point_c > temperature_c:
        return
    pressures = published.VAPOUR_PRESSURE_KPA
    expected = 100.0 * pressures[dew_point_c] / pressures[temperature_c]
    assert humidity_percent(temperature_c, dew_point_c) == pytest.approx(expected, abs=0.15)


@pytest.mark.parametrize(("start", "humidity"), published.DIAGRAM_HUMIDITY_PERCENT.items())
def test_humidity_read_off_a_diagram(start, humidity):
    # the diagram's mixing ratios are read to 0.1 g/kg
    assert humidity_percent(*start) == pytest.approx(humidity, abs=2.0)


@pytest.mark.parametrize(("start", "potential_k"), published.DIAGRAM_POTENTIAL_K.items())
def test_potential_temperature_read_off_a_diagram(start, potential_k):
    assert potential_temperature_k(*start) == pytest.approx(potential_k, abs=1.5)


@pytest.mark.parametrize(("start", "level_hpa"), published.DIAGRAM_CONDENSATION_HPA.items())
def test_condensation_level_read_off_a_diagram(start, level_hpa):
    assert condensation_pressure_hpa(*start) == pytest.approx(level_hpa, abs=15.0)


def test_saturated_air_condenses_where_it_is():
    assert condensation_pressure_hpa(950.0, 8.0, 8.0) == pytest.approx(950.0)
    # a reading whose dew point is a little too high is saturated, not an error
    assert condensation_pressure_hpa(950.0, 8.0, 8.2) == pytest.approx(950.0)
    assert humidity_percent(8.0, 8.2) == 100.0


@given(st.floats(-30.0, 40.0), st.floats(5.0, 100.0))
def test_dew_point_and_humidity_undo_each_other(temperature_c, humidity):
    dew_point = dewpoint_c(temperature_c, humidity)
    assert dew_point <= temperature_c + 0.05
    # MetPy's two functions rest on formulas that differ a little from one another
    assert humidity_percent(temperature_c, dew_point) == pytest.approx(humidity, rel=0.02)


def test_unknown_stays_unknown():
    assert np.isnan(humidity_percent([8.0, np.nan], [np.nan, 2.0])).all()
    assert np.isnan(dewpoint_c([8.0, 8.0], [np.nan, 0.0])).all()
    assert np.isnan(potential_temperature_k(np.nan, 8.0))


def test_lapse_rates():
    temperatures = published.STANDARD_TEMPERATURE_C
    for height_m, temperature_c in temperatures.items():
        fallen = temperatures[0.0] - STANDARD_LAPSE_K_PER_KM * height_m / 1000.0
        assert fallen == pytest.approx(temperature_c)
    assert pytest.approx(published.DRY_ADIABATIC_K_PER_KM, abs=0.05) == DRY_ADIABATIC_K_PER_KM
