"""Each command on a small island: what it says, what it writes, and that the two agree."""

from __future__ import annotations

import datetime as dt
import json
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
import rasterio

from terrain.command.app import COMMANDS

MORNING = ("--date", "2026-03-27")
LOOK = ("--spot", "the ridge")


def test_summits_are_the_two_hills_named_from_a_file(terrain, isle, tmp_path):
    names = tmp_path / "names.csv"
    names.write_text("name,lat,lon\nLone Hill,54.3815,-23.9485\n", encoding="utf-8")
    saved = tmp_path / "summits.geojson"
    outcome = terrain("summits", isle, "--names", names, "--save", saved, "--json")
    assert outcome.code == 0
    rows = json.loads(outcome.out)
    assert [row["name"] for row in rows] == ["Lone Hill", ""]
    assert rows[0]["height_m"] == pytest.approx(580.0, abs=1.0)
    assert rows[1]["prominence_m"] == pytest.approx(380.0, abs=2.0)
    again = gpd.read_file(saved)
    assert list(again["height_m"]) == pytest.approx([row["height_m"] for row in rows])
    assert "Lone Hill" in terrain("summits", isle, "--names", names).out


def test_mist_makes_islands_and_a_raster_of_its_depth(terrain, isle, tmp_path):
    raster, table = tmp_path / "mist.tif", tmp_path / "islands.csv"
    outcome = terrain("mist", isle, "--json", "--save", raster, "--save", table)
    answer = json.loads(outcome.out)
    assert answer["mist_top_m"] == 200.0
    assert [row["freeboard_m"] for row in answer["islands"]] == pytest.approx([380, 240], abs=2)
    with rasterio.open(raster) as file, rasterio.open(isle.parent / "isle.tif") as ground:
        assert file.descriptions == ("top of the mist, m", "depth of the mist, m")
        top, depth = file.read()
        np.testing.assert_allclose(
            np.where(ground.read(1) < 200.0, 200.0 - ground.read(1), np.nan), depth, atol=1e-3
        )
        assert np.nanmax(top) == np.nanmin(top) == 200.0
    assert len(table.read_text(encoding="utf-8").splitlines()) == 3
    assert "2 of 2 summits stand above mist with its top at 200 m" in terrain("mist", isle).out


def test_islands_are_counted_from_one_in_the_order_of_the_table(terrain, isle):
    lines = terrain("mist", isle).out.splitlines()
    numbers = [line.split()[0] for line in lines if line.strip()[:1].isdigit()]
    assert numbers[-2:] == ["1", "2"]


def test_mist_from_a_place_fills_only_what_it_reaches(terrain, isle):
    outcome = terrain("mist", isle, "--mist-from", "the quay", "--mist-top", "100", "--json")
    assert outcome.code == 0
    assert len(json.loads(outcome.out)["islands"]) == 2


def test_skyline_is_the_same_in_words_in_json_and_as_points(terrain, isle, tmp_path):
    points = tmp_path / "skyline.gpkg"
    outcome = terrain("skyline", isle, *LOOK, "--step", "90", "--save", points, "--json")
    answer = json.loads(outcome.out)
    assert answer["azimuth_deg"] == [0.0, 90.0, 180.0, 270.0]
    saved = gpd.read_file(points)
    assert len(saved) == 7200
    east = saved[np.isclose(saved["azimuth_deg"], 90.0)].iloc[0]
    assert east["altitude_deg"] == pytest.approx(answer["altitude_deg"][1], abs=1e-5)
    assert f"{answer['altitude_deg'][1]:.2f}" in terrain("skyline", isle, *LOOK).out


def test_ground_beyond_the_reach_makes_the_skyline_and_is_told_of(terrain, isle):
    whole = terrain("skyline", isle, *LOOK, "--step", "5", "--json")
    part = terrain("skyline", isle, *LOOK, "--step", "5", "--json", "--reach", "3")
    one, other = (np.array(json.loads(each.out)["altitude_deg"]) for each in (whole, part))
    # where the ground of the raster ends it goes on level for half a cell
    assert np.abs(one - other).max() < 0.02
    assert whole.err == ""
    assert "read for 3 km about the place; farther ground, to " in part.err
    assert "by the highest of each 200 m, and by its 50 m cells" in part.err


