"""Vantages with a mist of unknown height, and within a walk: what the command says and writes."""

from __future__ import annotations

import json

import geopandas as gpd
import pytest

MORNING = ("--date", "2026-03-27")
TOPS = ("--mist-top", "120:280:40")
LANE = ("--start", "54.375,-24.04")


def test_a_range_of_tops_is_a_column_and_a_line_of_words(answered, isle, tmp_path):
    table, picture = tmp_path / "vantages.gpkg", tmp_path / "map.png"
    outcome = answered(
        "vantages", isle, *MORNING, *TOPS, "--pours", "--wide", "--save", table, "--save", picture
    )
    assert outcome.code == 0, outcome.err
    rows = outcome.fields
    assert rows
    for row in rows:
        assert 120.0 <= row["mist_from_m"] <= row["mist_top_m"] <= row["mist_to_m"] <= 280.0
        assert row["mist_to_m"] + 20.0 <= row["height_m"] + 0.5
        assert row["mist_band_m"] == row["mist_to_m"] - row["mist_from_m"]
        assert row["freeboard_m"] == pytest.approx(row["height_m"] - row["mist_top_m"], abs=0.5)
        assert 0.0 < row["mist_share"] < 1.0
        assert row["islands_in_view"] >= 1  # the hill's own
    assert gpd.read_file(table)["mist_band_m"].tolist() == [row["mist_band_m"] for row in rows]
    assert picture.read_bytes().startswith(b"\x89PNG")
    said = " ".join(outcome.out.split())
    assert "The mist in view" in said
    assert "works at tops m" in said
    best = rows[0]
    assert f"{best['mist_from_m']:.0f} to {best['mist_to_m']:.0f}" in said
    assert "The mist may stand anywhere from 120 to 280 m." in said
    assert "about the top hoped for, 200 m, or else the nearest to it that works there" in said


def test_one_top_tells_of_the_mist_in_view_and_of_no_band(answered, isle):
    told = answered("vantages", isle, *MORNING, "--wide")
    rows, said = told.fields, told.out
    assert "mist_share" in rows[0]
    assert "mist_band_m" not in rows[0]
    assert "of the view %" in said
    assert "works at tops m" not in said


def test_a_walk_leaves_out_what_is_too_far(terrain, answered, isle):
    every = answered("vantages", isle, *MORNING, "--wide").fields
    near = answered("vantages", isle, *MORNING, *LANE, "--walk", "45")
    rows, said = near.fields, near.out
    assert "walk_min" not in every[0]
    assert rows
    for row in rows:
        assert row["walk_min"] <= 45.0
        assert row["start"] == "54.3750, -24.0400"
    assert "The mist in view and the walk in" in said
    assert f"{rows[0]['walk_min']:.0f}" in said
    # the starts of the area are those of an area file
    quay = json.loads(terrain("vantages", isle, *MORNING, "--walk", "150", "--json").out)
    assert {row["start"] for row in quay} == {"the quay"}


def test_a_walk_in_a_year(terrain, isle):
    outcome = terrain(
        "vantages", isle, "--year", "2026", *LANE, "--walk", "60", "--count", "1", "--json"
    )
    (row,) = json.loads(outcome.out)
    assert row["walk_min"] <= 60.0
    assert row["day"].startswith("2026")


def test_a_start_at_which_no_walk_begins_is_told(terrain, isle):
    said = terrain("vantages", isle, *MORNING, *LANE, "--start", "55.9,-24.0", "--walk", "60").out
    assert "No walk from 55.9000, -24.0000: it is 169 km from Lone Hill." in said


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--walk", "0"), ["--walk 0", "more than 0"]),
        (("--walk", "2"), ["none of", "within 2 minutes of a start"]),
        (("--mist-top", "300:200:10"), ["300:200:10", "LOWEST:HIGHEST:STEP"]),
        (("--mist-top", "high"), ["high", "not a height"]),
        (("--mist-top", "440:500:30"), ["Lone Hill", "stands 20 m above the mist"]),
        (("--mist-top", "100:200:50", "--mist-depth", "40"), ["give one of the two"]),
        (("--weight", "luck=2"), ["luck", "band"]),
    ],
)
def test_requests_that_cannot_be_met(terrain, isle, options, words):
    outcome = terrain("vantages", isle, *MORNING, *options)
    assert outcome.code == 2
    assert outcome.out == ""
    assert outcome.err.count("\n") == 1
    for word in words:
        assert word in outcome.err


def test_a_walk_needs_a_start(terrain, isle):
    raster = isle.parent / "isle.tif"
    outcome = terrain("vantages", raster, "--hill", "54.3815,-23.9485", *MORNING, "--walk", "30")
    assert outcome.code == 2
    assert "--walk needs a start" in outcome.err
