"""The plan of a morning on the invented upland: its times follow from one another and the sun."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest

import terrain
from terrain.errors import NoAnswer, TerrainError
from terrain.light.colour import COLOUR_BEFORE
from terrain.plan.cautions import Air, Cautions, cautions_for, cold_at, edge_near
from terrain.plan.morning import plan_morning
from terrain.sun.clock import shifted
from terrain.words.cautions import cautions
from terrain.words.figures import celsius
from terrain.words.plan import hidden_ground, note, why_no_doubt

DATA = Path(__file__).parents[2] / "data"
DAY = dt.date(2026, 10, 13)
START = terrain.Spot(lon_deg=-24.0603, lat_deg=54.42176, name="Ashket Gap car park")
SPOT = terrain.Spot(lon_deg=-24.06379, lat_deg=54.40661, name="Hessick Spur")
FRAMED = ["colour begins", "sun appears", "sun clear", "light on the mist", "warm light over"]


@pytest.fixture(scope="module")
def upland():
    return terrain.read_dem(DATA / "upland.tif")


@pytest.fixture(scope="module")
def hill(upland):
    return terrain.hill_at(upland, -23.983, 54.394, snap_m=600.0, name="Orrasel")


@pytest.fixture(scope="module")
def told():
    """What is told while the plan is made: the plan as it was begun, and the shares done."""
    return {"begun": [], "shares": []}


@pytest.fixture(scope="module")
def plan(upland, hill, told):
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
        begun=told["begun"].append,
        progress=told["shares"].append,
    )


def test_the_stages_come_in_order_and_fit_the_walk(plan):
    names = [stage.kind for stage in plan.stages]
    assert names == ["leave", "start walking", "no lamp needed", "be in place", *FRAMED]
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
    assert plan.stage("sun appears").uncertainty_s == alone.contact.uncertainty_s
    light = terrain.twilight(DAY, lon_deg=SPOT.lon_deg, lat_deg=SPOT.lat_deg)
    assert abs(plan.stage("colour begins").at + COLOUR_BEFORE - light.sunrise) < dt.timedelta(
        seconds=2
    )


def test_warm_light_ends_as_the_sun_passes_six_degrees(plan):
    over = plan.stage("warm light over").at
    sun = terrain.sun_position([over], lon_deg=SPOT.lon_deg, lat_deg=SPOT.lat_deg, height_m=418.0)
    assert sun.altitude_deg[0] == pytest.approx(6.0, abs=0.01)


def test_who_needs_longer_to_settle_is_in_place_sooner(upland, hill):
    asked = {"start": START, "mist_top_m": 280.0, "other_tops_m": ()}
    slow = plan_morning(upland, SPOT, hill, DAY, **asked, settle=dt.timedelta(minutes=25))
    settled = slow.stage("colour begins").at - slow.stage("be in place").at
    assert settled.total_seconds() == pytest.approx(1500.0, abs=1.0)


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
        # the sun may come up beside the summit and stand over it later
        assert again.within(terrain.Limits().tolerance_deg)
        assert abs(again.offset_deg - other.offset_deg) < 1e-6


def test_a_fall_back_is_walked_to_by_the_clock_and_reached_before_its_colour(plan, upland, hill):
    """Its times are found again by the library's own calls, darkness and all."""
    paths = terrain.read_paths(DATA / "paths.geojson")
    for other in plan.fall_backs:
        mist = terrain.level_mist(upland, other.mist_top_m)
        again = terrain.check_backlight(upland, other.spot, hill, DAY, mist=mist)
        assert other.appears == again.contact.appears
        assert other.doubt.total_s == pytest.approx(again.contact.uncertainty_s)
        assert other.uncertainty_deg == pytest.approx(again.uncertainty_deg)
        light = terrain.twilight(DAY, lon_deg=other.spot.lon_deg, lat_deg=other.spot.lat_deg)
        colour = shifted(min(light.sunrise, other.appears), -COLOUR_BEFORE)
        settled = colour.timestamp() - other.walk.arrives.timestamp()
        assert settled == pytest.approx(600.0, abs=3.0)
        walk = terrain.walk_in(upland, START, other.spot, paths=paths, arrives=other.walk.arrives)
        assert other.walk.sets_out.timestamp() == pytest.approx(walk.sets_out.timestamp(), abs=1.0)
        by_day = terrain.walk_in(upland, START, other.spot, paths=paths)
        assert other.walk.dark_s > 600.0
        slower_s = other.walk.there_s - by_day.there_s
        assert slower_s == pytest.approx(0.2 * other.walk.dark_s, abs=2.0)
        assert other.walk.sets_out - other.leaves == dt.timedelta(minutes=25)


