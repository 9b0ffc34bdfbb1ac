from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable

import numpy as np
import pytest

from terrain.errors import NoAnswer, NoGround, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.geodesy import azimuth_and_distance, wrap_deg
from terrain.ground.places import Spot
from terrain.light.standing.hide import hide_track
from terrain.light.standing.stand import edge_of_light, stand_behind
from terrain.mist.level import level_mist
from terrain.sight.skyline import skyline
from terrain.sun.position import sun_position
from terrain.view.contact import sun_contact

MakeDem = Callable[..., Dem]

DAY = dt.date(2025, 3, 21)


@pytest.fixture(scope="module")
def slope(make_dem: MakeDem) -> Dem:
    """A wall in the east, 300 m high, and ground before it that rises to the west."""
    col = np.arange(400)
    ground = np.where(col < 300, 0.05 * (300 - col) * 25.0, 300.0)
    return make_dem(np.tile(ground, (401, 1)), cell_m=25.0)


def spot_at(dem: Dem, row: float, col: float, eye_m: float = 1.7) -> Spot:
    lon, lat = dem.grid.lonlat(row, col)
    return Spot(lon_deg=float(lon), lat_deg=float(lat), eye_m=eye_m)


@pytest.fixture(scope="module")
def spot(slope: Dem) -> Spot:
    return spot_at(slope, 200.3, 150.6)


@pytest.fixture(scope="module")
def appears(slope: Dem, spot: Spot) -> dt.datetime:
    return sun_contact(skyline(slope, spot), DAY).appears


def test_the_edge_passes_the_spot_when_the_sun_appears(
    slope: Dem, spot: Spot, appears: dt.datetime
) -> None:
    edge = edge_of_light(slope, spot, appears, reach_m=600.0)
    lon, lat = edge.get_coordinates().to_numpy().T
    _, away = azimuth_and_distance(spot.lon_deg, spot.lat_deg, lon, lat)
    assert away.min() < 25.0
    later = edge_of_light(slope, spot, appears + dt.timedelta(minutes=3), reach_m=600.0)
    # the ground rises to the west, so the light comes down toward the wall in the east
    assert later.get_coordinates()["x"].mean() > edge.get_coordinates()["x"].mean() + 0.001
    assert edge["length_m"].iloc[0] == pytest.approx(1200.0, rel=0.1)


def test_on_the_edge_the_limb_is_on_the_skyline(
    slope: Dem, spot: Spot, appears: dt.datetime
) -> None:
    at = appears + dt.timedelta(minutes=2)
    for limb in (1.0, 0.0, -1.0):
        edge = edge_of_light(slope, spot, at, reach_m=900.0, limb=limb)
        lon, lat = edge.get_coordinates().to_numpy()[10]
        stand = Spot(lon_deg=float(lon), lat_deg=float(lat))
        sun = sun_position([at], lon_deg=stand.lon_deg, lat_deg=stand.lat_deg)
        azimuth = float(sun.azimuth_deg[0])
        sky = skyline(slope, stand, azimuths_deg=[azimuth])
        altitude = sun.apparent_altitude_deg[0] + limb * sun.semidiameter_deg[0]
        assert float(sky.altitude_deg[0]) == pytest.approx(altitude, abs=0.02)


def test_no_edge_about(slope: Dem, spot: Spot, appears: dt.datetime) -> None:
    with pytest.raises(NoAnswer, match="the sun is hidden"):
        edge_of_light(slope, spot, appears - dt.timedelta(hours=2))
    with pytest.raises(NoAnswer, match="the sun is in view"):
        edge_of_light(slope, spot, appears + dt.timedelta(hours=3), reach_m=300.0)
    with pytest.raises(ValueError, match="not on the disc"):
        edge_of_light(slope, spot, appears, limb=2.0)
    with pytest.raises(NoGround):
        edge_of_light(slope, Spot(lon_deg=0.0, lat_deg=0.0), appears)


def test_mist_hides_the_foot_of_the_slope(make_dem: MakeDem) -> None:
    col = np.arange(200)
    dem = make_dem(np.tile(np.abs(col - 100) * 5.0, (201, 1)), cell_m=50.0)
    spot = spot_at(dem, 100, 60)
    mist = level_mist(dem, 150.0)
    at = sun_contact(skyline(mist.surface(dem), spot), DAY).appears
    edge = edge_of_light(dem, spot, at, mist=mist)
    lon, lat = edge.get_coordinates().to_numpy().T
    assert azimuth_and_distance(spot.lon_deg, spot.lat_deg, lon, lat)[1].min() < 50.0


