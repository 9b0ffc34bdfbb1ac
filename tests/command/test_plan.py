"""The plan and the season from the command line: printed, and taken along as files."""

from __future__ import annotations

import json

import geopandas as gpd
import gpxpy
import icalendar
import pytest

MORNING = ("--date", "2026-03-27")


def test_a_plan_in_words_names_each_stage_and_the_cautions(terrain, isle):
    outcome = terrain("plan", isle, *MORNING, "--spot", "the ridge", "--drive", "30", "--air", "2")
    assert outcome.code == 0, outcome.err
    words = [
        "leave", "start walking", "be in place", "colour begins", "sun appears",
        "warm light over", "Mist at 150 m", "Mist at 250 m", "Never look at the sun",
    ]  # fmt: skip
    for word in words:
        assert word in outcome.out


def test_without_a_spot_the_best_vantage_is_taken(terrain, isle):
    answer = json.loads(terrain("plan", isle, *MORNING, "--json").out)
    best = json.loads(terrain("vantages", isle, *MORNING, "--count", "3", "--json").out)[0]
    assert answer["spot"]["lat_deg"] == pytest.approx(best["lat_deg"], abs=1e-5)
    appears = next(s for s in answer["stages"] if s["name"] == "sun appears")
    assert appears["at"] == best["appears"]


def test_every_file_of_a_plan_opens_again_and_agrees(terrain, isle, tmp_path):
    files = [tmp_path / f"plan.{end}" for end in ("gpx", "ics", "kml", "gpkg", "html")]
    saves = [word for file in files for word in ("--save", file)]
    outcome = terrain("plan", isle, *MORNING, "--spot", "the ridge", "--json", *saves)
    assert outcome.code == 0, outcome.err
    answer = json.loads(outcome.out)
    stages = {stage["name"]: stage["at"] for stage in answer["stages"]}
    route = gpxpy.parse(files[0].read_text(encoding="utf-8")).routes[0]
    assert route.length() == pytest.approx(answer["walk"]["length_m"], rel=0.01)
    entries = icalendar.Calendar.from_ical(files[1].read_bytes()).walk("VEVENT")
    assert len(entries) == 2
    assert len(gpd.list_layers(files[3])) >= 3
    assert not gpd.read_file(files[2]).empty
    page = files[4].read_text(encoding="utf-8")
    assert stages["sun appears"][11:16] in page
    assert files[4].stat().st_size < 3_000_000


def test_a_plan_without_a_start_says_so(terrain, isle, tmp_path):
    text = isle.read_text(encoding="utf-8").replace('"the quay" = [54.36, -24.05]\n', "")
    area = tmp_path / "area.toml"
    area.write_text(text.replace('"isle.tif"', f'"{isle.parent / "isle.tif"}"'), encoding="utf-8")
    outcome = terrain("plan", area, *MORNING)
    assert outcome.code == 2
    assert "--start" in outcome.err


def test_a_season_ranks_mornings_and_writes_them(terrain, isle, tmp_path):
    picture, calendar = tmp_path / "season.png", tmp_path / "season.ics"
    span = ("--from", "2026-03-25", "--to", "2026-03-29")
    outcome = terrain("season", isle, *span, "--json", "--save", picture, "--save", calendar)
    rows = json.loads(outcome.out)
    assert rows == sorted(rows, key=lambda row: -row["score"])
    assert {row["day"] for row in rows} <= {f"2026-03-{day}" for day in range(25, 30)}
    assert picture.read_bytes().startswith(b"\x89PNG")
    assert icalendar.Calendar.from_ical(calendar.read_bytes()).walk("VEVENT")


def test_a_season_that_ends_before_it_begins(terrain, isle):
    outcome = terrain("season", isle, "--from", "2026-03-29", "--to", "2026-03-25")
    assert outcome.code == 2
    assert outcome.err.count("\n") == 1