def test_every_stage_is_sure_to_so_much_or_says_why_not(plan):
    for stage in plan.stages:
        assert math.isnan(stage.uncertainty_s) == bool(stage.basis)
        assert (stage.doubt is None) == bool(stage.basis)
        if stage.doubt is not None:
            assert stage.doubt.total_s == pytest.approx(stage.uncertainty_s)
            *parts, hidden_s = vars(stage.doubt).values()
            assert min(parts) > 0.0
            assert hidden_s >= 0.0
    told = {stage.kind for stage in plan.stages if stage.doubt is not None}
    assert told == {"sun appears", "sun clear", "light on the mist"}
    words = why_no_doubt(plan)
    assert all((stage.kind in words) == bool(stage.basis) for stage in plan.stages)
    assert plan.offset_doubt.total_deg == pytest.approx(plan.backlight.uncertainty_deg)


def test_other_errors_of_the_inputs_change_every_doubt(upland, hill, plan):
    rough = terrain.Accuracy(raster_m=10.0)
    way = {"start": START, "paths": terrain.read_paths(DATA / "paths.geojson")}
    mist = {"mist_top_m": 280.0, "other_tops_m": (50.0,)}
    worse = plan_morning(upland, SPOT, hill, DAY, accuracy=rough, **mist, **way)
    for stage in worse.stages:
        if stage.doubt is not None:
            other = plan.stage(stage.kind).doubt
            assert stage.doubt.raster_s == pytest.approx(2.0 * other.raster_s, rel=0.01)
            assert stage.doubt.position_s == pytest.approx(other.position_s, rel=0.01)
    assert worse.fall_backs[0].doubt.raster_s > 1.9 * plan.fall_backs[1].doubt.raster_s


def test_hidden_ground_that_would_delay_the_sun_is_told_in_metres(plan):
    contact = plan.backlight.contact
    assert f"higher than {contact.beyond_height_m:.0f} m" in hidden_ground(plan)
    assert f"beyond {contact.known_to_m / 1000.0:.1f} km" in hidden_ground(plan)


def test_each_stage_in_place_has_its_frame(plan, upland, hill):
    framed = {stage.kind: stage for stage in plan.stages if stage.framing is not None}
    assert list(framed) == FRAMED
    for name in ("colour begins", "sun appears", "sun clear"):
        assert framed[name].framing is plan.framing
    for name in ("light on the mist", "warm light over"):
        assert framed[name].framing.frame == plan.after.frame
        assert framed[name].framing is not plan.framing
    assert framed["colour begins"].sun.state == "hidden"
    assert framed["sun appears"].sun.state == framed["sun clear"].sun.state == "in frame"
    assert framed["sun appears"].sun.expect_to_bracket
    over = framed["warm light over"]
    assert over.sun.state in ("just out", "out")
    assert not over.sun.expect_to_bracket
    # where the sun is then, by the library's own call
    at = plan.stage("warm light over").at
    sun = terrain.sun_position([at], lon_deg=SPOT.lon_deg, lat_deg=SPOT.lat_deg, height_m=418.0)
    assert over.sun.azimuth_deg == pytest.approx(sun.azimuth_deg[0], abs=0.01)
    assert not over.framing.frame.takes_in(sun.azimuth_deg[0], sun.apparent_altitude_deg[0])


