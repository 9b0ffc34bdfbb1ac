"""With the JIT off for a whole program, what loads and stores unchecked is plain indexing."""

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
from terrain.sight.horizon import horizon
from terrain.sight.viewshed import margin

heights = np.random.default_rng(1).uniform(0, 90, (31, 13)).astype(np.float32)
transform = Affine(40, 0, -260, 0, -40, 620)
crs = local_transverse_mercator(-24.0, 54.4)
dem = Dem(heights, Grid(crs=crs, transform=transform, shape=heights.shape))
lon, lat = dem.grid.lonlat(3.3, 3.6)
spot = Spot(lon_deg=float(lon), lat_deg=float(lat))
np.savez(sys.argv[1], margin=margin(dem, spot), horizon=horizon(dem, 160.0))
"""


def run(file: Path, *, jit: bool) -> dict[str, np.ndarray]:
    environment = {**os.environ, "NUMBA_DISABLE_JIT": "0" if jit else "1"}
    subprocess.run([sys.executable, "-c", PROGRAM, str(file)], check=True, env=environment)
    with np.load(file) as found:
        return dict(found)


def test_a_program_without_the_jit_says_the_same(tmp_path: Path) -> None:
    plain = run(tmp_path / "plain.npz", jit=False)
    compiled = run(tmp_path / "compiled.npz", jit=True)
    for name, values in plain.items():
        assert np.isfinite(values).mean() > 0.9
        np.testing.assert_allclose(values, compiled[name], atol=2e-3, err_msg=name)