@pytest.mark.parametrize("command", ["sunrise", "dates", "atlas", "vantages", "frame"])
def test_every_command_under_the_sky_says_what_was_read_how(terrain, isle, command):
    spot = [] if command in ("atlas", "vantages") else LOOK
    day = ["--year", "2026"] if command in ("atlas", "dates") else []
    outcome = terrain(command, isle, *spot, *day, "--reach", "7", "--json")
    assert "read for 7 km about the place; farther ground, to " in outcome.err


def test_vantages_dates_and_sunrise_tell_the_same_story(terrain, answered, isle, tmp_path):
    table = tmp_path / "vantages.gpkg"
    found = terrain("vantages", isle, *MORNING, "--json", "--save", table)
    assert found.code == 0
    best = json.loads(found.out)[0]
    assert gpd.read_file(table, layer="vantages")["score"].iloc[0] == pytest.approx(
        best["score"], abs=1e-6
    )
    spot = f"{best['lat_deg']},{best['lon_deg']}"
    checked = json.loads(terrain("sunrise", isle, "--spot", spot, *MORNING, "--json").out)
    assert checked["behind"]
    assert _seconds_apart(checked["contact"]["appears"], best["appears"]) < 0.1
    assert checked["offset_deg"] == pytest.approx(best["offset_deg"], abs=2e-3)
    dates = answered("dates", isle, "--spot", spot, "--year", "2026")
    told, mornings = dates.out, dates.fields
    assert f"{len(mornings)} mornings of 2026 with the sun behind Lone Hill" in told
    assert "27 Mar" in told or "2026-03-27" in told
    same_day = [row for row in mornings if row["day"] == "2026-03-27"]
    assert _seconds_apart(same_day[0]["appears"], best["appears"]) < 0.1


def _seconds_apart(first, second):
    return abs(
        (dt.datetime.fromisoformat(first) - dt.datetime.fromisoformat(second)).total_seconds()
    )


def test_sunrise_says_yes_or_no_and_how_far_off(terrain, answered, isle):
    yes = answered("sunrise", isle, *LOOK, *MORNING)
    assert yes.code == 0
    assert yes.out.startswith("Yes: the sun appears behind Lone Hill")
    assert "(UTC-2)" in yes.out
    assert "Never look at the sun through a lens" in yes.out
    no = terrain("sunrise", isle, *LOOK, "--date", "2026-06-21")
    assert no.out.startswith("No: the sun appears beside Lone Hill")
    assert "to the left" in no.out


def test_sunrise_tells_how_the_sun_stands_and_the_small_scenes(answered, isle):
    trees = ("--trees", "2:20", "--lens", "135")
    said = answered("sunrise", isle, *LOOK, *MORNING, *trees)
    answer = said.fields
    assert said.code == 0
    assert re.search(r"The sun is .*over (it|Lone Hill) \d\d:\d\d–\d\d:\d\d\.", said.out)
    assert answer["best"]["pose"] in {spell["state"] for spell in answer["spells"]}
    for spell in answer["spells"]:
        assert spell["start"] < spell["end"]
        assert spell["start"] <= spell["nearest"]["at"] <= spell["end"]
    assert answer["small_scenes"]
    assert {row["lens_mm"] for row in answer["small_scenes"]} == {135.0}
    assert "Small scenes in the mist" in said.out
    assert f"135 mm, fills {100.0 * answer['small_scenes'][0]['fills']:.0f} %" in said.out


@pytest.mark.parametrize("trees", ["tall", "5", "15:5", "0:9", "5:15:25", "5:nan"])
@pytest.mark.parametrize("command", ["sunrise", "mist", "vantages"])
def test_heights_of_trees_that_cannot_be(terrain, isle, command, trees):
    spot = LOOK if command == "sunrise" else ()
    outcome = terrain(command, isle, *spot, "--trees", trees)
    assert (outcome.code, outcome.out) == (2, "")
    assert "trees" in outcome.err
    assert len(outcome.err.splitlines()) == 1


def test_vantages_say_what_tree_tops_are_in_view(terrain, isle):
    few, many = (
        json.loads(terrain("vantages", isle, *MORNING, "--json", "--trees", trees).out)
        for trees in ("190:199", "5:15")
    )
    assert max(row["shallows_deg2"] for row in many) > max(row["shallows_deg2"] for row in few)
    assert all(row["best_pose"] in ("over", "on the rim", "elsewhere") for row in many)
    said = terrain("vantages", isle, *MORNING, "--weight", "shallows=9").out
    assert "tree tops °²" in said


