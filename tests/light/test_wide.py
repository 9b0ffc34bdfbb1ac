"""Sweeps of the light over a raster so wide that the grid turns from end to end."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np

from terrain.country import Country
from terrain.light.sweeps import _NONE, _Search
from terrain.sight.horizon import horizon, horizon_on_grid
from tests.conftest import MakeDem


def test_a_sweep_keeps_to_one_line_of_the_grid(make_dem: MakeDem) -> None:
    """Its sun at each node is timed for that line, so a line turned as well would count twice."""
    heights = np.random.default_rng(5).uniform(0.0, 900.0, (60, 600))
    dem = make_dem(heights, cell_m=500.0, lat=50.0)
    nothing: Any = SimpleNamespace(distance_m=_NONE)
    search = _Search(
        country=Country(dem), relief=nothing, field=nothing, light=nothing, until_deg=90.0
    )
    tables: Any = SimpleNamespace(limb_deg=[_NONE], time_s=[_NONE])
    ground = search.sweep(105.0, tables, 0)[1]
    np.testing.assert_array_equal(ground, horizon_on_grid(dem, 105.0))
    assert np.nanmax(np.abs(ground - horizon(dem, 105.0))) > 0.1
