"""The plan of an evening: by the clock, by the library's own calls, as a morning in a mirror."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace

import numpy as np
import pytest

import terrain
from terrain.errors import NoAnswer
from terrain.frame.shade import sun_in_frame
from terrain.light.colour import lamp_at
from terrain.plan.good_days import good_days
from terrain.plan.stages import StageKind
from terrain.plan.what_if import what_ifs
from terrain.vantage.access import in_place_by
from terrain.words.cautions import cautions
from terrain.words.plan import (
    basis,
    day_of,
    fall_back_told,
    fall_back_walk,
    fall_back_words,
    hidden_ground,
    note,
    stage_words,
    why_no_doubt,
)
from tests.conftest import MakeDem
from tests.evenings import DATA, DAY, SPOT, START, evening_plan, hill, upland
from tests.scenes import cone, flat

MINUTE = dt.timedelta(minutes=1)
SIZE = 161
MIDSUMMER, TOWARD_DEG = dt.date(2027, 6, 21), 64.0
MIRROR = {
    "be in place": "walk back",
    "colour begins": "colour ends",
    "sun appears": "sun gone",
    "sun clear": "sun touches the ground",
    "warm light over": "warm light begins",
    "light on the mist": "light leaves the mist",
    "no lamp needed": "a lamp is needed",
}


@pytest.fixture(scope="module")
def plan() -> terrain.Plan:
    return evening_plan()


def at(plan: terrain.Plan, kind: str) -> dt.datetime:
    stage = plan.stage(kind)
    assert stage is not None, kind
    return stage.at


def sun_deg(moment: dt.datetime) -> float:
    """True altitude of the sun at the spot."""
    sun = terrain.sun_position([moment], lon_deg=SPOT.lon_deg, lat_deg=SPOT.lat_deg)
    return float(sun.altitude_deg[0])


def test_the_stages_go_by_the_clock(plan: terrain.Plan) -> None:
    assert plan.evening
    assert [stage.kind for stage in plan.stages] == [
        "leave",
        "start walking",
        "be in place",
        "light leaves the mist",
        "warm light begins",
        "sun over the summit",
        "sun hidden for a while",
        "sun gone",
        "colour ends",
        "walk back",
        "a lamp is needed",
        "back at the start",
    ]
    times = [stage.at for stage in plan.stages]
    assert times == sorted(times)
    assert at(plan, "start walking") - at(plan, "leave") == 25 * MINUTE
    walked = at(plan, "be in place") - at(plan, "start walking")
    assert walked.total_seconds() == pytest.approx(plan.walk.there_s, abs=1.0)
    # ten minutes to settle before the first of the good light, and as long to pack after the last
    for first, last in (("be in place", "light leaves the mist"), ("colour ends", "walk back")):
        assert (at(plan, last) - at(plan, first)).total_seconds() == pytest.approx(600.0, abs=1.0)


def test_its_moments_are_those_of_the_library_s_own_calls(plan: terrain.Plan) -> None:
    mist = terrain.level_mist(upland(), 280.0)
    alone = terrain.check_backlight(upland(), SPOT, hill(), DAY, mist=mist, evening=True)
    assert at(plan, "sun gone") == alone.contact.appears
    gone = plan.stage("sun gone")
    assert gone is not None
    assert gone.uncertainty_s == alone.contact.uncertainty_s
    assert at(plan, "sun hidden for a while") == alone.contact.later[0].appears
    assert sun_deg(at(plan, "warm light begins")) == pytest.approx(6.0, abs=0.01)
    assert sun_deg(at(plan, "a lamp is needed")) == pytest.approx(-6.0, abs=0.01)
    light = terrain.twilight(DAY, lon_deg=SPOT.lon_deg, lat_deg=SPOT.lat_deg)
    assert light.sunset is not None
    after = at(plan, "colour ends") - light.sunset
    assert after.total_seconds() == pytest.approx(900.0, abs=2.0)


def test_one_walks_in_by_day_and_back_the_same_way_in_the_dark(plan: terrain.Plan) -> None:
    back = plan.walk_back
    assert back is not None
    assert plan.walk.dark_s == 0.0
    paths = terrain.read_paths(DATA / "paths.geojson")
    by_day = terrain.walk_in(upland(), START, SPOT, paths=paths)
    assert plan.walk.there_s == pytest.approx(by_day.there_s)
    assert np.array_equal(back.lon_deg, plan.walk.lon_deg[::-1])
    # a leg in the dark takes 1.25 times as long
    assert back.there_s - plan.walk.back_s == pytest.approx(0.2 * back.dark_s, abs=1.0)
    dark = at(plan, "back at the start") - at(plan, "a lamp is needed")
    assert back.dark_s == pytest.approx(dark.total_seconds(), abs=5.0)
    assert (back.start, back.spot) == (SPOT, START)
    assert back.steepest.slope_deg == -plan.walk.steepest.slope_deg
    assert back.steepest.after_m == pytest.approx(plan.walk.length_m - plan.walk.steepest.after_m)


def test_the_sun_is_framed_from_the_ground_on_and_hidden_after(plan: terrain.Plan) -> None:
    framed = {stage.kind: stage for stage in plan.stages if stage.framing is not None}
    assert list(framed) == [
        "light leaves the mist",
        "warm light begins",
        "sun over the summit",
        "sun hidden for a while",
        "sun gone",
        "colour ends",
    ]
    suns = {kind: stage.sun.state for kind, stage in framed.items() if stage.sun}
    assert suns["sun gone"] == suns["sun hidden for a while"] == "in frame"
    assert suns["colour ends"] == "hidden"
    for kind in ("sun hidden for a while", "sun gone", "colour ends"):
        assert framed[StageKind(kind)].framing is plan.framing
    assert framed[StageKind.WARM_LIGHT_BEGINS].framing is not plan.framing


def test_the_sun_is_seen_up_to_the_moment_at_which_it_goes(plan: terrain.Plan) -> None:
    gone = at(plan, "sun gone")
    moments = [gone + dt.timedelta(seconds=since_s) for since_s in (-1.0, 0.0, 1.0)]
    rows = sun_in_frame(plan.scene, plan.backlight, plan.framing.frame, moments)
    assert [row.state for row in rows] == ["in frame", "in frame", "hidden"]


def ground(*, mirrored: bool) -> np.ndarray:
    """A hill and one beside it, and a knoll to look from, on a plain with a rim."""
    row, col = np.mgrid[:SIZE, :SIZE] - 80
    plain = 10.0 + 0.4 * np.maximum(np.hypot(row, col) - 60.0, 0.0)
    hills = (cone(SIZE, (80, 80), 600.0, 0.4), cone(SIZE, (50, 110), 250.0, 0.3))
    whole = np.maximum.reduce([plain, *hills, cone(SIZE, (106, 26), 200.0, 0.2)])
    return whole[:, :: -1 if mirrored else 1]


def in_a_mirror(make_dem: MakeDem, *, evening: bool) -> terrain.Plan:
    dem = make_dem(ground(mirrored=evening), lon=0.0, lat=51.5)
    cols = np.array([80, 26, 20])
    lon, lat = dem.grid.lonlat(np.array([80, 106, 112]), 160 - cols if evening else cols)
    top = terrain.hill_at(dem, float(lon[0]), float(lat[0]), name="Cone")
    spot, start = (
        terrain.Spot(lon_deg=float(lon[n]), lat_deg=float(lat[n]), name=name)
        for n, name in ((1, "the knoll"), (2, "the gate"))
    )
    return terrain.plan_morning(
        dem,
        spot,
        top,
        MIDSUMMER,
        start=start,
        mist_top_m=100.0,
        evening=evening,
        kit=terrain.Kit(lenses_mm=((10.0, 400.0),)),
    )


@pytest.fixture(scope="module")
def mirrored(make_dem: MakeDem) -> tuple[terrain.Plan, terrain.Plan]:
    return in_a_mirror(make_dem, evening=False), in_a_mirror(make_dem, evening=True)


@pytest.mark.parametrize(("of_morning", "of_evening"), MIRROR.items())
def test_an_evening_is_a_morning_in_a_mirror(
    mirrored: tuple[terrain.Plan, terrain.Plan], of_morning: str, of_evening: str
) -> None:
    """About the noons of midsummer, to a second; `test_contact` says what the declination does."""
    dawn, dusk = mirrored
    noon, noon_there = dawn.light.transit, dusk.light.transit
    assert noon is not None
    assert noon_there is not None
    apart = (noon - at(dawn, of_morning)) - (at(dusk, of_evening) - noon_there)
    assert abs(apart.total_seconds()) < 1.0
    first, last = dawn.stage(of_morning), dusk.stage(of_evening)
    assert first is not None
    assert last is not None
    assert last.uncertainty_s == pytest.approx(first.uncertainty_s, rel=0.02, nan_ok=True)
    assert (first.framing is None) == (last.framing is None)
    if first.framing is not None and last.framing is not None:
        turned = 360.0 - last.framing.frame.azimuth_deg
        assert turned == pytest.approx(first.framing.frame.azimuth_deg, abs=0.02)
        assert last.framing.frame.focal_mm == pytest.approx(first.framing.frame.focal_mm, rel=0.01)
        assert last.sun is not None
        assert first.sun is not None
        assert last.sun.state == first.sun.state


def test_no_stage_is_without_its_mirror(mirrored: tuple[terrain.Plan, terrain.Plan]) -> None:
    dawn, dusk = mirrored
    assert {stage.kind for stage in dawn.stages} == {*MIRROR, "start walking"}
    assert {stage.kind for stage in dusk.stages} == {
        *MIRROR.values(),
        "start walking",
        "be in place",
        "back at the start",
    }
    assert dusk.backlight.offset_deg == pytest.approx(-dawn.backlight.offset_deg, abs=0.005)
    assert [len(each.fall_backs) for each in mirrored] == [2, 2]
    for first, last in zip(dawn.fall_backs, dusk.fall_backs, strict=True):
        assert (first.mist_top_m, first.stays) == (last.mist_top_m, last.stays)


def test_the_sun_minute_by_minute_is_the_morning_s_turned_round(
    mirrored: tuple[terrain.Plan, terrain.Plan],
) -> None:
    for plan, hidden_after in zip(mirrored, (False, True), strict=True):
        rows, met = plan.framing.sun, plan.backlight.contact.appears
        times = [row.moment for row in rows]
        assert times == sorted(times)
        since = [(row.moment - met).total_seconds() / 60.0 for row in rows]
        ends = (-30.0, 5.0) if hidden_after else (-5.0, 30.0)
        assert since[0] == pytest.approx(ends[0], abs=1.0)
        assert since[-1] == pytest.approx(ends[1], abs=1.0)
        for minutes, row in zip(since, rows, strict=True):
            away = minutes > 0.0 if hidden_after else minutes < 0.0
            assert (row.state == "hidden") == away
    events = [[row.event for row in plan.framing.sun if row.event] for plan in mirrored]
    assert events == [["sun appears", "sun clear"], ["sun touches the ground", "sun gone"]]
    assert mirrored[1].framing.expect_to_bracket == mirrored[0].framing.expect_to_bracket


def test_light_that_left_the_mist_long_before_is_not_waited_for(
    make_dem: MakeDem, mirrored: tuple[terrain.Plan, terrain.Plan], monkeypatch: pytest.MonkeyPatch
) -> None:
    """One is in place as if there were none, and what was before is no stage."""
    from terrain.plan import morning

    usual = morning.valley_light
    alone = in_place_by(mirrored[1].backlight, terrain.Access())
    for sooner_min, waited in ((59.0, True), (61.0, False)):

        def left(*args, sooner_min=sooner_min, **options):  # type: ignore[no-untyped-def]
            light = usual(*args, **options)
            leaves = alone + (10.0 - sooner_min) * MINUTE
            contact = replace(light.contact, appears=leaves)
            return replace(light, contact=contact, seen=True, on_mist=True)

        monkeypatch.setattr(morning, "valley_light", left)
        plan = in_a_mirror(make_dem, evening=True)
        assert (plan.stage("light leaves the mist") is not None) == waited
        sooner = alone - at(plan, "be in place")
        assert sooner.total_seconds() == pytest.approx(60.0 * 59.0 * waited, abs=1.0)


def test_the_other_mists_are_of_the_evening_too(plan: terrain.Plan) -> None:
    found = what_ifs(plan, [255.0, 280.0, 400.0])
    assert [each.mist_top_m for each in found.mornings] == [255.0, 280.0]
    assert all(each.backlight.contact.evening for each in found.mornings)
    assert "under the mist" in found.higher


def test_the_good_evenings_are_those_of_the_dates() -> None:
    span = (dt.date(2026, 10, 25), dt.date(2026, 11, 5))
    found = good_days(upland(), SPOT, hill(), span, evening=True)
    table = terrain.backlit_dates(upland(), SPOT, hill(), span, tolerance_deg=1.0, evening=True)
    assert {good.day: good.appears for good in found} == dict(
        zip(table["day"], table["appears"].dt.to_pydatetime(), strict=True)
    )
    best = terrain.plan_morning(upland(), SPOT, hill(), start=START, among=span, evening=True)
    assert best.day == found[0].day
    assert [good.day for good in best.other_days] == [good.day for good in found[1:]]
    june = (dt.date(2026, 6, 1), dt.date(2026, 6, 3))
    with pytest.raises(NoAnswer, match="on no evening from 2026-06-01 to 2026-06-03 does the sun"):
        good_days(upland(), SPOT, hill(), june, evening=True)


@pytest.mark.parametrize(
    ("lat_deg", "day", "hour"),
    [(60.4, dt.date(2026, 7, 10), 0), (60.4, dt.date(2026, 4, 10), 21), (64.0, None, None)],
)
def test_when_a_lamp_is_needed(
    plan: terrain.Plan, lat_deg: float, day: dt.date | None, hour: int | None
) -> None:
    """In western Norway: after midnight in July; farther north not at all about midsummer."""
    sea = flat(0.0, lon_deg=5.3, lat_deg=lat_deg)
    contact = terrain.sun_contact(sea, day or dt.date(2026, 6, 21), evening=True)
    view = replace(plan.backlight.view, skyline=sea, spot=sea.spot)
    lamp = lamp_at(replace(plan.backlight, view=view, contact=contact))
    assert (None if lamp is None else lamp.hour) == hour
    if lamp is not None:
        sun = terrain.sun_position([lamp], lon_deg=5.3, lat_deg=lat_deg, height_m=100.0)
        assert sun.altitude_deg[0] == pytest.approx(-6.0, abs=0.01)
        assert dt.timedelta(0) < lamp - contact.appears < dt.timedelta(hours=4)


def test_what_is_said_of_an_evening(plan: terrain.Plan) -> None:
    said = {stage.kind: note(plan, stage) for stage in plan.stages}
    assert said[StageKind.SUN_GONE] == plan.backlight.reason
    assert said[StageKind.SUN_GONE].startswith("the sun goes down behind Orrasel")
    back = plan.walk_back
    assert back is not None
    assert said[StageKind.WALK_BACK] == (
        f"the same way, {back.there_s / 60.0:.0f} min, {back.dark_s / 60.0:.0f} min of it after "
        "civil dusk"
    )
    assert said[StageKind.LIGHT_LEAVES_MIST].endswith("on the line to the hill")
    assert day_of(plan) == "evening of Sunday 1 November 2026"
    assert hidden_ground(plan).endswith("would hide the sun sooner.")
    words = why_no_doubt(plan)
    assert "be in place: counted back from the good light" in words
    assert "walk back and back at the start: counted on from the colour" in words
    for stage in plan.stages:
        assert math.isnan(stage.uncertainty_s) == bool(basis(stage))
    lines = " ".join(
        [stage_words(plan, stage) for stage in plan.stages]
        + [tell(plan, other) for other in plan.fall_backs for tell in TELL]
        + [*cautions(plan), words, hidden_ground(plan)]
    )
    for wrong in ("dawn", "appears", "morning", "sunrise", "delay"):
        assert wrong not in lines


TELL = (fall_back_told, fall_back_words)


def test_a_fall_back_of_an_evening_tells_when_the_sun_is_gone(plan: terrain.Plan) -> None:
    there = replace(
        plan.fall_backs[0],
        spot=SPOT,
        walk=plan.walk,
        back=plan.walk_back,
        appears=at(plan, "sun gone"),
    )
    told, words = (tell(plan, there) for tell in TELL)
    gone = f"{at(plan, 'sun gone'):%H:%M}"
    assert f"the sun is gone at {gone}" in told
    assert f"sun gone at {gone}" in words
    assert fall_back_walk(there).endswith("min of it after civil dusk")


def test_the_cautions_of_an_evening(plan: terrain.Plan) -> None:
    back = plan.walk_back
    assert back is not None
    said = cautions(plan)
    text = " ".join(said)
    assert f"{back.dark_s / 60.0:.0f} minutes of the walk back are after civil dusk" in text
    assert "know the way back" in text
    assert "of the walk back lie in the mist" in text
    worst = back.steepest
    assert (
        f"of the way back goes down at {-worst.slope_deg:.0f}°, {worst.after_m / 1000.0:.1f} km "
        "from the spot"
    ) in text
    assert f"cold up to {at(plan, 'back at the start'):%H:%M}" in text
    assert said[-1].startswith("Never look at the sun through a lens")


def test_a_fall_back_of_an_evening_holds_at_its_own_height_of_mist(plan: terrain.Plan) -> None:
    assert [other.mist_top_m for other in plan.fall_backs] == [230.0, 330.0]
    for other in plan.fall_backs:
        assert other.spot is not None
        assert other.walk is not None
        assert other.back is not None
        mist = terrain.level_mist(upland(), other.mist_top_m)
        again = terrain.check_backlight(upland(), other.spot, hill(), DAY, mist=mist, evening=True)
        assert again.within(1.0)
        assert other.appears == again.contact.appears
        assert other.walk.dark_s == 0.0 < other.back.dark_s
        assert other.walk.arrives == in_place_by(again, terrain.Access())