def test_without_mist_the_light_comes_to_the_valley_and_the_frame_takes_it_in(upland, hill):
    clear = plan_morning(upland, SPOT, hill, DAY, start=START)
    stage = clear.stage("light on the valley floor")
    assert stage.doubt is not None
    if "out of sight" not in note(clear, stage):
        low = stage.framing.frame.altitude_deg
        assert low <= clear.after.frame.altitude_deg
        assert stage.framing.frame.focal_mm <= clear.after.frame.focal_mm


def test_the_best_of_some_days_is_planned_and_the_others_told(upland, hill):
    span = (dt.date(2026, 10, 1), dt.date(2026, 10, 31))
    best = plan_morning(upland, SPOT, hill, start=START, among=span)
    alone = terrain.backlit_dates(upland, SPOT, hill, 2026, tolerance_deg=1.0)
    alone = alone[(alone["day"] >= span[0]) & (alone["day"] <= span[1])]
    nearest = alone.iloc[int(alone["offset_deg"].abs().argmin())]
    assert best.day == nearest["day"]
    assert best.backlight.offset_deg == pytest.approx(nearest["offset_deg"])
    assert {good.day for good in best.other_days} == set(alone["day"]) - {best.day}
    away = [abs(good.offset_deg) for good in best.other_days]
    assert away == sorted(away)
    # with a day of one's own the best is one of the others
    other = plan_morning(upland, SPOT, hill, dt.date(2026, 10, 20), start=START, among=span)
    assert other.day == dt.date(2026, 10, 20)
    assert other.other_days[0].day == best.day


def test_no_day_and_no_good_day_are_told(upland, hill):
    with pytest.raises(TerrainError, match="no day was given"):
        plan_morning(upland, SPOT, hill, start=START)
    june = (dt.date(2026, 6, 1), dt.date(2026, 6, 30))
    with pytest.raises(NoAnswer, match="no morning from 2026-06-01 to 2026-06-30"):
        plan_morning(upland, SPOT, hill, start=START, among=june)
    with pytest.raises(TerrainError, match="is before the first"):
        plan_morning(upland, SPOT, hill, start=START, among=june[::-1])


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
    text = " ".join(cautions(plan))
    assert f"{plan.walk.dark_s / 60:.0f} minutes of the walk in are before civil dawn" in text
    assert f"{abs(plan.walk.steepest.slope_deg):.0f}°" in text
    assert f"feels like {celsius(plan.cold.feels_c)}" in text
    assert "Never look at the sun through a lens" in cautions(plan)[-1]
    warm = cold_at(Air(temperature_c=20.0), 400.0)
    mild = cautions_for(plan.scene, plan.backlight.view, plan.walk, warm)
    assert mild.cold is None
    assert len(cautions(replace(plan, cautions=Cautions()))) == 4


def test_cautions_know_the_mist_and_how_little_is_to_spare(plan, upland, hill):
    walk, view = plan.walk, plan.backlight.view
    dry = terrain.Scene(terrain.Country(upland), hill)
    misty_scene = terrain.Scene(dry.country.under_level(280.0), hill)
    misty = walk.height_m < 280.0
    in_mist_km = np.diff(walk.distance_m)[misty[1:] & misty[:-1]].sum() / 1000.0
    said = cautions(plan)
    assert any(f"{in_mist_km:.1f} km of the walk in lie in the mist" in text for text in said)
    assert cautions_for(dry, view, walk).in_mist_m is None
    assert not any("above the mist as planned" in text for text in said)
    assert plan.cautions.in_mist_m == pytest.approx(1000.0 * in_mist_km)
    low = replace(view, freeboard_m=12.0, clearance_m=2.0)
    found = cautions_for(misty_scene, low, walk)
    text = " ".join(cautions(replace(plan, cautions=found)))
    assert "only 12 m above the mist as planned" in text
    assert "passes only 2 m over ground" in text


