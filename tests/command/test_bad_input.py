"""What cannot be done is said in one line, with exit code 2, and nothing is left behind."""

from __future__ import annotations

import json

import numpy as np
import pytest
import rasterio
import rasterio.warp
from affine import Affine

from tests.scenes import written

LOOK = ("--spot", "the ridge")


def _raster(path, heights, crs="EPSG:32627"):
    return written(path, heights, crs=crs, nodata=-9999.0)


def _check(outcome, *words):
    assert outcome.code == 2
    assert outcome.out == ""
    assert outcome.err.startswith("terrain: ")
    assert outcome.err.count("\n") == 1
    for word in words:
        assert word in outcome.err


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["summits", "nowhere.tif"], ["nowhere.tif"]),
        (["summits"], ["GROUND"]),
        (["summits", "nowhere.toml"], ["nowhere.toml"]),
        (["soar"], ["soar"]),
        (["summits", "--deep"], ["--deep"]),
    ],
)
def test_words_that_mean_nothing(terrain, arguments, words):
    _check(terrain(*arguments), *words)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["summits", "--prominence", "0"], ["prominence", "0"]),
        (["summits", "--prominence", "5000"], ["5000"]),
        (["mist", "--mist-top", "nan"], ["nan"]),
        (["mist", "--mist-top", "-50"], ["-50 m", "no ground"]),
        (["mist", "--mist-top", "900"], ["900 m", "all ground"]),
        (["mist", "--mist-from", "50,10"], ["50.0000", "covers"]),
        (["mist", "--mist-from", "Atlantis"], ["Atlantis"]),
        (["skyline", "--spot", "50,10"], ["no ground at 50.0000, 10.0000", "covers"]),
        (["skyline", "--spot", "95,10"], ["95,10"]),
        (["skyline", "--spot", "the rigde"], ["the rigde", "the ridge"]),
        (["skyline", *LOOK, "--reach", "-1"], ["reach", "-1"]),
        (["sunrise", *LOOK, "--date", "someday"], ["someday", "YYYY-MM-DD"]),
        (["sunrise", *LOOK, "--date", "2026-02-30"], ["2026-02-30"]),
        (["sunrise", *LOOK, "--hill", "50,10"], ["50.0000"]),
        (["sunrise", *LOOK, "--mist-top", "500"], ["440 m", "60 m under the mist"]),
        (["sunrise", *LOOK, "--mist-top", "579"], ["139 m under the mist"]),
        (["sunrise", "--spot", "Lone Hill", "--mist-top", "300"], ["on the summit"]),
        (["dates", *LOOK, "--within", "0"], ["--within 0", "more than 0 to 90 degrees"]),
        (["dates", *LOOK, "--year", "99999"], ["99999"]),
        (["dates", *LOOK, "--hill", "the quay", "--mist-top", "40"], ["no morning"]),
        (["vantages", "--date", "2026-06-21"], ["Lone Hill"]),
        (["vantages", "--weight", "beauty=3"], ["beauty", "alignment"]),
        (["vantages", "--weight", "alignment=lots"], ["alignment=lots"]),
        (["vantages", "--nearest", "9", "--farthest", "5"], ["9000", "5000"]),
        (["vantages", "--freeboard", "1000"], ["1000 m above the mist"]),
        (["vantages", "--count", "0"], ["count"]),
        (["summits", "--save", "picture.docx"], ["picture.docx", ".png"]),
    ],
)
def test_requests_that_cannot_be_met(terrain, isle, tmp_path, monkeypatch, arguments, words):
    monkeypatch.chdir(tmp_path)
    command, *options = arguments
    _check(terrain(command, isle, *options), *words)
    assert list(tmp_path.iterdir()) == []


def test_a_hill_under_the_mist(terrain, isle):
    spot = ("--spot", "54.3815,-23.9500", "--hill", "the ridge", "--mist-top", "450")
    _check(terrain("sunrise", isle, *spot), "lies", "under the")


def test_not_a_raster(terrain, tmp_path):
    text = tmp_path / "notes.txt"
    text.write_text("no heights here", encoding="utf-8")
    _check(terrain("summits", text), "notes.txt")


def test_no_reference_system_in_the_file_and_none_given(terrain, tmp_path):
    raster = _raster(tmp_path / "bare.tif", np.pad([[500.0]], 4), crs=None)
    _check(terrain("summits", raster), "bare.tif", "crs")
    assert terrain("summits", raster, "--crs", "EPSG:32627").code == 0


