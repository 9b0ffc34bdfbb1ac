"""`terrain plan --evening` and `terrain frame --evening`: words, files and days of an evening."""

from __future__ import annotations

import datetime as dt
import json

import geopandas as gpd
import gpxpy
import icalendar
import pytest

from tests.evenings import DATA, DAY, START, hill

EVENING = ("--evening", "--date", "2026-03-27")
PLACES = ("--spot", "54.3813,-23.9577", "--hill", "the ridge")


def test_a_plan_of_an_evening_in_words(terrain, isle):
    outcome = terrain("plan", isle, *EVENING, *PLACES, "--drive", "30", "--air", "2")
    assert outcome.code == 0, outcome.err
    words = [
        "evening of Friday 27 March 2026",
        "leave",
        "be in place",
        "warm light begins",
        "sun gone",
        "colour ends",
        "walk back",
        "a lamp is needed",
        "back at the start",
        "after civil dusk",
        "Never look at the sun",
    ]
    for word in words:
        assert word in outcome.out
    for wrong in ("dawn", "appears", "morning", "sunrise"):
        assert wrong not in outcome.out


def test_every_file_of_an_evening_agrees(terrain, isle, tmp_path):
    files = [tmp_path / f"plan.{end}" for end in ("gpx", "ics", "kml")]
    saves = [word for file in files for word in ("--save", file)]
    outcome = terrain("plan", isle, *EVENING, *PLACES, "--json", *saves)
    assert outcome.code == 0, outcome.err
    answer = json.loads(outcome.out)
    at = {stage["name"]: dt.datetime.fromisoformat(stage["at"]) for stage in answer["stages"]}
    assert answer["evening"]
    assert list(at.values()) == sorted(at.values())
    walked = at["back at the start"] - at["walk back"]
    assert walked.total_seconds() == pytest.approx(answer["walk_back"]["there_s"], abs=1.0)
    assert answer["walk"]["dark_s"] == 0.0 < answer["walk_back"]["dark_s"]
    into, back = gpxpy.parse(files[0].read_text(encoding="utf-8")).routes[:2]
    assert back.name == "walk back"
    assert [point.latitude for point in back.points] == [p.latitude for p in into.points[::-1]]
    entries = icalendar.Calendar.from_ical(files[1].read_bytes()).walk("VEVENT")
    assert len(entries) == 3
    assert "walk back" in set(gpd.read_file(files[2], layer="evening")["Name"])


def test_the_next_evening_is_planned_where_no_day_is_given(terrain, isle, set_clock, tmp_path):
    """After the sunrise of the second of January, and before its sunset."""
    set_clock("2026-01-02T14:00")
    text = isle.read_text(encoding="utf-8").replace("date = 2026-03-22\n", "")
    area = tmp_path / "area.toml"
    area.write_text(text.replace('"isle.tif"', f'"{isle.parent / "isle.tif"}"'), encoding="utf-8")
    for command in ("plan", "frame"):
        shown = terrain(command, area, "--evening", *PLACES)
        assert shown.code == 0, shown.err
        assert "the next evening is that of Friday 2 January 2026" in shown.err


def test_without_a_spot_the_best_vantage_of_the_evening_is_taken(terrain):
    ground = (DATA / "upland.tif", "--hill", f"{hill().lat_deg},{hill().lon_deg}")
    asked = (*ground, "--evening", "--date", str(DAY), "--walk", "120")
    start = ("--start", f"{START.lat_deg},{START.lon_deg}")
    answer = json.loads(terrain("plan", *asked, *start, "--json").out)
    best = json.loads(terrain("vantages", *asked, *start, "--count", "1", "--json").out)[0]
    assert answer["spot"]["lat_deg"] == pytest.approx(best["lat_deg"], abs=1e-5)
    gone = next(stage for stage in answer["stages"] if stage["name"] == "sun gone")
    assert gone["at"] == best["appears"]


def test_the_best_evening_of_a_span_is_planned(answered, clear_isle):
    isle = clear_isle
    span = ("--from", "2026-03-20", "--to", "2026-04-05")
    told = answered("plan", isle, "--evening", *span, *PLACES)
    answer, shown = told.fields, told.out
    year = ("--within", "1", "--year", "2026")
    dates = answered("dates", isle, "--evening", *PLACES, *year).fields
    good = {row["day"] for row in dates if "2026-03-20" <= row["day"] <= "2026-04-05"}
    assert {answer["date"], *(day["day"] for day in answer["other_days"])} == good
    assert "Other good evenings from here" in shown


def test_the_frame_of_an_evening(answered, isle):
    shown = answered("frame", isle, *EVENING, *PLACES, "--wide")
    assert shown.code == 0, shown.err
    assert shown.out.startswith("The sun goes down")
    assert shown.out.index("sun touches the ground") < shown.out.index("sun gone")
    for wrong in ("sun appears", "sun clear"):
        assert wrong not in shown.out
    rows = shown.fields["sun"]
    events = [row["event"] for row in rows]
    gone = events.index("sun gone")
    assert rows[gone]["state"] == "in frame"
    assert {row["state"] for row in rows[gone + 1 :]} == {"hidden"}
    assert "hidden" not in {row["state"] for row in rows[:gone]}
