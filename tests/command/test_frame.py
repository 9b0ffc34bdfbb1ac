"""`terrain frame`: the frame, the sun to it, and a person in it, as the library has them."""

from __future__ import annotations

import datetime as dt
import json
import re
from itertools import pairwise

import pytest

import terrain as library
from terrain.country import Country
from terrain.frame.figure import figure_at, step_for
from terrain.view.backlight import backlight
from terrain.view.look import look
from terrain.view.scene import Scene
from terrain.words.clocks import hour_minute

DAY = dt.date(2026, 3, 27)
ASKED = ("--date", "2026-03-27", "--spot", "the ridge")
PLACE = (54.3795, -24.0300)


@pytest.fixture(scope="module")
def scene(isle):
    dem = library.read_dem(isle.parent / "isle.tif")
    hill = library.hill_at(dem, -23.9485, 54.3815, name="Lone Hill")
    return Scene(Country(dem, mist=library.level_mist(dem, 200.0)), hill)


@pytest.fixture(scope="module")
def spot():
    return library.Spot(lon_deg=-24.0331, lat_deg=54.3794)


def test_the_frame_is_that_of_the_library(terrain, isle, scene, spot):
    answer = json.loads(
        terrain("frame", isle, *ASKED, "--lens", "24", "--lens", "70-300", "--json").out
    )
    kit = library.Kit(lenses_mm=(24, (70, 300)))
    framing = library.frame_view(scene, backlight(scene, look(scene, spot), DAY), kit=kit)
    assert answer["focal_mm"] == pytest.approx(framing.frame.focal_mm, abs=1e-5)
    assert answer["azimuth_deg"] == pytest.approx(framing.frame.azimuth_deg, abs=1e-5)
    assert answer["hill_share"] == pytest.approx(framing.hill_share, abs=1e-5)
    assert [row["state"] for row in answer["sun"]] == [row.state for row in framing.sun]
    assert [lens["lens"] for lens in answer["lenses"]] == ["24 mm", "70-300 mm"]
    assert answer["figure"] is None


def test_a_figure_and_how_to_move(terrain, isle, scene, spot):
    asked = ("frame", isle, *ASKED, "--figure", f"{PLACE[0]},{PLACE[1]}")
    answer = json.loads(terrain(*asked, "--json").out)
    place = library.Spot(lon_deg=PLACE[1], lat_deg=PLACE[0])
    seen = figure_at(scene, spot, place)
    assert answer["figure"]["against"] == (seen.against or "")
    for backdrop in ("sky", "mist", "ground"):
        assert answer["figure"][backdrop] == pytest.approx(seen.share(backdrop), abs=1e-5)
    assert set(answer["moves"]) == {"sky", "mist", "ground"} - {seen.against}
    for backdrop, move in answer["moves"].items():
        step = step_for(scene, spot, place, backdrop)
        assert (move is None) == (step is None)
        if step is not None:
            assert move["words"] == str(step)
    shown = terrain(*asked).out
    assert "A figure 1.75 m tall" in shown
    for backdrop in answer["moves"]:
        assert f"To set them against the {backdrop}: " in shown


def test_the_frame_in_words(terrain, isle):
    shown = terrain("frame", isle, *ASKED, "--wide").out
    for word in ("suits best", "sun appears", "sun clear", "near ground in shade", "pixels"):
        assert word in shown


def test_the_sun_is_told_where_it_changes_and_as_exactly_as_it_is_known(terrain, isle):
    every = json.loads(terrain("frame", isle, *ASKED, "--json").out)["sun"]
    shown = terrain("frame", isle, *ASKED).out
    assert "Each minute is in what --json prints" in shown
    rows = [line.split() for line in shown.splitlines() if re.match(r" \d\d:\d\d ", line)]
    assert 5 < len(rows) < len(every) / 2
    # no seconds, for the sun's appearance is known to half a minute; and every change is there
    moments = [(dt.datetime.fromisoformat(sun["moment"]), sun) for sun in every]
    clocks = [hour_minute(at) for at, _ in moments]
    assert {row[0] for row in rows} <= set(clocks)
    told = {row[0] for row in rows}
    for (_, before), (at, sun) in pairwise(moments):
        if (before["state"], before["pose"]) != (sun["state"], sun["pose"]) or sun["event"]:
            assert hour_minute(at) in told


def test_a_figure_where_the_camera_stands(terrain, isle):
    outcome = terrain("frame", isle, *ASKED, "--figure", "the ridge")
    assert outcome.code == 2
    assert "where the camera is" in outcome.err
