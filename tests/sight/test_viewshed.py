from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from terrain.errors import NoGround
from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.ground.raster.read import read_dem
from terrain.sight.bend import bend_per_m
from terrain.sight.rays import eye_at
from terrain.sight.viewshed import margin, viewshed
from tests.authorities import sight_grids
from tests.sight import twins

MakeDem = Callable[..., Dem]


def spot_on(dem: Dem, row: float, col: float, eye_m: float = 1.7) -> Spot:
    lon, lat = dem.grid.lonlat(row, col)
    return Spot(lon_deg=float(lon), lat_deg=float(lat), eye_m=eye_m)


def twin_margins(dem: Dem, spot: Spot, refraction: float = 0.13) -> NDArray[np.float64]:
    eye = eye_at(dem, spot)
    curve = bend_per_m(refraction)
    return twins.margins(dem.heights_m, eye.row, eye.col, eye.height_m, curve, dem.cell_m)


def random_spots(dem: Dem, count: int, seed: int) -> list[Spot]:
    """Half of them at the centre of a cell, half anywhere."""
    rng = np.random.default_rng(seed)
    spots: list[Spot] = []
    while len(spots) < count:
        place = rng.uniform(0, np.array(dem.shape) - 1)
        spot = spot_on(dem, *(np.round(place) if len(spots) % 2 else place))
        if np.isfinite(dem.heights_at(spot.lon_deg, spot.lat_deg)):
            spots.append(spot)
    return spots


def agreement(dem: Dem, spots: list[Spot]) -> tuple[list[float], list[float]]:
    """Share of cells decided alike, and intersection over union of what is seen."""
    alike, overlap = [], []
    for spot in spots:
        seen, truth = viewshed(dem, spot), twin_margins(dem, spot) <= 0
        alike.append(float((seen == truth)[np.isfinite(dem.heights_m)].mean()))
        overlap.append(float((seen & truth).sum() / (seen | truth).sum()))
    return alike, overlap


def test_agrees_with_the_walk_over_all_crossings(jacksboro: Dem) -> None:
    alike, overlap = agreement(jacksboro, random_spots(jacksboro, 2, seed=5))
    assert np.mean(alike) >= 0.9998
    assert np.mean(overlap) >= 0.995
    assert min(overlap) >= 0.985


def test_agrees_on_fells_of_a_national_grid(open_data: Path) -> None:
    whole = read_dem(open_data / "lakeland_50m.tif")
    fells = Dem(whole.heights_m[700:1000, 500:800], whole.grid.window(700, 500, (300, 300)))
    alike, overlap = agreement(fells, random_spots(fells, 2, seed=6))
    assert np.mean(alike) >= 0.9998
    assert np.mean(overlap) >= 0.995
    assert min(overlap) >= 0.985


def test_margins_agree_with_the_walk(jacksboro: Dem) -> None:
    spot = random_spots(jacksboro, 1, seed=7)[0]
    off = np.abs(margin(jacksboro, spot) - np.maximum(twin_margins(jacksboro, spot), 0.0))
    known = np.isfinite(jacksboro.heights_m)
    assert np.isfinite(off[known]).all()
    assert np.median(off[known]) < 0.05
    assert np.percentile(off[known], 99) < 3.0


def test_published_grid_of_five_by_five(make_dem: MakeDem) -> None:
    heights = np.array(sight_grids.FIVE_BY_FIVE, dtype=float)
    dem = make_dem(heights, cell_m=1.0)
    spot = spot_on(dem, *sight_grids.FIVE_BY_FIVE_OBSERVER, eye_m=0.0)
    least = np.array(sight_grids.FIVE_BY_FIVE_SEEN_FROM_HEIGHT, dtype=float)
    rise = margin(dem, spot, refraction=1.0)
    np.testing.assert_allclose(rise, np.maximum(least - heights, 0.0), atol=2e-5)
    # a millimetre up, so that cells exactly on the line of sight do not hang on rounding
    seen = viewshed(dem, spot, target_m=0.001, refraction=1.0)
    np.testing.assert_array_equal(seen, heights >= least)


