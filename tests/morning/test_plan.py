"""The plan of a morning on the invented upland: its times follow from one another and the sun."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest

import terrain
from terrain.errors import NoAnswer
from terrain.morning.cautions import STANDING, cautions_for, edge_near
from terrain.morning.cold import Air, cold_at
from terrain.morning.plan import COLOUR_BEFORE, plan_morning
from terrain.sun.clock import shifted

DATA = Path(__file__).parents[2] / "data"
DAY = dt.date(2026, 10, 13)
START = terrain.Spot(lon_deg=-24.0603, lat_deg=54.42176, name="Ashket Gap car park")
SPOT = terrain.Spot(lon_deg=-24.06379, lat_deg=54.40661, name="Hessick Spur")


@pytest.fixture(scope="module")
def upland():
    return terrain.read_dem(DATA / "upland.tif")


@pytest.fixture(scope="module")
def hill(upland):
    return terrain.hill_at(upland, -23.983, 54.394, snap_m=600.0, name="Orrasel")


@pytest.fixture(scope="module")
def plan(upland, hill):
    return plan_morning(
        upland,
        SPOT,
        hill,
        DAY,
        start=START,
        mist_top_m=280.0,
        paths=terrain.read_paths(DATA / "paths.geojson"),
        air=Air(temperature_c=6.0, wind_kmh=20.0),
        drive=dt.timedelta(minutes=25),
    )


def test_the_stages_come_in_order_and_fit_the_walk(plan):
    names = [stage.name for stage in plan.stages]
    assert names == [
        "leave", "start walking", "no lamp needed", "be in place", "colour begins", "sun appears",
        "sun clear", "light on the mist", "warm light over",
    ]  # fmt: skip
    times = [stage.at for stage in plan.stages]
    assert times == sorted(times)
    walked = plan.stage("be in place").at - plan.stage("start walking").at
    assert walked.total_seconds() == pytest.approx(plan.walk.there_s, abs=1.0)
    assert plan.stage("start walking").at - plan.stage("leave").at == dt.timedelta(minutes=25)
    settled = plan.stage("colour begins").at - plan.stage("be in place").at
    assert settled.total_seconds() == pytest.approx(600.0, abs=1.0)


def test_the_times_are_those_of_the_library_s_own_calls(plan, upland, hill):
    mist = terrain.level_mist(upland, 280.0)
    alone = terrain.check_backlight(upland, SPOT, hill, DAY, mist=mist)
    assert plan.stage("sun appears").at == alone.contact.appears
    assert plan.stage("sun appears").plus_minus_s == alone.contact.uncertainty_s
    light = terrain.twilight(DAY, lon_deg=SPOT.lon_deg, lat_deg=SPOT.lat_deg)
    assert abs(plan.stage("colour begins").at + COLOUR_BEFORE - light.sunrise) < dt.timedelta(
        seconds=2
    )


def test_warm_light_ends_as_the_sun_passes_six_degrees(plan):
    over = plan.stage("warm light over").at
    sun = terrain.sun_position([over], lon_deg=SPOT.lon_deg, lat_deg=SPOT.lat_deg, height_m=418.0)
    assert sun.altitude_deg[0] == pytest.approx(6.0, abs=0.01)


def test_the_hour_that_the_clocks_skip_is_not_lost_on_the_way():
    """Real time from leaving to arriving, on a morning on which clocks are put forward."""
    arrives = dt.datetime(2026, 3, 29, 6, 0, tzinfo=ZoneInfo("Europe/London"))
    left = shifted(arrives, -dt.timedelta(hours=7))
    assert arrives.timestamp() - left.timestamp() == 7 * 3600.0
    assert f"{left:%H:%M}" == "22:00"


def test_a_fall_back_is_another_place_that_holds_at_its_own_height_of_mist(plan, upland, hill):
    assert [other.mist_top_m for other in plan.fall_backs] == [230.0, 330.0]
    for other in plan.fall_backs:
        assert other.stays
        away = terrain.ground.geodesy.azimuth_and_distance(
            SPOT.lon_deg, SPOT.lat_deg, other.spot.lon_deg, other.spot.lat_deg
        )[1]
        assert away > 150.0
        mist = terrain.level_mist(upland, other.mist_top_m)
        again = terrain.check_backlight(upland, other.spot, hill, DAY, mist=mist)
        assert again.behind
        assert abs(again.offset_deg - other.offset_deg) < 1e-6


def test_a_spot_that_the_higher_mist_would_drown_is_not_to_be_counted_on(upland, hill):
    drowned = plan_morning(
        upland, SPOT, hill, DAY, start=START, mist_top_m=400.0, other_tops_m=(50.0,)
    )
    (higher,) = drowned.fall_backs
    assert not higher.stays
    assert "under the mist" in higher.note


def test_without_mist_there_is_nothing_to_fall_back_from(upland, hill):
    clear = plan_morning(upland, SPOT, hill, DAY, start=START)
    assert clear.fall_backs == ()
    assert np.isnan(clear.mist_top_m)


def test_what_cannot_be_is_refused(upland, hill):
    with pytest.raises(NoAnswer, match="under the mist"):
        plan_morning(upland, SPOT, hill, DAY, start=START, mist_top_m=500.0)


def test_cautions_name_the_dark_the_steep_and_the_cold_with_their_figures(plan, upland):
    text = " ".join(plan.cautions)
    assert f"{plan.walk.dark_s / 60:.0f} minutes of the walk in are before civil dawn" in text
    assert f"{abs(plan.walk.steepest.slope_deg):.0f}°" in text
    assert f"feels like {plan.cold.feels_c:.0f} °C" in text
    assert plan.cautions[-len(STANDING) :] == STANDING
    mild = cautions_for(upland, plan.walk, cold_at(Air(temperature_c=20.0), 400.0))
    assert not any("feels like" in caution for caution in mild)


def test_an_edge_is_found_with_its_side_and_level_ground_has_none(make_dem):
    heights = np.zeros((21, 21))
    heights[:, 12:] = -60.0  # falls 60 m within a cell, two cells east of the middle
    dem = make_dem(heights, cell_m=10.0)
    lon, lat = (float(part) for part in dem.grid.lonlat(10, 10))
    slope, azimuth = edge_near(dem, terrain.Spot(lon_deg=lon, lat_deg=lat))
    assert slope > 60.0
    assert azimuth == pytest.approx(90.0, abs=50.0)
    assert edge_near(make_dem(np.zeros((9, 9))), terrain.Spot(lon_deg=-24.0, lat_deg=54.4)) is None
