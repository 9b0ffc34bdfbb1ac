"""What is seen of a sea of mist, against a slow march along every ray and against plain forms."""

from __future__ import annotations

import math

import numpy as np
import pytest

from terrain.constants import EARTH_RADIUS_M
from terrain.country import Country
from terrain.ground.dem import Dem
from terrain.ground.geodesy import destination
from terrain.ground.places import Hill, Spot
from terrain.ground.relief.summits import hill_at
from terrain.mist.islands import label_islands
from terrain.mist.level import level_mist
from terrain.mist.passes import passes
from terrain.vantage.sea import LEAST_ISLAND_DEG2, Sea
from terrain.view.look import look
from terrain.view.prospect import VIEW_DEG, prospect
from terrain.view.scene import Scene
from tests.conftest import MakeDem
from tests.scenes import Floats, cone

SIZE = 141
REFRACTION = 0.13
TOP_M = 100.0


def spot_at(dem: Dem, row: float, col: float, eye_m: float = 2.0) -> Spot:
    lon, lat = (float(part) for part in dem.grid.lonlat(row, col))
    return Spot(lon_deg=lon, lat_deg=lat, eye_m=eye_m)


def scene_of(dem: Dem, hill: tuple[int, int], top_m: float | None = TOP_M) -> Scene:
    target = hill_at(dem, *map(float, dem.grid.lonlat(*hill)))
    mist = None if top_m is None else level_mist(dem, top_m)
    return Scene(Country(dem, mist=mist, refraction=REFRACTION), target)


def rolling() -> Floats:
    """A hill in the east, a ridge to stand on in the west, and knolls of all heights between."""
    row, col = np.mgrid[:SIZE, :SIZE].astype(float)
    knolls = 45.0 * np.sin(row / 5.3) * np.cos(col / 7.1) + 60.0
    ridge = np.maximum(260.0 - 9.0 * np.abs(col - 12.0), 0.0)
    return np.maximum.reduce([knolls, ridge, cone(SIZE, (70, 110), 300.0, 0.35)])


def marched(scene: Scene, spot: Spot, azimuth_deg: float, altitude_deg: float) -> float | None:
    """The share of mist, step by step along rays that are not those of the picture.

    All ground under the top is flooded here, so what is seen is the higher of it and the top.
    """
    step_m, rays, rows = 4.0, 41, 83
    ahead_m = np.arange(step_m, 7500.0, step_m)
    eye_m = scene.dem.height_at(spot.lon_deg, spot.lat_deg) + spot.eye_m
    sunk_m = ahead_m**2 * (1.0 - REFRACTION) / (2.0 * EARTH_RADIUS_M)
    mist = ground = 0.0
    for aside in (np.arange(rays) + 0.5) / rays * 2.0 - 1.0:
        lon, lat = destination(spot.lon_deg, spot.lat_deg, azimuth_deg + VIEW_DEG * aside, ahead_m)
        heights = scene.dem.heights_at(lon, lat)
        known = ~np.isnan(heights)
        for up in (np.arange(rows) + 0.5) / rows * 2.0 - 1.0:
            altitude = math.radians(altitude_deg + VIEW_DEG * up)
            line_m = eye_m + ahead_m * math.tan(altitude) + sunk_m
            hits = known & (line_m <= np.maximum(heights, TOP_M))
            if not hits.any():
                continue
            if heights[int(np.argmax(hits))] < TOP_M:
                mist += math.cos(altitude)
            else:
                ground += math.cos(altitude)
    return mist / (mist + ground) if mist + ground else None


@pytest.mark.parametrize("place", [(70, 12), (40, 13), (95, 14)])
def test_share_of_mist_as_a_slow_march_finds_it(make_dem: MakeDem, place: tuple[int, int]) -> None:
    dem = make_dem(rolling())
    scene, spot = scene_of(dem, (70, 110)), spot_at(dem, *place)
    view = look(scene, spot)
    share = prospect(scene.country, spot, view.azimuth_deg, view.altitude_deg).mist_share
    assert 0.1 < share < 0.9  # there is something to tell apart
    assert share == pytest.approx(
        marched(scene, spot, view.azimuth_deg, view.altitude_deg), abs=0.012
    )
    assert Sea(scene=scene).seen_from(view)["mist_share"] == share


