"""The fan and the days of an atlas as plain Python within fences: as compiled code says them."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable

import numpy as np
import pytest
from scipy.ndimage import map_coordinates

from terrain.ground.dem import Dem
from terrain.ground.places import Hill
from terrain.year import _fan_kernels
from terrain.year._days_kernels import EvenTable, looked_up, on_lattice
from terrain.year.atlas import Atlas, backlight_atlas
from tests.plain import plain_kernels
from tests.scenes import cone
from tests.vantage.test_ugly_ground import on_line

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


def test_a_table_is_level_beyond_its_ends_and_straight_between_its_entries() -> None:
    table = EvenTable(np.array([4.0, 1.0, 3.0]), 10.0, 0.5)
    asked = (-5.0, 9.9, 10.0, 10.25, 10.75, 11.0, 11.2, 11.6, 99.0)
    found = [looked_up(table, at) for at in asked]
    assert found == pytest.approx([4.0, 4.0, 4.0, 2.5, 2.0, 3.0, 3.0, 3.0, 3.0])


PLACES = [
    ((7, 5), 3.0, 2.0),
    ((5, 6), 0.0, 0.0),
    ((6, 5), 2.8125, -0.375),  # in the outer half of a cell of the edge, on each side
    ((5, 6), -0.375, 3.1875),
    ((6, 5), 2.25, 4.375),
    ((5, 6), 4.375, 2.25),
    ((9, 7), 4.25, 3.0625),
    ((1, 8), 0.0, 3.0),
    ((8, 1), 4.0, 0.0),
    ((4, 38), 1.0, 2.0),  # so far off that a part of an octant is wider than a cell
    ((38, 4), 1.0, 2.0),
]


@pytest.mark.parametrize(("shape", "row", "col"), PLACES)
@pytest.mark.parametrize(("own_cells", "holes"), [(0.0, 0.0), (2.2, 0.05)])
def test_rays_close_together_are_walks_along_the_line_of_each_cell(
    make_dem: MakeDem,
    shape: tuple[int, int],
    row: float,
    col: float,
    own_cells: float,
    holes: float,
) -> None:
    """Eight times as many rays as serve, over noise, bent so much that it counts over few cells."""
    bend, top_m = 2e-4, 45.0
    rng = np.random.default_rng(9)
    heights = rng.uniform(0.0, 60.0, shape)
    away = np.hypot(np.arange(shape[0])[:, np.newaxis] - row, np.arange(shape[1]) - col)
    own = away < own_cells
    heights += np.where(own, rng.uniform(0.0, 40.0, shape), 0.0)
    heights[rng.random(shape) < holes] = np.nan
    dem = make_dem(heights, 100.0)
    lon, lat = (float(part) for part in dem.grid.lonlat(row, col))
    hill = Hill(lon_deg=lon, lat_deg=lat, height_m=top_m)
    wanted = (away > 0.3) & ~np.isnan(heights) & (rng.random(shape) < 0.8)
    ground = _fan_kernels.Ground(dem.heights_m, dem.heights_m, own, wanted, 100.0, bend, 1.7)
    on_skyline, over_deg = np.zeros(shape, bool), np.full((2, *shape), np.nan, dtype=np.float32)
    with plain_kernels():
        for part in range(_fan_kernels.PARTS):
            summit = _fan_kernels.Summit(row, col, top_m)
            _fan_kernels.fan_part(part, ground, summit, 12.0, on_skyline, *over_deg)
    assert not on_skyline[~wanted].any()
    assert np.isnan(over_deg[:, ~wanted]).all()
    # ground beyond the outermost centres has no line behind such a summit
    sides = 2 if 0 <= row <= shape[0] - 1 and 0 <= col <= shape[1] - 1 else 1
    off = []
    for at_row, at_col in np.argwhere(wanted):
        before, behind, mine = on_line(dem, own, hill, int(at_row), int(at_col), bend)
        far_m = float(away[at_row, at_col]) * 100.0
        top = (top_m - dem.heights_m[at_row, at_col] - 1.7) / far_m - bend * far_m
        for found, slope in zip(
            over_deg[:, at_row, at_col], (before, behind)[:sides], strict=False
        ):
            truth = math.degrees(math.atan(top) - math.atan(slope))
            off.append(
                math.isinf(slope) != math.isnan(found)
                or (not math.isinf(slope) and abs(found - truth) > 0.02)
            )
        if sides == 2 and abs(behind - max(top, mine)) > 0.01:
            off.append(on_skyline[at_row, at_col] != (behind < max(top, mine)))
    # between two cells ground changes owner at once, and is unknown at once
    assert sum(off) <= (0.1 if own_cells else 0.02) * len(off)


def test_where_there_is_no_ground_the_other_ray_counts() -> None:
    with plain_kernels():
        ways = [(-math.inf, 2.0), (1.0, -math.inf), (-math.inf, -math.inf), (1.0, 2.0)]
        found = [_fan_kernels.between(first, second, 0.25) for first, second in ways]
    assert found == [2.0, 1.0, -math.inf, 1.25]
