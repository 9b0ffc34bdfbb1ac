"""The sky and its light against published figures, and the colours of a dawn."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import terrain
from terrain.glow.layers import LAYER_M, layers_of
from terrain.glow.scattered import SUNS, lights_of, sun_nodes_deg
from terrain.glow.spectrum import BANDS, LUMINANCE, XYZ_TO_RGB, bands_of
from tests.authorities import daylight
from tests.glow.lux import HAZY, lux

AIR = terrain.ClearAir()


@pytest.mark.parametrize("sun_deg", [-10, -8, -6, -5, -4, -3, -2, -1, 0, 1, 2, 4, 6, 10, 20, 40])
def test_level_ground_is_as_bright_as_the_tables_say(sun_deg: int) -> None:
    assert lux(HAZY, float(sun_deg)) == pytest.approx(
        daylight.ground_illuminance_lux(sun_deg), rel=0.32
    )


def test_civil_dusk_begins_and_ends_as_bright_as_the_glossary_says() -> None:
    """The glossary's two ends are those of different skies; a seventh beyond them is let pass."""
    for sun_deg, (least, most) in zip(
        (-0.833, -6.0), daylight.CIVIL_DUSK_LUX.values(), strict=True
    ):
        assert least < lux(HAZY, sun_deg) < 1.15 * most


def test_dusk_falls_without_a_step() -> None:
    sun_deg = np.arange(-8.0, 3.0, 0.8)
    fall = np.diff(np.log([lux(AIR, float(each)) for each in sun_deg]))
    assert (fall > 0.0).all()
    assert np.abs(np.diff(fall)).max() < 0.25


@pytest.mark.parametrize("ground_albedo", [0.0, 0.8])
def test_molecules_alone_let_through_what_two_streams_do(ground_albedo: float) -> None:
    """Shettle and Weinman 1970, J. Atmos. Sci. 27, 1048, for air that swallows nothing.

    T = ((2 + 3u) + (2 - 3u) exp(-d/u)) / (4 + 3d) over black ground, with the sine u of the sun's
    altitude and the optical depth d; of even light 4 / (4 + 3d), so that ground of albedo A is lit
    by T / (1 - A (1 - 4 / (4 + 3d))). Two streams are good to a few per cent.
    """
    air = terrain.ClearAir(
        aerosol_optical_depth=0.0,
        stratospheric_optical_depth=0.0,
        ozone_du=0.0,
        ground_albedo=ground_albedo,
    )
    bands = bands_of(air, 6)
    depth = bands.molecules * layers_of(air)[:, 0].sum() * LAYER_M
    for sun_deg in (30.0, 60.0):
        sine = np.sin(np.radians(sun_deg))
        wanted = (2 + 3 * sine + (2 - 3 * sine) * np.exp(-depth / sine)) / (4 + 3 * depth) * sine
        wanted /= 1 - ground_albedo * (1 - 4 / (4 + 3 * depth))
        sky = terrain.sky(air, sun_altitude_deg=sun_deg, eye_height_m=0.0, bands=6)
        sun = terrain.sunlight(air, sun_altitude_deg=sun_deg, bands=6)
        assert sky.irradiance() + sun * sine == pytest.approx(bands.to_rgb @ wanted, rel=0.03)


def colour(sun_deg: float, azimuth_deg: float, altitude_deg: float) -> np.ndarray:
    return terrain.sky_radiance(
        AIR,
        sun_altitude_deg=sun_deg,
        azimuth_from_sun_deg=azimuth_deg,
        altitude_deg=altitude_deg,
        eye_height_m=800.0,
    )


@pytest.mark.parametrize("sun_deg", [-8.0, -6.0, -4.0])
def test_toward_the_dawn_colours_go_from_red_over_orange_to_blue(sun_deg: float) -> None:
    red = [colour(sun_deg, 0.0, up) for up in (0.2, 2.0, 15.0, 90.0)]
    warmth = [float(each[0] / each[2]) if each[2] > 0.0 else np.inf for each in red]
    assert red[0][0] > 2.0 * red[0][1]
    assert red[1][0] > red[1][1] > red[1][2]
    assert warmth[1] > warmth[2] > warmth[3]
    assert red[3][2] > 1.3 * max(red[3][:2])


@pytest.mark.parametrize("sun_deg", [-4.0, -3.0, -2.0])
def test_opposite_the_sun_a_pink_belt_lies_over_the_blue_shadow_of_the_earth(
    sun_deg: float,
) -> None:
    """Lee 2015, Appl. Opt. 54, B194: the belt is reddest some degrees over the antisolar point."""
    up = np.arange(0.5, 25.0, 0.5)
    warmth = np.array([float(each[0] / each[2]) for each in colour(sun_deg, 180.0, up)])
    belt = up[warmth.argmax()]
    assert -sun_deg * 0.5 < belt < 15.0
    assert warmth.max() > 1.25 * warmth[up <= 1.0].min()
    assert warmth.max() > 1.1 * warmth[-1]
    shadow = colour(sun_deg, 180.0, 0.3 * belt)
    assert shadow[2] > shadow[0]