def test_over_a_boundless_sea_all_that_is_seen_is_mist(make_dem: MakeDem) -> None:
    dem = make_dem(cone(SIZE, (70, 20), 300.0, 1.2) + cone(SIZE, (70, 130), 200.0, 4.0))
    scene, spot = scene_of(dem, (70, 130)), spot_at(dem, 70, 20, eye_m=60.0)
    # to the south-east there is nothing but mist up to the raster's edge
    assert prospect(scene.country, spot, 120.0, -3.0).mist_share == 1.0
    # and up to it no more than the level ground's own dip
    dip_deg = math.degrees(math.atan2(260.0, 5000.0))
    about = prospect(scene.country, spot, 120.0, -3.0)
    assert about.part_deg2.sum() * 160 == pytest.approx((2 * VIEW_DEG) ** 2, rel=0.02)
    highest = about.seen.altitude_deg[about.is_mist.any(axis=1)].max()
    assert -dip_deg < highest < 0.0
    assert np.isnan(prospect(scene.country, spot, 120.0, 40.0).mist_share)


def test_areas_are_those_on_the_sphere(make_dem: MakeDem) -> None:
    """Steep lines take in less of the sphere than level ones, by the cosine of the altitude."""
    dem = make_dem(rolling())
    country, spot = scene_of(dem, (70, 110)).country, spot_at(dem, 70, 12)
    down = prospect(country, spot, 90.0, -60.0)
    total = (down.part_deg2 * np.ones(down.is_mist.shape)).sum()
    exact = (
        2.0
        * VIEW_DEG
        * math.degrees(
            math.sin(math.radians(-60.0 + VIEW_DEG)) - math.sin(math.radians(-60.0 - VIEW_DEG))
        )
    )
    assert total == pytest.approx(exact, rel=1e-4)
    # so near the nadir the rows that would lie beyond it are left out
    assert len(prospect(country, spot, 90.0, -86.0).part_deg2) < len(down.part_deg2)


@pytest.fixture
def isles(make_dem: MakeDem) -> Dem:
    """Looking east from (70, 10): the hill, two isles beside it, one behind it, one too small."""
    tops = [
        ((70, 10), 200.0, 0.10),  # where one stands, and sees the slope at one's feet
        ((70, 90), 250.0, 0.50),  # the hill
        ((64, 60), 130.0, 0.30),
        ((76, 60), 130.0, 0.30),
        ((70, 102), 150.0, 0.60),  # behind the hill, and lower
        ((58, 100), 106.0, 0.50),  # out of the mist by some metres, and far off
        ((30, 60), 200.0, 0.50),  # far to the left of the view
    ]
    return make_dem(np.maximum.reduce([cone(SIZE, *top) for top in tops]))


def test_islands_in_view_are_counted_without_ones_own(isles: Dem) -> None:
    scene = scene_of(isles, (70, 90))
    assert label_islands(isles, level_mist(isles, TOP_M)).max() == 7
    view = look(scene, spot_at(isles, 70, 10))
    assert Sea(scene=scene).seen_from(view)["islands_in_view"] == 3
    # from the island in the middle neither it nor what lies behind one counts
    other = look(scene, spot_at(isles, 64, 60))
    assert Sea(scene=scene).seen_from(other)["islands_in_view"] == 1


def test_shallows_in_view_hang_on_how_high_trees_are(make_dem: MakeDem) -> None:
    bank = np.minimum(cone(SIZE, (64, 60), 130.0, 0.3), 91.0)
    dem = make_dem(
        np.maximum(cone(SIZE, (70, 10), 200.0, 2.0), bank) + cone(SIZE, (70, 110), 250.0, 2.0)
    )
    scene = scene_of(dem, (70, 110))
    view = look(scene, spot_at(dem, 70, 10))
    low, high = (
        Sea(scene=scene, trees_m=trees_m).seen_from(view)["shallows_deg2"]
        for trees_m in ((5.0, 8.0), (5.0, 15.0))
    )
    assert low < high
    assert high > 0.02


