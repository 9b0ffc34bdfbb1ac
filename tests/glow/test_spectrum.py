"""The bands of light: against published values, and twelve against thirty-six."""

from __future__ import annotations

import importlib
from typing import Any

import numpy as np
import pvlib
import pytest

import terrain
from terrain.glow.layers import LAYER_M, horizon_deg, layers_of, standard_density
from terrain.glow.spectrum import (
    AIR_PER_M3,
    BANDS,
    DOBSON_PER_M2,
    LUMINANCE,
    bands_of,
    colour_matching,
    rayleigh_m2,
)
from tests.authorities import daylight, dip

AIR = terrain.ClearAir()
FINE_NM = 385.0 + 10.0 * np.arange(36)


def test_molecules_scatter_as_published() -> None:
    column_m = layers_of(AIR)[:, 0].sum() * LAYER_M
    depth = rayleigh_m2(np.array([550.0]))[0] * AIR_PER_M3 * column_m
    assert depth == pytest.approx(daylight.RAYLEIGH_DEPTH_550, rel=0.006)
    for wavelength in (400.0, 450.0, 650.0, 700.0):
        own = rayleigh_m2(np.array([wavelength]))[0] * AIR_PER_M3 * column_m
        assert own == pytest.approx(daylight.hansen_travis_depth(wavelength), rel=0.02)


def test_air_thins_out_as_the_standard_atmosphere() -> None:
    heights = np.array(list(daylight.STANDARD_DENSITY))
    wanted = list(daylight.STANDARD_DENSITY.values())
    assert standard_density(heights) * 1.225 == pytest.approx(wanted, rel=2e-4)


def test_ozone_swallows_as_much_as_in_a_handbook_of_sunlight() -> None:
    """Bird's coefficients, 1/atm-cm (SPCTRL2, as pvlib keeps them); a coarser and older table."""
    table = importlib.import_module("pvlib.spectrum.spectrl2")._SPECTRL2_COEFFS
    bands = bands_of(AIR, 36)
    theirs = np.interp(FINE_NM, table["wavelength"], table["ozone_absorption"])
    ours = bands.ozone * 1000.0 * DOBSON_PER_M2
    assert ours == pytest.approx(theirs, abs=0.017)
    assert ours.max() == pytest.approx(theirs.max(), rel=0.15)


def test_sunlight_is_that_of_the_standard_spectrum() -> None:
    spectrum = pvlib.spectrum.get_reference_spectra()["extraterrestrial"]
    nm = np.arange(380.5, 740.0, 1.0)
    power = np.interp(nm, spectrum.index.to_numpy(), spectrum.to_numpy())
    xyz = 683.0 * (colour_matching(nm) * power).sum(axis=1)
    luminance = float(bands_of(AIR, BANDS).to_rgb.sum(axis=1) @ LUMINANCE)
    assert luminance == pytest.approx(xyz[1], rel=0.002)
    assert luminance == pytest.approx(daylight.SOLAR_CONSTANT_LUX, rel=0.005)


def test_equal_energy_has_the_chromaticity_of_the_standard_observer() -> None:
    """x = y = 1/3 (CIE 15); y-bar is highest at 555 nm, and 1 there."""
    nm = np.arange(380.0, 741.0)
    total = colour_matching(nm).sum(axis=1)
    assert total / total.sum() == pytest.approx([1 / 3] * 3, abs=0.003)
    assert nm[colour_matching(nm)[1].argmax()] == pytest.approx(555.0, abs=3.0)
    assert colour_matching(nm)[1].max() == pytest.approx(1.0, abs=0.01)


def test_haze_reddens_by_its_exponent_and_adds_up_to_its_optical_depth() -> None:
    air = terrain.ClearAir(aerosol_optical_depth=0.2, stratospheric_optical_depth=0.0)
    assert layers_of(air)[:, 1].sum() * LAYER_M == pytest.approx(0.2, rel=0.05)
    bands = bands_of(air, 36)
    assert np.interp(550.0, bands.wavelength_nm, bands.haze) == pytest.approx(1.0, rel=0.002)
    ratio = np.log(bands.haze[0] / bands.haze[-1])
    assert ratio / np.log(bands.wavelength_nm[-1] / bands.wavelength_nm[0]) == pytest.approx(1.3)


def test_an_inversion_thickens_the_haze_under_it_alone() -> None:
    plain, thick = (
        layers_of(terrain.ClearAir(inversion_top_m=800.0, inversion_factor=factor))
        for factor in (1.0, 5.0)
    )
    assert (thick[:8, 1] > 4.9 * plain[:8, 1]).all()
    assert (thick[8:, 1] == plain[8:, 1]).all()


@pytest.mark.parametrize("height_m", [100.0, 1000.0, 3000.0])
def test_the_sea_ends_the_sky_where_its_dip_is_published(height_m: float) -> None:
    assert -horizon_deg(AIR, height_m) == pytest.approx(
        dip.DEGREES_A_ROOT_METRE * height_m**0.5, rel=0.04
    )


@pytest.mark.parametrize("sun_deg", [-6.0, -2.0, 3.0])
def test_twelve_bands_have_the_colours_of_thirty_six(sun_deg: float) -> None:
    few, many = (
        terrain.sky(AIR, sun_altitude_deg=sun_deg, eye_height_m=0.0, bands=count).irradiance()
        for count in (12, 36)
    )
    assert few == pytest.approx(many, rel=0.013)


def test_three_bands_do_not() -> None:
    few, many = (
        terrain.sky(AIR, sun_altitude_deg=-6.0, eye_height_m=0.0, bands=count).irradiance()
        for count in (3, 36)
    )
    assert np.abs(few / many - 1.0).max() > 0.1


@pytest.mark.parametrize(
    ("field", "value"),
    [("ozone_du", -1.0), ("aerosol_albedo", 1.2), ("aerosol_scale_height_m", float("nan"))],
)
def test_air_that_cannot_be_is_refused(field: str, value: Any) -> None:
    with pytest.raises(terrain.TerrainError, match=f"{field} of the air {value:g} is not between"):
        terrain.ClearAir(**{field: value})