def test_several_bands_are_listed_and_one_is_chosen(terrain, tmp_path):
    raster = tmp_path / "bands.tif"
    heights = np.stack([np.pad([[500.0]], 4), np.pad([[700.0]], 4)]).astype(np.float32)
    profile = {"driver": "GTiff", "height": 9, "width": 9, "count": 2, "dtype": "float32"}
    place = {"crs": "EPSG:32627", "transform": Affine(50, 0, 300_000, 0, -50, 6_035_000)}
    with rasterio.open(raster, "w", **profile, **place) as file:
        file.write(heights)
        file.descriptions = ("ground", "treetops")
    area = tmp_path / "area.toml"
    for band, top in ((1, "500"), (2, "700")):
        _check(terrain("summits", raster), "bands.tif", "1 (ground), 2 (treetops)", "band")
        assert top in terrain("summits", raster, "--band", band).out
        area.write_text(f'rasters = ["bands.tif"]\nband = {band}\n', encoding="utf-8")
        assert top in terrain("summits", area).out
        assert "700" in terrain("summits", area, "--band", 2).out
    _check(terrain("summits", raster, "--band", 3), "no band 3", "2 (treetops)")
    _check(terrain("summits", raster, "--band", 1, "--variable", "z"), "no variable 'z'")
    area.write_text('rasters = ["bands.tif"]\nband = "1"\n', encoding="utf-8")
    _check(terrain("summits", area), "band", "whole number")


def test_sheets_that_do_not_fit_are_told_of_beside_the_answer(terrain, tmp_path):
    peak = 500.0 - 5.0 * np.hypot(*(np.mgrid[:40, :40] - 20.0))
    north = _raster(tmp_path / "north.tif", peak)
    south = _raster(tmp_path / "south.tif", peak[20:] + 40.0)
    with rasterio.open(south, "r+") as file:
        file.transform = Affine(50, 0, 300_000, 0, -50, 6_034_000)
    told = terrain("summits", north, south, "--json")
    assert told.code == 0
    assert json.loads(told.out)
    assert told.err.startswith("note: ")
    assert told.err.count("\n") == 1
    for word in ("south.tif and", "north.tif do not fit", "40 m apart", "at 54.4"):
        assert word in told.err
    assert terrain("summits", north, "--json").err == ""


def test_feet_are_told_by_the_file_or_asked_for(terrain, tmp_path):
    off = np.abs(np.arange(9.0) - 4.0)
    heights = 10_700.0 - np.add.outer(70.0 * off, 80.0 * off)
    raster = _raster(tmp_path / "feet.tif", heights)
    _check(terrain("summits", raster), "feet.tif", "10700", '"foot" or "metre"')
    asked = terrain("summits", raster, "--unit", "foot")
    assert "3261" in asked.out  # 10700 feet
    with rasterio.open(raster, "r+") as file:
        file.units = ("ft",)
    _check(terrain("summits", raster, "--unit", "metre"), '"ft", not in metre', '"foot"')
    assert terrain("summits", raster) == asked


def test_a_spot_on_unknown_ground(terrain, tmp_path):
    heights = np.full((40, 40), 100.0)
    heights[15:25, 15:25] = -9999.0
    raster = _raster(tmp_path / "void.tif", heights)
    with rasterio.open(raster) as file:
        lon, lat = rasterio.warp.transform(file.crs, "EPSG:4326", *[[v] for v in file.xy(20, 20)])
    _check(terrain("skyline", raster, "--spot", f"{lat[0]},{lon[0]}"), "unknown")


def test_a_date_on_which_the_sun_does_not_rise(terrain, tmp_path):
    heights = 100.0 + 300.0 * np.exp(-(((np.mgrid[:80, :80][1] - 60) / 9.0) ** 2))
    far_north = tmp_path / "far_north.tif"
    raster = written(far_north, heights, crs="EPSG:32633", corner_m=(500_000, 8_700_000))
    spot, hill = ("--spot", "78.36,15.04"), ("--hill", "78.362,15.13")
    _check(terrain("sunrise", raster, *spot, *hill, "--date", "2026-12-21"), "does not rise")
    _check(terrain("vantages", raster, *hill, "--date", "2026-12-21"), "does not rise")
    _check(terrain("sunrise", raster, *spot, *hill, "--date", "2026-06-21"), "does not set")