def test_without_ozone_the_zenith_of_dusk_is_not_blue() -> None:
    """Hulburt 1953, J. Opt. Soc. Am. 43, 113: ozone makes the blue of the zenith at sunset."""
    ratio = {}
    for du in (0.0, 320.0):
        zenith = terrain.sky_radiance(
            terrain.ClearAir(ozone_du=du),
            sun_altitude_deg=-5.0,
            azimuth_from_sun_deg=0.0,
            altitude_deg=90.0,
            eye_height_m=0.0,
        )
        ratio[du] = zenith[2] / zenith[0]
    assert ratio[0.0] < 1.3
    assert ratio[320.0] > 1.8


def test_by_day_the_zenith_is_as_blue_as_measured() -> None:
    """Correlated colour temperature of clear zeniths well over 9000 K.

    Hernandez-Andres and others 2001, J. Opt. Soc. Am. A 18, 412: from 3800 K near the sun's horizon
    to infinite. McCamy 1992, Color Res. Appl. 17, 142, gives it from chromaticity.
    """
    rgb = terrain.sky_radiance(
        AIR, sun_altitude_deg=30.0, azimuth_from_sun_deg=90.0, altitude_deg=90.0, eye_height_m=0.0
    )
    xyz = np.linalg.inv(XYZ_TO_RGB) @ rgb
    x, y = xyz[:2] / xyz.sum()
    n = (x - 0.3320) / (0.1858 - y)
    assert 449 * n**3 + 3525 * n**2 + 6823.3 * n + 5520.33 > 9000.0


def test_the_glow_lies_about_the_sun_as_it_is_seen() -> None:
    sky = terrain.sky(AIR, sun_altitude_deg=5.0, eye_height_m=500.0)
    up = np.arange(2.0, 10.0, 0.05)[:, np.newaxis]
    # the horizon may be brighter than the glow: what counts is how it stands out of its row
    light = sky.radiance(azimuth_from_sun_deg=[0.0, 3.0], altitude_deg=up) @ LUMINANCE
    highest = float(up[(light[:, 0] / light[:, 1]).argmax(), 0])
    assert highest == pytest.approx(sky.sun_deg, abs=0.15)
    assert sky.sun_deg == pytest.approx(5.0 + 0.16, abs=0.02)  # 9.7', Bennett 1982


@settings(max_examples=30)
@given(st.floats(-180.0, 180.0), st.floats(-5.0, 90.0))
def test_both_halves_of_the_sky_are_alike_and_none_is_dark(azimuth: float, up: float) -> None:
    sky = terrain.sky(AIR, sun_altitude_deg=-3.0, eye_height_m=700.0)
    pair = sky.radiance(azimuth_from_sun_deg=[azimuth, 360.0 - azimuth], altitude_deg=up)
    assert pair[0] == pytest.approx(pair[1], rel=1e-6)
    assert pair[0] @ LUMINANCE > 0.0


def test_a_direction_that_is_unknown_is_told_as_unknown() -> None:
    sky = terrain.sky(AIR, sun_altitude_deg=-3.0, eye_height_m=700.0)
    light = sky.radiance(azimuth_from_sun_deg=[0.0, np.nan], altitude_deg=[[1.0], [np.nan]])
    assert light.shape == (2, 2, 3)
    assert np.isnan(light).all(axis=-1).tolist() == [[False, True], [True, True]]


def test_the_exposure_follows_the_sky_smoothly_and_lets_the_dark_be_dark() -> None:
    skies = [
        terrain.sky(AIR, sun_altitude_deg=float(each), eye_height_m=800.0)
        for each in np.arange(-4.0, -2.9, 0.1)
    ]
    steps = np.diff(np.log([sky.exposure() for sky in skies]))
    assert (steps < 0.0).all()
    assert steps.max() - steps.min() < 0.08
    middle = {"azimuth_from_sun_deg": 0.0, "altitude_deg": 8.0}
    shown = [
        float(sky.radiance(**middle) @ LUMINANCE) * sky.exposure()
        for sky in (
            terrain.sky(AIR, sun_altitude_deg=sun, eye_height_m=800.0) for sun in (-9.0, 4.0)
        )
    ]
    assert shown[0] < shown[1]


def test_light_scattered_before_ends_where_it_is_night() -> None:
    more = lights_of(AIR, BANDS).more
    assert more.shape[1] == SUNS == sun_nodes_deg().size
    assert (more[0, sun_nodes_deg() < -20.0] ** 2).max() < 1e-9 * (more[0] ** 2).max()


@pytest.mark.parametrize(
    ("sun_deg", "height_m", "said"),
    [(95.0, 0.0, "altitude of the sun 95"), (0.0, 20_000.0, "height of the eye 20000 m")],
)
def test_a_sky_that_cannot_be_is_refused(sun_deg: float, height_m: float, said: str) -> None:
    with pytest.raises(terrain.TerrainError, match=said):
        terrain.sky(AIR, sun_altitude_deg=sun_deg, eye_height_m=height_m)


def test_a_coarse_table_has_the_light_of_the_whole_sky() -> None:
    for sun_deg in (-12.0, -5.0, -1.0, 3.0, 12.0):
        fine, coarse = (
            terrain.sky(
                terrain.ClearAir(), sun_altitude_deg=sun_deg, eye_height_m=500.0, shape=shape
            ).irradiance()
            for shape in ((96, 61), (24, 13))
        )
        assert coarse == pytest.approx(fine, rel=0.01)
        assert float(coarse @ LUMINANCE) == pytest.approx(float(fine @ LUMINANCE), rel=0.005)
