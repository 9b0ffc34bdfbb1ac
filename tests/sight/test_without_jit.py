"""The kernels as plain Python must say what the compiled ones say."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from tests.without_jit import GROUND, both_ways

PROGRAM = f"""{GROUND}
from terrain.sight.horizon import horizon_and_distance
from terrain.sight.skyline import layers, sight_line, skyline
from terrain.sight.viewshed import margin, viewshed

rng = np.random.default_rng(1)
heights = rng.uniform(0, 90, (31, 13)).astype(np.float32)
heights[rng.random(heights.shape) < 0.1] = np.nan
heights[2:5, 2:5] = 50.0
dem = dem_of(heights)
spot, to = spot_in(dem, 3.3, 3.6), spot_in(dem, 27.0, 9.0)
azimuths = np.arange(0.0, 360.0, 20.0)
line = skyline(dem, spot, azimuths_deg=azimuths)
altitude_deg, distance_m = horizon_and_distance(dem, 160.0)
sight = sight_line(dem, spot, to.lon_deg, to.lat_deg, 120.0)
np.savez(
    sys.argv[1],
    margin=margin(dem, spot),
    seen=viewshed(dem, spot, target_m=3.0),
    skyline=np.array([line.altitude_deg, line.distance_m, line.known_to_m]),
    layers=layers(dem, spot, edges_m=[100, 400, 9000], azimuths_deg=azimuths),
    horizon=altitude_deg,
    horizon_distance=distance_m,
    sight=np.array([sight.clearance_deg, sight.blocked_at_m]),
)
"""


def test_plain_python_agrees_with_compiled_kernels(tmp_path: Path) -> None:
    plain, compiled = both_ways(PROGRAM, tmp_path)
    for name in ("margin", "skyline", "layers", "horizon", "sight"):
        np.testing.assert_allclose(plain[name], compiled[name], atol=2e-3, err_msg=name)
    assert np.mean(plain["seen"] == compiled["seen"]) > 0.99
    same = np.isclose(plain["horizon_distance"], compiled["horizon_distance"], equal_nan=True)
    assert same.mean() > 0.99
    assert plain["seen"].any()
    assert not plain["seen"].all()
