"""The blocks of a country from its tiles are those of one piece, however it is cut."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from terrain.ground.raster.far_parts import tops_of_part
from terrain.surveying.blocks import Blocks, joined_blocks
from terrain.surveying.cut import cut_of
from tests.surveying.conftest import made_hills, write_ground

SIDE = 8


@pytest.mark.parametrize("tile_m", [500.0, 1_300.0, 2_000.0])
def test_tiles_know_together_what_one_piece_knows(tmp_path: Path, tile_m: float) -> None:
    rng = np.random.default_rng(5)
    heights = made_hills(37, 41)
    heights[rng.uniform(size=heights.shape) < 0.2] = np.nan
    heights[10:30, 10:20] = np.nan
    country = write_ground(tmp_path / "country.tif", heights)

    def blocks(side_m: float) -> Blocks:
        cut = cut_of(country, side_m, {})
        parts = [tops_of_part(cut.part(tile), side=SIDE) for tile in range(cut.tiles)]
        return joined_blocks(parts, cut.grid, SIDE)

    np.testing.assert_array_equal(blocks(tile_m).tops_m, blocks(1e6).tops_m)
    assert blocks(tile_m).tops_m[0, 0] >= np.nanmax(heights[:9, :9])
