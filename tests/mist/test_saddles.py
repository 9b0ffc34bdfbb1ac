"""Closed hollows: where each spills, and which of them a cell lies in, against a slow search."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import ndimage

from terrain.ground.dem import Dem
from terrain.mist.drainage import drain
from terrain.mist.saddles import basins_of

MakeDem = Callable[..., Dem]

TOUCHING = np.ones((3, 3), dtype=bool)


def about(heights: NDArray[np.float32], cell: tuple[int, int], level: float) -> NDArray[np.bool_]:
    """The cells joined to one by ground no higher than a level."""
    label, _ = ndimage.label(heights <= level, TOUCHING)
    return np.asarray(label == label[cell])


def slow_hollows(heights: NDArray[np.float32]) -> dict[int, tuple[int, float]]:
    """Of each lowest cell of a hollow the cell over which it spills into a lower one, and depth."""
    found = {}
    for pit in np.ndindex(heights.shape):
        floor = heights[pit]
        inside = about(heights, pit, floor)
        if inside.sum() > 1:
            continue
        for level in np.sort(heights[heights > floor]):
            inside = about(heights, pit, level)
            if heights[inside].min() < floor:
                spill = int(np.flatnonzero(heights.reshape(-1) == level)[0])
                if spill != np.ravel_multi_index(pit, heights.shape):
                    found[int(np.ravel_multi_index(pit, heights.shape))] = spill, level - floor
                break
    return found


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10_000), least=st.sampled_from([0.5, 3.0, 12.0]))
def test_every_hollow_spills_over_its_lowest_way_into_a_lower_one(
    make_dem: MakeDem, seed: int, least: float
) -> None:
    rng = np.random.default_rng(seed)
    ground = rng.permutation(63).reshape(7, 9)
    ground = np.minimum(ground, ndimage.uniform_filter(ground, 3)) if seed % 2 else ground
    ground = ground + np.arange(63).reshape(7, 9) / 128
    drainage = drain(make_dem(ground))
    heights = drainage.ground_m.reshape(drainage.shape)
    deep = {p: s for p, s in slow_hollows(heights).items() if s[1] >= least}
    found = basins_of(drainage, least)
    assert sorted(zip(found.spill, found.depth_m, strict=True)) == sorted(deep.values())
    expected = np.full(heights.shape, -1)
    # the outermost first, so that the inner ones have the last word
    for pit, (spill, _) in sorted(deep.items(), key=lambda one: -heights.flat[one[1][0]]):
        at = np.unravel_index(pit, heights.shape)
        below = np.nextafter(heights.flat[spill], np.float32(-np.inf))
        expected[about(heights, (int(at[0]), int(at[1])), below)] = pit
    np.testing.assert_array_equal(found.pit_of.reshape(heights.shape), expected)
