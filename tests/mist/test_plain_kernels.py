"""The kernels of mist as plain Python within fences: the answers are those of compiled code."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.mist.drainage import drain
from terrain.mist.flood import flood_levels
from terrain.mist.passes import passes, pour_path
from terrain.mist.valley import valley_mist
from tests.plain import plain_kernels

MakeDem = Callable[..., Dem]


def two_valleys() -> NDArray[np.float64]:
    """Two valleys side by side that fall southward, with a hollow in one and a hole between."""
    row, col = np.mgrid[0:33, 0:25]
    heights = 200 + 4.0 * np.minimum(abs(col - 6), abs(col - 18)) - 1.5 * row
    heights += 3 * np.sin(row / 3.0) + np.random.default_rng(4).uniform(0, 2, row.shape)
    heights[14:18, 5:8] -= 15
    heights[3:5, 11:13] = np.nan
    return heights


def spot_in(dem: Dem, row: int, col: int) -> Spot:
    lon, lat = dem.grid.lonlat(row, col)
    return Spot(lon_deg=float(lon), lat_deg=float(lat))


def answers(dem: Dem) -> dict[str, NDArray]:
    drainage = drain(dem)
    found = passes(dem, min_depth_m=5.0, valley_km2=0.1)
    ends = ["height_m", "depth_m", "floor_a_m", "floor_b_m", "fills_b_m"]
    seeds = {spot_in(dem, 28, 6): 10.0}
    return {
        "levels": flood_levels(dem),
        "seeded": flood_levels(dem, seeds=[spot_in(dem, 20, 6)]),
        "down": drainage.down,
        "catchment": drainage.catchment_km2,
        "channels": drainage.channels(0.1),
        "passes": found[ends].to_numpy(),
        "pour": np.array(pour_path(dem, found.iloc[0]).coords),
        "top": valley_mist(dem, 12.0, channel_km2=0.1, smooth_m=80.0).top_m,
        "seeded_top": valley_mist(
            dem, seeds, channel_km2=0.1, smooth_m=0.0, max_floor_slope=0.3
        ).top_m,
    }


def test_plain_python_agrees_with_compiled_kernels(make_dem: MakeDem) -> None:
    compiled = answers(make_dem(two_valleys(), cell_m=40.0))
    with plain_kernels():
        plain = answers(make_dem(two_valleys(), cell_m=40.0))
    for name in ("levels", "seeded", "down", "channels", "passes", "pour"):
        np.testing.assert_array_equal(plain[name], compiled[name], err_msg=name)
    for name in ("catchment", "top", "seeded_top"):
        np.testing.assert_allclose(plain[name], compiled[name], atol=2e-3, err_msg=name)
    assert len(plain["passes"]) > 1
    for top in (plain["top"], plain["seeded_top"]):
        assert 0.1 < np.isfinite(top).mean() < 0.9
