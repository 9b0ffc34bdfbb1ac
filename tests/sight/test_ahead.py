"""Rays that end where nothing farther could be seen, against rays walked to the end."""

from __future__ import annotations

import math

import numpy as np
import pytest

from terrain.constants import BLOCK_CELLS, SMALL_BLOCK_CELLS
from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.sight._ahead_kernels import all_known, reaches_to, rises_to
from terrain.sight.rays import altitudes_toward
from terrain.sight.seen import seen_ground
from terrain.sight.skyline import skyline
from tests.conftest import MakeDem

DRAW_OVER = (-300.0, -20.0, -0.01, 0.0, 5.0, 400.0)
BEND = 6.8e-8


@pytest.mark.parametrize("over", DRAW_OVER)
@pytest.mark.parametrize("slope", [-0.2, -0.004, 0.0, 0.003, 0.3])
def test_nothing_so_high_reaches_a_slope_from_beyond(over: float, slope: float) -> None:
    far_m = np.geomspace(1.0, 1e6, 4000)
    steep = over / far_m - BEND * far_m
    reach_m = reaches_to(slope, over, BEND)
    assert (steep[far_m > reach_m] <= slope).all()
    if over >= 0.0:
        assert (steep[far_m < reach_m] >= slope).all()


@pytest.mark.parametrize("over", DRAW_OVER)
@pytest.mark.parametrize(("from_m", "to_m"), [(30.0, 800.0), (2_000.0, 9_000.0)])
def test_nothing_so_high_is_steeper_between(over: float, from_m: float, to_m: float) -> None:
    far_m = np.linspace(from_m, to_m, 500)
    assert (over / far_m - BEND * far_m <= rises_to(over, from_m, to_m, BEND) + 1e-15).all()


def test_a_ray_that_does_not_bend_is_walked_to_the_end() -> None:
    assert reaches_to(0.1, 50.0, 0.0) == math.inf


def rugged(make_dem: MakeDem, *, holes: bool) -> Dem:
    draw = np.random.default_rng(5)
    row, col = np.mgrid[:230, :310]
    heights = 200.0 + 90.0 * np.sin(row / 9.0) * np.cos(col / 13.0) + draw.uniform(0, 25, row.shape)
    if holes:
        heights[draw.random(heights.shape) < 2e-4] = np.nan
        heights[150:170, 200:260] = np.nan
    return make_dem(heights, cell_m=50.0)


def _of_any_height(dem: Dem) -> np.ndarray:
    return np.full([-(-count // SMALL_BLOCK_CELLS) for count in dem.shape], np.float32(np.inf))


def test_tops_of_blocks_are_those_of_their_cells_and_of_the_line_beyond(make_dem: MakeDem) -> None:
    dem, side = rugged(make_dem, holes=True), SMALL_BLOCK_CELLS
    tops, unknown = dem.block_tops_m, 0
    assert tops.shape == _of_any_height(dem).shape
    for (down, along), top in np.ndenumerate(tops):
        first, left = down * side, along * side
        cells = dem.heights_m[first : first + side + 1, left : left + side + 1]
        assert top == (np.inf if np.isnan(cells).any() else cells.max())
        unknown += np.isinf(top)
    assert 0 < unknown < 0.5 * tops.size
    assert not tops.flags.writeable


def test_only_what_is_lower_than_asked_for_may_be_told_lower(make_dem: MakeDem) -> None:
    dem = rugged(make_dem, holes=True)
    lon, lat = dem.grid.lonlat(101, 77)
    spot = Spot(lon_deg=float(lon), lat_deg=float(lat))
    whole = skyline(dem, spot)
    draw = np.random.default_rng(8)
    least_deg = whole.altitude_deg + draw.uniform(-3.0, 3.0, whole.altitude_deg.size)
    some = skyline(dem, spot, least_deg=least_deg)
    told = whole.altitude_deg >= least_deg
    assert 0.2 < told.mean() < 0.8
    for name in ("altitude_deg", "distance_m", "hidden_deg"):
        np.testing.assert_array_equal(getattr(some, name)[told], getattr(whole, name)[told])
    np.testing.assert_array_equal(some.known_to_m, whole.known_to_m)
    assert (some.altitude_deg <= whole.altitude_deg).all()
    # and there is something that it need not read
    assert (some.altitude_deg < whole.altitude_deg).sum() > 50


def test_sums_of_unknown_cells_are_those_of_their_boxes(make_dem: MakeDem) -> None:
    dem = rugged(make_dem, holes=True)
    unknown = np.isnan(dem.heights_m)
    sums = dem.unknown_sums
    for down in range(sums.shape[0]):
        for along in range(sums.shape[1]):
            box = unknown[: down * BLOCK_CELLS, : along * BLOCK_CELLS]
            assert sums[down, along] == box.sum()
    assert not sums.flags.writeable


def test_a_way_is_known_only_where_no_cell_about_it_is_unknown(make_dem: MakeDem) -> None:
    dem, draw = rugged(make_dem, holes=True), np.random.default_rng(6)
    unknown = np.isnan(dem.heights_m)
    answers = []
    for _ in range(400):
        row, to_row = draw.uniform(-0.5, dem.shape[0] - 0.5, 2)
        col, to_col = draw.uniform(-0.5, dem.shape[1] - 0.5, 2)
        known = all_known(dem.unknown_sums, row, col, to_row, to_col)
        (top, end), (left, right) = sorted((row, to_row)), sorted((col, to_col))
        box = unknown[
            max(math.floor(top) - 1, 0) : math.ceil(end) + 2,
            max(math.floor(left) - 1, 0) : math.ceil(right) + 2,
        ]
        assert not (known and box.any())
        answers.append(known)
    assert 0.02 < np.mean(answers) < 0.9


@pytest.mark.parametrize("holes", [False, True])
@pytest.mark.parametrize(
    ("cell", "eye_m", "lid_m"),
    [((101, 77), 1.6, 230.0), ((101, 77), 60.0, 230.0), ((71, 82), 60.0, 290.0)],
)
def test_the_same_to_the_last_digit_as_to_the_end(
    make_dem: MakeDem,
    monkeypatch: pytest.MonkeyPatch,
    holes: bool,
    cell: tuple[int, int],
    eye_m: float,
    lid_m: float,
) -> None:
    # from a slope, and from a top that looks down on what lies over the valleys
    lon, lat = rugged(make_dem, holes=holes).grid.lonlat(*cell)
    spot = Spot(lon_deg=float(lon), lat_deg=float(lat), eye_m=eye_m)
    draw = np.random.default_rng(7)
    row, col, toward = draw.integers(0, 230, 300), draw.integers(0, 310, 300), np.arange(300.0)

    def found() -> list[np.ndarray]:
        dem = rugged(make_dem, holes=holes)
        sky = skyline(dem, spot)
        lid = np.where(dem.heights_m < lid_m, np.float32(lid_m), np.float32(np.nan))
        seen = seen_ground(dem, spot, np.arange(360.0), np.arange(-9.0, 9.0, 0.05), lid_m=lid)
        bands = [altitudes_toward(dem, row, col, toward, reach_m=m) for m in (900.0, np.inf)]
        return [sky.altitude_deg, sky.distance_m, seen.distance_m, *bands[0], *bands[1]]

    early = found()
    # with ground of any height about, no ray may end before the raster does or pass over any of it
    monkeypatch.setattr(Dem, "highest_m", math.inf)
    monkeypatch.setattr(Dem, "block_tops_m", property(_of_any_height))
    for one, other in zip(early, found(), strict=True):
        np.testing.assert_array_equal(one, other)
