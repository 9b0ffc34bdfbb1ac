"""The kernels as plain Python must say what the compiled ones say."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numpy as np

PROGRAM = """
import sys
import numpy as np
from affine import Affine
from terrain.ground.dem import Dem
from terrain.ground.geodesy import local_transverse_mercator
from terrain.ground.grid import Grid
from terrain.ground.places import Spot
from terrain.sight.horizon import horizon_and_distance
from terrain.sight.skyline import layers, sight_line, skyline
from terrain.sight.viewshed import margin, viewshed

rng = np.random.default_rng(1)
heights = rng.uniform(0, 90, (31, 13)).astype(np.float32)
heights[rng.random(heights.shape) < 0.1] = np.nan
heights[2:5, 2:5] = 50.0
transform = Affine(40, 0, -260, 0, -40, 620)
crs = local_transverse_mercator(-24.0, 54.4)
dem = Dem(heights, Grid(crs=crs, transform=transform, shape=heights.shape))
lon, lat = dem.grid.lonlat(3.3, 3.6)
to_lon, to_lat = dem.grid.lonlat(27.0, 9.0)
spot = Spot(lon_deg=float(lon), lat_deg=float(lat))
azimuths = np.arange(0.0, 360.0, 20.0)
line = skyline(dem, spot, azimuths_deg=azimuths)
altitude_deg, distance_m = horizon_and_distance(dem, 160.0)
sight = sight_line(dem, spot, float(to_lon), float(to_lat), 120.0)
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


def run(file: Path, *, jit: bool) -> dict[str, np.ndarray]:
    environment = {**os.environ, "NUMBA_DISABLE_JIT": "0" if jit else "1"}
    subprocess.run([sys.executable, "-c", PROGRAM, str(file)], check=True, env=environment)
    with np.load(file) as found:
        return dict(found)


def test_plain_python_agrees_with_compiled_kernels(tmp_path: Path) -> None:
    plain = run(tmp_path / "plain.npz", jit=False)
    compiled = run(tmp_path / "compiled.npz", jit=True)
    for name in ("margin", "skyline", "layers", "horizon", "sight"):
        np.testing.assert_allclose(plain[name], compiled[name], atol=2e-3, err_msg=name)
    assert np.mean(plain["seen"] == compiled["seen"]) > 0.99
    same = np.isclose(plain["horizon_distance"], compiled["horizon_distance"], equal_nan=True)
    assert same.mean() > 0.99
    assert plain["seen"].any()
    assert not plain["seen"].all()
