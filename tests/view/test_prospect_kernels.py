"""Where a picture shows mist: the kernel against scipy's interpolation, and as plain Python."""

from __future__ import annotations

import numpy as np
from scipy import ndimage

import terrain.view._prospect_kernels as kernels
from tests.plain import plain_kernels


def surfaces(draw: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """A ground, and a lid that lies over it, on it or under it by as little as rounding tells."""
    shape = tuple(draw.integers(1, 25, 2))
    ground = draw.normal(100.0, 20.0, shape).astype(np.float32)
    lid = ground + draw.choice([0.0, 1e-5, -1e-5, 5.0, -5.0], shape).astype(np.float32)
    lid[draw.random(shape) < 0.15] = np.nan
    ground[draw.random(shape) < 0.03] = np.nan
    return ground, lid


def places(draw: np.random.Generator, shape: tuple[int, ...]) -> tuple[np.ndarray, np.ndarray]:
    """Rows and columns, some of them whole, close to 0 or off the raster, some of them sky."""
    at = (draw.random((2, 7, 11)) * (np.array(shape) + 1.0)[:, None, None] - 1.0).astype("f4")
    whole = draw.random(at.shape) < 0.2
    at[whole] = np.rint(at[whole])
    at[:, 0] *= np.float32(1e-4)
    at[:, draw.random((7, 11)) < 0.1] = np.nan
    return at[0], at[1]


def marked(row: np.ndarray, col: np.ndarray, ground: np.ndarray, lid: np.ndarray) -> np.ndarray:
    marks = np.zeros(row.shape, dtype=bool)
    kernels.mark_mist(0, row.shape[0], row, col, lid, ground, marks)
    return marks


def test_mist_where_interpolation_finds_the_lid_over_the_ground() -> None:
    draw, some = np.random.default_rng(3), 0
    for _ in range(200):
        ground, lid = surfaces(draw)
        row, col = places(draw, ground.shape)
        known = ~np.isnan(row)
        top, under = (
            ndimage.map_coordinates(
                values, [row[known], col[known]], order=1, mode="nearest", prefilter=False
            )
            for values in (lid, ground)
        )
        expected = known.copy()
        expected[known] = top > under
        np.testing.assert_array_equal(marked(row, col, ground, lid), expected)
        some += int(expected.sum())
    assert some > 1000


def test_plain_python_marks_the_same() -> None:
    draw = np.random.default_rng(4)
    for _ in range(10):
        ground, lid = surfaces(draw)
        row, col = places(draw, ground.shape)
        compiled = marked(row, col, ground, lid)
        with plain_kernels():
            np.testing.assert_array_equal(marked(row, col, ground, lid), compiled)
