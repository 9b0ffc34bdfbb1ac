"""Where to stand, and to step, of an evening: all of it is asked by the moment, and follows it.

The ground is that of the mornings in a mirror: a wall in the west, and a slope before it that rises
to the east, up which the shade climbs.
"""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from terrain.ground.dem import Dem
from terrain.ground.geodesy import azimuth_and_distance
from terrain.ground.places import Spot
from terrain.light.day import light_arrival
from terrain.light.standing.hide import hide_track
from terrain.light.standing.stand import edge_of_light, stand_behind
from terrain.sun.position import sun_position
from tests.conftest import MakeDem

CELL = (200, 250)


@pytest.fixture(scope="module")
def slope(make_dem: MakeDem) -> Dem:
    col = np.arange(400)[::-1]
    ground = np.where(col < 300, 0.05 * (300 - col) * 25.0, 300.0)
    return make_dem(np.tile(ground, (401, 1)), cell_m=25.0)


@pytest.fixture(scope="module")
def spot(slope: Dem) -> Spot:
    lon, lat = slope.grid.lonlat(*CELL)
    return Spot(lon_deg=float(lon), lat_deg=float(lat), eye_m=0.0)


@pytest.fixture(scope="module")
def goes(slope: Dem, spot: Spot) -> dt.datetime:
    arrival = light_arrival(slope, dt.date(2025, 3, 21), evening=True)
    return arrival.at(spot.lon_deg, spot.lat_deg)


def test_the_edge_of_the_light_passes_as_the_sun_goes_and_climbs_the_slope(
    slope: Dem, spot: Spot, goes: dt.datetime
) -> None:
    edges = [
        edge_of_light(slope, spot, goes + dt.timedelta(minutes=minutes), reach_m=600.0)
        for minutes in (0, 3)
    ]
    lon, lat = edges[0].get_coordinates().to_numpy().T
    _, away = azimuth_and_distance(spot.lon_deg, spot.lat_deg, lon, lat)
    assert away.min() < 25.0
    east = [edge.get_coordinates()["x"].mean() for edge in edges]
    assert east[1] > east[0] + 0.001


def test_a_step_down_hides_the_sun_for_the_rest_of_the_day(
    slope: Dem, spot: Spot, goes: dt.datetime
) -> None:
    times = [goes - dt.timedelta(minutes=minutes) for minutes in (1.0, 0.5, -1.0)]
    track = hide_track(slope, spot, times)
    down = track[track["way"] == "down"].set_index("time")
    assert down["lasts"].all()
    assert 50.0 < down.loc[times[0], "distance_m"] < 150.0
    assert down.loc[times[0], "distance_m"] > down.loc[times[1], "distance_m"] > 0.0
    assert down.loc[times[2], "distance_m"] == 0.0
    assert abs(down.loc[times[0], "bearing_deg"] - 270.0) < 1.0


def test_the_sun_goes_down_behind_a_cairn(slope: Dem, spot: Spot, goes: dt.datetime) -> None:
    time = goes - dt.timedelta(minutes=20)
    row = stand_behind(slope, spot.lon_deg, spot.lat_deg, 12.0, [time]).iloc[0]
    sun = sun_position([time], lon_deg=spot.lon_deg, lat_deg=spot.lat_deg)
    assert row["bearing_deg"] == pytest.approx(float(sun.azimuth_deg[0]), abs=0.01)
    toward, away = azimuth_and_distance(row.geometry.x, row.geometry.y, spot.lon_deg, spot.lat_deg)
    assert float(toward) % 360.0 == pytest.approx(row["bearing_deg"], abs=0.1)
    assert float(away) == pytest.approx(row["distance_m"], abs=0.5)
    assert row.geometry.x > spot.lon_deg
    assert row["sun_in_view"]
