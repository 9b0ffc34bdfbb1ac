"""The kernels of tops as plain Python within fences: the tops are those of compiled code."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from terrain.ground.dem import Dem
from terrain.ground.relief.tops import Tops, find_tops
from tests.plain import plain_kernels

MakeDem = Callable[..., Dem]


def flats(shape: tuple[int, int], holes: float) -> NDArray[np.float64]:
    """Ground in steps of 20 m, so that much of it is level with what is beside it."""
    rng = np.random.default_rng(4)
    heights = 20.0 * rng.integers(0, 6, shape)
    heights[rng.random(shape) < holes] = np.nan
    return heights


@pytest.mark.parametrize("shape", [(17, 11), (1, 13), (13, 1), (1, 1)])
@pytest.mark.parametrize("holes", [0.0, 0.15, 1.0])
def test_tops(make_dem: MakeDem, shape: tuple[int, int], holes: float) -> None:
    heights = flats(shape, holes)
    compiled = find_tops(make_dem(heights))
    with plain_kernels():
        plain = find_tops(make_dem(heights))
    for field in dataclasses.fields(Tops):
        ours, theirs = (getattr(tops, field.name) for tops in (plain, compiled))
        np.testing.assert_array_equal(ours, theirs, err_msg=field.name)
