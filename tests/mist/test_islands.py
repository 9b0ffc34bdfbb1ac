"""Islands against cones, whose area, shore and straits are known exactly."""

from __future__ import annotations

from collections.abc import Callable

import geopandas as gpd
import numpy as np
import pytest
from numpy.typing import NDArray

from terrain.errors import NoAnswer
from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.mist.islands import islands, label_islands, strait_between, straits_from
from terrain.mist.level import level_mist
from terrain.mist.mist import Mist

MakeDem = Callable[..., Dem]
Cone = tuple[float, float, float, float]

CELL_M = 25.0
# a cone: row and column of its top, height of its top in metres, slope as rise over run
BIG: Cone = (80.0, 60.0, 500.0, 0.25)
SMALL: Cone = (80.0, 140.0, 430.0, 0.40)


def cones(shape: tuple[int, int], *tops: Cone) -> NDArray[np.float64]:
    row, col = np.mgrid[0 : shape[0], 0 : shape[1]]
    ground = np.zeros(shape)
    for top_row, top_col, height_m, slope in tops:
        run_m = CELL_M * np.hypot(row - top_row, col - top_col)
        ground = np.maximum(ground, height_m - slope * run_m)
    return ground


def summits_of(dem: Dem, *tops: Cone) -> gpd.GeoDataFrame:
    lon, lat = dem.grid.lonlat([top[0] for top in tops], [top[1] for top in tops])
    heights = [top[2] for top in tops]
    return gpd.GeoDataFrame(
        {
            "name": [f"top {number}" for number in range(len(tops))],
            "height_m": heights,
            "prominence_m": heights,
        },
        geometry=gpd.points_from_xy(lon, lat),
        crs="EPSG:4326",
    )


def radius_m(cone: Cone, top_m: float) -> float:
    return (cone[2] - top_m) / cone[3]


@pytest.fixture
def two_cones(make_dem: MakeDem) -> Dem:
    return make_dem(cones((161, 201), BIG, SMALL), cell_m=CELL_M)


def test_cone_islands_have_their_exact_area_shore_and_strait(two_cones: Dem) -> None:
    top_m = 300.0
    found = islands(two_cones, level_mist(two_cones, top_m), summits_of(two_cones, BIG, SMALL))
    assert found.name.tolist() == ["top 0", "top 1"]
    assert found.freeboard_m.tolist() == [200.0, 130.0]
    assert found.island.tolist() == [1, 2]
    assert found.summits_on_island.tolist() == [1, 1]
    assert not found.touches_edge.any()
    assert found.crs == "EPSG:4326"
    for cone, row in zip((BIG, SMALL), found.itertuples(), strict=True):
        assert row.island_area_km2 == pytest.approx(
            np.pi * radius_m(cone, top_m) ** 2 / 1e6, rel=0.01
        )
        # on a cone the shore is the run over which the ground rises by the band
        assert row.shore_width_m == pytest.approx(10.0 / cone[3], rel=0.02)
    between_tops_m = CELL_M * (SMALL[1] - BIG[1])
    strait_m = between_tops_m - radius_m(BIG, top_m) - radius_m(SMALL, top_m)
    assert found.strait_m.tolist() == pytest.approx([strait_m, strait_m], abs=CELL_M)


@pytest.mark.parametrize("slope", [0.02, 0.1, 0.3, 1.0])
@pytest.mark.parametrize("shift", [0.0, 0.37])
def test_shore_width_holds_from_gentle_to_steep(
    make_dem: MakeDem, slope: float, shift: float
) -> None:
    # 1.0: the whole shore is narrower than half a cell; 0.02: it is twenty cells wide
    cone = (80 + shift, 80 - shift, 1000 * slope + 300, slope)
    dem = make_dem(cones((161, 161), cone), cell_m=CELL_M)
    found = islands(dem, level_mist(dem, 300.0), summits_of(dem, cone))
    assert found.shore_width_m.item() == pytest.approx(10.0 / slope, rel=0.04)


def test_the_shore_of_an_island_lower_than_the_band_ends_at_its_top(make_dem: MakeDem) -> None:
    low: Cone = (80.0, 80.0, 304.0, 0.01)
    dem = make_dem(cones((161, 161), low), cell_m=CELL_M)
    found = islands(dem, level_mist(dem, 300.0), summits_of(dem, low))
    assert found.shore_width_m.item() == pytest.approx(4.0 / 0.01, rel=0.04)


def test_cliffs_count_as_shoreline_but_hardly_as_shore(make_dem: MakeDem) -> None:
    ground = np.zeros((80, 120))
    ground[20:60, 20:100] = 300 + CELL_M * 0.05 * np.arange(80)
    dem = make_dem(ground, cell_m=CELL_M)
    found = islands(dem, level_mist(dem, 299.0), summits_of(dem, (40, 99, 398.75, 0)))
    # a table of 1000 m by 2000 m, gently tilted, cliffs all round: the band takes the lowest
    # 180 m of it, and its contours run round what is higher, 1000 m by 1900 m on average
    mean_contour_m = 2 * (1000 + 1900)
    # the cells along a cliff's edge, an eighth of this shore, are taken for part of the cliff
    assert found.shore_width_m.item() == pytest.approx(1000 * 180 / mean_contour_m, rel=0.2)
    assert found.island_area_km2.item() == pytest.approx(2.0)


def test_two_tops_joined_above_the_mist_share_an_island(two_cones: Dem) -> None:
    found = islands(two_cones, level_mist(two_cones, 20.0), summits_of(two_cones, BIG, SMALL))
    assert found.island.tolist() == [1, 1]
    assert found.summits_on_island.tolist() == [2, 2]
    assert found.touches_edge.all()
    assert found.strait_m.isna().all()


