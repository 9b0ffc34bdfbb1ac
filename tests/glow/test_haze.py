"""The air before the ground: what it leaves, what it adds, and where it meets the sky."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

import terrain
from terrain.glow.spectrum import LUMINANCE

AIR = terrain.ClearAir()


def haze(air: terrain.ClearAir = AIR, **asked: Any) -> terrain.Haze:
    usual: dict[str, Any] = {
        "sun_altitude_deg": 3.0,
        "azimuth_from_sun_deg": 60.0,
        "distance_m": 20_000.0,
        "eye_height_m": 700.0,
        "target_height_m": 500.0,
    }
    return terrain.haze(air, **(usual | asked))


def test_a_dark_hill_is_lost_at_the_visibility() -> None:
    """Koschmieder 1924: at the visibility a share of 2 % is left."""
    air = terrain.ClearAir(aerosol_optical_depth=0.3)
    left = haze(
        air, distance_m=air.visibility_m(height_m=0.0), eye_height_m=0.0, target_height_m=0.0
    )
    assert left.transmittance @ LUMINANCE == pytest.approx(0.02, rel=0.25)


def test_far_level_air_becomes_the_horizon_of_the_sky() -> None:
    """Ground as far as the sea's horizon is seen through the air the sky begins with."""
    air = terrain.ClearAir(aerosol_optical_depth=0.3)
    sky = terrain.sky(air, sun_altitude_deg=3.0, eye_height_m=400.0)
    far = haze(air, distance_m=76_000.0, eye_height_m=400.0, target_height_m=0.0)
    horizon = sky.radiance(azimuth_from_sun_deg=60.0, altitude_deg=sky.horizon_deg)
    assert far.light @ LUMINANCE == pytest.approx(horizon @ LUMINANCE, rel=0.15)


def test_what_is_nearer_is_clearer_and_less_veiled() -> None:
    found = haze(distance_m=[500.0, 5_000.0, 20_000.0, 60_000.0])
    assert (np.diff(found.transmittance, axis=0) < 0.0).all()
    assert (np.diff(found.light @ LUMINANCE) > 0.0).all()
    assert found.transmittance[0] == pytest.approx(1.0, abs=0.05)


def test_far_light_is_red_and_the_veil_away_from_the_sun_blue() -> None:
    found = haze(sun_altitude_deg=20.0, azimuth_from_sun_deg=150.0)
    assert found.transmittance[0] > found.transmittance[1] > found.transmittance[2]
    assert found.light[2] > found.light[0]


def test_the_veil_is_brightest_toward_the_sun() -> None:
    light = haze(azimuth_from_sun_deg=[0.0, 30.0, 90.0]).light @ LUMINANCE
    assert light[0] > 2.0 * light[1] > 2.0 * light[2]


def test_an_inversion_veils_the_valley_and_not_the_ridge() -> None:
    thick = terrain.ClearAir(inversion_top_m=600.0, inversion_factor=8.0)
    heights = [200.0, 1400.0]
    bare = haze(target_height_m=heights, eye_height_m=1400.0).transmittance
    veiled = haze(thick, target_height_m=heights, eye_height_m=1400.0).transmittance
    assert veiled[0, 1] < 0.85 * bare[0, 1]
    assert veiled[1] == pytest.approx(bare[1], rel=1e-9)


def test_no_ground_has_no_haze_and_no_distance_is_refused() -> None:
    found = haze(distance_m=[[np.nan, 3_000.0]])
    assert found.light.shape == (1, 2, 3)
    assert np.isnan(found.light[0]).all(axis=-1).tolist() == [True, False]
    with pytest.raises(terrain.TerrainError, match="distance -5 m to the ground is not above 0"):
        haze(distance_m=-5.0)


@pytest.mark.parametrize("sun_deg", [-3.0, 4.0])
def test_a_picture_is_hazed_as_each_of_its_places_is(sun_deg: float) -> None:
    """A grid stands in for 25 000 places of it; some of them worked out for themselves agree."""
    random = np.random.default_rng(3)
    places: dict[str, Any] = {
        "sun_altitude_deg": sun_deg,
        "distance_m": np.exp(random.uniform(np.log(200.0), np.log(90_000.0), 25_000)),
        "target_height_m": random.uniform(0.0, 1500.0, 25_000),
        "azimuth_from_sun_deg": random.uniform(-40.0, 40.0, 25_000),
    }
    air = terrain.ClearAir(inversion_top_m=600.0, inversion_factor=2.0)
    many = haze(air, **places)
    some = {name: values[:300] for name, values in places.items() if name != "sun_altitude_deg"}
    few = haze(air, sun_altitude_deg=sun_deg, **some)
    assert many.transmittance[:300] == pytest.approx(few.transmittance, abs=0.01)
    luminance = few.light @ LUMINANCE
    assert many.light[:300] @ LUMINANCE == pytest.approx(
        luminance, rel=0.02, abs=0.01 * luminance.max()
    )
