"""Wind chill against the published table, and the lapse to the spot."""

from __future__ import annotations

import pytest

from terrain.errors import TerrainError
from terrain.plan.cautions import Air, cold_at, wind_chill_c
from tests.authorities import cold


@pytest.mark.parametrize(("temperature", "wind", "published"), cold.WIND_CHILL_C)
def test_wind_chill_is_that_of_the_table(temperature, wind, published):
    assert round(wind_chill_c(temperature, wind)) == published


def test_it_is_never_warmer_in_the_wind_and_calm_air_feels_as_it_is():
    for temperature in range(-30, 11, 5):
        felt = [wind_chill_c(float(temperature), float(wind)) for wind in range(5, 80, 5)]
        assert felt == sorted(felt, reverse=True)
        assert felt[-1] < temperature
        assert wind_chill_c(float(temperature), 4.0) == temperature
    assert wind_chill_c(12.0, 50.0) == 12.0


def test_the_air_cools_with_height_or_warms_under_an_inversion():
    standard = cold_at(Air(temperature_c=15.0), 1000.0)
    assert standard.temperature_c == pytest.approx(8.5)  # ISO 2533: 6.5 K a kilometre
    inversion = Air(temperature_c=-2.0, at_height_m=200.0, lapse_k_per_m=-0.01)
    assert cold_at(inversion, 500.0).temperature_c == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("name", "least", "most"), [("temperature_c", -80.0, 60.0), ("wind_kmh", 0.0, 400.0)]
)
def test_air_is_that_of_the_earth(name, least, most):
    for end, beyond in ((least, least - 0.1), (most, most + 0.1)):
        given = {"temperature_c": 5.0, name: end}
        assert getattr(Air(**given), name) == end
        with pytest.raises(TerrainError, match="not one"):
            Air(**given | {name: beyond})
