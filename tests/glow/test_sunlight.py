"""The sun through the air, against another model and against its own refraction."""

from __future__ import annotations

import importlib
from typing import Any

import numpy as np
import pytest
from pvlib.atmosphere import get_relative_airmass

import terrain
from terrain.glow.spectrum import LUMINANCE, XYZ_TO_RGB, colour_matching
from terrain.glow.sunlight import sun_seen_deg
from terrain.sun.refraction import refract

# as SPCTRL2 has it: no droplets high up, a grey ground
AIR = terrain.ClearAir(stratospheric_optical_depth=0.0, ground_albedo=0.2)
NM = np.arange(380.5, 740.0)


def spctrl2(sun_deg: float) -> dict[str, Any]:
    """Bird's spectral model of a clear sky (pvlib), in the same air without water vapour."""
    zenith = 90.0 - sun_seen_deg(AIR, sun_altitude_deg=sun_deg, height_m=0.0)
    found: dict[str, Any] = importlib.import_module("pvlib.spectrum.spectrl2").spectrl2(
        zenith,
        zenith,
        0.0,
        AIR.ground_albedo,
        101_325.0,
        get_relative_airmass(zenith),
        0.0,
        AIR.ozone_du / 1000.0,
        AIR.aerosol_optical_depth * (0.55 / 0.5) ** AIR.aerosol_angstrom,
        dayofyear=94,  # when the sun is one astronomical unit away
        scattering_albedo_400nm=AIR.aerosol_albedo,
        alpha=AIR.aerosol_angstrom,
        wavelength_variation_factor=0.0,
        aerosol_asymmetry_factor=AIR.aerosol_asymmetry,
    )
    return found


def rgb(found: dict[str, Any], name: str) -> np.ndarray:
    power = np.interp(NM, found["wavelength"], np.ravel(found[name]))
    return XYZ_TO_RGB @ (683.0 * (colour_matching(NM) * power).sum(axis=1))


@pytest.mark.parametrize(("sun_deg", "within"), [(5, 0.10), (10, 0.03), (20, 0.015), (60, 0.015)])
def test_the_beam_is_that_of_another_model(sun_deg: int, within: float) -> None:
    """SPCTRL2 takes one air mass for molecules and haze, which lies lower: hence 10 % at 5°."""
    light = terrain.sunlight(AIR, sun_altitude_deg=float(sun_deg))
    assert light == pytest.approx(rgb(spctrl2(float(sun_deg)), "dni"), rel=within)


@pytest.mark.parametrize(("sun_deg", "within"), [(5, 0.25), (10, 0.13), (20, 0.09), (60, 0.07)])
def test_the_light_of_the_sky_is_that_of_another_model(sun_deg: int, within: float) -> None:
    """SPCTRL2 knows a flat earth and a simple rule for light scattered more than once."""
    light = terrain.skylight(AIR, sun_altitude_deg=float(sun_deg), height_m=0.0)
    assert light == pytest.approx(rgb(spctrl2(float(sun_deg)), "dhi"), rel=within)


@pytest.mark.parametrize("sun_deg", [0.0, 2.0, 10.0, 45.0])
def test_the_sun_is_lifted_as_bennett_says(sun_deg: float) -> None:
    """The rays of this room against the refraction of the sun's, at sea level and 15 C."""
    wanted = float(refract(sun_deg, pressure_hpa=1013.25, temperature_c=15.0))
    assert sun_seen_deg(AIR, sun_altitude_deg=sun_deg, height_m=0.0) == pytest.approx(
        wanted, abs=0.02
    )


def test_from_a_height_the_sun_shines_while_it_is_below_the_horizontal() -> None:
    """From 3000 m the sea dips by 1.6°, and 0.9° more come from refraction and the disc."""
    light = terrain.sunlight(AIR, sun_altitude_deg=np.arange(-3.0, 0.0, 0.25), height_m=3000.0)
    shines = light @ LUMINANCE > 0.0
    assert (
        shines.tolist() == [False] * 2 + [True] * 10 or shines.tolist() == [False] * 1 + [True] * 11
    )
    assert terrain.sunlight(AIR, sun_altitude_deg=-1.2).tolist() == [0.0, 0.0, 0.0]


def test_the_sun_reddens_as_it_sinks_and_thins_no_light_in_vain() -> None:
    light = terrain.sunlight(AIR, sun_altitude_deg=[0.0, 2.0, 5.0, 30.0], height_m=500.0)
    warmth = light[:, 0] / light[:, 1]
    assert (np.diff(light @ LUMINANCE) > 0.0).all()
    assert (np.diff(warmth) < 0.0).all()
    assert warmth[0] > 2.0


def test_heights_and_altitudes_broadcast_and_unknown_stays_unknown() -> None:
    light = terrain.sunlight(AIR, sun_altitude_deg=[[2.0], [np.nan]], height_m=[0.0, 900.0, np.nan])
    assert light.shape == (2, 3, 3)
    assert np.isnan(light).any(axis=-1).tolist() == [[False, False, True], [True, True, True]]
    assert light[0, 1, 0] > light[0, 0, 0]
    with pytest.raises(terrain.TerrainError, match="height 200000 m is over the air"):
        terrain.sunlight(AIR, sun_altitude_deg=2.0, height_m=2e5)
