"""The ground about a hill is the same whichever tile it is taken from."""

from __future__ import annotations

from functools import partial
from pathlib import Path

import numpy as np
import pytest

import terrain
from terrain.ground.raster.far_parts import tops_of_part
from terrain.ground.relief.summits import hill_in
from terrain.surveying.about import Blocks, Surround
from terrain.surveying.blocks import joined_blocks
from terrain.surveying.cut import Cut, cells_of, cut_of, ground_of

REACH_M = 4_000.0
SIDE = 8


def surround(cut: Cut, tile: int, blocks: Blocks) -> Surround:
    near = cut.part(tile, REACH_M + 200.0)
    dem = ground_of(near)
    assert dem is not None
    return Surround(
        whole=cut.grid,
        dem=dem,
        row=near.window.top,
        col=near.window.left,
        blocks=blocks,
        read=partial(cells_of, cut.part(tile, 1e6)),
    )


@pytest.fixture(scope="module")
def blocks(country: Path) -> Blocks:
    cut = cut_of(country, 1e6, {})
    return joined_blocks([tops_of_part(cut.part(0), side=SIDE)], cut.grid, SIDE)


@pytest.mark.parametrize("tile_m", [5_000.0, 7_300.0])
def test_ground_and_skyline_of_a_hill_hang_on_no_tile(
    country: Path, blocks: Blocks, tile_m: float
) -> None:
    whole, cut = cut_of(country, 1e6, {}), cut_of(country, tile_m, {})
    all_of_it = surround(whole, 0, blocks)
    summits = terrain.find_summits(terrain.read_dem(country), min_prominence_m=300.0)
    tiles = cut.tiles_of(summits.geometry.x, summits.geometry.y)
    assert len(set(tiles)) > 1
    for number, tile in enumerate(tiles):
        hill = hill_in(summits, number)
        one = all_of_it.about(hill, REACH_M)
        other = surround(cut, tile, blocks).about(hill, REACH_M)
        np.testing.assert_array_equal(one.heights_m, other.heights_m)
        assert one.grid == other.grid
        assert one.far is not None
        assert other.far is not None
        np.testing.assert_array_equal(one.far.tops_m, other.far.tops_m)
        assert (one.far.row, one.far.col) == (other.far.row, other.far.col)
        spot = terrain.Spot(lon_deg=hill.lon_deg, lat_deg=hill.lat_deg)
        lines = [terrain.skyline(dem, spot).altitude_deg for dem in (one, other)]
        np.testing.assert_array_equal(*lines)


def test_the_skyline_is_that_of_the_ground_as_it_is_read_about_a_place(
    country: Path, blocks: Blocks
) -> None:
    dem = terrain.read_dem(country)
    summits = terrain.find_summits(dem, min_prominence_m=300.0)
    all_of_it = surround(cut_of(country, 1e6, {}), 0, blocks)
    for number in range(len(summits)):
        hill = hill_in(summits, number)
        spot = terrain.Spot(lon_deg=hill.lon_deg, lat_deg=hill.lat_deg)
        line = terrain.skyline(all_of_it.about(hill, REACH_M), spot)
        about = terrain.read_dem(country, around=hill, reach_m=REACH_M)
        about = terrain.with_far_ground(about, country, around=hill)
        np.testing.assert_allclose(
            line.altitude_deg, terrain.skyline(about, spot).altitude_deg, atol=1e-6
        )


def test_a_margin_that_is_too_small_is_a_fault(country: Path, blocks: Blocks) -> None:
    cut = cut_of(country, 5_000.0, {})
    summits = terrain.find_summits(terrain.read_dem(country), min_prominence_m=300.0)
    (tile, *_) = cut.tiles_of(summits.geometry.x, summits.geometry.y)
    with pytest.raises(ValueError, match="a margin too small"):
        surround(cut, tile, blocks).about(hill_in(summits, 0), 12_000.0)
