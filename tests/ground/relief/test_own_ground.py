"""The ground of one hill, found from its surroundings, is what the whole raster makes of it."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import ndimage

from terrain.ground.dem import Dem
from terrain.ground.places import Hill
from terrain.ground.raster.read import read_dem
from terrain.ground.relief import hills
from terrain.ground.relief.hills import hill_ground, of_cells
from terrain.ground.relief.summits import find_summits
from terrain.ground.relief.tops import find_tops, owners
from tests.conftest import MakeDem
from tests.ground.relief.test_hills import hill_in, rough

PROMINENCE_M = 30.0


tops_of_all = lru_cache(maxsize=1)(find_tops)
"""The same for all hills of one ground, which is told by its identity."""


def of_the_whole(dem: Dem, hill: Hill) -> NDArray[np.bool_]:
    """The hill's own ground as delivered, from the tops of all of the raster."""
    ground, tops = dem.as_delivered, tops_of_all(dem)
    at = ground.grid.cell_of(hill.lon_deg, hill.lat_deg)
    top = tops.top_of[at]
    kept = tops.drop_m >= hill.min_prominence_m
    kept[top] |= ground.heights_m[at] == tops.height_m[top]
    owner = owners(tops, kept)
    return of_cells(tops, owner == owner[top])


def summits_of(dem: Dem, every: int = 1) -> list[Hill]:
    table = find_summits(dem, min_prominence_m=PROMINENCE_M).iloc[::every]
    return [
        Hill(lon_deg=p.x, lat_deg=p.y, height_m=height, min_prominence_m=PROMINENCE_M)
        for p, height in zip(table.geometry, table["height_m"], strict=True)
    ]


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("void", [False, True])
def test_small_windows_say_what_the_whole_says(
    seed: int, void: bool, make_dem: MakeDem, monkeypatch: pytest.MonkeyPatch
) -> None:
    dem = rough(make_dem, seed, void)
    places = [(row, col) for row in range(2, 40, 12) for col in range(3, 50, 12)]
    for row, col in places:
        if np.isnan(dem.heights_m[row, col]):
            continue
        for least_m in (5.0, 60.0, 400.0):
            hill = hill_in(dem, row, col, least_m)
            expected = of_the_whole(dem, hill)
            for cells in (3, 6, 12):
                monkeypatch.setattr(hills, "_REACH_M", cells * dem.cell_m)
                np.testing.assert_array_equal(hill_ground(dem, hill), expected)


def test_own_ground_is_read_only(make_dem: MakeDem) -> None:
    dem = rough(make_dem, 1)
    own = hill_ground(dem, summits_of(dem)[0])
    with pytest.raises(ValueError, match="read-only"):
        own[0, 0] = True


def test_windows_are_smaller_than_the_raster(
    make_dem: MakeDem, monkeypatch: pytest.MonkeyPatch
) -> None:
    dem, looked_at = rough(make_dem, 1), []
    tops_of = hills.tops_of

    def noted(heights_m, *sizes):
        looked_at.append(heights_m.shape)
        return tops_of(heights_m, *sizes)

    monkeypatch.setattr(hills, "tops_of", noted)
    monkeypatch.setattr(hills, "_REACH_M", 8 * dem.cell_m)
    summits = summits_of(dem)
    for hill in summits:
        looked_at.clear()
        hill_ground(dem, hill)
        if looked_at[-1] != dem.shape:
            return
    pytest.fail(f"of {len(summits)} hills each took the whole raster")


def test_real_hills_own_what_the_whole_raster_gives_them(jacksboro: Dem) -> None:
    for hill in summits_of(jacksboro, every=2):
        delivered = of_the_whole(jacksboro, hill)
        row, col = np.nonzero(hill_ground(jacksboro, hill))
        lon, lat = jacksboro.grid.lonlat(row, col)
        under = np.floor(np.stack(jacksboro.as_delivered.grid.rowcol(lon, lat)) + 0.5).astype(int)
        # the warp places cells to a hundredth of one
        assert (~delivered[tuple(under)]).sum() <= 0.01 * row.size
        assert row.size == pytest.approx(
            delivered.sum() * _delivered_cell_m2(jacksboro) / jacksboro.cell_m**2, rel=0.04, abs=20
        )


def _delivered_cell_m2(dem: Dem) -> float:
    width_m, depth_m = dem.as_delivered.grid.cell_sizes_m()
    return float((width_m * depth_m).mean())


@pytest.mark.slow
def test_lakeland_hills_own_what_the_whole_raster_gives_them(open_data: Path) -> None:
    dem = read_dem(open_data / "lakeland_50m.tif")
    for hill in summits_of(dem, every=40):
        np.testing.assert_array_equal(hill_ground(dem, hill), of_the_whole(dem, hill))


def test_what_lies_beyond_a_window_can_change_whose_a_shoulder_is(
    make_dem: MakeDem, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Ground on which a window that is believed too soon gives a hill what is not its own."""
    rng = np.random.default_rng(3)
    dem = make_dem(ndimage.gaussian_filter(rng.normal(0, 900, (40, 50)), 1.0))
    monkeypatch.setattr(hills, "_REACH_M", 6 * dem.cell_m)
    for row in range(4, 40, 4):
        for col in range(4, 50, 4):
            for least_m in (60.0, 300.0, 700.0):
                hill = hill_in(dem, row, col, least_m)
                np.testing.assert_array_equal(hill_ground(dem, hill), of_the_whole(dem, hill))