def test_sunrise_tells_every_time_it_shows(answered, isle):
    said = answered("sunrise", isle, *LOOK, *MORNING)
    assert "nearest to the summit" in said.out
    found = said.fields
    first = found["passage"][0]
    assert first["start"] == found["contact"]["appears"]
    assert first["start_azimuth_deg"] == found["contact"]["azimuth_deg"]
    assert first["is_flash"] == (first["end"] is not None and first["seconds"] < 30.0)
    moments = [near for showing in found["passage"] for near in showing["nearest"]]
    assert found["nearest"] == min(moments, key=lambda near: near["apart_deg"])


EVENING = ("--spot", "54.3815,-23.9575", "--hill", "the ridge", "--evening")


def test_dates_and_sunrise_of_an_evening_tell_the_same_story(answered, isle):
    """From the flank of the hill over to the ridge in the west."""
    asked = (isle, *EVENING)
    found = answered("dates", *asked, "--year", "2026", "--within", "1").fields
    assert found
    for row in found[:2]:
        assert row["evening"] is True
        checked = answered("sunrise", *asked, "--date", row["day"]).fields
        contact = checked["contact"]
        assert (checked["behind"], contact["evening"]) == (True, True)
        assert contact["appears"] == row["appears"]
        assert contact["clears"] < contact["appears"]
        assert checked["passage"][-1]["end"] == contact["appears"]
        assert checked["offset_deg"] == pytest.approx(row["offset_deg"], abs=1e-6)
        assert 0.0 < _seconds_apart(checked["light"]["civil_dusk"], contact["appears"]) < 7200.0


def test_the_words_of_an_evening(terrain, answered, isle, tmp_path):
    asked, picture = (isle, *EVENING), tmp_path / "evening.svg"
    dates = answered("dates", *asked, "--year", "2026", "--within", "1")
    table, (day, *_) = dates.out, dates.fields
    assert "evenings of 2026 with the sun behind the ridge" in table
    assert re.search(r"^ *evening +sun gone +from summit", table, re.MULTILINE)
    yes = terrain("sunrise", *asked, "--date", day["day"], "--save", picture)
    assert yes.out.startswith("Yes: the sun goes down behind the ridge")
    assert "The evening" in yes.out
    order = ["sun touches the ground", "sun gone", "sunset over a level sea", "civil dusk"]
    places = [yes.out.index(words) for words in order]
    assert places == sorted(places)
    assert "The walk back is in the dark" in yes.out
    assert "Never look at the sun through a lens" in yes.out
    assert not re.search("dawn|sunrise|appears|morning|delay", yes.out)
    assert picture.stat().st_size > 20_000


def test_why_no_evening_has_the_sun_behind(terrain, isle):
    """From the ridge the hill stands in the east, and the quay on no skyline."""
    none = terrain("dates", isle, *LOOK, "--year", "2026", "--evening")
    assert none.code == 2
    assert "on no evening of 2026 does the sun come within 1° of Lone Hill" in none.err
    asked = [*LOOK, "--hill", "the quay", "--mist-top", "40", "--evening"]
    assert "on no evening of 2026 from the ridge: " in terrain("dates", isle, *asked).err


def test_a_start_named_in_the_area_file_is_named_beside_each_vantage(terrain, isle):
    best = json.loads(terrain("vantages", isle, *MORNING, "--json").out)[0]
    assert best["start"] == "the quay"
    assert 1000.0 < best["start_m"] < 4000.0


def test_a_weight_changes_the_scores(terrain, isle):
    plain = json.loads(terrain("vantages", isle, *MORNING, "--json").out)[0]
    only = json.loads(
        terrain("vantages", isle, *MORNING, "--json", "--weight", "footing=1000").out
    )[0]
    assert only["score"] == pytest.approx(only["footing"], abs=0.01)
    assert only["score"] != plain["score"]


@pytest.mark.parametrize(
    ("command", "options"),
    [
        ("summits", ()),
        ("mist", ()),
        ("skyline", LOOK),
        ("sunrise", (*LOOK, *MORNING)),
        ("vantages", MORNING),
    ],
)
def test_every_picture_is_written_whole(terrain, isle, tmp_path, command, options):
    picture = tmp_path / "picture.png"
    assert terrain(command, isle, *options, "--save", picture).code == 0
    assert picture.read_bytes().startswith(b"\x89PNG")
    assert picture.stat().st_size > 20_000
    assert list(tmp_path.iterdir()) == [picture]


