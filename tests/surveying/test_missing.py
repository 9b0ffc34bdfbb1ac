"""Where tiles are missing the ground of a country ends, and hills beside them are bounded."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import terrain
from terrain.surveying.cut import cut_of
from terrain.surveying.first import know_tile, summits_from
from tests.surveying.conftest import CELL_M, made_hills, write_ground

SIDE = 40


@pytest.mark.parametrize("missing", [set(), {4}, {0, 5, 10}, {1, 2, 3, 7, 11, 15}])
def test_a_missing_tile_is_unknown_ground(tmp_path: Path, missing: set[int]) -> None:
    heights = made_hills(4 * SIDE, 4 * SIDE)
    path = write_ground(tmp_path / "whole.tif", heights)
    cut = cut_of(path, SIDE * CELL_M, {})
    files = {}
    for tile in set(range(cut.tiles)) - missing:
        files[tile] = tmp_path / f"{tile}.npz"
        know_tile(cut.part(tile), 8, 100.0, files[tile])
    found = summits_from(files, cut, 100.0, None)
    known = heights.copy()
    for tile in missing:
        own = cut.plan.own[tile]
        # the first line of a tile is known from the tile before it
        top = own.top + (tile - 4 >= 0 and tile - 4 not in missing)
        left = own.left + (tile % 4 > 0 and tile - 1 not in missing)
        known[top : own.bottom, left : own.right] = np.nan
    dem = terrain.Dem(known, cut.grid)
    whole = terrain.find_summits(dem, min_prominence_m=100.0)
    # a summit on such a line is one from either side
    np.testing.assert_allclose(
        found[["height_m", "prominence_m", "col_height_m"]],
        whole[["height_m", "prominence_m", "col_height_m"]],
        atol=1e-4,
    )
    assert list(found["bounded"]) == list(whole["bounded"])
