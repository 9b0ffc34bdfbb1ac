"""The kernels against slow twins, and as plain Python on fenced arrays."""

from __future__ import annotations

import math

import numpy as np
import pytest

import terrain
from terrain.glow import _haze_kernels, _path_kernels, _view_kernels
from terrain.glow._haze_kernels import Eye, Targets
from terrain.glow._path_kernels import MOST_STEPS
from terrain.glow._scatter_kernels import Lights, by_haze, by_molecules, light_left, lobe
from terrain.glow.layers import layers_of
from terrain.glow.media import media_of
from terrain.glow.scattered import lights_of
from terrain.glow.sun_tables import sun_table
from tests.glow import twin
from tests.plain import plain_kernels

AIR = terrain.ClearAir(inversion_top_m=900.0, inversion_factor=3.0)


@pytest.mark.parametrize(
    ("height_m", "altitude_deg"), [(0.0, 0.05), (0.0, 3.0), (800.0, -0.7), (20_000.0, -4.3)]
)
def test_a_bent_ray_meets_as_much_air_as_its_slow_twin(
    height_m: float, altitude_deg: float
) -> None:
    layers = layers_of(AIR)
    found = np.zeros((1, 5))
    altitude = math.radians(altitude_deg)
    _path_kernels.columns(layers, height_m, np.array([altitude]), found)
    slow = twin.bent_ray(layers, height_m, altitude)
    assert found[0, :3] == pytest.approx(slow[:3], rel=0.01)
    assert math.degrees(found[0, 3]) == pytest.approx(math.degrees(slow[3]), abs=0.01)
    assert found[0, 4] == 0.0


@pytest.mark.parametrize(
    ("sun_deg", "altitude_deg", "azimuth_deg"), [(12.0, 25.0, 50.0), (5.0, 8.0, 150.0)]
)
def test_light_scattered_once_is_that_of_the_slow_twin(
    sun_deg: float, altitude_deg: float, azimuth_deg: float
) -> None:
    media = media_of(AIR, 3)
    lights = Lights(sun_table(AIR, 3).wide, np.zeros((2, 2, 3)), AIR.aerosol_asymmetry)
    way, left = np.zeros((MOST_STEPS, 6)), np.zeros((MOST_STEPS, 3))
    sun, altitude, azimuth = np.radians([sun_deg, altitude_deg, azimuth_deg]).tolist()
    steps, sea = _path_kernels.walk(media.layers, (0.0, altitude), 1.0, way)
    light_left(media, way, steps, left)
    even, aureole = np.zeros(3), np.zeros(3)
    course = (math.sin(altitude), math.cos(azimuth))
    _view_kernels.scattered_toward(
        media,
        lights,
        (math.sin(sun), math.cos(sun)),
        course,
        (way, left, steps),
        even,
        aureole,
    )
    slow = twin.scattered_once(media, AIR.aerosol_asymmetry, sun, altitude, azimuth)
    assert not sea
    # the twin knows no refraction, which lifts the sun by 0.2 degrees at 5
    assert even == pytest.approx(slow[0], rel=0.03)
    assert aureole == pytest.approx(slow[1], rel=0.05)


@pytest.mark.parametrize("share", [by_molecules, lambda cosine: by_haze(cosine, 0.7)])
def test_what_is_scattered_adds_up_over_all_directions(share) -> None:
    cosines, weights = np.polynomial.legendre.leggauss(400)
    total = sum(weight * share(cosine) for cosine, weight in zip(cosines, weights, strict=True))
    assert 2.0 * math.pi * total == pytest.approx(1.0, abs=1e-6)


def test_haze_scatters_by_its_mean_cosine() -> None:
    cosines, weights = np.polynomial.legendre.leggauss(400)
    shares = np.array([by_haze(cosine, 0.65) for cosine in cosines])
    assert 2.0 * math.pi * (weights * shares * cosines).sum() == pytest.approx(0.65, abs=1e-5)
    assert by_haze(1.0, 0.65) > 3.0 * lobe(1.0, 0.65)


def test_the_kernels_stay_within_their_arrays() -> None:
    """As plain Python they give the same, and no index leaves an array."""
    media, lights = media_of(AIR, 3), lights_of(AIR, 3)
    targets = Targets(np.array([2e3, 4e4]), np.array([300.0, 1900.0]), np.array([0.1, 2.0]))
    eye = Eye(900.0, 0.03, 0.035)
    directions = (np.array([0.3, 1.2]), np.array([0.0, 3.1]))
    to_rgb = np.eye(3)

    def run() -> list[np.ndarray]:
        rows = [np.zeros((2, 2, 3)) for _ in range(2)]
        nine = [np.zeros((2, 9)) for _ in range(2)]
        seen = [np.zeros((2, 3)) for _ in range(2)]
        _view_kernels.sky_rows(media, lights, (900.0, -0.05), directions, to_rgb, (0, 2), *rows)
        _haze_kernels.hazes(media, lights, eye, targets, to_rgb, (0, 2), nine[0])
        grid = np.arange(72.0).reshape(2, 2, 2, 9)
        ends = np.array([[0.0, 300.0], [0.0, 1900.0], [0.0, 2.0]])
        _haze_kernels.read_hazes(grid, ends, targets, (0, 2), nine[1])
        _haze_kernels.veil(eye, 0.7, targets, (0, 2), nine[0], seen[0])
        sight = (-0.015, 0.01, 0.7)
        _view_kernels.look_up((rows[0], rows[1]), sight, *directions, (0, 2), seen[1])
        return [*rows, *nine, *seen]

    compiled = run()
    with plain_kernels():
        plain = run()
    for fast, slow in zip(compiled, plain, strict=True):
        assert np.asarray(fast) == pytest.approx(np.asarray(slow), rel=1e-9)
        assert np.asarray(fast).any()
