"""The kernels as plain Python must say what the compiled ones say."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from tests.without_jit import GROUND, both_ways

PROGRAM = f"""{GROUND}
from terrain.mist.drainage import drain
from terrain.mist.flood import flood_levels
from terrain.mist.passes import passes, pour_path
from terrain.mist.valley import valley_mist

row, col = np.mgrid[0:33, 0:25]
heights = 200 + 4.0 * np.minimum(abs(col - 6), abs(col - 18)) - 1.5 * row
heights += 3 * np.sin(row / 3.0) + np.random.default_rng(4).uniform(0, 2, row.shape)
heights[14:18, 5:8] -= 15
heights[3:5, 11:13] = np.nan
dem = dem_of(heights.astype(np.float32))
drainage = drain(dem)
found = passes(dem, min_depth_m=5.0, valley_km2=0.1)
mist = valley_mist(dem, 12.0, channel_km2=0.1, smooth_m=80.0)
np.savez(
    sys.argv[1],
    levels=flood_levels(dem),
    seeded=flood_levels(dem, seeds=[spot_in(dem, 20, 6)]),
    down=drainage.down,
    catchment=drainage.catchment_km2,
    channels=drainage.channels(0.1),
    passes=found[["height_m", "depth_m", "floor_a_m", "floor_b_m", "fills_b_m"]].to_numpy(),
    pour=np.array(pour_path(dem, found.iloc[0]).coords),
    top=mist.top_m,
    seeded_top=valley_mist(
        dem, {{spot_in(dem, 28, 6): 10.0}}, channel_km2=0.1, smooth_m=0.0, max_floor_slope=0.3
    ).top_m,
)
"""


def test_plain_python_agrees_with_compiled_kernels(tmp_path: Path) -> None:
    plain, compiled = both_ways(PROGRAM, tmp_path)
    for name in ("levels", "seeded", "down", "channels", "passes", "pour"):
        np.testing.assert_array_equal(plain[name], compiled[name], err_msg=name)
    for name in ("catchment", "top", "seeded_top"):
        np.testing.assert_allclose(plain[name], compiled[name], atol=2e-3, err_msg=name)
    assert len(plain["passes"]) > 1
    for top in (plain["top"], plain["seeded_top"]):
        assert 0.1 < np.isfinite(top).mean() < 0.9
