from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from terrain.errors import TerrainError
from terrain.sun.refraction import _standard, refract, refraction_deg, standard_pressure_hpa
from tests.authorities import sun_refraction as published
from tests.sun.ray import air, traced_refraction_deg

PRESSURES_HPA = st.floats(500.0, 1060.0)
TEMPERATURES_C = st.floats(-40.0, 40.0)


def refraction_slope(altitude_deg):
    """The derivative that Newton's steps are taken by, in the air of the formula."""
    return _standard(np.asarray(altitude_deg, dtype=float))[1]


@pytest.mark.parametrize(("height_m", "pressure_hpa"), published.STANDARD_PRESSURE_HPA.items())
def test_pressure_of_the_standard_atmosphere(height_m: float, pressure_hpa: float) -> None:
    # half a metre of height is 0.06 hPa at most
    assert standard_pressure_hpa(height_m) == pytest.approx(pressure_hpa, abs=0.06)


def test_pressure_takes_arrays_and_refuses_the_stratosphere() -> None:
    assert standard_pressure_hpa([0.0, 1000.0, np.nan]).shape == (3,)
    with pytest.raises(TerrainError, match="12000 m"):
        standard_pressure_hpa([0.0, 12_000.0])
    with pytest.raises(TerrainError, match="-12000 m"):
        standard_pressure_hpa([0.0, -12_000.0])


def test_the_bed_of_the_sea_is_in_no_air_of_its_own() -> None:
    deep = standard_pressure_hpa([-1000.0, -5000.0, -11_000.0])
    assert np.ptp(deep) == 0.0


def test_meeus_example() -> None:
    refraction = 60.0 * refraction_deg(published.MEEUS_APPARENT_DEG)
    # his example leaves out his own constant for the zenith, 0.00135 arcminutes
    assert refraction == pytest.approx(published.MEEUS_REFRACTION_ARCMIN, abs=0.002)
    apparent = refract(published.MEEUS_TRUE_ARCMIN / 60.0)
    assert apparent == pytest.approx(published.MEEUS_APPARENT_DEG, abs=0.002 / 60.0)


def test_meeus_example_by_the_other_formula() -> None:
    true_arcmin = published.MEEUS_UPPER_TRUE_ARCMIN
    lifted_arcmin = 60.0 * refract(true_arcmin / 60.0) - true_arcmin
    assert lifted_arcmin == pytest.approx(published.MEEUS_UPPER_REFRACTION_ARCMIN, abs=0.07)


def test_zenith_is_where_it_is() -> None:
    assert refraction_deg(90.0) == 0.0
    assert refract(90.0) == 90.0
    # the formula alone falls below zero there, and a tenth of a degree off it is too low by half
    near_deg = 89.9
    arcsec = 3600.0 * refraction_deg(near_deg, pressure_hpa=1013.25, temperature_c=15.0)
    laplace_arcsec = published.LAPLACE_ARCSEC / np.tan(np.radians(near_deg))
    assert arcsec == pytest.approx(laplace_arcsec, rel=0.05)
    assert (refraction_deg(np.linspace(0.0, 89.99, 9000)) > 0.0).all()


@pytest.mark.parametrize(("altitude_deg", "arcmin"), published.ALLEN_ARCMIN.items())
def test_table_of_the_astrophysicists(altitude_deg: float, arcmin: float) -> None:
    ours = 60.0 * refraction_deg(altitude_deg, pressure_hpa=1013.0, temperature_c=10.0)
    # Bennett's formula is good to 0.07', the table is rounded to 0.1' and has its own air
    assert ours == pytest.approx(arcmin, abs=0.14)


@pytest.mark.parametrize(("altitude_deg", "arcmin"), published.PULKOVO_ARCMIN.items())
def test_table_of_pulkovo(altitude_deg: float, arcmin: float) -> None:
    ours = 60.0 * refraction_deg(altitude_deg, pressure_hpa=1013.25, temperature_c=15.0)
    assert ours == pytest.approx(arcmin, abs=0.07)


# Measured, formula minus traced ray in arcminutes: at the horizontal +1.0 from the sea, +0.9 from
# 500 m, +0.6 from 1500 m; at the lowest ray that clears the earth +1.1 from 500 m, +0.7 from
# 1500 m, -1.4 from 4000 m; 0.1 at 5 degrees and above. The air itself varies by more near the
# horizon.
@pytest.mark.parametrize(
    ("height_m", "lowest_deg"), [(0.0, 0.02), (500.0, -0.6), (1500.0, -1.1), (4000.0, -1.8)]
)
def test_rays_through_the_standard_atmosphere(height_m: float, lowest_deg: float) -> None:
    altitudes = np.concatenate([np.linspace(lowest_deg, 1.0, 12), [2.0, 3.0, 5.0, 10.0]])
    temperature, pressure, _ = air(np.array(height_m))
    traced = traced_refraction_deg(altitudes, height_m)
    ours = refraction_deg(altitudes, pressure_hpa=pressure, temperature_c=temperature - 273.15)
    assert np.isfinite(traced).all()
    miss_arcmin = 60.0 * np.abs(ours - traced)
    assert miss_arcmin.max() < 1.5
    assert miss_arcmin[-3:].max() < 0.15


