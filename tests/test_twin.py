"""The twin's shorter ways against its long ones."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.ground.dem import Dem
from tests.twin import GEOD, RADIUS_M, Ground, Sky


@pytest.mark.parametrize("lat_deg", [-44.0, 0.0, 54.4, 84.0])
def test_the_sun_between_known_places_is_where_astropy_has_it(lat_deg: float) -> None:
    sky = Sky(-24.0, lat_deg, 100.0)
    times = 1.77e9 + np.random.default_rng(1).uniform(0.0, 3.0 * 86_400.0, 40)
    (azimuth, altitude, half), known = sky.true(times), sky.placed(times)
    aside = (azimuth - known[0] + 180.0) % 360.0 - 180.0
    assert np.abs(aside * np.cos(np.radians(altitude))).max() < 1e-7
    assert altitude == pytest.approx(known[1], abs=1e-7)
    assert half == pytest.approx(known[2], abs=1e-9)


def test_the_ground_between_known_places_is_where_proj_has_it(jacksboro: Dem) -> None:
    ground = Ground.of(jacksboro)
    eye, reach_m = (*ground.place(200, 150), 2.0), ground.reach_m
    for azimuth_deg in (3.0, 95.0, 200.0, 310.0):
        (altitude,), distance_m = ground.along(*eye, azimuth_deg, reach_m)
        from_lon, from_lat, azimuth = (
            np.full(distance_m.size, value) for value in (*eye[:2], azimuth_deg)
        )
        lon, lat, _ = GEOD.fwd(from_lon, from_lat, azimuth, distance_m)
        over = ground.heights_at(lon, lat) - ground.heights_at([eye[0]], [eye[1]]) - eye[2]
        over -= distance_m**2 * 0.87 / (2.0 * RADIUS_M)
        expected = np.degrees(np.arctan2(over, distance_m))
        assert np.isfinite(expected).sum() > 100
        assert altitude == pytest.approx(expected, abs=1e-6, nan_ok=True)
