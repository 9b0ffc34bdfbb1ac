"""Slopes against planes whose slope is known."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.ground.relief.slope import slope_at, slope_deg


@pytest.mark.parametrize("slope", [0.0, 5.0, 33.0])
@pytest.mark.parametrize("toward_deg", [0.0, 30.0, 90.0])
def test_a_plane_has_its_slope_everywhere_even_at_the_edge(make_dem, slope, toward_deg):
    row, col = np.mgrid[:9, :12] * 50.0
    along = col * np.sin(np.radians(toward_deg)) - row * np.cos(np.radians(toward_deg))
    dem = make_dem(along * np.tan(np.radians(slope)))
    np.testing.assert_allclose(slope_deg(dem), slope, atol=0.01)


def test_slope_at_a_place_is_that_of_its_cell(make_dem):
    rng = np.random.default_rng(3)
    dem = make_dem(rng.normal(0.0, 30.0, (8, 9)))
    whole = slope_deg(dem)
    for row, col in [(3, 4), (1, 1), (6, 7), (1, 5)]:
        lon, lat = dem.grid.lonlat(row, col)
        assert slope_at(dem, float(lon), float(lat)) == pytest.approx(whole[row, col], abs=1e-4)


def test_unknown_ground_has_no_slope_and_spreads_none(make_dem, capfd):
    heights = np.tile(np.arange(6.0) * 20.0, (6, 1))
    heights[2, 3] = np.nan
    slope = slope_deg(make_dem(heights))
    assert np.isnan(slope).sum() == 1
    assert np.isnan(slope[2, 3])
    assert slope[4, 1] == pytest.approx(np.degrees(np.arctan(20.0 / 50.0)), abs=0.01)
    assert capfd.readouterr() == ("", "")


def test_a_slope_weighs_the_eight_neighbours_as_horn_does(make_dem):
    heights = np.array([[7.0, 1.0, 4.0], [2.0, 5.0, 9.0], [3.0, 8.0, 6.0]])
    slope = slope_deg(make_dem(np.pad(heights, 1, mode="edge"), cell_m=10.0))[2, 2]
    east = (4.0 + 2 * 9.0 + 6.0 - 7.0 - 2 * 2.0 - 3.0) / 80.0
    south = (3.0 + 2 * 8.0 + 6.0 - 7.0 - 2 * 1.0 - 4.0) / 80.0
    assert slope == pytest.approx(np.degrees(np.arctan(np.hypot(east, south))), abs=1e-5)


def test_an_unknown_neighbour_counts_as_level_with_the_cell(make_dem):
    heights = np.tile(np.arange(5.0) * 20.0, (5, 1))
    level = heights.copy()
    heights[2, 3], level[2, 3] = np.nan, heights[2, 2]
    gap, filled = slope_deg(make_dem(heights)), slope_deg(make_dem(level))
    assert gap[2, 2] == pytest.approx(filled[2, 2], abs=1e-5)
    assert gap[2, 2] < slope_deg(make_dem(np.tile(np.arange(5.0) * 20.0, (5, 1))))[2, 2]
