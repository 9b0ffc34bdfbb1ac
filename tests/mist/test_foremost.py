"""Which of many passes are worth a look, and how much ground their valleys have."""

from __future__ import annotations

from collections.abc import Callable

import geopandas as gpd
import numpy as np
import pytest

from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.mist.foremost import foremost_passes
from terrain.mist.passes import passes

MakeDem = Callable[..., Dem]

CELL_M = 50.0


@pytest.fixture(scope="module")
def inland(make_dem: MakeDem) -> Dem:
    """A wall with one deep gap between two wide bowls, and low humps side by side along a coast."""
    row, col = np.mgrid[0:120, 0:120]
    bowls = 260.0 + 0.08 * ((np.abs(col - 60) - 30) ** 2 + (row - 40) ** 2)
    wall = np.where(np.abs(col - 60) < 3, 700.0 - 350.0 * np.exp(-(((row - 40) / 6.0) ** 2)), 0)
    humps = 10.0 + 60.0 * np.abs(np.sin(np.pi * col / 15.0)) * np.exp(-(((row - 105) / 5.0) ** 2))
    high = np.maximum(bowls, wall) * (row < 85)
    return make_dem(np.maximum(high, humps + 0.05 * (120 - row)), cell_m=CELL_M)


def test_of_few_not_the_lowest_but_those_that_hold_back_most(inland: Dem) -> None:
    found = passes(inland, valley_km2=0.05)
    gap = found[(found.height_m - 350.0).abs() < 5.0]
    assert len(gap) == 1
    # many lie lower, between the humps of the coast
    assert (found.height_m < 100.0).sum() >= 5
    assert foremost_passes(found, 1).index.tolist() == gap.index.tolist()
    some = foremost_passes(found, 4)
    assert len(some) == 4
    assert some.height_m.is_monotonic_increasing
    assert set(some.columns) == set(found.columns)
    # all of them: every one, as they fill
    every = foremost_passes(found, 1000)
    assert sorted(every.index) == sorted(found.index)
    assert every.height_m.is_monotonic_increasing


def test_what_pours_comes_first_however_little_it_holds(inland: Dem) -> None:
    found = passes(inland, valley_km2=0.05)
    least = foremost_passes(found, len(found)).iloc[[0]].index[0]
    found["pours"] = found.index == least
    assert foremost_passes(found, 1).index.tolist() == [least]
    assert foremost_passes(found, 3).index[0] == least


def test_a_hollow_has_at_least_its_own_ground(make_dem: MakeDem) -> None:
    """Two bowls with a gap between: each has at least its ground under the height of the gap."""
    row, col = np.mgrid[0:61, 0:121] - np.array([30, 60])[:, None, None]
    bowl = 200.0 + 0.2 * ((np.abs(col) - 30) ** 2 + row**2)
    crest = 200.0 + 0.2 * 30.0**2
    ground = np.where(bowl < crest, bowl, 800.0 - 5.0 * np.hypot(row, np.abs(col) - 30))
    # a gap in the wall between the two, on their line
    ground[30, 58:63] = crest - 20.0
    dem = make_dem(ground, cell_m=CELL_M)
    lon, lat = dem.grid.lonlat(30, 30)
    seed = Spot(lon_deg=float(lon), lat_deg=float(lat))
    one = passes(dem, min_depth_m=50, seeds=[seed]).set_index("height_m").loc[crest - 20.0]
    # a paraboloid is so wide there
    lake_km2 = np.pi * (crest - 20.0 - 200.0) / 0.2 * CELL_M**2 / 1e6
    for side in "ab":
        assert 0.97 * lake_km2 <= one[f"valley_{side}_km2"] <= ground.size * CELL_M**2 / 1e6


def test_an_empty_table_stays_one(inland: Dem) -> None:
    found = passes(inland, valley_km2=0.05).iloc[:0]
    assert isinstance(foremost_passes(found, 5), gpd.GeoDataFrame)
    assert foremost_passes(found, 5).empty
