"""A line of sight at its two ends, where summits are, and where the ground between is unknown."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain.ground.dem import Dem
from terrain.ground.geodesy import destination
from terrain.ground.places import Spot
from terrain.ground.raster.read import read_dem
from terrain.ground.relief.summits import find_summits
from terrain.sight.known import known_between
from terrain.sight.line import SightLine, sight_line
from tests.sight.test_viewshed import spot_on

MakeDem = Callable[..., Dem]
AZIMUTHS = np.arange(3.0, 360.0, 45.0)


def both_ways(
    dem: Dem, lon: float, lat: float, azimuth_deg: float, away_m: float, up_m: float
) -> tuple[SightLine, SightLine] | None:
    """From a place on the ground to a point in the air, and back; None off the raster."""
    there = [float(part) for part in destination(lon, lat, azimuth_deg, away_m)]
    ground = float(dem.heights_at(*there))
    point_m = dem.height_at(lon, lat) + up_m
    if not ground < point_m:
        return None
    at = Spot(lon_deg=lon, lat_deg=lat, eye_m=0.0)
    over = Spot(lon_deg=there[0], lat_deg=there[1], eye_m=point_m - ground)
    back = sight_line(dem, over, lon, lat, dem.height_at(lon, lat))
    return sight_line(dem, at, *there, point_m), back


def summits_walled(dem: Dem, away_m: float, up_m: float) -> float:
    """The share of lines from summits that ground within two cells of them hides, either way."""
    walled = []
    for at in find_summits(dem).geometry[:150]:
        for azimuth in AZIMUTHS:
            lines = both_ways(dem, at.x, at.y, azimuth, away_m, up_m)
            if lines is not None:
                there, back = lines
                assert there.visible == back.visible or abs(there.clearance_deg) < 1e-3
                walled.append(there.blocked_at_m < 2.0 * dem.cell_m)
    assert len(walled) > 100
    return float(np.mean(walled))


def test_the_top_of_a_cell_does_not_wall_in_a_place_beside_it(make_dem: MakeDem) -> None:
    row, col = np.mgrid[0:21, 0:21]
    dem = make_dem(900.0 - 12.0 * np.hypot(row - 10, col - 10))
    for at in ((10.0, 10.0), (10.0, 10.00002), (10.3, 9.8), (9.55, 10.45), (10.5, 10.5)):
        spot = spot_on(dem, *at)
        for azimuth in AZIMUTHS:
            lines = both_ways(dem, spot.lon_deg, spot.lat_deg, azimuth, 200.0, 30.0)
            assert lines is not None
            assert [line.visible for line in lines] == [True, True]
            assert all(math.isnan(line.blocked_at_m) for line in lines)


def test_a_bank_a_cell_off_hides_what_is_behind_it(make_dem: MakeDem) -> None:
    heights = np.zeros((9, 31))
    heights[:, 9:] = -40.0
    heights[:, 8] = np.arange(9) + 10.0  # a ridge that climbs: no top stands beside the eye
    dem = make_dem(heights)
    lon, lat = (float(part) for part in dem.grid.lonlat(4, 25))
    for col in (7.0, 7.4):
        line = sight_line(dem, spot_on(dem, 4, col), lon, lat, -20.0)
        assert not line.visible
        assert line.blocked_at_m == pytest.approx(50.0 * (8.0 - col), rel=0.1)
        target_m = dem.height_at(*(float(part) for part in dem.grid.lonlat(4, col)))
        at = spot_on(dem, 4, col)
        back = sight_line(dem, spot_on(dem, 4, 25, 20.0), at.lon_deg, at.lat_deg, target_m + 1.7)
        assert not back.visible


@pytest.mark.parametrize(("away_m", "up_m", "most"), [(200.0, 30.0, 0.01), (3000.0, 100.0, 0.04)])
def test_summits_of_a_sample_are_seen_and_see(
    jacksboro: Dem, away_m: float, up_m: float, most: float
) -> None:
    assert summits_walled(jacksboro, away_m, up_m) <= most


@pytest.mark.parametrize(("away_m", "up_m", "most"), [(200.0, 30.0, 0.0), (3000.0, 30.0, 0.05)])
def test_summits_of_a_tile_are_seen_and_see(
    open_data: Path, away_m: float, up_m: float, most: float
) -> None:
    tile = read_dem(open_data / "N49E011.hgt.zip")
    assert summits_walled(tile, away_m, up_m) <= most


def test_summits_of_whole_cells_are_not_walled_in_by_a_millimetre(open_data: Path) -> None:
    assert summits_walled(read_dem(open_data / "lakeland_50m.tif"), 3000.0, 30.0) == 0.0


ends = st.tuples(*[st.floats(0, 24)] * 4)
heights_up = st.sampled_from([0, 2, 30])


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10_000), places=ends, eyes_m=st.tuples(*[heights_up] * 2))
def test_one_sees_exactly_what_sees_it(
    make_dem: MakeDem,
    seed: int,
    places: tuple[float, float, float, float],
    eyes_m: tuple[int, int],
) -> None:
    row, col, to_row, to_col = places
    dem = make_dem(np.random.default_rng(seed).uniform(0, 60, (25, 25)))
    if math.hypot(to_row - row, to_col - col) < 0.1:
        return
    one, other = spot_on(dem, row, col, eyes_m[0]), spot_on(dem, to_row, to_col, eyes_m[1])
    there, back = (
        sight_line(dem, a, b.lon_deg, b.lat_deg, dem.height_at(b.lon_deg, b.lat_deg) + b.eye_m)
        for a, b in ((one, other), (other, one))
    )
    if abs(there.clearance_deg) > 1e-3 and abs(back.clearance_deg) > 1e-3:
        assert there.visible == back.visible
    assert there.known
    assert back.known


def test_a_line_tells_whether_all_of_the_ground_between_is_known(make_dem: MakeDem) -> None:
    heights = np.zeros((5, 20))
    heights[2, 10] = np.nan
    dem = make_dem(heights)
    spot = spot_on(dem, 2, 2)

    def known(row: float, col: float) -> bool:
        lon, lat = (float(part) for part in dem.grid.lonlat(row, col))
        return sight_line(dem, spot, lon, lat, 5.0).known

    assert [known(2, col) for col in (3, 8, 9, 10, 11, 19)] == [True] * 3 + [False] * 3
    assert known(0, 11)
    assert not known(2.4, 18)
    assert not known(2.0, 9.5)  # the unknown cell has a share in the ground there
    behind = np.zeros((5, 20))
    behind[2, 5], behind[2, 10] = 90.0, np.nan
    hidden = sight_line(make_dem(behind), spot, *map(float, dem.grid.lonlat(2, 18)), 5.0)
    assert (hidden.visible, hidden.known) == (False, False)


def test_lines_know_what_all_cells_know(make_dem: MakeDem) -> None:
    rng = np.random.default_rng(6)
    heights = np.where(rng.random((15, 17)) < 0.08, np.nan, 0.0)
    heights[6:9, 4:7] = 0.0
    dem = make_dem(heights)
    spot, all_known = spot_on(dem, 7, 5), known_between(dem, spot_on(dem, 7, 5))
    assert 40 < all_known.sum() < 230
    for row, col in np.argwhere(~np.isnan(heights)):
        if (row, col) != (7, 5):
            lon, lat = (float(part) for part in dem.grid.lonlat(row, col))
            assert sight_line(dem, spot, lon, lat, 9.0).known == all_known[row, col]
