"""Flood levels against a slow twin, scikit-image's reconstruction, and what mist cannot do."""

from __future__ import annotations

import heapq
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from numpy.typing import NDArray
from scipy import ndimage
from skimage.morphology import reconstruction

from terrain.errors import NoGround, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.mist.flood import flood_levels

MakeDem = Callable[..., Dem]
Cells = list[tuple[int, int]]

SHAPES = hnp.array_shapes(min_dims=2, max_dims=2, min_side=1, max_side=9)
# whole metres from a small range, so that plateaux and ties are common
GROUND = hnp.arrays(np.float32, SHAPES, elements=st.integers(0, 12).map(float))
GROUND_WITH_VOIDS = hnp.arrays(
    np.float32, SHAPES, elements=st.integers(-3, 12).map(lambda h: h if h >= 0 else np.nan)
)


def slow_levels(heights_m: NDArray[np.float32], sources: Cells) -> NDArray[np.float32]:
    """Least, over all ways in, of the highest ground on the way: Dijkstra, cell by cell."""
    levels = np.where(np.isnan(heights_m), np.nan, np.inf).astype(np.float32)
    heap = [(float(heights_m[cell]), cell) for cell in sources]
    heapq.heapify(heap)
    while heap:
        level, (row, col) = heapq.heappop(heap)
        if level >= levels[row, col]:
            continue
        levels[row, col] = level
        for near in neighbours((row, col), heights_m.shape):
            if not np.isnan(heights_m[near]):
                heapq.heappush(heap, (max(level, float(heights_m[near])), near))
    return levels


def neighbours(cell: tuple[int, int], shape: tuple[int, ...]) -> Cells:
    rows = range(max(cell[0] - 1, 0), min(cell[0] + 2, shape[0]))
    cols = range(max(cell[1] - 1, 0), min(cell[1] + 2, shape[1]))
    return [(row, col) for row in rows for col in cols if (row, col) != cell]


def outlets(heights_m: NDArray[np.float32]) -> Cells:
    rows, cols = heights_m.shape
    found = []
    for cell in np.ndindex(rows, cols):
        lowest = heights_m[cell] == np.nanmin(heights_m)
        if not np.isnan(heights_m[cell]) and (on_rim(heights_m, cell) or lowest):
            found.append(cell)
    return found


def slow_wells(heights_m: NDArray[np.float32], min_depth_m: float) -> Cells:
    """Cells from which no way to an outlet or to lower ground rises by so little."""
    found = []
    for cell in np.ndindex(*heights_m.shape):
        here = heights_m[cell]
        if not np.isnan(here):
            leave = slow_levels(heights_m, [cell])
            out = [leave[gate] for gate in edge_and_void(heights_m)]
            lower = leave[heights_m < here]
            if min([*out, *lower, np.inf]) - here > min_depth_m:
                found.append(cell)
    return found


def edge_and_void(heights_m: NDArray[np.float32]) -> Cells:
    return [cell for cell in outlets(heights_m) if on_rim(heights_m, cell)]


def on_rim(heights_m: NDArray[np.float32], cell: tuple[int, int]) -> bool:
    rows, cols = heights_m.shape
    at_rim = cell[0] in (0, rows - 1) or cell[1] in (0, cols - 1)
    return at_rim or any(np.isnan(heights_m[near]) for near in neighbours(cell, (rows, cols)))


def spot_in(dem: Dem, row: int, col: int) -> Spot:
    lon, lat = dem.grid.lonlat(row, col)
    return Spot(lon_deg=float(lon), lat_deg=float(lat))


def known_cells(dem: Dem) -> Cells:
    return [(int(row), int(col)) for row, col in np.argwhere(~np.isnan(dem.heights_m))]


@settings(max_examples=150, deadline=None)
@given(ground=GROUND_WITH_VOIDS)
def test_default_sources_agree_with_the_slow_twin(
    make_dem: MakeDem, ground: NDArray[np.float32]
) -> None:
    dem = make_dem(ground)
    if np.isnan(ground).all():
        with pytest.raises(NoGround, match="no known ground"):
            flood_levels(dem)
        return
    levels = flood_levels(dem, min_hollow_m=np.inf)
    assert levels.dtype == np.float32
    np.testing.assert_array_equal(levels, slow_levels(ground, outlets(ground)))