def test_a_step_down_hides_the_sun_again(slope: Dem, spot: Spot, appears: dt.datetime) -> None:
    times = [appears + dt.timedelta(seconds=seconds) for seconds in (-120, 5, 15, 30)]
    track = hide_track(slope, spot, times, reach_m=200.0)
    assert track.iloc[0]["distance_m"] == 0.0
    after = track[track["time"] > appears]
    assert set(after["way"]) >= {"down"}
    down = after[after["way"] == "down"]
    assert np.all(np.diff(down["distance_m"]) > 0.0)
    # the ground falls to the east, toward the wall, by one in twenty
    east = slope.grid.true_azimuth_deg(90.0, spot.lon_deg, spot.lat_deg)
    assert np.abs(wrap_deg(down["bearing_deg"] - float(east))).max() < 0.5
    assert down["slope_deg"].to_numpy() == pytest.approx(math.degrees(math.atan(0.05)), abs=0.01)
    # a place is left by the sun when its own disc appears there
    last = down.iloc[-1]
    stand = Spot(lon_deg=last.geometry.x, lat_deg=last.geometry.y)
    its_own = sun_contact(skyline(slope, stand), DAY).appears
    held = last["time"] + dt.timedelta(minutes=float(last["holds_min"]))
    assert abs((its_own - held).total_seconds()) < 15.0
    assert not last["lasts"]
    assert (track["holds_min"] >= 1.0).all()
    at_once = hide_track(slope, spot, times[1:2], least_s=0.0).iloc[0]
    assert at_once["distance_m"] < down.iloc[0]["distance_m"]
    assert at_once["holds_min"] < 1.0


def test_left_and_right_are_across_the_sun(make_dem: MakeDem) -> None:
    heights = np.zeros((300, 300))
    heights[157:176, 200] = 120.0  # a wall that begins just to the right of the sun
    dem = make_dem(heights, cell_m=10.0)
    spot = spot_at(dem, 150, 120)
    times = [
        dt.datetime(2025, 3, 21, 7, 50, tzinfo=dt.UTC) + dt.timedelta(minutes=m) for m in (0, 4)
    ]
    track = hide_track(dem, spot, times, reach_m=150.0, hold_s=300.0)
    right, left = (track[track["way"] == way] for way in ("right", "left"))
    assert len(left) == 0 or left["distance_m"].min() > right["distance_m"].max()
    sun = sun_position(times, lon_deg=spot.lon_deg, lat_deg=spot.lat_deg)
    aside = wrap_deg(right["bearing_deg"].to_numpy() - sun.azimuth_deg[: len(right)])
    np.testing.assert_allclose(aside, 90.0, atol=1e-6)
    assert len(right) >= 1


def test_no_step_hides_a_sun_on_a_plain(make_dem: MakeDem) -> None:
    dem = make_dem(np.zeros((80, 80)))
    noon = dt.datetime(2025, 3, 21, 12, tzinfo=dt.UTC)
    assert hide_track(dem, spot_at(dem, 40, 40), [noon]).empty
    with pytest.raises(TerrainError, match="is no search"):
        hide_track(dem, spot_at(dem, 40, 40), [noon], step_m=0.0)


def test_behind_a_tree_on_a_plain(make_dem: MakeDem) -> None:
    dem = make_dem(np.zeros((101, 101)), cell_m=25.0)
    tree = spot_at(dem, 50, 50)
    start = dt.datetime(2025, 3, 21, 8, 0, tzinfo=dt.UTC)
    times = [start + dt.timedelta(minutes=10 * step) for step in range(6)]
    stands = stand_behind(dem, tree.lon_deg, tree.lat_deg, 12.0, times)
    sun = sun_position(times, lon_deg=tree.lon_deg, lat_deg=tree.lat_deg)
    up = sun.apparent_altitude_deg > 2.0
    expected = (12.0 - 1.7) / np.tan(np.radians(sun.apparent_altitude_deg[up]))
    found = stands.set_index("time")["distance_m"].reindex(np.array(times)[up]).to_numpy()
    near = expected < 480.0
    np.testing.assert_allclose(found[near], expected[near], rtol=2e-3)
    bearing, _ = azimuth_and_distance(
        stands.geometry.x, stands.geometry.y, tree.lon_deg, tree.lat_deg
    )
    assert np.abs(wrap_deg(bearing - stands["bearing_deg"])).max() < 0.01
    assert stands["sun_in_view"].all()


