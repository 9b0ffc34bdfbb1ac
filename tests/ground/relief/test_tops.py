"""The flat that a cell belongs to, however far and crooked it goes."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from terrain.ground.relief.tops import level_cells


@pytest.mark.parametrize("seed", range(6))
def test_a_flat_is_all_its_equals_joined_at_a_side_or_corner(seed: int) -> None:
    rng = np.random.default_rng(seed)
    # two thirds of one height: its parts wind over most of the raster
    heights = np.where(rng.random((70, 90)) < 0.66, 5.0, rng.random((70, 90))).astype(np.float32)
    heights[rng.random((70, 90)) < 0.05] = np.nan
    label, _ = ndimage.label(heights == 5.0, np.ones((3, 3)))
    for cell in np.flatnonzero(heights == 5.0)[::150].tolist():
        expected = np.flatnonzero(label == label.flat[cell])
        assert expected.size > 20
        np.testing.assert_array_equal(level_cells(heights, cell), expected)


def test_a_flat_that_winds_out_of_sight_and_back_is_followed() -> None:
    heights = np.zeros((60, 60), dtype=np.float32)
    heights[10, 5:55] = heights[10:50, 54] = heights[14, 30:55] = heights[14:20, 30] = 7.0
    flat = np.flatnonzero(heights == 7.0)
    np.testing.assert_array_equal(level_cells(heights, int(flat[0])), flat)
    assert level_cells(np.array([[3, 3], [1, 3]], dtype=np.float32), 2).tolist() == [2]
