"""Near ground in horizons: crossings taken together, and horizons set down in parts."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.sight._horizon_kernels import TILE, set_down
from terrain.sight._line_hull_kernels import NEAR, Lay
from terrain.sight._near_kernels import (
    NOTHING,
    near_horizon,
    raise_by_one,
    raise_to_sea,
    to_degrees,
    to_metres,
)
from terrain.sight.horizon import _crossings

ROWS, COLS = 61, 83
NOBODY = (0, 0)
LINE_M = 31.7


@pytest.mark.parametrize("by_rows", [True, False])
@pytest.mark.parametrize("tangent", [0.0, 0.37, 1.0])
@pytest.mark.parametrize("with_distance", [True, False])
def test_crossings_taken_together_are_those_taken_one_by_one(
    by_rows: bool, tangent: float, with_distance: bool
) -> None:
    """To the last bit, and of ground that is equally high the nearest, as far as the edges."""
    rng = np.random.default_rng(7)
    heights = rng.uniform(0.0, 90.0, (ROWS, COLS)).astype(np.float32)
    heights[rng.random(heights.shape) < 0.01] = np.nan
    heights[10:50, 8:60] = 40.0
    crossings = _crossings(Lay(by_rows, -1, 1, tangent))
    start = np.where(rng.random(heights.shape) < 0.5, np.nan, rng.normal(0.0, 2.0, heights.shape))
    for bend, columns in ((0.0, (0, COLS)), (7e-5, (5, COLS - 9))):
        slopes = start.astype(np.float32)
        distances = np.where(np.isnan(start), np.nan, NEAR + 6.0).astype(np.float32)
        distances = distances if with_distance else distances[:0, :0].copy()
        expected, far = slopes.copy(), distances.copy()
        near_horizon(0, ROWS, heights, columns, crossings, bend, slopes, distances, LINE_M, -5.0)
        inside = slice(*columns)
        for row in range(ROWS):
            best, ground = expected[row], heights[row, inside]
            best[inside][np.isnan(best[inside])] = NOTHING
            for item in range(crossings.shares.size):
                raise_by_one(heights, row, crossings, item, columns, NOBODY, bend, best, far)
            best = best[inside]
            away = far[row, inside] if with_distance else best[:0]
            raise_to_sea(ground, np.float32(-5.0), np.float32(bend), best, away)
            to_degrees(ground, best, np.float32(1.0 / LINE_M))
            to_metres(best, away, np.float32(LINE_M))
        np.testing.assert_array_equal(slopes, expected)
        np.testing.assert_array_equal(distances, far)
        assert np.isfinite(slopes[:, inside]).mean() > 0.9
        if with_distance:
            known = np.isfinite(slopes[:, inside])
            np.testing.assert_array_equal(np.isfinite(distances[:, inside]), known)
            assert np.nanmax(distances[:, inside]) > LINE_M * (NEAR + 5)
    # nothing outside of the columns is touched
    outside = np.r_[0:5, COLS - 9 : COLS]
    np.testing.assert_array_equal(slopes[:, outside], start.astype(np.float32)[:, outside])


def test_what_a_band_of_lines_found_is_set_down_whole() -> None:
    nodes = 2 * TILE + 11
    found = np.arange(3 * nodes, dtype=np.float32).reshape(3, nodes)
    offset = 4 * np.arange(nodes)
    lines = np.array([[3, nodes - 1, 0], [5, 4, 1], [TILE - 1, 2 * TILE, 2]])
    expected = np.full(4 * nodes, np.nan, dtype=np.float32)
    for (first, last, start), line in zip(lines, found, strict=True):
        expected[start + offset[first : last + 1]] = line[first : last + 1]
    flat = np.full(4 * nodes, np.nan, dtype=np.float32)
    set_down(offset, lines, found, flat)
    np.testing.assert_array_equal(flat, expected)