def test_a_strait_between_cliffs_is_as_wide_as_its_mist(make_dem: MakeDem) -> None:
    ground = np.full((30, 60), 300.0)
    ground[5:25, 5:20] = ground[5:25, 24:50] = 400.0
    dem = make_dem(ground, cell_m=CELL_M)
    found = islands(dem, level_mist(dem, 350.0), summits_of(dem, (9, 9, 400, 0), (9, 30, 400, 0)))
    assert found.strait_m.tolist() == [4 * CELL_M, 4 * CELL_M]
    assert found.island.tolist() == [2, 1]


def test_small_islands_do_not_end_a_strait(make_dem: MakeDem) -> None:
    rock: Cone = (80.0, 100.0, 320.0, 0.5)
    dem = make_dem(cones((161, 201), BIG, SMALL, rock), cell_m=CELL_M)
    mist, summits = level_mist(dem, 300.0), summits_of(dem, BIG, SMALL, rock)
    to_rock = islands(dem, mist, summits, min_island_km2=0.001)
    past_rock = islands(dem, mist, summits, min_island_km2=0.1)
    assert to_rock.strait_m.tolist() == pytest.approx([160.0, 635.0, 160.0], abs=CELL_M)
    assert past_rock.strait_m.tolist() == pytest.approx([875.0, 875.0, 160.0], abs=CELL_M)


def test_unknown_ground_is_neither_island_nor_mist_but_bounds_the_area(two_cones: Dem) -> None:
    heights = two_cones.heights_m.copy()
    heights[80, 80] = np.nan
    dem = Dem(heights, two_cones.grid)
    mist = level_mist(dem, 300.0)
    assert label_islands(dem, mist)[80, 80] == 0
    assert not mist.covers[80, 80]
    found = islands(dem, mist, summits_of(dem, BIG, SMALL))
    assert found.touches_edge.tolist() == [True, False]
    assert found.shore_width_m.notna().all()


def test_dry_ground_lower_than_the_top_is_not_above_the_mist(make_dem: MakeDem) -> None:
    hollow: Cone = (80.0, 140.0, 250.0, 0.1)
    ground = cones((161, 201), BIG, hollow)
    ground[40:121, [100, 180]] = ground[[40, 120], 100:181] = 400.0
    dem = make_dem(ground, cell_m=CELL_M)
    lon, lat = dem.grid.lonlat(5, 5)
    mist = level_mist(dem, 300.0, seeds=[Spot(lon_deg=float(lon), lat_deg=float(lat))])
    assert not mist.covers[80, 140]
    assert islands(dem, mist, summits_of(dem, BIG, hollow)).name.tolist() == ["top 0"]


def test_freeboard_over_a_sloping_mist_is_from_the_mist_nearest_by(two_cones: Dem) -> None:
    top = np.where(np.arange(201) < 100, 300.0, 200.0) * np.ones((161, 1))
    mist = Mist(np.where(two_cones.heights_m < top, top, np.nan), two_cones.grid)
    found = islands(two_cones, mist, summits_of(two_cones, BIG, SMALL))
    assert found.freeboard_m.tolist() == [200.0, 230.0]
    assert found.shore_width_m.iloc[0] == pytest.approx(10.0 / BIG[3], rel=0.03)


def test_an_index_of_ones_own_is_kept_and_summits_elsewhere_left_out(two_cones: Dem) -> None:
    summits = summits_of(two_cones, SMALL, (-50.0, 60.0, 900.0, 1.0), BIG)
    summits.index = [7, 8, 9]
    found = islands(two_cones, level_mist(two_cones, 300.0), summits)
    assert found.index.tolist() == [7, 9]
    assert found.island.tolist() == [2, 1]


def test_no_summit_above_the_mist_is_told_in_one_line(two_cones: Dem) -> None:
    mist = level_mist(two_cones, 450.0)
    with pytest.raises(NoAnswer) as none:
        islands(two_cones, mist, summits_of(two_cones, SMALL))
    assert str(none.value) == (
        "no summit stands above the mist with its top at 450 m: "
        "the highest is top 0, 430 m; try a lower top"
    )
    with pytest.raises(NoAnswer, match="there is no summit here"):
        islands(two_cones, mist, summits_of(two_cones, SMALL).iloc[:0])


def test_islands_are_numbered_from_the_largest(two_cones: Dem) -> None:
    labels = label_islands(two_cones, level_mist(two_cones, 300.0))
    assert labels[80, 60] == 1
    assert labels[80, 140] == 2
    assert np.count_nonzero(labels == 1) > np.count_nonzero(labels == 2)
    assert labels[0, 0] == 0


def test_straits_from_a_place_are_those_between_it_and_each_summit(two_cones: Dem) -> None:
    summits = summits_of(two_cones, BIG, SMALL)
    top_m = 350.0
    mist = level_mist(two_cones, top_m)
    lon, lat = two_cones.grid.lonlat(80.0, 61.0)
    on_big = Spot(lon_deg=float(lon), lat_deg=float(lat))
    gap_m = CELL_M * 80.0 - radius_m(BIG, top_m) - radius_m(SMALL, top_m)
    straits = straits_from(two_cones, mist, on_big, summits)
    assert straits[0] == 0.0
    assert straits[1] == pytest.approx(gap_m, abs=CELL_M)
    point = summits.geometry.iloc[1]
    on_small = Spot(lon_deg=point.x, lat_deg=point.y)
    assert straits[1] == strait_between(two_cones, mist, on_big, on_small)
    drowned = straits_from(two_cones, level_mist(two_cones, 450.0), on_big, summits)
    assert drowned[0] == 0.0
    assert np.isnan(drowned[1])
    with pytest.raises(NoAnswer, match="lies under the mist"):
        straits_from(two_cones, level_mist(two_cones, 450.0), on_small, summits)
