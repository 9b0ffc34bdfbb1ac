"""The window in which a walk is looked for: how large it may be, and in what blocks it is cut."""

from __future__ import annotations

import pytest

from terrain.walk.window import MOST_CELLS, Window


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
