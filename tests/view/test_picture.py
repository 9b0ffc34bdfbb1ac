"""A hill in the mist: against trigonometry, and against rays cast one by one over real ground."""

from __future__ import annotations

import math
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest
from numpy.typing import NDArray
from skimage.measure import find_contours

from terrain.constants import EARTH_RADIUS_M
from terrain.country import Country
from terrain.errors import TerrainError
from terrain.ground.dem import Dem
from terrain.ground.geodesy import destination
from terrain.ground.places import Spot
from terrain.ground.raster.read import read_dem
from terrain.ground.relief.summits import hill_at
from terrain.mist.level import level_mist
from terrain.view.look import View, look
from terrain.view.picture import Picture, picture
from terrain.view.scene import Scene
from tests.conftest import MakeDem
from tests.scenes import Floats, cone

SIZE, ROW, STAND, HILL = 161, 80, 10, 80
CELL_M, AWAY_M = 50.0, (HILL - STAND) * 50.0
HILL_M, SLOPE, TOP_M = 300.0, 0.5, 100.0
RIDGE, CREST_M = 40, 115.0
BEND_PER_M = (1.0 - 0.13) / (2.0 * EARTH_RADIUS_M)
SKY, GROUND, MIST, OWN = range(4)


def isle(*more: Floats) -> Floats:
    """A cone in a wide sea of mist, and a dry cell to stand on."""
    heights = np.maximum.reduce([cone(SIZE, (ROW, HILL), HILL_M, SLOPE), *more])
    heights[ROW, STAND] = TOP_M + 1.0
    return heights


def seen(dem: Dem, eye_m: float, *, top_m: float | None = TOP_M) -> tuple[Scene, View]:
    hill = hill_at(dem, *map(float, dem.grid.lonlat(ROW, HILL)))
    lon, lat = (float(part) for part in dem.grid.lonlat(ROW, STAND))
    mist = None if top_m is None else level_mist(dem, top_m)
    scene = Scene(Country(dem, mist=mist, refraction=0.13), hill)
    return scene, look(scene, Spot(lon_deg=lon, lat_deg=lat, eye_m=eye_m))


def altitude_deg(height_m: float, eye_m: float, away_m: float) -> float:
    return math.degrees(math.atan((height_m - eye_m) / away_m - BEND_PER_M * away_m))


@pytest.mark.parametrize("mast_m", [40.0, 190.0, 500.0])
def test_a_cone_in_a_wide_mist_is_an_island_from_below_level_and_above(
    make_dem: MakeDem, mast_m: float
) -> None:
    scene, view = seen(make_dem(isle()), mast_m)
    found = picture(scene, view, field_deg=(20.0, 20.0))
    assert found.waterline == 1.0
    assert found.is_island
    eye_m, shore_m = TOP_M + 1.0 + mast_m, AWAY_M - (HILL_M - TOP_M) / SLOPE
    over_deg = altitude_deg(HILL_M, eye_m, AWAY_M) - altitude_deg(TOP_M, eye_m, shore_m)
    # a cell of the picture is 0.06 degrees high, one of the raster on the shore 0.1 at the most
    assert found.over_mist_deg == pytest.approx(over_deg, abs=0.1)
    assert (view.backdrop == "mist") == (mast_m == 500.0)


def ridge_to(last_row: int) -> Floats:
    """A low ridge 1.5 km before the spot, from the left up to a row."""
    row, col = np.mgrid[:SIZE, :SIZE]
    return np.where((np.abs(col - RIDGE) <= 1) & (row >= 30) & (row <= last_row), CREST_M, 0.0)


def test_a_ridge_before_half_of_the_foot(make_dem: MakeDem) -> None:
    """From just over the mist: flanks meet the sky, the foot mist on the right side alone."""
    mast_m = 9.0
    eye_m = TOP_M + 1.0 + mast_m
    found = picture(*seen(make_dem(isle(ridge_to(ROW))), mast_m), field_deg=(20.0, 20.0))
    # to either side the hill is as wide as it is where a level line crosses its flank
    crest_deg = altitude_deg(CREST_M, eye_m, (RIDGE - 1 - STAND) * CELL_M)
    shows_m = HILL_M - eye_m - AWAY_M * math.tan(math.radians(crest_deg))
    left_deg, right_deg = (
        math.degrees(math.atan(down_m / SLOPE / AWAY_M)) for down_m in (shows_m, HILL_M - TOP_M)
    )
    assert left_deg < 0.93 * right_deg
    # and the end of the ridge stands up before it
    end_deg = crest_deg - altitude_deg(TOP_M, eye_m, AWAY_M - (HILL_M - TOP_M) / SLOPE)
    share = right_deg / (left_deg + right_deg + end_deg)
    assert found.waterline == pytest.approx(share, abs=0.03)
    assert not found.is_island


