"""A mist: where it lies, how deep, what surface it makes, and how it rises."""

from __future__ import annotations

import pickle
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from numpy.typing import NDArray

from terrain.errors import NoAnswer, NoGround
from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.mist.level import level_mist
from terrain.mist.mist import Mist

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


GROUND = hnp.arrays(
    np.float32,
    hnp.array_shapes(min_dims=2, max_dims=2, min_side=2, max_side=8),
    elements=st.integers(-2, 20).map(lambda h: h if h >= 0 else np.nan),
)


@settings(max_examples=60, deadline=None)
@given(ground=GROUND, low=st.floats(0, 21), rise=st.floats(0, 5))
def test_a_higher_top_only_adds_mist_and_the_surface_is_the_higher_of_the_two(
    make_dem: MakeDem, ground: NDArray[np.float32], low: float, rise: float
) -> None:
    dem = make_dem(ground)
    try:
        lower, higher = level_mist(dem, low), level_mist(dem, low + rise)
    except (NoAnswer, NoGround):
        return
    assert np.all(higher.covers | ~lower.covers)
    lifted = lower.surface(dem).heights_m
    np.testing.assert_array_equal(lifted[lower.covers], np.float32(low))
    np.testing.assert_array_equal(lifted[~lower.covers], ground[~lower.covers])
    np.testing.assert_array_equal(np.isnan(lower.depth(dem)), ~lower.covers)
    np.testing.assert_allclose(
        (ground + lower.depth(dem))[lower.covers], lifted[lower.covers], atol=1e-4
    )


def test_top_and_depth_at_a_place(two_basins: Dem) -> None:
    mist = level_mist(two_basins, 300.0)
    deep, clear = spot_in(two_basins, 20.4, 20), spot_in(two_basins, 2, 40)
    ground = two_basins.height_at(deep.lon_deg, deep.lat_deg)
    assert mist.depth_at(two_basins, deep) == pytest.approx(300.0 - ground)
    assert float(mist.top_at(deep.lon_deg, deep.lat_deg)) == 300.0
    assert np.isnan(mist.depth_at(two_basins, clear))
    tops = mist.top_at([deep.lon_deg, clear.lon_deg, 10.0], [deep.lat_deg, clear.lat_deg, 10.0])
    np.testing.assert_array_equal(tops, [300.0, np.nan, np.nan])
    with pytest.raises(NoGround):
        mist.depth_at(two_basins, Spot(lon_deg=10, lat_deg=10))


def test_ground_out_of_the_mist_beside_a_shore_is_clear(make_dem: MakeDem) -> None:
    dem = make_dem([[0, 100], [0, 100]])
    mist = level_mist(dem, 50.0)
    wet, dry = spot_in(dem, 0, 0.4), spot_in(dem, 0, 0.6)
    assert mist.depth_at(dem, wet) == pytest.approx(10.0, abs=1e-3)
    assert float(mist.top_at(dry.lon_deg, dry.lat_deg)) == 50.0
    assert np.isnan(mist.depth_at(dem, dry))


def test_top_between_cells_of_a_sloping_mist_is_bilinear(make_dem: MakeDem) -> None:
    dem = make_dem(np.zeros((3, 3)))
    mist = Mist(np.array([[10, 20, np.nan], [10, 20, np.nan], [10, 20, np.nan]]), dem.grid)
    beyond_shore = spot_in(dem, 1, 1.6)
    between = spot_in(dem, 0.5, 0.25)
    assert float(mist.top_at(between.lon_deg, between.lat_deg)) == pytest.approx(12.5, abs=1e-4)
    assert float(mist.top_at(beyond_shore.lon_deg, beyond_shore.lat_deg)) == 20.0
    assert mist.label == "10 to 20 m"


def test_a_mist_cannot_be_changed_and_changes_nothing(two_basins: Dem) -> None:
    own = np.full(two_basins.shape, 300.0, dtype=np.float32)
    mist = Mist(own, two_basins.grid)
    own[0, 0] = 5
    assert mist.top_m[0, 0] == 300
    with pytest.raises(ValueError, match="read-only"):
        mist.top_m[0, 0] = 5
    with pytest.raises(ValueError, match="read-only"):
        mist.covers[0, 0] = False
    with pytest.raises(ValueError, match="no top anywhere"):
        Mist(np.full(two_basins.shape, np.nan), two_basins.grid)
    with pytest.raises(ValueError, match="another grid"):
        mist.surface(Dem(two_basins.heights_m[:-1], two_basins.grid.window(0, 0, (40, 81))))


def test_a_mist_comes_out_of_a_pickle_as_it_went_in(two_basins: Dem) -> None:
    mist = pickle.loads(pickle.dumps(level_mist(two_basins, 250.0)))
    np.testing.assert_array_equal(mist.top_m, level_mist(two_basins, 250.0).top_m)
    np.testing.assert_array_equal(
        mist.raised(two_basins, 75.0).top_m, level_mist(two_basins, 325.0).top_m
    )
    with pytest.raises(ValueError, match="read-only"):
        mist.top_m[0, 0] = 5


def test_a_mist_of_bare_heights_or_on_other_ground_cannot_rise(two_basins: Dem) -> None:
    bare = Mist(np.full(two_basins.shape, 300.0), two_basins.grid)
    with pytest.raises(ValueError, match="bare heights"):
        bare.raised(two_basins, 1.0)
    other = Dem(two_basins.heights_m[:-1], two_basins.grid.window(0, 0, (40, 81)))
    with pytest.raises(ValueError, match="another grid"):
        level_mist(two_basins, 300.0).raised(other, 1.0)


def test_the_one_height_for_files_is_as_it_was_given(two_basins: Dem) -> None:
    assert level_mist(two_basins, 300.7).stated_top_m == 300.7
    sloping = np.where(two_basins.heights_m < 300, two_basins.heights_m + 0.125, np.nan)
    mist = Mist(sloping, two_basins.grid)
    assert mist.stated_top_m == float(np.nanmax(mist.top_m))


def test_the_highest_is_that_of_the_lid_too(make_dem: MakeDem) -> None:
    ground = np.tile(np.arange(0.0, 90.0, 10.0), (5, 1))
    top = np.where(ground < 50.0, 55.0 + 0.1 * ground, np.nan)
    for mist in (Mist(top, make_dem(ground).grid), level_mist(make_dem(ground), 45.0)):
        assert mist.highest_m == np.nanmax(mist.lid_m)