@pytest.mark.parametrize(
    ("spare", "is_little"),
    [
        ({"freeboard_m": 29.9}, True),
        ({"freeboard_m": 30.1}, False),
        ({"freeboard_m": math.nan}, False),
        ({"clearance_m": 4.9}, True),
        ({"clearance_m": 5.1}, False),
        ({"clearance_m": 4.9, "visible": False}, False),
    ],
)
def test_what_is_little_to_spare(plan, spare, is_little):
    """The limits of 30 m above the mist and 5 m over the ground, from both sides."""
    view = replace(plan.backlight.view, **{"freeboard_m": 99.0, "clearance_m": 99.0} | spare)
    found = cautions_for(plan.scene, view, plan.walk)
    told = [found.freeboard_m, found.clearance_m]
    assert [value for value in told if value is not None] == list(spare.values())[:1] * is_little


@pytest.mark.parametrize(
    ("walk", "expected"),
    [
        ({"dark_s": 60.0}, {"dark_s": 60.0}),
        ({"dark_s": 59.0}, {"dark_s": None}),
        ({"way_deg": -20.5, "ground_deg": 21.0}, {"steep": True}),
        ({"way_deg": 19.5, "ground_deg": 30.5}, {"steep": True}),
        ({"way_deg": 19.5, "ground_deg": 29.5}, {"steep": False}),
    ],
)
def test_how_dark_and_how_steep_a_walk_is_worth_a_word(plan, walk, expected):
    way = replace(plan.walk.steepest, slope_deg=walk.get("way_deg", 0.0))
    ground = replace(plan.walk.steepest_ground, ground_deg=walk.get("ground_deg", 0.0))
    dark_s = walk.get("dark_s", 0.0)
    changed = replace(plan.walk, steepest=way, steepest_ground=ground, dark_s=dark_s)
    found = cautions_for(plan.scene, plan.backlight.view, changed)
    assert {name: getattr(found, name) for name in expected} == expected


def test_an_edge_is_found_with_its_side_and_level_ground_has_none(make_dem):
    heights = np.zeros((21, 21))
    heights[:, 12:] = -60.0  # falls 60 m within a cell, two cells east of the middle
    dem = make_dem(heights, cell_m=10.0)
    lon, lat = (float(part) for part in dem.grid.lonlat(10, 10))
    slope, azimuth = edge_near(dem, terrain.Spot(lon_deg=lon, lat_deg=lat))
    assert slope > 60.0
    assert azimuth == pytest.approx(90.0, abs=50.0)
    assert edge_near(make_dem(np.zeros((9, 9))), terrain.Spot(lon_deg=-24.0, lat_deg=54.4)) is None


@pytest.mark.parametrize(("fall_m", "slope_deg"), [(22.0, 47.7), (15.0, None)])
def test_only_ground_steeper_than_40_degrees_is_an_edge(make_dem, fall_m, slope_deg):
    """A fall is spread over two cells of 10 m: atan(fall / 20 m)."""
    heights = np.zeros((21, 21))
    heights[:, 12:] = -fall_m
    dem = make_dem(heights, cell_m=10.0)
    lon, lat = (float(part) for part in dem.grid.lonlat(10, 10))
    edge = edge_near(dem, terrain.Spot(lon_deg=lon, lat_deg=lat))
    assert (edge and edge[0]) == pytest.approx(slope_deg, abs=0.2)


@pytest.mark.parametrize(("cells", "is_near"), [(2, True), (3, True), (5, False), (6, False)])
def test_an_edge_counts_within_30_m_and_half_a_cell(make_dem, cells, is_near):
    """The cells of 10 m on both sides of the fall are steep: the nearer is one less away."""
    heights = np.zeros((31, 31))
    heights[:, 15 + cells + 1 :] = -60.0
    dem = make_dem(heights, cell_m=10.0)
    lon, lat = (float(part) for part in dem.grid.lonlat(15, 15))
    assert (edge_near(dem, terrain.Spot(lon_deg=lon, lat_deg=lat)) is not None) == is_near


def test_all_but_the_fall_backs_is_told_first(plan, told):
    (begun,) = told["begun"]
    assert begun.fall_backs == ()
    assert len(plan.fall_backs) == 2
    assert replace(begun, fall_backs=plan.fall_backs) == plan


def test_progress_goes_up_to_all_of_it(plan, told):
    shares = told["shares"]
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
