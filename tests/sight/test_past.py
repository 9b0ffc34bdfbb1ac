"""What lines past tops meet: by hand along one row, and as plain Python."""

from __future__ import annotations

import numpy as np

from terrain.sight.past import Past, past_tops
from tests.conftest import MakeDem
from tests.plain import plain_kernels


def past_from_the_west(make_dem: MakeDem, heights: list[float]) -> Past:
    """From the first cell of a row, eastward past the hill of which the cells 4 to 6 are own."""
    dem = make_dem(np.tile(np.array(heights), (5, 1)), cell_m=100.0)
    owner = np.zeros(dem.shape, dtype=np.int32)
    owner[:, 4:7] = 7
    top_deg = np.degrees(np.arctan((heights[4] - heights[0] - 2.0) / 400.0))
    lines = [-0.5, 0.0, 0.5]
    at = [2], [0], [90.0], [400.0], [top_deg]
    return past_tops(dem, owner, [7], *at, lines, eye_m=2.0, refraction=1.0)


def columns(past: Past) -> list[int]:
    return [int(cell) % 12 if cell >= 0 else -1 for cell in past.cell[0]]


def test_a_line_meets_the_first_ground_that_stands_over_the_rim(make_dem: MakeDem) -> None:
    # the eye is at 100 m, as high as the sky begins: the rim is flat, over the cells 4 to 6
    flat = [98.0, 0.0, 0.0, 0.0, 100.0, 100.0, 100.0, 0.0]
    assert columns(past_from_the_west(make_dem, [*flat, 90.0, 100.0, 110.0, 0.0])) == [9, 9, 10]
    # under the rim by 0.1 degrees only the lowest of the lines meets it
    assert columns(past_from_the_west(make_dem, [*flat, 0.0, 98.4, 0.0, 0.0])) == [9, -1, -1]


def test_own_ground_that_goes_on_in_view_is_top(make_dem: MakeDem) -> None:
    # it rises behind the summit, so what stands under its rim is hidden
    rising = [98.0, 0.0, 0.0, 0.0, 100.0, 120.0, 140.0, 0.0]
    assert columns(past_from_the_west(make_dem, [*rising, 0.0, 150.0, 0.0, 180.0])) == [11, 11, -1]
    # of ground that is not known nothing is met
    unknown = past_from_the_west(make_dem, [*rising, np.nan, np.nan, np.nan, np.nan])
    assert columns(unknown) == [-1, -1, -1]
    assert not unknown.is_beyond.any()


def test_as_plain_python_the_same_is_met(make_dem: MakeDem) -> None:
    heights = [98.0, 0.0, 0.0, 0.0, 100.0, 101.0, 100.0, 0.0, 60.0, 104.0, 0.0, 180.0]
    compiled = past_from_the_west(make_dem, heights)
    with plain_kernels():
        plain = past_from_the_west(make_dem, heights)
    np.testing.assert_array_equal(plain.cell, compiled.cell)
    assert len(set(columns(compiled))) > 1
