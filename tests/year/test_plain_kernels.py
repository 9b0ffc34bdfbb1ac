"""The fan and the days of an atlas as plain Python within fences: as compiled code says them."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable

import numpy as np
import pytest
from scipy.ndimage import map_coordinates

from terrain.ground.dem import Dem
from terrain.ground.places import Hill
from terrain.year._days_kernels import on_lattice
from terrain.year.atlas import Atlas, backlight_atlas
from tests.plain import plain_kernels
from tests.scenes import cone

MakeDem = Callable[..., Dem]

SIZE, SUMMIT = 15, (6, 9)


def cone_with_holes(make_dem: MakeDem) -> tuple[Dem, Hill]:
    """A cone on rough ground, of which some cells are unknown."""
    rng = np.random.default_rng(2)
    heights = cone(SIZE, SUMMIT, 200.0, 0.5) + rng.uniform(0.0, 20.0, (SIZE, SIZE))
    heights[rng.random(heights.shape) < 0.05] = np.nan
    heights[SUMMIT] = 230.0
    dem = make_dem(heights)
    lon, lat = (float(part) for part in dem.grid.lonlat(*SUMMIT))
    return dem, Hill(lon_deg=lon, lat_deg=lat, height_m=230.0, name="Cone")


@pytest.mark.parametrize("evening", [False, True])
def test_atlas(make_dem: MakeDem, evening: bool) -> None:
    dem, hill = cone_with_holes(make_dem)

    def made() -> Atlas:
        return backlight_atlas(dem, hill, 2025, tolerance_deg=2.0, evening=evening)

    compiled = made()
    with plain_kernels():
        plain = made()
    assert 0 < plain.sees.sum() < dem.heights_m.size
    assert np.isfinite(plain.north_day).any()
    for field in dataclasses.fields(Atlas):
        ours, theirs = (getattr(atlas, field.name) for atlas in (plain, compiled))
        if isinstance(ours, np.ndarray):
            np.testing.assert_allclose(ours, theirs, rtol=1e-5, atol=2e-3, err_msg=field.name)


def test_between_the_nodes_of_a_lattice_as_scipy_has_it() -> None:
    rng = np.random.default_rng(4)
    lattice = rng.uniform(-5.0, 5.0, (5, 7))
    rows, cols = rng.uniform(0.0, 4.0, 50), rng.uniform(0.0, 6.0, 50)
    rows[:2], cols[1:3] = (0.0, 4.0), (6.0, 0.0)
    found = [on_lattice(lattice, row, col) for row, col in zip(rows, cols, strict=True)]
    assert found == pytest.approx(map_coordinates(lattice, [rows, cols], order=1).tolist())
