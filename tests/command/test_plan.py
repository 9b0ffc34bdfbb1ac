"""The plan and the season from the command line: printed, and taken along as files."""

from __future__ import annotations

import datetime as dt
import json
import threading

import geopandas as gpd
import gpxpy
import icalendar
import pytest

from terrain.errors import NoAnswer

MORNING = ("--date", "2026-03-27")
ASKED = (*MORNING, "--spot", "the ridge", "--drive", "30", "--air", "2")


def test_a_plan_in_words_names_each_stage_and_the_cautions(answered, isle):
    outcome = answered("plan", isle, *ASKED)
    assert outcome.code == 0, outcome.err
    stages = ["leave", "start walking", "be in place", "colour begins", "sun appears"]
    said = ["warm light over", "Mist at 150 m", "Mist at 250 m", "Never look at the sun"]
    for word in stages + said:
        assert word in outcome.out


def test_without_a_spot_the_best_vantage_is_taken(terrain, isle):
    answer = json.loads(terrain("plan", isle, *MORNING, "--json").out)
    best = json.loads(terrain("vantages", isle, *MORNING, "--count", "3", "--json").out)[0]
    assert answer["spot"]["lat_deg"] == pytest.approx(best["lat_deg"], abs=1e-5)
    appears = next(s for s in answer["stages"] if s["name"] == "sun appears")
    assert appears["at"] == best["appears"]


def test_a_plan_says_what_to_frame_how_sure_it_is_and_when_to_leave_instead(answered, isle):
    told = answered("plan", isle, *ASKED)
    shown, answer = told.out, told.fields
    for stage in answer["stages"]:
        assert (stage["doubt"] is None) == (stage["uncertainty_s"] is None) == bool(stage["basis"])
        if stage["framing"]:
            assert f"{stage['framing']['focal_mm']:.0f} mm, {stage['framing']['held']}" in shown
            assert f"{stage['framing']['azimuth_deg']:.1f}°" in shown
        if stage["basis"]:
            assert stage["basis"] in shown
    hidden = answer["hidden_ground"]
    assert f"hidden ground higher than {hidden['height_m']:.0f} m" in " ".join(shown.split())
    assert hidden["words"] in " ".join(shown.split())
    parts = answer["offset"]["doubt"]
    assert f"± {answer['offset']['uncertainty_deg']:.2f}°" in shown
    assert sum(part**2 for part in parts.values()) ** 0.5 == pytest.approx(
        answer["offset"]["uncertainty_deg"], rel=1e-4
    )
    for other in answer["fall_backs"]:
        if other["spot"] is None:
            continue
        assert other["dark_s"] > 0.0
        leaves, sets_out = (dt.datetime.fromisoformat(other[k]) for k in ("leaves", "sets_out"))
        assert sets_out - leaves == dt.timedelta(minutes=30)
        assert f"start walking at {sets_out:%H:%M}" in " ".join(shown.split())


def test_the_best_morning_of_a_span_or_a_year_is_planned_and_others_listed(
    terrain, answered, clear_isle
):
    isle = clear_isle
    spot = ("--spot", "the ridge")
    listed = answered("dates", isle, *spot, "--year", "2026", "--within", "1").fields
    nearest = min(listed, key=lambda row: abs(row["offset_deg"]))
    year = json.loads(terrain("plan", isle, *spot, "--year", "2026", "--json").out)
    assert year["date"] == nearest["day"]
    assert len(year["other_days"]) == len(listed) - 1
    shown = terrain("plan", isle, *spot, "--from", "2026-03-15", "--to", "2026-04-10").out
    span = [row for row in listed if "2026-03-15" <= row["day"] <= "2026-04-10"]
    days = [dt.date.fromisoformat(row["day"]) for row in span]
    best = days[min(range(len(span)), key=lambda at: abs(span[at]["offset_deg"]))]
    title, others = shown.split("Other good mornings from here")
    assert f"{best.day} {best:%B %Y}" in title
    assert all((f"{day.day} {day:%B %Y}:" in others) == (day != best) for day in days)