@pytest.mark.parametrize(("row", "observer", "rise"), sight_grids.ROWS)
@pytest.mark.parametrize("upright", [False, True])
def test_published_rows(
    make_dem: MakeDem, row: list[int], observer: int, rise: list[float], upright: bool
) -> None:
    heights, expected = np.array([row], dtype=float), np.array([rise], dtype=float)
    at = (0, observer)
    if upright:
        heights, expected, at = heights.T, expected.T, (observer, 0)
    dem = make_dem(heights, cell_m=1.0)
    found = margin(dem, spot_on(dem, *at, eye_m=0.0), refraction=1.0)
    np.testing.assert_allclose(found, expected, atol=2e-5)


def test_bare_sphere_is_seen_to_the_sea_horizon(make_dem: MakeDem) -> None:
    # sight distance √(2 R h / (1 - k)), and what a ship beyond it must rise: (d - d₀)² (1 - k) / 2R
    dem = make_dem(np.zeros((3, 1201)), cell_m=30.0)
    seen = viewshed(dem, spot_on(dem, 1, 0, eye_m=20.0))
    horizon_m = math.sqrt(2 * 6_371_000 * 20 / 0.87)
    distance_m = np.arange(1201) * 30.0
    assert np.all(seen[1][distance_m < horizon_m - 300])
    assert not np.any(seen[1][distance_m > horizon_m + 300])
    rise = margin(dem, spot_on(dem, 1, 0, eye_m=20.0))[1]
    beyond = distance_m > horizon_m + 300
    hull_down = (distance_m[beyond] - horizon_m) ** 2 * 0.87 / (2 * 6_371_000)
    np.testing.assert_allclose(rise[beyond], hull_down, atol=0.02)


def test_from_the_top_of_a_cone_all_of_it_is_seen_and_from_the_foot_only_the_near_half(
    make_dem: MakeDem,
) -> None:
    row, col = np.mgrid[0:81, 0:81] - 40.0
    dem = make_dem(400.0 - 10.0 * np.hypot(row, col), cell_m=30.0)
    assert viewshed(dem, spot_on(dem, 40, 40)).all()
    seen = viewshed(dem, spot_on(dem, 40, 0))
    assert seen[40, :41].all()
    assert not seen[40, 42:].any()


def test_a_cell_is_seen_exactly_where_its_margin_allows(jacksboro: Dem) -> None:
    spot = random_spots(jacksboro, 1, seed=8)[0]
    rise = margin(jacksboro, spot)
    for target_m in (0.0, 2.0, 37.5):
        seen = viewshed(jacksboro, spot, target_m=target_m)
        np.testing.assert_array_equal(seen, rise <= target_m)


def test_turning_and_mirroring_the_ground_turns_and_mirrors_what_is_seen(
    make_dem: MakeDem,
) -> None:
    rng = np.random.default_rng(9)
    heights = rng.uniform(0, 60, (41, 41)).cumsum(axis=1) % 300
    dem = make_dem(heights, cell_m=40.0)
    rise = margin(dem, spot_on(dem, 12, 30))
    moves: list[tuple[Callable[[NDArray[np.float64]], NDArray[np.float64]], tuple[int, int]]] = [
        (lambda a: a[::-1], (28, 30)),
        (lambda a: a[:, ::-1], (12, 10)),
        (lambda a: a.T, (30, 12)),
    ]
    for move, at in moves:
        moved = make_dem(move(heights), cell_m=40.0)
        found = margin(moved, spot_on(moved, *at))
        np.testing.assert_allclose(found, move(rise), atol=1e-2)


def test_unknown_ground_hides_nothing_and_is_not_seen(make_dem: MakeDem) -> None:
    heights = np.zeros((9, 30))
    heights[:, 10:12] = 500.0
    dem = make_dem(heights)
    assert not viewshed(dem, spot_on(dem, 4, 2))[:, 12:].any()
    heights[:, 10:12] = np.nan
    dem = make_dem(heights)
    seen = viewshed(dem, spot_on(dem, 4, 2))
    assert seen[:, 12:].all()
    assert not seen[:, 10:12].any()
    assert np.isnan(margin(dem, spot_on(dem, 4, 2))[:, 10:12]).all()