def test_behind_a_tree_on_a_slope(slope: Dem) -> None:
    tree = spot_at(slope, 200, 150)
    times = [dt.datetime(2025, 3, 21, 9, minute, tzinfo=dt.UTC) for minute in (0, 20, 40)]
    stands = stand_behind(slope, tree.lon_deg, tree.lat_deg, 20.0, times, reach_m=2000.0)
    assert len(stands) == len(times)
    for stand in stands.itertuples():
        ground = slope.height_at(stand.geometry.x, stand.geometry.y)
        assert stand.ground_m == pytest.approx(ground, abs=0.01)
        base = slope.height_at(tree.lon_deg, tree.lat_deg)
        rise = (base + 20.0 - ground - 1.7) / stand.distance_m
        assert math.degrees(math.atan(rise)) == pytest.approx(stand.altitude_deg, abs=0.02)
        assert stand.slope_deg == pytest.approx(math.degrees(math.atan(0.05)), abs=0.01)


def test_ground_beyond_the_tree_may_hide_the_sun(make_dem: MakeDem) -> None:
    heights = np.zeros((101, 101))
    heights[:, 55:] = 400.0
    dem = make_dem(heights, cell_m=25.0)
    tree = spot_at(dem, 50, 50)
    time = dt.datetime(2025, 3, 21, 9, 0, tzinfo=dt.UTC)
    stands = stand_behind(dem, tree.lon_deg, tree.lat_deg, 12.0, [time])
    assert not stands["sun_in_view"].any()


def test_nowhere_to_stand(make_dem: MakeDem) -> None:
    dem = make_dem(np.zeros((101, 101)), cell_m=25.0)
    tree = spot_at(dem, 50, 50)
    night = dt.datetime(2025, 3, 21, 2, 0, tzinfo=dt.UTC)
    with pytest.raises(NoAnswer, match="at none of 1 times"):
        stand_behind(dem, tree.lon_deg, tree.lat_deg, 12.0, [night])
    with pytest.raises(TerrainError, match="more than 0 m"):
        stand_behind(dem, tree.lon_deg, tree.lat_deg, 0.0, [night])
    with pytest.raises(ValueError, match="no time zone"):
        stand_behind(dem, tree.lon_deg, tree.lat_deg, 12.0, [night.replace(tzinfo=None)])


def test_the_side_of_the_disc_counts_over_a_slanting_skyline(make_dem: MakeDem) -> None:
    row, col = np.mgrid[:401, :300]
    slanting = np.where(col < 220, 0.0, np.clip(300.0 + 25.0 * (200 - row), 0.0, 2000.0))
    dem = make_dem(slanting, cell_m=25.0)
    spot = spot_at(dem, 200, 100)
    for limb, side in ((1.0, "appears"), (-1.0, "clears")):
        moment = getattr(sun_contact(skyline(dem, spot), DAY), side)
        before = moment - dt.timedelta(minutes=3)
        row_of = hide_track(dem, spot, [before], limb=limb, least_s=0.0).iloc[0]
        assert row_of["distance_m"] == 0.0
        held = before + dt.timedelta(minutes=float(row_of["holds_min"]))
        # at its middle alone the disc would pass a minute later or sooner
        assert abs((held - moment).total_seconds()) < 8.0


def test_mist_beyond_the_tree_may_hide_the_sun(make_dem: MakeDem) -> None:
    heights = np.full((101, 201), 100.0)
    heights[:, :60] = 300.0
    dem = make_dem(heights, cell_m=25.0)
    tree = spot_at(dem, 50, 40)
    time = sun_contact(skyline(dem, tree), DAY).clears + dt.timedelta(seconds=60)
    found = [
        stand_behind(dem, tree.lon_deg, tree.lat_deg, 2.5, [time], mist=mist)["sun_in_view"].all()
        for mist in (None, level_mist(dem, 295.0))
    ]
    assert found == [True, True]
    sunk = spot_at(dem, 50, 61)
    found = [
        stand_behind(dem, sunk.lon_deg, sunk.lat_deg, 60.0, [time], mist=mist)["sun_in_view"].all()
        for mist in (None, level_mist(dem, 295.0))
    ]
    assert found == [True, False]
