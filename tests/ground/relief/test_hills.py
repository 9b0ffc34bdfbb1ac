"""Whose ground it is."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from terrain.errors import NoGround
from terrain.ground.dem import Dem
from terrain.ground.places import Hill
from terrain.ground.relief.hills import hill_ground, hill_labels
from terrain.ground.relief.summits import find_summits, hill_at
from terrain.ground.relief.tops import find_tops
from tests.conftest import MakeDem
from tests.ground import twins
from tests.ground.relief.test_summits import ridge, two_cones


def hill_in(dem: Dem, row: int, col: int, min_prominence_m: float = 30.0) -> Hill:
    lon, lat = (float(place) for place in dem.grid.lonlat(row, col))
    height = float(dem.heights_m[row, col])
    return Hill(lon_deg=lon, lat_deg=lat, height_m=height, min_prominence_m=min_prominence_m)


def rough(make_dem: MakeDem, seed: int, void: bool = False) -> Dem:
    """Smooth random ground in which no two cells are equal."""
    rng = np.random.default_rng(seed)
    heights = ndimage.gaussian_filter(rng.normal(0, 900, (40, 50)), 2.0)
    if void:
        heights[10:14, 20:29] = np.nan
    assert np.unique(heights.astype(np.float32)).size >= heights.size - np.isnan(heights).sum()
    return make_dem(heights)


def slow_owner(dem: Dem, min_prominence_m: float) -> dict[tuple[int, int], tuple[int, int]]:
    """The top that owns the ground of each top, by the definition, level by level."""
    heights = dem.heights_m.astype(float)
    shape = heights.shape
    tops = [np.unravel_index(min(top), shape) for top in twins.flat_tops(heights)]
    levels = np.unique(heights[~np.isnan(heights)])[::-1]
    beyond = {top: _slow_beyond(heights, top, levels, min_prominence_m) for top in tops}

    def owner(top: tuple[int, int]) -> tuple[int, int]:
        return top if beyond[top] is None else owner(beyond[top])

    return {top: owner(top) for top in tops}


def _slow_beyond(
    heights: np.ndarray, top: tuple[int, int], levels: np.ndarray, min_prominence_m: float
) -> tuple[int, int] | None:
    """The top beyond the col of a top of little prominence; None for one of enough or no col."""
    above = None
    for level in levels[levels <= heights[top]]:
        islands = twins.islands_above(heights, level)
        island = islands == islands[top]
        if heights[island].max() > heights[top]:
            if heights[top] - level >= min_prominence_m:
                return None
            (col,) = np.argwhere(heights == level)
            beside = np.zeros(heights.shape, dtype=bool)
            beside[max(col[0] - 1, 0) : col[0] + 2, max(col[1] - 1, 0) : col[1] + 2] = True
            # the far side: neighbours of the col on the island of the highest top there
            numbers = [n for n in np.unique(above[beside]) if n]
            highest = max(numbers, key=lambda n: np.max(heights[above == n]))
            far = np.where(beside & (above == highest), heights, -np.inf)
            start = np.unravel_index(int(far.argmax()), heights.shape)
            return twins.steepest_top(heights, start, 50.0)
        above = islands
    return None


@pytest.mark.parametrize(("seed", "void"), [(1, False), (2, False), (3, True), (4, True)])
def test_every_cell_belongs_as_the_slow_twin_says(make_dem: MakeDem, seed: int, void: bool) -> None:
    dem = rough(make_dem, seed, void)
    owner = slow_owner(dem, 60.0)
    assert len(set(owner.values())) < len(owner)
    tops = find_tops(dem)
    for top, its_owner in owner.items():
        ground = hill_ground(dem, hill_in(dem, *its_owner, 60.0))
        assert ground[top]
    own_top = {
        cell: twins.steepest_top(dem.heights_m, cell, 50.0) for cell in np.ndindex(dem.shape)
    }
    for top in set(owner.values()):
        ground = hill_ground(dem, hill_in(dem, *top, 60.0))
        expected = np.zeros(dem.shape, dtype=bool)
        for cell, ascent in own_top.items():
            expected[cell] = not np.isnan(dem.heights_m[cell]) and owner[ascent] == top
        np.testing.assert_array_equal(ground, expected)
    assert tops.cell.size == len(owner)


def test_labels_are_the_grounds_of_all_summits(make_dem: MakeDem) -> None:
    dem = rough(make_dem, 5, void=True)
    summits = find_summits(dem, min_prominence_m=60)
    labels = hill_labels(dem, summits)
    assert labels.dtype == np.int32
    for row, (lon, lat) in enumerate(zip(summits.geometry.x, summits.geometry.y, strict=True)):
        hill = Hill(lon_deg=lon, lat_deg=lat, height_m=0.0, min_prominence_m=60)
        np.testing.assert_array_equal(labels == row + 1, hill_ground(dem, hill))
    assert not labels[np.isnan(dem.heights_m)].any()
    # with a summit taken off the list its ground is nobody's, not its neighbours'
    fewer = hill_labels(dem, summits.iloc[1:])
    np.testing.assert_array_equal(fewer == 0, (labels == 0) | (labels == 1))


def test_two_cones_share_the_ground_where_they_meet(make_dem: MakeDem) -> None:
    dem = two_cones(make_dem)
    row, col = np.indices(dem.shape)
    east, south = 50.0 * (col - 160), 50.0 * (row - 120)
    high = 800 - np.hypot(east + 2000, south) / 5
    low = 600 - np.hypot(east - 2000, south) / 5
    labels = hill_labels(dem, find_summits(dem))
    on_high, on_low = (high > low + 20) & (high > 100), (low > high + 20) & (low > 100)
    assert (labels[on_high] == 1).all()
    assert (labels[on_low] == 2).all()
    # the plain is shared out as well, to the nearer slope
    assert (labels > 0).all()
    assert labels[120, 0] == 1
    assert labels[120, 320] == 2


def test_a_top_below_the_limit_still_owns_its_ground_if_asked_for(make_dem: MakeDem) -> None:
    dem = make_dem(ridge(0, 90, 60, 70, 10, 0))
    whole = hill_ground(dem, hill_in(dem, 2, 1))
    assert whole.all()
    own = hill_ground(dem, hill_in(dem, 2, 3))
    assert own[2, 3]
    assert own[2, 4]
    assert not own[2, 1]
    # it is a hill like others where less prominence is asked for
    high = hill_ground(dem, hill_in(dem, 2, 1, min_prominence_m=5))
    np.testing.assert_array_equal(high, ~own)


def test_a_place_on_a_slope_stands_for_its_hill(make_dem: MakeDem) -> None:
    dem = two_cones(make_dem)
    np.testing.assert_array_equal(
        hill_ground(dem, hill_in(dem, 110, 190)), hill_ground(dem, hill_in(dem, 120, 200))
    )
    # the slope of a shoulder belongs to the hill, though its top by itself may be asked for
    dem = make_dem(ridge(0, 90, 60, 70, 65, 10, 0))
    np.testing.assert_array_equal(
        hill_ground(dem, hill_in(dem, 2, 4)), hill_ground(dem, hill_in(dem, 2, 1))
    )


def test_a_lake_is_shared_by_its_nearest_shores(make_dem: MakeDem) -> None:
    dem = make_dem(ridge(0, 80, 40, 40, 40, 40, 40, 40, 90, 0) - 1)
    labels = hill_labels(dem, find_summits(dem))
    assert labels[2].tolist() == [2, 2, 2, 2, 2, 1, 1, 1, 1, 1]


def test_a_listed_summit_owns_its_ground_whatever_the_limit(make_dem: MakeDem) -> None:
    dem = make_dem(ridge(0, 90, 60, 70, 10, 0))
    summits = find_summits(dem, min_prominence_m=5)
    labels = hill_labels(dem, summits)
    assert labels[2, 1:5].tolist() == [1, 1, 2, 2]
    summits.attrs["min_prominence_m"] = 50.0
    np.testing.assert_array_equal(hill_labels(dem, summits), labels)


def test_ground_that_no_listed_hill_owns(make_dem: MakeDem) -> None:
    # 70 may be a shoulder of something beyond the edge at 60: neither listed nor the other's
    dem = make_dem(ridge(0, 90, 20, 70, 60))
    labels = hill_labels(dem, find_summits(dem))
    assert labels[2].tolist() == [1, 1, 1, 0, 0]


def test_warped_ground_carries_the_labels_of_the_delivered(jacksboro: Dem) -> None:
    summits = find_summits(jacksboro)
    labels = hill_labels(jacksboro, summits)
    delivered = hill_labels(jacksboro.delivered, summits)
    assert labels.shape == jacksboro.shape
    known = ~np.isnan(jacksboro.heights_m)
    assert not labels[~known].any()
    row, col = np.indices(delivered.shape)
    to_row, to_col = jacksboro.grid.rowcol(*jacksboro.delivered.grid.lonlat(row, col))
    to_row, to_col = np.round(to_row).astype(int), np.round(to_col).astype(int)
    inside = (to_row >= 0) & (to_row < labels.shape[0]) & (to_col >= 0)
    inside &= to_col < labels.shape[1]
    same = labels[to_row[inside], to_col[inside]] == delivered[inside]
    assert same.mean() > 0.95
    for row_number in (0, 3, 7):
        lon, lat = summits.geometry.x[row_number], summits.geometry.y[row_number]
        hill = hill_at(jacksboro, lon, lat, snap_m=0)
        ground = hill_ground(jacksboro, hill)
        assert ground.shape == jacksboro.shape
        assert ground[jacksboro.grid.cell_of(lon, lat)]
        # the warp places cells to a hundredth of one, and here a part and there the whole
        differ = ground != (labels == row_number + 1)
        assert differ.sum() <= 0.01 * ground.sum()


def test_a_hill_without_ground(make_dem: MakeDem) -> None:
    heights = ridge(0, 90, np.nan, 70, 0)
    dem = make_dem(heights)
    lon, lat = (float(place) for place in dem.grid.lonlat(2, 2))
    with pytest.raises(NoGround, match="Hoo stands on unknown ground"):
        hill_ground(dem, Hill(lon_deg=lon, lat_deg=lat, height_m=1, name="Hoo"))
    with pytest.raises(NoGround, match="the raster covers"):
        hill_ground(dem, Hill(lon_deg=3, lat_deg=3, height_m=1))
