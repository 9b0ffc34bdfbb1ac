"""The disc of the sun: its shape, its colour, and as much light as sunlight has."""

from __future__ import annotations

import numpy as np
import pytest

import terrain
from terrain.glow.spectrum import LUMINANCE
from terrain.glow.sunlight import sun_seen_deg

AIR = terrain.ClearAir()


def disc(sun_deg: float, height_m: float = 0.0) -> tuple[np.ndarray, np.ndarray, float]:
    """Light in a window about the sun, altitudes of its rows, and the solid angle of a pixel."""
    step = 0.01
    seen = sun_seen_deg(AIR, sun_altitude_deg=sun_deg, height_m=height_m)
    up = seen + np.arange(-0.4, 0.4, step)
    light = terrain.sun_disc(
        AIR,
        sun_altitude_deg=sun_deg,
        azimuth_from_sun_deg=np.arange(-0.4, 0.4, step) / np.cos(np.radians(seen)),
        altitude_deg=up[:, np.newaxis],
        eye_height_m=height_m,
    )
    return light, up, float(np.radians(step) ** 2)


@pytest.mark.parametrize(("sun_deg", "height_m"), [(0.5, 0.0), (5.0, 800.0), (40.0, 0.0)])
def test_all_of_the_disc_is_as_bright_as_sunlight(sun_deg: float, height_m: float) -> None:
    light, _, solid = disc(sun_deg, height_m)
    wanted = terrain.sunlight(AIR, sun_altitude_deg=sun_deg, height_m=height_m)
    assert light.sum(axis=(0, 1)) * solid == pytest.approx(wanted, rel=0.04, abs=3.0)


def test_the_setting_disc_is_flattened_as_by_published_refraction() -> None:
    """Lower limb on the sea: Bennett lifts it by 5.6' more than the upper, 27' over 32'."""
    light, up, _ = disc(-0.25)
    shown = light @ LUMINANCE > 0.0
    tall = shown.any(axis=1).sum() / shown.any(axis=0).sum()
    assert tall == pytest.approx(0.84, abs=0.03)
    rows = np.flatnonzero(shown.any(axis=1))
    assert up[rows[0]] == pytest.approx(0.03, abs=0.03)


def test_the_sea_cuts_it_and_its_rim_is_dimmer() -> None:
    light, up, _ = disc(-0.6)
    assert up[np.flatnonzero((light @ LUMINANCE > 0.0).any(axis=1))[0]] == pytest.approx(
        0.0, abs=0.012
    )
    high, _, _ = disc(30.0)
    row = (high @ LUMINANCE)[40]
    shown = row[row > 0.0]
    assert shown[0] < 0.65 * shown.max()
    assert not disc(-3.0)[0].any()
