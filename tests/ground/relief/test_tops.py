"""Where islands join, cell by cell; the flat that a cell belongs to, however crooked it goes."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays
from scipy import ndimage

from terrain.ground.relief.summit_table import summit_cells
from terrain.ground.relief.tops import level_cells, tops_of, ways_up_from
from tests.ground import twins

# few heights make plateaux, and passes of one height
grounds = arrays.arrays(
    np.float32,
    st.tuples(st.integers(1, 12), st.integers(1, 12)),
    elements=st.one_of(
        st.integers(0, 3).map(float), st.integers(0, 9).map(float), st.just(float("nan"))
    ),
)


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


@settings(max_examples=100, deadline=None)
@given(ground=grounds)
def test_cols_and_ways_out_are_where_the_cells_one_by_one_have_them(ground: np.ndarray) -> None:
    """Against islands joined cell by cell, with no peaks and nothing left out."""
    unit = np.ones(ground.shape[0])
    whole = summit_cells(tops_of(ground, unit, unit), ground, 0.5)
    twin = [found for found in twins.cell_by_cell(ground) if found.height - found.low >= 0.5]
    assert whole.cell.tolist() == [found.cell for found in twin]
    assert whole.low_cell.tolist() == [found.low_cell for found in twin]
    assert whole.bounded.tolist() == [found.bounded for found in twin]


def slow_way_up(ground: np.ndarray, row: int, col: int, width_m: float, depth_m: float) -> int:
    """Of the neighbours in order of index the first to which the rise is steepest; -1 for none."""
    steepest, best = 0.0, -1
    for near_row, near_col in np.ndindex(ground.shape):
        down, right = abs(near_row - row), abs(near_col - col)
        if max(down, right) == 1:
            rise = float(ground[near_row, near_col] - ground[row, col])
            slope = rise / float(np.hypot(down * depth_m, right * width_m))
            if slope > steepest:
                steepest, best = slope, near_row * ground.shape[1] + near_col
    return best


@settings(max_examples=60, deadline=None)
@given(ground=grounds, width_m=st.sampled_from([1.0, 0.5, 30.0]))
def test_a_way_up_is_the_first_of_the_steepest(ground: np.ndarray, width_m: float) -> None:
    depth_m = np.linspace(1.0, 2.0, ground.shape[0])
    way = ways_up_from(ground, np.full(ground.shape[0], width_m), depth_m)
    expected = [
        slow_way_up(ground, row, col, width_m, float(depth_m[row]))
        for row, col in np.ndindex(ground.shape)
    ]
    assert way.tolist() == expected