@settings(max_examples=150, deadline=None)
@given(ground=GROUND_WITH_VOIDS, data=st.data())
def test_seeds_agree_with_the_slow_twin(
    make_dem: MakeDem, ground: NDArray[np.float32], data: st.DataObject
) -> None:
    dem = make_dem(ground)
    if np.isnan(ground).all():
        return
    cells = data.draw(st.lists(st.sampled_from(known_cells(dem)), min_size=1, max_size=4))
    levels = flood_levels(dem, seeds=[spot_in(dem, *cell) for cell in cells])
    np.testing.assert_array_equal(levels, slow_levels(ground, cells))


def test_enclosed_voids_and_a_closed_basin_agree_with_the_slow_twin(make_dem: MakeDem) -> None:
    rng = np.random.default_rng(7)
    for voids in (0, 1, 12):
        rough = ndimage.gaussian_filter(rng.standard_normal((60, 70)), 2)
        ground = (100 * rough).astype(np.float32)
        ground[[0, -1], :] = ground[:, [0, -1]] = 400
        ground[tuple(rng.integers(3, 57, (2, voids)))] = np.nan
        levels = flood_levels(make_dem(ground), min_hollow_m=np.inf)
        np.testing.assert_array_equal(levels, slow_levels(ground, outlets(ground)))


def test_levels_equal_morphological_reconstruction_on_real_ground(jacksboro: Dem) -> None:
    # Robinson & Whelan (2004) reconstruction by erosion, the textbook way to fill hollows
    ground = np.pad(jacksboro.heights_m, 1, constant_values=np.nan)
    ground = np.where(np.isnan(ground), np.float32(-1000), ground)
    source = (ground == -1000) | (ground == np.nanmin(jacksboro.heights_m))
    start = np.where(source, ground, np.float32(9000))
    expected = reconstruction(start, ground, method="erosion", footprint=np.ones((3, 3)))
    levels = flood_levels(jacksboro, min_hollow_m=np.inf)
    known = ~np.isnan(jacksboro.heights_m)
    assert np.count_nonzero(levels > jacksboro.heights_m) > 1000
    np.testing.assert_array_equal(levels[known], expected[1:-1, 1:-1][known])
    assert np.isnan(levels[~known]).all()


@settings(max_examples=40, deadline=None)
@given(
    heights=st.permutations(range(30)),
    voids=st.lists(st.integers(0, 29), max_size=3),
    least=st.sampled_from([0.0, 3.0, 9.0, 20.0]),
)
def test_mist_wells_up_in_hollows_that_are_deep_enough(
    make_dem: MakeDem, heights: list[int], voids: list[int], least: float
) -> None:
    ground = np.array(heights, dtype=np.float32)
    ground[voids] = np.nan
    ground = ground.reshape(5, 6)
    sources = outlets(ground) + slow_wells(ground, least)
    levels = flood_levels(make_dem(ground), min_hollow_m=least)
    np.testing.assert_array_equal(levels, slow_levels(ground, sources))


def test_the_usual_hollow_that_wells_is_deeper_than_ten_metres(make_dem: MakeDem) -> None:
    def middle(depth_m: float) -> float:
        ground = np.array([[0, 60, 60, 60], [60, 50, 50 - depth_m, 60], [60, 50, 60, 60]])
        return float(flood_levels(make_dem(ground))[1, 2])

    assert middle(9.5) == 50.0
    assert middle(10.5) == 39.5


def test_a_hollow_within_a_hollow_wells_by_its_own_depth(make_dem: MakeDem) -> None:
    rim = [60] * 7
    dem = make_dem([[0] * 7, rim, [60, 10, 40, 20, 36, 30, 60], rim, [0] * 7])
    # 20 lies 20 m below the pass to the lower 10, and 30 only 6 m below the one to 20
    assert flood_levels(dem)[2].tolist() == [60, 10, 40, 20, 36, 36, 60]
    assert flood_levels(dem, min_hollow_m=5)[2].tolist() == [60, 10, 40, 20, 36, 30, 60]
    assert flood_levels(dem, min_hollow_m=25)[2].tolist() == [60, 10, 40, 40, 40, 40, 60]


def test_a_hollow_less_than_none_is_refused(make_dem: MakeDem) -> None:
    with pytest.raises(TerrainError, match="a hollow of -1 m is none"):
        flood_levels(make_dem([[1, 2]]), min_hollow_m=-1)


