"""A rising mist against one look at each of its levels."""

from __future__ import annotations

from collections.abc import Callable

import geopandas as gpd
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain.errors import NoAnswer, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.ground.relief.summits import find_summits
from terrain.mist.flood import flood_levels
from terrain.mist.islands import cells_of, islands, label_islands, strait_between
from terrain.mist.level import level_mist
from terrain.mist.mist import Mist
from terrain.mist.sweep import mist_sweep, placed_islands

MakeDem = Callable[..., Dem]

CELL_M = 25.0
# a step of height that no two tops are joined across without it being told
STEP_M = 20.0


def ridge(*heights_m: float) -> np.ndarray:
    """Peaks and cols along one row, an outlet all round at 0."""
    ground = np.zeros((5, len(heights_m) + 2))
    ground[2, 1:-1] = heights_m
    return ground


def named(summits: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    return summits.assign(name=[f"{height:.0f}" for height in summits.height_m])


def test_levels_of_three_hills_on_a_ridge(make_dem: MakeDem) -> None:
    dem = make_dem(ridge(200, 600, 350, 500, 420, 450, 100), cell_m=CELL_M)
    summits = named(find_summits(dem, min_prominence_m=20))
    sweep = mist_sweep(dem, summits, [300.0, 400.0, 430.0, 520.0])
    fates = sweep.summits.set_index("name")
    assert fates.drowns_m.tolist() == [600.0, 500.0, 450.0]
    # 500 joins 600 at 350 and has 450 on its island up to 420
    assert fates.own_from_m.tolist() == [0.0, 350.0, 420.0]
    assert fates.alone_from_m.tolist() == [350.0, 420.0, 420.0]
    assert fates.ringed_from_m.tolist() == [0.0, 0.0, 0.0]
    assert fates.joins.tolist() == [None, summits.index[0], summits.index[1]]
    shared = sweep.shared.to_numpy()
    assert shared.tolist() == [[600, 350, 350], [350, 500, 420], [350, 420, 450]]
    on = sweep.islands.set_index(["top_m", "name"])
    assert on.summits_on_island[300.0].tolist() == [3, 3, 3]
    assert on.summits_on_island[400.0].tolist() == [1, 2, 2]
    assert on.island[400.0].tolist() == [summits.index[0], summits.index[1], summits.index[1]]
    assert on.loc[520.0].index.tolist() == ["600"]
    assert on.freeboard_m[430.0].tolist() == [170.0, 70.0, 20.0]
    cell_km2 = CELL_M**2 / 1e6
    assert on.island_area_km2[400.0].tolist() == pytest.approx(
        [cell_km2, 3 * cell_km2, 3 * cell_km2]
    )


@settings(max_examples=20, deadline=None)
@given(heights=st.permutations(range(48)), seed=st.none() | st.integers(0, 47))
def test_every_level_agrees_with_labelled_islands(
    make_dem: MakeDem, heights: list[int], seed: int | None
) -> None:
    dem = make_dem(STEP_M * np.array(heights, dtype=float).reshape(6, 8), cell_m=CELL_M)
    summits = named(find_summits(dem, min_prominence_m=STEP_M))
    if summits.empty:
        return
    seeds = None if seed is None else [spot_in(dem, *divmod(seed, 8))]
    levels = flood_levels(dem, seeds=seeds)
    tops = STEP_M * np.arange(0.5, 48, 4)
    sweep = mist_sweep(dem, summits, tops, seeds=seeds)
    row, col, _ = cells_of(dem, sweep.summits)
    edge = np.ones(dem.shape, dtype=bool)
    edge[1:-1, 1:-1] = False
    for top in tops[tops > np.nanmin(levels)]:
        covers = levels < top
        rows = sweep.islands[sweep.islands.top_m == top].set_index("summit")
        number = _numbers(dem, covers)
        for at, summit in enumerate(sweep.summits.itertuples()):
            stands = number[row[at], col[at]] > 0 and summit.height_m > top
            assert (summit.Index in rows.index) == stands
            if not stands:
                continue
            own = number == number[row[at], col[at]]
            # one in a hollow that this mist does not reach is dry, but stands out of nothing
            stand_out = own[row, col] & (sweep.summits["height_m"].to_numpy() > top)
            with_it = np.flatnonzero(stand_out).tolist()
            seen = rows.loc[summit.Index]
            assert seen.island_area_km2 == pytest.approx(own.sum() * CELL_M**2 / 1e6)
            assert seen.summits_on_island == len(with_it)
            assert seen.island == sweep.summits.index[min(with_it)]
            assert seen.ringed == (not np.any(own & edge))
            assert (top > summit.alone_from_m) == (len(with_it) == 1)
            highest = levels_max(dem, own) == summit.height_m
            assert (top > summit.own_from_m) == highest


def test_islands_lie_where_their_summits_do_and_so_far_from_a_spot(make_dem: MakeDem) -> None:
    dem = make_dem(ridge(200, 600, 350, 500, 420, 450, 100), cell_m=CELL_M)
    summits = named(find_summits(dem, min_prominence_m=20))
    sweep = mist_sweep(dem, summits, [300.0, 400.0, 550.0])
    bare = placed_islands(sweep)
    assert "from_spot_m" not in bare
    assert bare["island_of"].tolist() == sweep.islands["island"].tolist()
    for row in bare.itertuples():
        assert row.geometry.equals(summits.geometry[row.summit])
    # on the second hill, which the highest of these mists drowns
    spot = spot_in(dem, 2, 4)
    rows = placed_islands(sweep, spot)
    for row in rows.itertuples():
        if row.top_m == 550.0:
            assert np.isnan(row.from_spot_m)
            continue
        mist = sweep.mist(row.top_m)
        strait = strait_between(
            dem, mist, spot, Spot(lon_deg=row.geometry.x, lat_deg=row.geometry.y)
        )
        assert row.from_spot_m == pytest.approx(strait)


def levels_max(dem: Dem, own: np.ndarray) -> float:
    return float(dem.heights_m[own].max())


def _numbers(dem: Dem, covers: np.ndarray) -> np.ndarray:
    if not covers.any():
        return np.ones(dem.shape, dtype=np.int32)
    return label_islands(dem, Mist(np.where(covers, 1e4, np.nan), dem.grid))


def spot_in(dem: Dem, row: float, col: float) -> Spot:
    lon, lat = dem.grid.lonlat(row, col)
    return Spot(lon_deg=float(lon), lat_deg=float(lat))


def test_a_sweep_agrees_with_islands_on_real_ground(jacksboro: Dem) -> None:
    summits = find_summits(jacksboro, min_prominence_m=40)
    sweep = mist_sweep(jacksboro, summits, [350.0, 500.0, 650.0])
    for top in sweep.tops_m:
        one = islands(jacksboro, sweep.mist(top), summits)
        many = sweep.islands[sweep.islands.top_m == top].set_index("summit").loc[one.index]
        assert len(one) == np.count_nonzero(sweep.islands.top_m == top)
        np.testing.assert_allclose(many.island_area_km2, one.island_area_km2)
        np.testing.assert_array_equal(many.summits_on_island, one.summits_on_island)
        np.testing.assert_array_equal(many.ringed, ~one.touches_edge)
        np.testing.assert_allclose(many.freeboard_m, one.freeboard_m)


def test_a_summit_walled_in_never_meets_the_mist(make_dem: MakeDem) -> None:
    ground = np.zeros((9, 9))
    ground[2:7, 2:7] = np.nan
    ground[3:6, 3:6] = 50.0
    ground[4, 4] = 90.0
    dem = make_dem(ground)
    summits = named(find_summits(dem, min_prominence_m=1))
    sweep = mist_sweep(dem, summits, [60.0], seeds=[spot_in(dem, 0, 0)])
    fate = sweep.summits[sweep.summits.name == "90"].iloc[0]
    assert np.isinf(fate.drowns_m)
    assert sweep.islands.island_area_km2.tolist() == pytest.approx([9 * 50.0**2 / 1e6])


def test_width_of_the_mist_between_two_places(make_dem: MakeDem) -> None:
    ground = np.full((30, 60), 300.0)
    ground[5:25, 5:20] = ground[5:25, 24:50] = 400.0
    dem = make_dem(ground, cell_m=CELL_M)
    mist = level_mist(dem, 350.0)
    here, there, same = spot_in(dem, 6, 6), spot_in(dem, 20, 40), spot_in(dem, 20, 8)
    assert strait_between(dem, mist, here, there) == pytest.approx(4 * CELL_M)
    assert strait_between(dem, mist, there, here) == pytest.approx(4 * CELL_M)
    assert strait_between(dem, mist, here, same) == 0.0
    with pytest.raises(NoAnswer, match="300 m, lies under the mist with its top at 350 m"):
        strait_between(dem, mist, here, spot_in(dem, 15, 22))


def test_tops_and_summits_that_are_none(make_dem: MakeDem) -> None:
    dem = make_dem(ridge(200, 600, 350), cell_m=CELL_M)
    summits = named(find_summits(dem, min_prominence_m=20))
    for tops in ([], [float("nan")]):
        with pytest.raises(TerrainError, match="a sweep needs heights"):
            mist_sweep(dem, summits, tops)
    with pytest.raises(NoAnswer, match="there is no summit here"):
        mist_sweep(dem, summits.iloc[:0], [100.0])


def test_a_summit_beyond_the_raster_has_no_fate(make_dem: MakeDem) -> None:
    dem = make_dem(ridge(200, 600, 350, 500), cell_m=CELL_M)
    summits = named(find_summits(dem, min_prominence_m=20))
    more = summits.copy()
    more.loc[len(more)] = summits.iloc[0]
    more.loc[len(more) - 1, "geometry"] = shapely.Point(-23.0, 54.4)
    expected = mist_sweep(dem, summits, [300.0]).summits
    found = mist_sweep(dem, more, [300.0]).summits
    assert found["drowns_m"].tolist() == expected["drowns_m"].tolist()