def test_a_speck_of_an_island_does_not_count(isles: Dem) -> None:
    scene, spot = scene_of(isles, (70, 90)), spot_at(isles, 70, 10)
    view = look(scene, spot)
    labels = label_islands(isles, level_mist(isles, TOP_M))
    about = prospect(scene.country, spot, view.azimuth_deg, view.altitude_deg)
    areas = about.areas_deg2(labels, up_to=int(labels.max()))
    assert 0.0 < areas[labels[58, 100]] < LEAST_ISLAND_DEG2 < areas[labels[64, 60]]
    assert areas[labels[70, 10]] > LEAST_ISLAND_DEG2  # and that is one's own
    assert areas[labels[30, 60]] == 0.0
    assert areas[labels[70, 102]] == 0.0
    # the cone of 130 m over 100 m is 200 m wide at the shore and 30 m high, 2.5 km away
    shown = math.degrees(30.0 / 2500.0) * math.degrees(200.0 / 2500.0) / 2.0
    assert areas[labels[64, 60]] == pytest.approx(shown, rel=0.15)


def basins() -> Floats:
    """A wall with a gap at 300 m between a basin in the north and one in the south.

    The hill stands in the south, and one can stand on the western rim of either basin.
    """
    row, col = np.mgrid[:121, :121].astype(float)
    rim = np.clip(np.maximum(np.abs(col - 60.0) - 40.0, np.abs(row - 60.0) - 45.0), 0.0, None)
    ground = np.minimum(np.where(row < 60, 150.0, 100.0) + 25.0 * rim, 450.0)
    wall = np.abs(row - 60.0) < 3
    ground[wall] = np.maximum(300.0 + 25.0 * np.abs(col[wall] - 80.0), ground[wall])
    ground[wall] = np.minimum(ground[wall], 480.0)
    return np.maximum(ground, cone(121, (84, 84), 420.0, 0.9))


def pour_scene(dem: Dem, top_m: float) -> tuple[Scene, Sea]:
    hill: Hill = hill_at(dem, *map(float, dem.grid.lonlat(84, 84)))
    source = [spot_at(dem, 90, 60)]
    mist = level_mist(dem, top_m, seeds=source)
    scene = Scene(Country(dem, mist=mist, refraction=REFRACTION), hill)
    found = passes(dem, seeds=source)
    return scene, Sea(scene=scene, passes=found.assign(name="the Gap"))


def test_pouring_is_told_where_its_crossing_is_seen(make_dem: MakeDem) -> None:
    dem = make_dem(basins())
    scene, sea = pour_scene(dem, 320.0)
    beside = sea.seen_from(look(scene, spot_at(dem, 118, 66)))
    assert beside["pours_in_view"] == 0  # the pass is seen 14 degrees to the left of the hill
    toward = look(scene, spot_at(dem, 118, 84))
    assert sea.seen_from(toward)["pours_in_view"] == 1
    assert sea.seen_from(toward)["pours_over"] == "the Gap"
    # without the passes nothing is said of them, and without mist nothing at all
    assert "pours_in_view" not in Sea(scene=scene).seen_from(toward)
    bare = Scene(Country(dem, refraction=REFRACTION), scene.hill)
    assert Sea(scene=bare, passes=sea.passes).seen_from(toward) == {}


@pytest.mark.parametrize(("top_m", "count"), [(295.0, 0), (301.0, 1), (355.0, 1), (375.0, 0)])
def test_no_pouring_below_the_pass_nor_when_it_is_drowned(
    make_dem: MakeDem, top_m: float, count: int
) -> None:
    dem = make_dem(basins())
    scene, sea = pour_scene(dem, top_m)
    view = look(scene, spot_at(dem, 118, 84))
    assert sea.seen_from(view)["pours_in_view"] == count


def test_a_crossing_behind_a_hill_is_not_seen(make_dem: MakeDem) -> None:
    ground = basins()
    ground[94:100, 70:100] = np.maximum(ground[94:100, 70:100], 445.0)
    dem = make_dem(ground)
    scene, sea = pour_scene(dem, 320.0)
    view = look(scene, spot_at(dem, 118, 84))
    assert sea.seen_from(view)["pours_in_view"] == 0