def test_without_a_spot_the_best_place_and_morning_go_together(terrain, answered, clear_isle):
    isle = clear_isle
    walk = ("--walk", "150")
    span = ("--from", "2026-03-25", "--to", "2026-03-29")
    answer = json.loads(terrain("plan", isle, *span, *walk, "--json").out)
    season = answered("season", isle, *span).fields
    assert answer["date"] in {row["day"] for row in season}
    assert answer["spot"]["lat_deg"] in [pytest.approx(row["lat_deg"]) for row in season]
    assert answer["walk"]["there_s"] <= 150.0 * 60.0
    year = json.loads(terrain("plan", isle, "--year", "2026", *walk, "--json").out)
    assert year["date"].startswith("2026-")
    assert abs(year["offset"]["offset_deg"]) <= 1.0


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--date", "2026-03-27", "--year", "2026"), "exclude each other"),
        (("--date", "2026-03-27", "--from", "2026-03-20"), "exclude each other"),
        (("--year", "2026", "--to", "2026-03-29"), "exclude each other"),
        (("--from", "2026-03-27", "--to", "2026-03-01"), "is before the first"),
        (("--year", "0"), "1900 to 2199"),
        (("--year", "soon"), "is not a year"),
        (("--year", "2026", "--spot", "the quay"), ""),
        (("--lens", "wide"), "is not in millimetres"),
        (("--sensor", "36"), "36x24"),
    ],
)
def test_days_and_kit_that_make_no_sense(terrain, isle, words, said):
    outcome = terrain("plan", isle, *words)
    assert outcome.code == 2
    assert outcome.err.count("\n") == 1
    assert said in outcome.err


def test_the_kit_and_the_air_of_the_command_line(terrain, answered, isle):
    height_m = 440.0
    plain = answered("plan", isle, *ASKED).fields["cold"]["temperature_c"]
    assert plain == pytest.approx(2.0 - 0.0065 * height_m, abs=0.2)
    other = ("--lens", "50-90", "--sensor", "24x16", "--lapse", "-1", "--air-height", "60")
    warm = json.loads(terrain("plan", isle, *ASKED, *other, "--json").out)
    assert 50.0 <= warm["frame"]["focal_mm"] <= 90.0
    assert warm["cold"]["temperature_c"] == pytest.approx(2.0 + 0.01 * (height_m - 60.0), abs=0.3)


@pytest.mark.usefixtures("fewer_of_a_kind")
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


def test_views_that_are_begun_are_given_up_where_the_plan_fails(
    terrain, isle, tmp_path, monkeypatch
):
    begun = []

    def fails(*args, **kwargs):
        begun.extend(thread for thread in threading.enumerate() if "ThreadPool" in thread.name)
        raise NoAnswer("there is no other place")

    monkeypatch.setattr("terrain.plan.morning.fall_back", fails)
    sheet = tmp_path / "plan.html"
    outcome = terrain("plan", isle, *MORNING, "--spot", "the ridge", "--save", sheet)
    assert (outcome.code, outcome.err.strip()) == (2, "terrain: there is no other place")
    assert not list(tmp_path.iterdir())
    views = [thread for thread in begun if thread not in threading.enumerate()]
    assert views


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


def test_a_season_takes_every_kind_of_mist(terrain, answered, isle, tmp_path):
    names = tmp_path / "hills.csv"
    names.write_text("name,lat,lon\nLone Hill,54.3815,-23.9485\n")
    hill = ("--hill", "Lone Hill", "--names", names)
    days = ("season", isle, "--from", "2026-03-26", "--to", "2026-03-27", *hill)
    deep = json.loads(terrain(*days, "--mist-depth", "50", "--json").out)
    # the bowl between the hills is level at 60 m
    assert deep[0]["height_m"] - deep[0]["freeboard_m"] == pytest.approx(110.0, abs=3.0)
    alone = json.loads(terrain(*days, "--mist-from", "the quay=50", "--json").out)
    assert alone[0]["height_m"] - alone[0]["freeboard_m"] == pytest.approx(110.0, abs=3.0)
    ranged = answered(*days, "--mist-top", "150:250:50")
    assert "The mist may stand anywhere from 150 to 250 m." in ranged.out
    assert {row["mist_from_m"] for row in ranged.fields} == {150.0}
