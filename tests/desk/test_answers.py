"""The records that a desk answers with, and how it refuses."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import terrain
from terrain.command.area_file import open_area
from terrain.desk.about import about
from terrain.desk.asked import Asked
from terrain.desk.table import Table, lay
from terrain.desk.work import Job
from terrain.errors import TerrainError
from tests.command.conftest import terrain as terrain_command
from tests.desk.conftest import DAY, SPOT, opening_of

command = terrain_command
"""Run a command in this process."""

ASKED = f"/answer.json?{SPOT}&hill=Lone Hill&{DAY}&mist=level:120"


def test_the_answer_is_that_of_the_command(ask, command, isle_file: Path):
    spot = "54.4056,-24.0658"
    said = command("sunrise", isle_file, "--spot", spot, "--json")
    told = command("sunrise", isle_file, "--spot", spot)
    answer = ask(ASKED)
    words = answer.pop("words")
    assert answer == json.loads(said.out)
    assert answer["picture"]["mist_share"] > 0.0
    assert words[0] in told.out
    assert words[-1] in told.out
    assert all("\n" not in line for line in words)
    rows = [line.partition(": ") for line in words if line.startswith(("sun ", "summit:"))]
    assert len(rows) >= 3
    assert all(what in told.out and said in told.out for what, _, said in rows)


def test_without_small_scenes_the_rest_is_the_same(ask):
    whole, soon = ask(ASKED), ask(f"{ASKED}&scenes=0")
    assert {key for key in whole if key not in soon} == {"small_scenes"}
    assert soon["contact"] == whole["contact"]


def test_the_evening_is_asked_for_by_its_end(ask):
    evening = ask(ASKED.replace("end=morning", "end=evening"))
    assert evening["contact"]["evening"] is True
    assert ask(ASKED)["contact"]["evening"] is False


def test_the_page_is_told_what_lies_on_the_desk(ask, table):
    told = ask("/about.json")
    assert (told["title"], told["rows"], told["cols"], told["cell_m"]) == (
        "Small Isle",
        80,
        100,
        50,
    )
    assert [place["kind"] for place in told["places"]] == ["place", "place", "start"]
    assert told["tiles"] == [{"row": 0, "col": 0, "rows": 80, "cols": 100}]
    assert told["start"] | {"lens_mm": 0, "eye_m": 0} == {
        "hill": "Lone Hill",
        "date": "2026-03-16",
        "end": "morning",
        "mist": {"kind": "level", "top_m": 120.0},
        "spot": None,
        "lens_mm": 0,
        "eye_m": 0,
    }
    assert told["zone"] == str(terrain.sun_path(dt.date(2026, 3, 16), lon_deg=-24, lat_deg=54).zone)
    assert any("Never look at the sun" in line for line in told["cautions"])
    heights = [summit["height_m"] for summit in told["summits"]]
    assert heights == sorted(heights, reverse=True) == table.summits["height_m"].tolist()


def test_between_the_nodes_of_the_lattice_places_are_right(ask, table):
    lattice, grid = ask("/about.json")["lattice"], table.country.dem.grid
    rows, cols, every = lattice["rows"], lattice["cols"], lattice["every"]
    assert (rows - 1) * every >= grid.shape[0] - 1
    assert (cols - 1) * every >= grid.shape[1] - 1
    lon, lat = (np.reshape(lattice[name], (rows, cols)) for name in ("lon_deg", "lat_deg"))
    middle_lon, middle_lat = lon[:2, :2].mean(), lat[:2, :2].mean()
    row, col = grid.rowcol(middle_lon, middle_lat)
    assert abs(row - every / 2) < 0.01
    assert abs(col - every / 2) < 0.01


def test_the_low_sun_goes_from_the_first_colour_to_six_degrees(ask):
    minutes = ask(f"/sun.json?{DAY}")["minutes"]
    light = terrain.twilight(
        dt.date(2026, 3, 16), **dict(zip(("lon_deg", "lat_deg"), middle(ask), strict=True))
    )
    first, last = (dt.datetime.fromisoformat(minutes[at]["utc"]) for at in (0, -1))
    assert abs(light.sunrise - first - dt.timedelta(minutes=15)) <= dt.timedelta(minutes=1)
    assert dt.timedelta() <= last - light.morning_golden_ends <= dt.timedelta(minutes=1)
    up = [minute["altitude_deg"] for minute in minutes]
    assert up == sorted(up)
    assert minutes[-1]["true_altitude_deg"] == pytest.approx(6.0, abs=0.2)
    evening = ask("/sun.json?date=2026-03-16&end=evening")["minutes"]
    down = [minute["altitude_deg"] for minute in evening]
    assert down == sorted(down, reverse=True)


def test_the_sun_over_a_spot_is_where_it_is(ask):
    minute = ask(f"/sun.json?{DAY}&{SPOT}")["minutes"][20]
    sun = terrain.sun_position(
        [dt.datetime.fromisoformat(minute["utc"])], lon_deg=-24.0658, lat_deg=54.4056
    )
    assert minute["azimuth_deg"] == pytest.approx(float(sun.azimuth_deg[0]), abs=1e-3)
    assert minute["true_altitude_deg"] == pytest.approx(float(sun.altitude_deg[0]), abs=1e-3)


def middle(ask) -> tuple[float, float]:
    lattice = ask("/about.json")["lattice"]
    return float(np.mean(lattice["lon_deg"])), float(np.mean(lattice["lat_deg"]))


def test_colours_are_those_of_our_pictures(ask):
    from terrain.show.paper import palette

    told = ask("/colours.json")
    assert (told["mist"], told["shore"], told["sun"]) == (palette.MIST, palette.SHORE, palette.SUN)
    assert len(told["days"]) == 366
    assert all(len(colour) == 7 for colour in (*told["days"], *told["ground"]))


def test_the_sky_is_the_librarys(page):
    got = page.get("/sky/1.5?eye_height_m=300")
    shape = 2, int(got.headers["x-rows"]), int(got.headers["x-cols"]), 3
    layers = np.frombuffer(got.content, "<f2").astype(float).reshape(shape)
    sky = terrain.sky(terrain.ClearAir(), sun_altitude_deg=1.5, eye_height_m=300.0)
    wanted = sky.exposure() * np.stack([sky.even, sky.aureole])
    assert np.allclose(layers, wanted, rtol=2e-3, atol=1e-4)
    assert float(got.headers["x-horizon-deg"]) == pytest.approx(sky.horizon_deg, abs=1e-3)


@pytest.mark.parametrize("lens_mm", [24, 400])
def test_the_frame_is_that_of_the_lens_on_the_page(ask, table: Table, lens_mm):
    state = f"{SPOT}&hill=Lone Hill&{DAY}&mist=level:120&scenes=0"
    words = ask(f"/answer.json?{state}&lens_mm={lens_mm}")["words"]
    spot = Asked(dict(part.split("=") for part in f"{SPOT}&{DAY}".split("&")))
    scene = terrain.Scene(table.country.under_level(120.0), table.hill("Lone Hill"))
    looked = terrain.look(scene, table.camera(table.given(spot)))
    kit = terrain.Kit(lenses_mm=(float(lens_mm),))
    framing = terrain.frame_view(scene, terrain.backlight(scene, looked, spot.day()), kit=kit)
    assert framing.takes_all == (lens_mm == 24)
    assert any(line.startswith(f"Frame: {lens_mm} mm") for line in words)
    assert any(line.startswith("This lens does not take in") for line in words) == (lens_mm == 400)
    image = f"The sun's image is {framing.sun_mm:.1f} mm wide"
    assert any(line.startswith(image) for line in words)


@pytest.mark.parametrize(
    ("address", "words"),
    [
        ("/heights/1", "tile=1 is not a number from 0 to 0"),
        ("/heights/0.5", "tile=0.5 is not a number"),
        ("/heights/nan", "tile=nan is not a number"),
        ("/valley/0?depth_m=many", "depth_m=many is not a number"),
        ("/valley/0", "depth_m= was not given"),
        ("/light/0?date=2026-02-30", "date=2026-02-30 is not a date"),
        ("/light/0?date=2026-03-16&end=noon", "end=noon is neither morning nor evening"),
        (f"/light/0?{DAY}&mist=level:x", "mist=level:x is no mist"),
        (f"/light/0?{DAY}&mist=level:nan", "mist=level:nan is no mist"),
        (f"/light/0?{DAY}&mist=fog", "mist=fog is no mist"),
        (f"/light/0?{DAY}&mist=level:-50", "covers no ground"),
        (f"/light/0?{DAY}&fine=2", "fine=2 is not a number from 0 to 1"),
        (ASKED.replace("Lone Hill", "Lost Hill"), "no hill is called 'Lost Hill'"),
        (ASKED.replace("level:120", "level:460"), "under the mist's top"),
        ("/atlas/0?hill=Lone Hill&year=1", "the year must be"),
        ("/take/notes.txt", "there is no file notes.txt to take along"),
        ("/sky/100", "sun_altitude_deg=100 is not a number from -90 to 90"),
    ],
)
def test_a_bad_request_is_answered_with_one_line(page, address, words):
    refused = page.get(address)
    assert refused.status_code == 400, refused.text
    assert list(refused.json()) == ["wrong"]
    assert words in refused.json()["wrong"]
    assert "\n" not in refused.json()["wrong"]


def test_what_is_not_there_is_said_so(page):
    for address in (
        "/nothing",
        "/../pyproject.toml",
        "/%2e%2e/app.py",
        "/heights",
        "/page/desk.css",
    ):
        missing = page.get(address)
        assert missing.status_code == 404, address
        assert "wrong" in missing.json()
    assert page.post("/about.json").status_code == 405


def test_a_defect_is_told_from_a_mistake(page, monkeypatch):
    def broken(*asked: object) -> None:
        raise ZeroDivisionError("by nothing")

    monkeypatch.setattr("terrain.desk.ground.heights", broken)
    with pytest.raises(ZeroDivisionError):
        page.get("/heights/0")


def test_of_bare_ground_the_highest_summit_comes_first(isle_file: Path):
    bare = lay(opening_of(open_area([isle_file.with_name("isle.tif")])))
    started = about(bare, Asked({}), Job())["start"]
    assert (started["mist"], started["end"]) == (None, "morning")
    lat, lon = (float(part) for part in started["hill"].split(","))
    assert (lat, lon) == pytest.approx((54.4066, -24.0228), abs=1e-3)
    hill = bare.hill(started["hill"])
    assert hill.height_m == pytest.approx(460.0, abs=2.0)


def test_an_opening_that_cannot_be_is_refused_at_once(isle_file: Path):
    opening = opening_of(open_area([isle_file]))
    for said, words in (
        ({"hill": "Lost Hill"}, "no hill is called"),
        ({"spot": "the stile"}, "no place is called"),
        ({"date": "someday"}, "is not a date"),
    ):
        with pytest.raises(TerrainError, match=words):
            lay(replace(opening, **said))
