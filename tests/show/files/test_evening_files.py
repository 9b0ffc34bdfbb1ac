"""The plan of an evening as files, read back by programs that did not write them."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

import geopandas as gpd
import gpxpy
import icalendar
import pytest

from terrain.plan.morning import Plan
from terrain.plan.stages import StageKind
from terrain.show.files.calendar import save_calendar
from terrain.show.files.exchange import save_gpx, save_kml, save_plan_table
from terrain.words.clocks import clock_of_zone
from tests.evenings import DAY, evening_plan

AHEAD = {"leave_ahead": dt.timedelta(minutes=20), "colour_ahead": dt.timedelta(minutes=7)}


@pytest.fixture(scope="module")
def plan() -> Plan:
    return evening_plan()


def entries(plan: Plan, path: Path) -> list[icalendar.Event]:
    save_calendar(plan, path, **AHEAD)
    return icalendar.Calendar.from_ical(path.read_bytes()).walk("VEVENT")


def test_alarms_ring_by_the_clock(plan: Plan, tmp_path: Path) -> None:
    at = {stage.kind.value: stage.at for stage in plan.stages}
    way, light, back = events = entries(plan, tmp_path / "plan.ics")
    ends = [
        ("leave", "be in place", "leave_ahead"),
        ("light leaves the mist", "colour ends", "colour_ahead"),
        ("walk back", "back at the start", "colour_ahead"),
    ]
    rings = []
    for event, (begins, ends_at, ahead) in zip(events, ends, strict=True):
        begun, done = event.decoded("dtstart"), event.decoded("dtend")
        assert abs((begun - at[begins]).total_seconds()) <= 0.5001
        assert abs((done - at[ends_at]).total_seconds()) <= 0.5001
        (alarm,) = event.walk("VALARM")
        assert alarm.decoded("trigger") == -AHEAD[ahead]
        rings.append(begun + alarm.decoded("trigger"))
        for stage in plan.stages:
            assert f"{clock_of_zone(stage.at)} {stage.kind}" in str(event["description"])
    assert rings == sorted(rings)
    assert str(light["summary"]) == "Orrasel at sunset"
    assert str(back["summary"]) == "Back to Haffra Quay car park"
    assert str(back["location"]).startswith("Haffra Bank")
    assert str(way["location"]).startswith("Haffra Quay car park")
    gone = clock_of_zone(at["sun gone"])
    assert str(light.walk("VALARM")[0]["description"]) == f"Good light soon; sun gone at {gone}"


def test_an_evening_does_not_take_the_place_of_its_morning(plan: Plan, tmp_path: Path) -> None:
    """A newer file of the same evening does."""
    names = [{str(event["uid"]) for event in entries(plan, tmp_path / "1.ics")} for _ in range(2)]
    assert names[0] == names[1]
    assert len(names[0]) == 3
    contact = replace(plan.backlight.contact, evening=False)
    kinds = {"light leaves the mist": StageKind.COLOUR_BEGINS, "sun gone": StageKind.SUN_APPEARS}
    morning = replace(
        plan,
        backlight=replace(plan.backlight, contact=contact),
        stages=tuple(replace(each, kind=kinds.get(each.kind, each.kind)) for each in plan.stages),
        walk_back=None,
    )
    assert not names[0] & {str(event["uid"]) for event in entries(morning, tmp_path / "2.ics")}


def test_the_walk_back_is_a_route_by_the_clock(plan: Plan, tmp_path: Path) -> None:
    save_gpx(plan, tmp_path / "plan.gpx")
    gpx = gpxpy.parse((tmp_path / "plan.gpx").read_text(encoding="utf-8"))
    assert gpx.name == f"Orrasel at sunset, {DAY}"
    into, back = gpx.routes[:2]
    assert (into.name, back.name) == ("walk in", "walk back")
    places = [[(p.latitude, p.longitude) for p in route.points] for route in (into, back)]
    assert places[1] == places[0][::-1]
    walk = plan.walk_back
    assert walk is not None
    assert walk.sets_out is not None
    assert walk.arrives is not None
    assert back.points[0].comment == f"{clock_of_zone(walk.sets_out)}, 0.00 km"
    assert back.points[-1].comment.startswith(clock_of_zone(walk.arrives))


def test_the_layers_of_an_evening(plan: Plan, tmp_path: Path) -> None:
    save_kml(plan, tmp_path / "plan.kml")
    assert "walk back" in set(gpd.read_file(tmp_path / "plan.kml", layer="evening")["Name"])
    save_plan_table(plan, tmp_path / "plan.gpkg")
    walks = gpd.read_file(tmp_path / "plan.gpkg", layer="walk").set_index("kind")
    back = plan.walk_back
    assert back is not None
    assert walks.loc["walk back", "dark_min"] == pytest.approx(back.dark_s / 60.0)
    rows = gpd.read_file(tmp_path / "plan.gpkg", layer="timeline")
    assert list(rows["stage"]) == [stage.kind.value for stage in plan.stages]
    assert list(rows["at"]) == sorted(rows["at"])