def test_help_loads_nothing_heavy():
    code = (
        "import sys, terrain.command.app, terrain.command.beside\n"
        "terrain.command.app.app_for()\n"
        "heavy = {'numpy', 'rasterio', 'geopandas', 'numba', 'matplotlib', 'pvlib', 'scipy'}\n"
        "sys.exit(', '.join(heavy & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.stderr.strip() == ""


@pytest.mark.parametrize(
    ("words", "loaded"),
    [(["plan", "area.toml"], {"plan"}), (["plan"], {"plan"}), ([], set(COMMANDS))],
)
def test_a_command_that_is_asked_for_is_loaded_without_the_others(words, loaded):
    code = (
        "import sys, terrain.command.app as app\n"
        f"app.app_for({words})\n"
        "print(*(name for name in app.COMMANDS if f'terrain.command.{name}' in sys.modules))"
    )
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert set(said.stdout.split()) == loaded


def test_a_word_that_is_no_command_is_answered_with_all_that_there_are(terrain):
    outcome = terrain("plane")
    assert outcome.code == 2
    assert "Did you mean 'plan'" in outcome.err


@pytest.mark.usefixtures("fewer_of_a_kind")
def test_demo_does_the_whole_job(terrain, tmp_path):
    folder = tmp_path / "demo"
    outcome = terrain("demo", folder)
    assert outcome.code == 0, outcome.err
    written = {path.name for path in Path(folder).iterdir()}
    assert {
        "mist.png",
        "vantages.png",
        "view.png",
        "vantages.gpkg",
        "plan.html",
        "area.toml",
    } <= written
    # the sun comes up to the left of the demo's summit, and stands over it a while later
    assert "behind" in outcome.out
    assert re.search(r"At its best: 06:\d\d on its rim, 0\.\d\d° off", outcome.out)
    assert "then try" in outcome.out
    assert outcome.out.rstrip().endswith(f"terrain desk {folder / 'area.toml'}")


@pytest.mark.parametrize("command", ["sunrise", "dates", "skyline"])
def test_names_of_places_come_from_a_file(terrain, isle, tmp_path, command):
    area = tomllib.loads(isle.read_text(encoding="utf-8"))
    lat, lon = area["places"]["the ridge"]
    names = tmp_path / "places.csv"
    names.write_text(f"name,lat,lon\nmy stile,{lat},{lon}\n", encoding="utf-8")
    raster = isle.parent / area["rasters"][0]
    day = {"sunrise": ["--date", "2026-03-01"], "dates": ["--year", "2026"]}.get(command, [])
    hill = [] if command == "skyline" else ["--hill", "54.3815,-23.95"]
    asked = ["--spot", "my stile", *hill, *day]
    assert "my stile" in terrain(command, raster, *asked).err
    known = terrain(command, raster, "--names", names, *asked)
    assert "no place is called" not in known.err


def test_the_picture_of_a_morning_is_told_and_written(answered, isle):
    # the mist of the area file
    said = answered("sunrise", isle, *LOOK, *MORNING)
    seen, told = said.fields["picture"], said.out
    assert seen["backdrop"] == "sky"
    assert seen["backdrop_distance_m"] is seen["behind"] is None
    assert 0.0 < seen["frame_mist_share"] < seen["mist_share"] < 1.0
    assert 0.0 < seen["waterline"] <= 1.0
    assert f"{seen['over_mist_deg']:.1f}°" in told
    assert "The picture, to 8° about the summit" in told


def test_why_no_morning_has_the_sun_behind_is_what_the_look_says(terrain, isle):
    """The quay is too low a hill to be on any skyline; the look of a day says what stands there."""
    asked = [*LOOK, "--hill", "the quay", "--mist-top", "40"]
    dates = terrain("dates", isle, *asked, "--year", "2026")
    look = json.loads(terrain("sunrise", isle, *asked, "--date", "2026-03-27", "--json").out)
    assert dates.code == 2
    assert not look["summit"]["on_skyline"]
    assert look["summit"]["known_between"]
    before = look["reason"].split("; the sun")[0]
    assert before in dates.err
    assert "does the sun first appear" not in dates.err