def test_the_side_of_the_picture_that_a_ridge_is_on_does_not_matter(make_dem: MakeDem) -> None:
    ridge = ridge_to(ROW - 2)
    shares = [picture(*seen(make_dem(isle(each)), 9.0)).waterline for each in (ridge, ridge[::-1])]
    assert 0.5 < shares[0] < 0.9
    assert shares[0] == pytest.approx(shares[1], abs=0.01)


def test_far_ground_behind_its_upper_edge_is_ground_that_it_meets(make_dem: MakeDem) -> None:
    """From above against mist it is an island; a wall behind its top takes part of that."""
    _, col = np.mgrid[:SIZE, :SIZE]
    wall = np.where(col >= 120, 600.0, 0.0)
    scene, view = seen(make_dem(isle(wall)), 220.0)
    assert view.backdrop == "ground"
    found = picture(scene, view, field_deg=(20.0, 20.0))
    assert 0.3 < found.waterline < 0.8
    assert not found.is_island


def test_where_the_frame_cuts_a_hill_it_is_no_island(make_dem: MakeDem) -> None:
    scene, view = seen(make_dem(isle()), 190.0)
    narrow = picture(scene, view, field_deg=(8.0, 20.0))
    assert narrow.waterline == 1.0
    assert not narrow.is_island
    # aimed beside it, the frame shows none of it, and so nothing is known
    beside = picture(scene, view, field_deg=(8.0, 20.0), aim_deg=(view.azimuth_deg + 30.0, -3.0))
    assert math.isnan(beside.waterline)
    assert math.isnan(beside.over_mist_deg)
    assert beside.mist_share == 1.0


def test_without_mist_none_is_met(make_dem: MakeDem) -> None:
    other = cone(SIZE, (ROW + 30, 50), 150.0, 0.2)
    found = picture(*seen(make_dem(isle(other)), 100.0, top_m=None))
    assert (found.waterline, found.mist_share, found.frame_mist_share) == (0.0, 0.0, 0.0)
    assert math.isnan(found.over_mist_deg)
    assert not found.is_island


@pytest.mark.parametrize("field_deg", [(0.0, 5.0), (5.0, -1.0), (361.0, 5.0), (5.0, math.nan)])
def test_a_frame_that_cannot_be(make_dem: MakeDem, field_deg: tuple[float, float]) -> None:
    scene, view = seen(make_dem(isle()), 100.0)
    with pytest.raises(TerrainError, match="cannot be"):
        picture(scene, view, field_deg=field_deg)


class Cast(NamedTuple):
    """What rays cast one by one find: the kind of each cell of a picture, and where it is."""

    kind: NDArray[np.int64]
    azimuth_deg: Floats
    altitude_deg: Floats


def cast(scene: Scene, view: View, field_deg: tuple[float, float], top_m: float) -> Cast:
    """March along each ray in steps of a fifth of a cell; own cells of a picture, half as wide."""
    dem, spot, (wide, high) = scene.dem, view.spot, field_deg
    azimuths = view.azimuth_deg + wide * ((np.arange(231) + 0.5) / 231 - 0.5)
    altitudes = view.altitude_deg + high * ((np.arange(467) + 0.5) / 467 - 0.5)
    eye_m = dem.height_at(spot.lon_deg, spot.lat_deg) + spot.eye_m
    far_m = np.arange(6.0, 1.5 * max(dem.shape), 0.2) * dem.cell_m
    # a crease of the slope at one's feet hides much of what lies below it
    ahead_m = np.append(np.geomspace(0.2, far_m[0], 700)[:-1], far_m)
    own = scene.country.under(None).own_ground(scene.hill)
    covers = scene.country.mist.covers if scene.country.mist else np.zeros(dem.shape, dtype=bool)
    kind = np.full((altitudes.size, azimuths.size), SKY)
    for number, azimuth in enumerate(azimuths):
        lon, lat = destination(spot.lon_deg, spot.lat_deg, azimuth, ahead_m)
        row, col = dem.grid.rowcol(lon, lat)
        inside = dem.grid.contains(row, col)
        ground = np.where(inside, dem.heights_at(lon, lat), np.nan)
        rows = [side(row).astype(int).clip(0) % dem.shape[0] for side in (np.floor, np.ceil)]
        cols = [side(col).astype(int).clip(0) % dem.shape[1] for side in (np.floor, np.ceil)]
        near = [covers[down, along] for down in rows for along in cols]
        misty = np.any(near, axis=0) & inside & (ground < top_m)
        surface = np.where(misty, top_m, ground)
        rising = np.degrees(np.arctan((surface - eye_m) / ahead_m - BEND_PER_M * ahead_m))
        top = np.maximum.accumulate(np.nan_to_num(rising, nan=-90.0))
        met = np.searchsorted(top, altitudes)
        on_ground = met < ahead_m.size
        met = met[on_ground]
        cells = (
            np.clip(np.rint(row[met]).astype(int), 0, dem.shape[0] - 1),
            np.clip(np.rint(col[met]).astype(int), 0, dem.shape[1] - 1),
        )
        kind[on_ground, number] = np.where(misty[met], MIST, np.where(own[cells], OWN, GROUND))
    return Cast(kind, azimuths, altitudes)


