"""How much mist there is: volumes and areas against exact integrals, shores, clear hollows."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.mist.level import level_mist
from terrain.mist.mist import Mist, clear_hollows
from terrain.mist.valley import valley_mist

MakeDem = Callable[..., Dem]

CELL_M = 25.0


def spot_in(dem: Dem, row: float, col: float) -> Spot:
    lon, lat = dem.grid.lonlat(row, col)
    return Spot(lon_deg=float(lon), lat_deg=float(lat))


@pytest.fixture(scope="module")
def cone(make_dem: MakeDem) -> Dem:
    """A cone 500 m high, slope 1 in 4, on a plain of 201 x 201 cells."""
    row, col = np.mgrid[0:201, 0:201] - 100
    return make_dem(np.maximum(500 - 0.25 * CELL_M * np.hypot(row, col), 0), cell_m=CELL_M)


@pytest.mark.parametrize("top_m", [37.0, 300.0, 444.0])
def test_volume_about_a_cone(cone: Dem, top_m: float) -> None:
    side_m, slope = 201 * CELL_M, 0.25

    def cone_m3(height_m: float) -> float:
        return np.pi * (height_m / slope) ** 2 * height_m / 3

    # box up to the top less the part of the cone below it
    exact = side_m**2 * top_m - (cone_m3(500.0) - cone_m3(500.0 - top_m))
    mist = level_mist(cone, top_m)
    assert mist.volume_m3(cone) == pytest.approx(exact, rel=1e-4)
    dry_km2 = np.pi * ((500 - top_m) / slope) ** 2 / 1e6
    assert mist.area_km2 == pytest.approx(side_m**2 / 1e6 - dry_km2, rel=5e-3)
    shore = mist.shoreline(cone)
    assert shore.islands.item() == 1
    assert shore.area_km2.item() == pytest.approx(side_m**2 / 1e6 - dry_km2, rel=2e-4)


@pytest.mark.parametrize("top_m", [60.0, 200.0])
def test_level_volume_in_a_tilted_valley(make_dem: MakeDem, top_m: float) -> None:
    rows, tilt, slope, cell_m = 401, 0.02, 0.5, 10.0
    row, col = np.mgrid[0:rows, 0:121]
    ground = tilt * cell_m * (row + 0.5) + slope * cell_m * np.abs(col - 60)
    dem = make_dem(ground, cell_m=cell_m)
    length_m = rows * cell_m
    # the integral of (top - tilt y)²/slope over the valley, as far as that is above its floor
    end = max(top_m - tilt * length_m, 0)
    exact = (top_m**3 - end**3) / (3 * tilt * slope)
    assert level_mist(dem, top_m).volume_m3(dem) == pytest.approx(exact, rel=4e-3)


def test_valley_volume_in_a_tilted_valley(make_dem: MakeDem) -> None:
    rows, depth_m, slope = 161, 120.0, 0.5
    row, col = np.mgrid[0:rows, 0:121]
    dem = make_dem(0.02 * CELL_M * row[::-1] + slope * CELL_M * np.abs(col - 60), cell_m=CELL_M)
    exact = depth_m**2 / slope * rows * CELL_M
    assert valley_mist(dem, depth_m).volume_m3(dem) == pytest.approx(exact, rel=5e-3)


def test_hollows_that_stay_clear_are_told_deepest_first(make_dem: MakeDem) -> None:
    ground = np.full((40, 60), 400.0)
    ground[10:30, 5:15] = 100.0
    ground[10:20, 25:35] = 220.0
    ground[25:30, 45:55] = 150.0
    ground[27, 50] = 140.0
    ground[5, 5] = 200.0
    dem = make_dem(ground, cell_m=CELL_M)
    mist = level_mist(dem, 300.0, seeds=[spot_in(dem, 20, 10)])
    clear = clear_hollows(dem, mist)
    assert clear.depth_m.tolist() == [160.0, 80.0]
    assert clear.floor_m.tolist() == [140.0, 220.0]
    assert clear.area_km2.tolist() == pytest.approx([50 * CELL_M**2 / 1e6, 100 * CELL_M**2 / 1e6])
    assert dem.grid.cell_of(clear.geometry.x[0], clear.geometry.y[0]) == (27, 50)
    every = clear_hollows(dem, mist, min_area_km2=0.0)
    assert every.depth_m.tolist() == [160.0, 100.0, 80.0]
    shore = mist.shoreline(dem)
    # what is lower than the top but dry has no shore of its own
    assert len(shore) == 1
    assert shore.islands.item() == 0


def test_no_hollow_stays_clear_where_every_one_is_a_source(make_dem: MakeDem) -> None:
    ground = np.full((9, 12), 400.0)
    ground[4, 2:5], ground[4, 7:10] = 100.0, 200.0
    dem = make_dem(ground)
    assert clear_hollows(dem, level_mist(dem, 300.0)).empty
    one = level_mist(dem, 300.0, min_hollow_m=np.inf)
    assert clear_hollows(dem, one, min_area_km2=0.0).floor_m.tolist() == [200.0]


def test_small_patches_can_be_left_out_of_the_shoreline(make_dem: MakeDem) -> None:
    ground = np.full((20, 30), 400.0)
    ground[5:15, 5:15], ground[10, 25] = 100.0, 100.0
    dem = make_dem(ground, cell_m=CELL_M)
    mist = Mist(np.where(ground < 300, 300.0, np.nan), dem.grid)
    assert len(mist.shoreline(dem)) == 2
    assert len(mist.shoreline(dem, min_area_km2=0.01)) == 1
