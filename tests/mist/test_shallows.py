"""Where a mist is as deep as trees are high, against a slow walk from cell to cell."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.errors import TerrainError
from terrain.mist.level import level_mist
from terrain.mist.shallows import label_shallows
from tests.conftest import MakeDem


def walked(shallow: np.ndarray) -> np.ndarray:
    """The connected parts of a mask, each by its own walk."""
    number, found = 0, np.zeros(shallow.shape, dtype=int)
    for start in zip(*np.nonzero(shallow), strict=True):
        if found[start]:
            continue
        number += 1
        ahead = [start]
        while ahead:
            row, col = ahead.pop()
            inside = 0 <= row < shallow.shape[0] and 0 <= col < shallow.shape[1]
            if inside and shallow[row, col] and not found[row, col]:
                found[row, col] = number
                ahead += [(row + up, col + on) for up in (-1, 0, 1) for on in (-1, 0, 1)]
    return found


@pytest.mark.parametrize("trees_m", [(5.0, 15.0), (2.0, 20.0)])
def test_shallows_are_connected_cells_of_that_depth(
    make_dem: MakeDem, trees_m: tuple[float, float]
) -> None:
    row, col = np.mgrid[:61, :71]
    dem = make_dem(40.0 * np.sin(row / 4.1) * np.cos(col / 5.3) + 60.0)
    mist = level_mist(dem, 45.0)
    depth = 45.0 - dem.heights_m
    expected = walked(mist.covers & (depth >= trees_m[0]) & (depth <= trees_m[1]))
    found = label_shallows(dem, mist, trees_m=trees_m)
    assert expected.max() > 3
    # the same cells together, whatever their numbers
    pairs = {(int(a), int(b)) for a, b in zip(found.ravel(), expected.ravel(), strict=True)}
    assert len(pairs) == expected.max() + 1
    assert (0, 0) in pairs


def test_no_trees_stand_in_water(make_dem: MakeDem) -> None:
    dem = make_dem(np.tile([60.0, 60.0, 0.0, 62.0, 90.0], (5, 1)))
    mist = level_mist(dem, 70.0)
    water = np.zeros(dem.shape, dtype=bool)
    water[:, :2] = True
    assert label_shallows(dem, mist).max() == 2
    found = label_shallows(dem, mist, water=water)
    assert found.max() == 1
    assert (np.unique(np.nonzero(found)[1]) == [3]).all()


@pytest.mark.parametrize("trees_m", [(0.0, 5.0), (9.0, 9.0), (15.0, 5.0), (5.0, np.nan)])
def test_trees_that_cannot_be(make_dem: MakeDem, trees_m: tuple[float, float]) -> None:
    dem = make_dem([[0.0, 50.0, 90.0]])
    with pytest.raises(TerrainError, match="cannot be"):
        label_shallows(dem, level_mist(dem, 60.0), trees_m=trees_m)
