"""The twin's shorter ways against its long ones."""

from __future__ import annotations

import numpy as np
import pytest

from tests.twin import Sky


@pytest.mark.parametrize("lat_deg", [-44.0, 0.0, 54.4, 84.0])
def test_the_sun_between_known_places_is_where_astropy_has_it(lat_deg: float) -> None:
    sky = Sky(-24.0, lat_deg, 100.0)
    times = 1.77e9 + np.random.default_rng(1).uniform(0.0, 3.0 * 86_400.0, 40)
    (azimuth, altitude, half), known = sky.true(times), sky.placed(times)
    aside = (azimuth - known[0] + 180.0) % 360.0 - 180.0
    assert np.abs(aside * np.cos(np.radians(altitude))).max() < 1e-7
    assert altitude == pytest.approx(known[1], abs=1e-7)
    assert half == pytest.approx(known[2], abs=1e-9)
