"""Mists with a flat top: what they cover, the range of tops, and what they refuse."""

from __future__ import annotations

import pickle
from collections.abc import Callable

import numpy as np
import pytest

from terrain.errors import NoAnswer, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.mist.flood import flood_levels
from terrain.mist.level import hoped_mist, level_mist, mist_range

MakeDem = Callable[..., Dem]

CELL_M = 50.0
PASS_M = 320.0


def spot_in(dem: Dem, row: float, col: float) -> Spot:
    lon, lat = dem.grid.lonlat(row, col)
    return Spot(lon_deg=float(lon), lat_deg=float(lat))


@pytest.fixture
def two_basins(make_dem: MakeDem) -> Dem:
    """Two bowls 100 m deep, floors at 220 m, joined by a pass, high ground all round."""
    row, col = np.mgrid[0:41, 0:81] - np.array([20, 40])[:, None, None]
    away = np.abs(np.abs(col) - 20)
    ground = PASS_M - 100 + 100 * (away / 20.0) ** 2 + row**2
    return make_dem(ground, cell_m=CELL_M)


def test_mist_below_the_pass_fills_the_seeded_basin_alone(two_basins: Dem) -> None:
    seed = spot_in(two_basins, 20, 20)
    below = level_mist(two_basins, PASS_M - 1, seeds=[seed])
    above = level_mist(two_basins, PASS_M + 1, seeds=[seed])
    assert below.covers[20, 20]
    assert not below.covers[:, 40:].any()
    assert above.covers[20, 60]
    np.testing.assert_array_equal(below.covers[:, :40], two_basins.heights_m[:, :40] < PASS_M - 1)
    np.testing.assert_array_equal(above.covers, two_basins.heights_m < PASS_M + 1)


def test_levels_computed_once_serve_every_top(two_basins: Dem) -> None:
    levels = flood_levels(two_basins)
    for top in (250.0, 319.5, 400.0):
        np.testing.assert_array_equal(
            level_mist(two_basins, top, levels=levels).top_m, level_mist(two_basins, top).top_m
        )
    with pytest.raises(ValueError, match="flood levels of shape"):
        level_mist(two_basins, 300, levels=levels[1:])


def test_a_raised_mist_keeps_its_sources(two_basins: Dem) -> None:
    seed = spot_in(two_basins, 20, 20)
    below = level_mist(two_basins, PASS_M - 1, seeds=[seed])
    for by_m in (-20.0, 0.0, 0.5, 2.0):
        np.testing.assert_array_equal(
            below.raised(two_basins, by_m).top_m,
            level_mist(two_basins, PASS_M - 1 + by_m, seeds=[seed]).top_m,
        )
    assert below.raised(two_basins, 3.0).raised(two_basins, -3.0).label == below.label
    with pytest.raises(NoAnswer, match="at 219 m covers no ground"):
        below.raised(two_basins, -100.0)
    with pytest.raises(NoAnswer, match="covers all ground"):
        below.raised(two_basins, 1000.0)


def test_a_top_under_or_over_all_ground_has_no_answer(make_dem: MakeDem) -> None:
    dem = make_dem([[35, 850], [np.nan, 400]])
    with pytest.raises(NoAnswer) as under:
        level_mist(dem, 20)
    assert str(under.value) == (
        "mist with its top at 20 m covers no ground: the lowest ground here is 35 m"
    )
    with pytest.raises(NoAnswer) as over:
        level_mist(dem, 900.25)
    assert str(over.value) == (
        "mist with its top at 900.2 m covers all ground: the highest is 850 m"
    )
    with pytest.raises(NoAnswer, match="lowest of its sources is at 400 m"):
        level_mist(dem, 300, seeds=[spot_in(dem, 1, 1)])
    for top in (float("nan"), float("inf")):
        with pytest.raises(TerrainError, match="must be a height in metres"):
            level_mist(dem, top)


def test_tops_in_any_order_once_each_and_the_middle_hoped_for(two_basins: Dem) -> None:
    tops = mist_range(two_basins, [300, 250, 275, 250])
    assert tops.tops_m == (250.0, 275.0, 300.0)
    assert tops.hoped_m == 275.0
    assert tops.label == "250 to 300 m"
    assert mist_range(two_basins, [250, 300]).hoped_m == 250.0
    assert mist_range(two_basins, [250, 300], hoped_m=260).tops_m == (250.0, 260.0, 300.0)
    assert np.array_equal(tops.mist(275).covers, level_mist(two_basins, 275.0).covers)
    levels = np.array(tops.levels_m)
    kept = mist_range(two_basins, [250], levels=levels)
    levels[:] = 0.0  # the caller's own array stays the caller's
    assert np.array_equal(kept.levels_m, tops.levels_m)


@pytest.mark.parametrize(
    ("tops", "hoped", "error", "message"),
    [
        ([], None, TerrainError, r"heights in metres, got \[\]"),
        ([250.0, np.nan], None, TerrainError, "heights in metres, got"),
        ([250.0, 300.0], 350.0, TerrainError, "hoped for, 350 m, is not within .* 250 to 300 m"),
        ([250.0, 300.0], np.nan, TerrainError, "hoped for, nan m, is not within"),
        ([10.0, 300.0], None, NoAnswer, "at 10 m covers no ground"),
        ([250.0, 900.0], None, NoAnswer, "at 900 m covers all ground"),
    ],
)
def test_tops_that_make_no_sense(two_basins: Dem, tops, hoped, error, message) -> None:
    with pytest.raises(error, match=message):
        mist_range(two_basins, tops, hoped_m=hoped)


def test_of_every_kind_of_mist_there_is_one_hoped_for(two_basins: Dem) -> None:
    tops = mist_range(two_basins, [250, 300], hoped_m=275.7)
    alone = level_mist(two_basins, 275.7)
    hoped = hoped_mist(tops)
    assert hoped is tops.hoped
    assert hoped is not None
    np.testing.assert_array_equal(hoped.top_m, alone.top_m)
    assert hoped_mist(alone) is alone
    assert hoped_mist(None) is None
    assert tops.stated_top_m == alone.stated_top_m == 275.7


def test_a_range_comes_out_of_a_pickle_as_it_went_in(two_basins: Dem) -> None:
    tops = mist_range(two_basins, [250, 300])
    back = pickle.loads(pickle.dumps(tops))
    assert (back.tops_m, back.hoped_m) == (tops.tops_m, tops.hoped_m)
    np.testing.assert_array_equal(back.mist(300).top_m, tops.mist(300).top_m)
    with pytest.raises(ValueError, match="read-only"):
        back.levels_m[0, 0] = 5