def test_no_eye_on_unknown_ground_or_off_the_raster(make_dem: MakeDem) -> None:
    heights = np.zeros((5, 5))
    heights[2, 2] = np.nan
    dem = make_dem(heights)
    with pytest.raises(NoGround, match="unknown"):
        viewshed(dem, spot_on(dem, 2.3, 2.2))
    with pytest.raises(NoGround, match="covers"):
        margin(dem, spot_on(dem, 9, 2))


def test_a_spot_beside_unknown_ground_sees_the_rest(make_dem: MakeDem) -> None:
    heights = np.zeros((9, 9))
    heights[4, 5] = np.nan
    dem = make_dem(heights)
    seen = viewshed(dem, spot_on(dem, 4, 4))
    assert seen.sum() == 80
    assert not seen[4, 5]


def test_reach_cuts_the_circle(make_dem: MakeDem) -> None:
    dem = make_dem(np.zeros((41, 41)), cell_m=10.0)
    seen = viewshed(dem, spot_on(dem, 20, 20), reach_m=125.0)
    row, col = np.mgrid[0:41, 0:41]
    np.testing.assert_array_equal(seen, np.hypot(row - 20, col - 20) * 10 <= 125.0)
    rise = margin(dem, spot_on(dem, 20, 20), reach_m=125.0)
    np.testing.assert_array_equal(np.isfinite(rise), seen)


@pytest.mark.parametrize("shape", [(1, 1), (1, 2), (1, 9), (9, 1), (2, 2), (2, 9)])
@pytest.mark.parametrize("share", [0.0, 0.37, -0.4])
def test_narrow_ground_seen_from_its_corner(
    make_dem: MakeDem, shape: tuple[int, int], share: float
) -> None:
    dem = make_dem(np.zeros(shape))
    assert viewshed(dem, spot_on(dem, share, share)).all()


@pytest.mark.parametrize("corner", [(0, 0), (0, 402), (343, 0), (343, 402)])
def test_corners_agree_with_the_walk(make_dem: MakeDem, corner: tuple[int, int]) -> None:
    rng = np.random.default_rng(1)
    row, col = np.mgrid[0:344, 0:403]
    hills = 300 * np.sin(row / 30) * np.cos(col / 23) + rng.uniform(0, 20, row.shape)
    dem = make_dem(hills[::2, ::2])
    _, overlap = agreement(dem, [spot_on(dem, corner[0] // 2, corner[1] // 2, eye_m=30.0)])
    assert overlap[0] > 0.98


@example(seed=561, shape=(17, 22), holes=0.4, place=(0.0, 0.1875), whole=True)
@settings(max_examples=40, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    shape=st.tuples(st.integers(1, 30), st.integers(1, 30)),
    holes=st.sampled_from([0.0, 0.1, 0.4]),
    place=st.tuples(st.floats(0, 1), st.floats(0, 1)),
    whole=st.booleans(),
)
def test_rugged_ground_with_holes(
    make_dem: MakeDem,
    seed: int,
    shape: tuple[int, int],
    holes: float,
    place: tuple[float, float],
    whole: bool,
) -> None:
    rng = np.random.default_rng(seed)
    heights = rng.uniform(0, 40, shape)
    heights[rng.random(shape) < holes] = np.nan
    dem = make_dem(heights)
    at = np.array(place) * (np.array(shape) - 1)
    at = np.round(at) if whole else at
    spot = spot_on(dem, *at)
    if not np.isfinite(dem.heights_at(spot.lon_deg, spot.lat_deg)):
        return
    seen, rise, truth = viewshed(dem, spot), margin(dem, spot), twin_margins(dem, spot)
    known = np.isfinite(heights)
    np.testing.assert_array_equal(seen, np.nan_to_num(rise, nan=np.inf) <= 0)
    np.testing.assert_array_equal(np.isfinite(rise), known)
    assert not seen[~known].any()
    row, col = np.mgrid[0 : shape[0], 0 : shape[1]]
    down, aside = np.abs(row - at[0]), np.abs(col - at[1])
    assert seen[known & (np.maximum(down, aside) < 1.0)].all()
    if whole:
        ray = known & ((down == 0) | (aside == 0) | (down == aside))
        np.testing.assert_allclose(rise[ray], np.maximum(truth[ray], 0.0), atol=0.02)
    assert np.sum(seen != (truth <= 0)) <= 2 + 0.05 * known.sum()