def waterline_of(found: Cast) -> float:
    """The outline by marching squares; each of its points lies between two cells of a picture."""
    across = float(np.diff(found.azimuth_deg)[0]) * np.cos(np.radians(found.altitude_deg.mean()))
    up = float(np.diff(found.altitude_deg)[0])
    length = np.zeros(4)
    for line in find_contours((found.kind == OWN).astype(float), 0.5):
        step = np.hypot(*(np.diff(line, axis=0) * [up, across]).T)
        weight = 0.5 * (np.append(step, 0.0) + np.append(0.0, step))
        low, high = np.floor(line).astype(int), np.ceil(line).astype(int)
        sides = found.kind[tuple(low.T)], found.kind[tuple(high.T)]
        np.add.at(length, np.where(sides[0] == OWN, sides[1], sides[0]), weight)
    return float(length[MIST] / (length[MIST] + length[GROUND]))


def mist_of(found: Cast) -> tuple[float, float]:
    level = np.cos(np.radians(found.altitude_deg))[:, np.newaxis] * np.ones(found.kind.shape)
    mist, sky = (float(level[found.kind == kind].sum()) for kind in (MIST, SKY))
    return mist / (level.sum() - sky), mist / level.sum()


def check(scene: Scene, view: View, field_deg: tuple[float, float], top_m: float) -> Picture:
    found, twin = picture(scene, view, field_deg=field_deg), cast(scene, view, field_deg, top_m)
    assert (found.mist_share, found.frame_mist_share) == pytest.approx(mist_of(twin), abs=0.01)
    assert found.waterline == pytest.approx(waterline_of(twin), abs=0.04)
    return found


def test_rays_one_by_one_over_knolls(make_dem: MakeDem) -> None:
    row, col = np.mgrid[:SIZE, :SIZE]
    knolls = 50.0 * np.sin(row / 6.3) * np.cos(col / 8.1) + 65.0
    scene, view = seen(make_dem(isle(knolls)), 120.0)
    found = check(scene, view, (22.0, 14.0), TOP_M)
    assert 0.2 < found.waterline < 0.95


@pytest.fixture(scope="module")
def lakeland(open_data: Path) -> Country:
    return Country(
        read_dem(
            open_data / "lakeland_50m.tif", around=Spot(lon_deg=-3.02, lat_deg=54.53), reach_m=11e3
        )
    )


@pytest.mark.slow
@pytest.mark.parametrize(
    ("top_m", "hill", "stand", "backdrop"),
    [
        (300.0, (54.4743, -3.0404), (54.5280, -3.0326), "mist"),
        (400.0, (54.5253, -2.9081), (54.5381, -2.9731), "ground"),
        (200.0, (54.5684, -3.1704), (54.5423, -3.1464), "sky"),
    ],
)
def test_rays_one_by_one_over_real_ground(
    lakeland: Country,
    top_m: float,
    hill: tuple[float, float],
    stand: tuple[float, float],
    backdrop: str,
) -> None:
    dem = lakeland.dem
    scene = Scene(lakeland.under_level(top_m), hill_at(dem, hill[1], hill[0]))
    view = look(scene, Spot(lon_deg=stand[1], lat_deg=stand[0]))
    assert view.backdrop == backdrop
    found = check(scene, view, (16.0, 16.0), top_m)
    assert 0.2 < found.waterline < 0.95