def test_a_folder_that_cannot_be_written_to_is_found_out_first(terrain, isle, tmp_path):
    wall = tmp_path / "file"
    wall.write_text("", encoding="utf-8")
    _check(terrain("summits", isle, "--save", wall / "out.csv"), "out.csv", "file")
    _check(terrain("demo", wall / "demo"), "demo")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("rasters = [", ["TOML"]),
        ('raster = ["a.tif"]', ["raster"]),
        ('name = "empty"', ["no rasters"]),
        ('rasters = ["a.tif"]\n[places]\nhere = [1, 2, 3]', ["here"]),
        ('rasters = ["a.tif"]\n[places]\nhere = [99, 2]', ["99,2"]),
        ('rasters = ["a.tif"]', ["a.tif"]),
    ],
)
def test_area_files_with_a_fault(terrain, tmp_path, text, words):
    area = tmp_path / "area.toml"
    area.write_text(text, encoding="utf-8")
    _check(terrain("summits", area), *words)


def test_an_interrupted_search_leaves_nothing_and_says_so(terrain, isle, tmp_path, monkeypatch):
    def interrupted(*_args, **_kwargs):
        raise KeyboardInterrupt

    monkeypatch.setattr("terrain.find_vantages", interrupted)
    outcome = terrain("vantages", isle, "--save", tmp_path / "v.gpkg")
    assert outcome.code == 130
    assert "stopped" in outcome.err
    assert list(tmp_path.iterdir()) == []


def test_a_picture_that_fails_half_way_does_not_replace_the_old_one(isle, tmp_path):
    from terrain.show.files.whole import whole_file

    old = tmp_path / "map.png"
    old.write_text("the old map", encoding="utf-8")

    def draw_half():
        with whole_file(old) as partial:
            partial.write_text("half", encoding="utf-8")
            raise MemoryError

    with pytest.raises(MemoryError):
        draw_half()
    assert old.read_text(encoding="utf-8") == "the old map"
    assert list(tmp_path.iterdir()) == [old]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("name = 3", ["name", "3", "quotes"]),
        ("summits = 5", ["summits", "5"]),
        ("crs = 27700", ["crs", "27700"]),
        ("kit = 3", ["[kit]", "3"]),
        ('[defaults]\nmist_top_m = "high"', ["mist_top_m", "high", "metres"]),
        ("[defaults]\nmist_top_m = true", ["mist_top_m", "True"]),
        ("[defaults]\ndate = 20261013", ["date", "20261013", "such as 2026-10-13"]),
        ("[defaults]\ndate = 2026-10-13T07:00:00", ["date", "such as 2026-10-13"]),
        ("[defaults]\nhill = 3", ["hill", "3"]),
    ],
)
def test_values_of_the_wrong_kind_in_an_area_file(terrain, tmp_path, text, words):
    area = tmp_path / "area.toml"
    area.write_text(f'rasters = ["ground.tif"]\n{text}\n', encoding="utf-8")
    _check(terrain("summits", area), *words)


def test_coordinates_that_do_not_lie_on_the_earth(terrain, tmp_path):
    raster = _raster(tmp_path / "bare.tif", np.pad([[500.0]], 4), crs=None)
    _check(terrain("summits", raster, "--crs", "EPSG:4326"), "does not lie on the earth")


def test_a_drive_of_less_than_no_time(terrain, isle):
    _check(terrain("plan", isle, "--start", "the quay", "--drive", "-5"), "drive")


def test_a_stop_inside_compiled_code_is_a_stop(terrain, isle, monkeypatch):
    """There Python makes a SystemError of it, whose cause is the Ctrl-C."""

    def stopped(*_, **__):
        raise SystemError("returned a result with an exception set") from KeyboardInterrupt()

    monkeypatch.setattr("terrain.country.find_summits", stopped)
    outcome = terrain("summits", isle)
    assert (outcome.code, outcome.out) == (130, "")
    assert outcome.err == "terrain: stopped; every file already written is whole\n"


def test_a_defect_is_no_stop(terrain, isle, monkeypatch):
    def broken(*_, **__):
        raise ValueError("no such thing")

    monkeypatch.setattr("terrain.country.find_summits", broken)
    outcome = terrain("summits", isle)
    assert (outcome.code, outcome.out) == (1, "")
    assert outcome.err.startswith("terrain: ValueError: no such thing (this is a defect")