def test_traced_rays_meet_the_earth_below_the_dip() -> None:
    traced = traced_refraction_deg(np.array([-1.0, -0.5]), 500.0)
    assert np.isnan(traced[0])
    assert np.isfinite(traced[1])


def test_below_the_horizontal_it_is_a_ray_that_passes_its_lowest_point() -> None:
    depth = np.linspace(0.01, 3.0, 300)
    slope = -float(refraction_slope(0.0))
    assert slope / (1.0 + slope) == pytest.approx(0.17, abs=0.01)
    bent = refraction_deg(-depth) - refraction_deg(depth)
    excess = bent / (2.0 * depth * slope) - 1.0
    # two thirds of the greatest depth below the eye, over the scale on which the air thickens
    lowest_m = 6_371_000.0 * np.radians(depth) ** 2 * (1.0 + slope) / 2.0
    assert excess == pytest.approx(2.0 / 3.0 * lowest_m / 12_000.0, abs=1e-9)


@pytest.mark.parametrize("seam_deg", [0.0, -3.0])
def test_no_step_and_no_kink_at_the_seams(seam_deg: float) -> None:
    below, above = seam_deg - 1e-9, seam_deg + 1e-9
    assert refraction_deg(below) == pytest.approx(refraction_deg(above), abs=1e-8)
    assert refraction_slope(below) == pytest.approx(refraction_slope(above), abs=1e-8)


def test_slope_is_the_derivative() -> None:
    altitudes = np.linspace(-8.0, 89.9, 5001)
    step = 1e-5
    measured = (refraction_deg(altitudes + step) - refraction_deg(altitudes - step)) / (2 * step)
    assert refraction_slope(altitudes) == pytest.approx(measured, abs=1e-6)


@given(true_deg=st.floats(-90.0, 90.0), pressure_hpa=PRESSURES_HPA, temperature_c=TEMPERATURES_C)
def test_refract_inverts_refraction(
    true_deg: float, pressure_hpa: float, temperature_c: float
) -> None:
    air_there = {"pressure_hpa": pressure_hpa, "temperature_c": temperature_c}
    apparent = refract(true_deg, **air_there)
    assert apparent - refraction_deg(apparent, **air_there) == pytest.approx(true_deg, abs=1e-9)
    assert apparent >= true_deg


@given(
    low_deg=st.floats(-90.0, 89.99),
    gap_deg=st.floats(1e-6, 1.0),
    pressure_hpa=PRESSURES_HPA,
    temperature_c=TEMPERATURES_C,
)
def test_refract_rises_and_has_no_step(
    low_deg: float, gap_deg: float, pressure_hpa: float, temperature_c: float
) -> None:
    high_deg = min(low_deg + gap_deg, 90.0)
    low, high = refract([low_deg, high_deg], pressure_hpa=pressure_hpa, temperature_c=temperature_c)
    # refraction shrinks a vertical interval, to no less than two fifths in the densest air
    assert 0.38 * (high_deg - low_deg) < high - low <= (high_deg - low_deg) * (1.0 + 1e-6) + 1e-9


def test_colder_and_denser_air_bends_more() -> None:
    usual = refraction_deg(0.0)
    assert refraction_deg(0.0, temperature_c=-20.0) == pytest.approx(usual * 283.0 / 253.0)
    assert refraction_deg(0.0, pressure_hpa=505.0) == pytest.approx(usual / 2.0)


def test_unknown_stays_unknown_and_shapes_broadcast() -> None:
    assert np.isnan(refract([np.nan, 1.0])).tolist() == [True, False]
    assert refract(np.zeros((2, 3)), temperature_c=np.zeros((4, 1, 1))).shape == (4, 2, 3)


@pytest.mark.parametrize("function", [refract, refraction_deg])
def test_beyond_the_zenith_is_refused(function) -> None:
    with pytest.raises(ValueError, match=r"altitude 90\.5 is not"):
        function([0.0, 90.5])


@pytest.mark.parametrize("from_deg", [0.0, -0.5])
def test_high_altitudes_alone_are_as_among_low_ones_to_the_last_digit(from_deg: float) -> None:
    high = np.append(np.linspace(from_deg, 90.0, 901), np.geomspace(1e-9, 1.0, 50))
    alone, among = _standard(high), _standard(np.append(high, -2.0))
    for one, other in zip(alone, among, strict=True):
        np.testing.assert_array_equal(one, other[:-1])
