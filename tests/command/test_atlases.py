"""The whole tile at once from the command line: a year of one hill, a morning of all hills."""

from __future__ import annotations

import json
from contextlib import contextmanager

import numpy as np
import pytest
import rasterio


def test_a_year_finds_the_morning_that_the_day_s_search_knows(terrain, isle):
    rows = json.loads(terrain("vantages", isle, "--year", "2026", "--count", "2", "--json").out)
    assert rows
    for row in rows:
        spot = f"{row['lat_deg']},{row['lon_deg']}"
        checked = json.loads(
            terrain("sunrise", isle, "--spot", spot, "--date", row["day"], "--json").out
        )
        assert checked["behind"]
        assert checked["offset_deg"] == pytest.approx(row["offset_deg"], abs=5e-3)


def test_a_day_and_a_year_at_once_are_refused(terrain, isle):
    outcome = terrain("vantages", isle, "--year", "2026", "--date", "2026-03-27")
    assert outcome.code == 2
    assert "exclude each other" in outcome.err


def test_the_atlas_is_a_map_and_a_raster_with_named_bands(terrain, isle, tmp_path):
    raster, picture = tmp_path / "atlas.tif", tmp_path / "atlas.png"
    outcome = terrain(
        "atlas", isle, "--year", "2026", "--json", "--save", raster, "--save", picture
    )
    figures = json.loads(outcome.out)
    with rasterio.open(raster) as file:
        names = list(file.descriptions)
        seen = file.read(1 + names.index("sees the summit (1 yes, 0 no)"))
        day = file.read(1 + names.index("best day of the sunrise going north (day of 2026)"))
        known = file.read(1 + names.index("ground known toward the summit and on behind it (m)"))
        what = "height from which hidden ground beyond would change this (m)"
        beyond = file.read(1 + names.index(what))
    assert np.nansum(seen) * 0.0025 == pytest.approx(figures["sees_km2"], rel=1e-6)
    # the ground ends 12 km from the western shore
    assert np.nanmin(known[95:105, 60]) == pytest.approx((239.5 - 60) * 50.0, rel=0.02)
    assert np.isfinite(beyond[100, 60])
    left_out = figures["left_out"]
    assert left_out["known_m"] == pytest.approx(np.nanpercentile(known, 10), rel=1e-3)
    assert left_out["hidden_m"] == pytest.approx(np.nanpercentile(beyond, 10), rel=0.01)
    # from the ridge due west of the hill it is about the equinox
    assert 80 < day[100, 60] < 95
    assert picture.read_bytes().startswith(b"\x89PNG")


def test_what_was_left_out_is_said_to_people_too(terrain, isle):
    said = terrain("atlas", isle, "--year", "2026").out
    assert "Toward the summit and behind it the ground is known for at least" in said
    assert "Hidden ground beyond must rise above" in said
    said = terrain("hills", isle, "--date", "2026-03-27", "--wide").out
    assert "known km" in said
    assert "Toward the summits and behind them the ground is known for at least" in said


def test_hills_of_a_morning_hold_when_they_are_checked_one_by_one(terrain, isle, tmp_path):
    table = tmp_path / "hills.csv"
    outcome = terrain("hills", isle, "--date", "2026-03-27", "--json", "--save", table)
    rows = json.loads(outcome.out)
    assert len(table.read_text(encoding="utf-8").splitlines()) == len(rows) + 1
    assert {round(row["hill_height_m"]) for row in rows} >= {580}
    for row in rows:
        assert row["known_to_m"] > row["distance_m"]
        assert row["beyond_height_m"] > row["height_m"]
        spot = f"{row['lat_deg']},{row['lon_deg']}"
        hill = f"{row['hill_lat_deg']},{row['hill_lon_deg']}"
        given = ("--spot", spot, "--hill", hill, "--date", "2026-03-27")
        checked = terrain("sunrise", isle, *given, "--json")
        assert json.loads(checked.out)["behind"] or row["best"] == "passage"


def test_a_morning_without_any_is_one_line(terrain, isle):
    outcome = terrain("hills", isle, "--date", "2026-06-21", "--farthest", "1.5")
    assert outcome.code == 2
    assert outcome.err.count("\n") == 1


def test_the_bar_goes_on_with_each_thing_done(terrain, isle, monkeypatch):
    shares = []

    @contextmanager
    def told(what, *, quiet):
        yield shares.append

    monkeypatch.setattr("terrain.command.atlas.progress", told)
    assert terrain("atlas", isle, "--year", "2026").code == 0
    # the ground and the mist, then the hill; the atlas itself comes last
    assert len(shares) == 2
    assert 0.0 < shares[0] < shares[1] < 1.0