def test_a_seed_equals_morphological_reconstruction_on_real_ground(jacksboro: Dem) -> None:
    part = Dem(jacksboro.heights_m[100:250, 100:250], jacksboro.grid.window(100, 100, (150, 150)))
    row, col = 70, 40
    start = np.full(part.shape, 9000, dtype=np.float32)
    start[row, col] = part.heights_m[row, col]
    expected = reconstruction(start, part.heights_m, method="erosion", footprint=np.ones((3, 3)))
    np.testing.assert_array_equal(flood_levels(part, seeds=[spot_in(part, row, col)]), expected)


@settings(max_examples=60, deadline=None)
@given(ground=GROUND, data=st.data())
def test_higher_ground_never_lowers_a_level(
    make_dem: MakeDem, ground: NDArray[np.float32], data: st.DataObject
) -> None:
    rise = data.draw(hnp.arrays(np.float32, ground.shape, elements=st.integers(0, 5).map(float)))
    dem = make_dem(ground)
    # the lowest ground is a source; raised, it would hand that on to another hollow
    higher = Dem(np.where(ground == ground.min(), ground, ground + rise), dem.grid)
    assert np.all(
        flood_levels(higher, min_hollow_m=np.inf) >= flood_levels(dem, min_hollow_m=np.inf)
    )
    raised, seeds = Dem(ground + rise, dem.grid), [spot_in(dem, 0, 0)]
    assert np.all(flood_levels(raised, seeds=seeds) >= flood_levels(dem, seeds=seeds))


@settings(max_examples=60, deadline=None)
@given(ground=GROUND_WITH_VOIDS, data=st.data())
def test_more_seeds_never_raise_a_level(
    make_dem: MakeDem, ground: NDArray[np.float32], data: st.DataObject
) -> None:
    dem = make_dem(ground)
    if np.isnan(ground).all():
        return
    cells = data.draw(st.lists(st.sampled_from(known_cells(dem)), min_size=2, max_size=5))
    seeds = [spot_in(dem, *cell) for cell in cells]
    few, many = flood_levels(dem, seeds=seeds[:1]), flood_levels(dem, seeds=seeds)
    known = ~np.isnan(ground)
    assert np.all(many[known] <= few[known])
    assert np.all(many[known] >= ground[known])
    assert all(many[cell] == ground[cell] for cell in cells)


def test_mist_slips_through_a_gap_at_a_corner(make_dem: MakeDem) -> None:
    dem = make_dem([[1, 9, 9], [9, 2, 9], [9, 9, 3]])
    assert flood_levels(dem, seeds=[spot_in(dem, 0, 0)])[2, 2] == 3


def test_a_hollow_is_reached_over_its_pass(make_dem: MakeDem) -> None:
    dem = make_dem([[9, 9, 9, 9, 9, 9], [0, 1, 6, 2, 3, 9], [9, 9, 9, 9, 9, 9]])
    assert flood_levels(dem)[1].tolist() == [0, 1, 6, 6, 6, 9]


def test_walls_of_unknown_ground_keep_a_seeded_mist_out(make_dem: MakeDem) -> None:
    dem = make_dem([[1, np.nan, 1], [1, np.nan, 1]])
    levels = flood_levels(dem, seeds=[spot_in(dem, 0, 0)])
    assert levels[:, 0].tolist() == [1, 1]
    assert np.isinf(levels[:, 2]).all()


def test_the_ground_is_left_as_it_was_and_nothing_is_printed(
    make_dem: MakeDem, capfd: pytest.CaptureFixture[str]
) -> None:
    dem = make_dem([[9, 9, 9], [9, 1, np.nan], [9, 9, 9]])
    before = dem.heights_m.copy()
    flood_levels(dem)
    flood_levels(dem, seeds=[spot_in(dem, 1, 1)])
    assert capfd.readouterr() == ("", "")
    np.testing.assert_array_equal(dem.heights_m, before)


def test_seeds_off_the_ground_are_refused(make_dem: MakeDem) -> None:
    dem = make_dem([[1, np.nan], [1, 1]])
    with pytest.raises(NoGround, match="the raster covers"):
        flood_levels(dem, seeds=[Spot(lon_deg=10, lat_deg=10)])
    with pytest.raises(NoGround, match="no mist can rise at"):
        flood_levels(dem, seeds=[spot_in(dem, 0, 1)])
    with pytest.raises(TerrainError, match="at least one seed"):
        flood_levels(dem, seeds=[])
