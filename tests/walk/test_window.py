"""The window in which a walk is looked for: how large it may be, and in what blocks it is cut."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.walk.window import MOST_CELLS, Window
from tests.conftest import MakeDem


@pytest.mark.parametrize(
    ("rows", "cols", "side"),
    [
        (1000, MOST_CELLS // 1000, 1),
        (1000, MOST_CELLS // 1000 + 1, 2),
        (5000, 4 * MOST_CELLS // 5000, 2),
        (5000, 4 * MOST_CELLS // 5000 + 2, 3),
    ],
)
def test_blocks_are_as_small_as_there_may_be_of_them(rows: int, cols: int, side: int) -> None:
    window = Window(top=10, left=20, bottom=10 + rows, right=20 + cols)
    assert window.is_too_large == (side > 1)
    assert window.blocks == side


# rows 0 to 19 and columns 0 to 29 of the window
@pytest.mark.parametrize(("row", "col"), [(1, 15), (18, 15), (10, 1), (10, 28)])
def test_a_way_leaves_a_window_where_it_touches_an_edge_with_ground_beyond(
    make_dem: MakeDem, row: int, col: int
) -> None:
    ground = make_dem(np.zeros((50, 60)))
    rows, cols = np.array([10.0, row]), np.array([15.0, col])
    assert Window(top=10, left=20, bottom=30, right=50).is_left_at(ground, rows, cols)
    # the same way where nothing lies beyond, and one that keeps a cell farther from the edge
    small = make_dem(np.zeros((20, 30)))
    assert not Window(top=0, left=0, bottom=20, right=30).is_left_at(small, rows, cols)
    rows, cols = np.clip(rows, 2, 17), np.clip(cols, 2, 27)
    assert not Window(top=10, left=20, bottom=30, right=50).is_left_at(ground, rows, cols)
