"""Nonsense is asked about, in one line, whether a command line says it or an area file."""

from __future__ import annotations

import json

import numpy as np
import pytest

from tests.scenes import written

LOOK = ("--spot", "the ridge")
PLAN = ("--start", "the quay", "--spot", "the ridge")


def _check(outcome, *words):
    assert outcome.code == 2, outcome
    assert outcome.out == ""
    assert outcome.err.startswith("terrain: ")
    assert outcome.err.count("\n") == 1
    assert len(outcome.err) < 700
    for word in words:
        assert word in outcome.err


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["plan", *PLAN, "--air", "nan"], ["--air nan", "-80 to 60 °C"]),
        (["plan", *PLAN, "--air", "1", "--lapse", "nan"], ["--lapse nan"]),
        (["plan", *PLAN, "--air", "1", "--air-height", "inf"], ["--air-height inf"]),
        (["plan", *PLAN, "--air", "1", "--wind", "nan"], ["--wind nan", "km/h"]),
        (["plan", *PLAN, "--drive", "1e308"], ["--drive 1e+308", "0 to 2880 minutes"]),
        (["plan", *PLAN, "--drive", "inf"], ["--drive inf"]),
        (["plan", *PLAN, "--settle", "nan"], ["--settle nan"]),
        (["plan", *PLAN, "--walk", "0"], ["--walk 0", "more than 0"]),
        (["plan", *PLAN, "--sensor", "nanx24"], ["--sensor nan"]),
        (["plan", *PLAN, "--lens", "inf"], ["--lens inf"]),
        (["mist", "--top", "0:inf:1"], ["inf", "-500 to 9000 m"]),
        (["mist", "--top", "0:300:1e-320"], ["more than 200 heights"]),
        (["mist", "--top", "0:300:nan"], ["step nan"]),
        (["mist", "--top", "1e308"], ["1e+308", "9000 m"]),
        (["mist", "--depth", "-1"], ["--mist-depth -1", "more than 0"]),
        (["mist", "--mist-from", "the quay=nan"], ["the depth of the quay nan"]),
        (["mist", "--hollow", "-1"], ["--hollow -1"]),
        (["light", "--every", "1e-9"], ["--every 1e-09", "1 to 720 minutes"]),
        (["light", "--every", "nan"], ["--every nan"]),
        (["frame", *LOOK, "--hill-width", "-1"], ["--hill-width -1", "more than 0 to 160"]),
        (["frame", *LOOK, "--figure-height", "nan"], ["--figure-height nan"]),
        (["skyline", *LOOK, "--step", "nan"], ["--step nan"]),
        (["skyline", "--spot", "90,10"], ["90,10", "poles"]),
        (["skyline", "--spot", "nan,10"], ["nan,10"]),
        (["skyline", *LOOK, "--reach", "inf"], ["--reach inf"]),
        (["vantages", "--steepest", "nan"], ["--steepest nan"]),
        (["vantages", "--apart", "-3"], ["--apart -3"]),
        (["vantages", "--weight", "alignment=nan"], ["alignment nan"]),
        (["summits", "--band", "99999999999999999999"], ["--band", "65535"]),
        (["mist", "--cell", "1e-320"], ["--cell", "0.01 to 10000 m"]),
        (["summits", "--count", "9" * 400], ["--count", "too long", "1 to 100000"]),
        (["season", "--from", "9999-12-31"], ["1900 to 2199", "9999"]),
        (["plan", *PLAN, "--from", "9999-12-31"], ["1900 to 2199", "9999"]),
        (["skyline", "--spot", "x" * 5000], ["no place is called"]),
        (["summits", "--names", "x" * 5000 + ".csv"], ["no file", "too long"]),
    ],
)
def test_numbers_that_mean_nothing_on_a_command_line(terrain, isle, arguments, words):
    command, *options = arguments
    _check(terrain(command, isle, *options), *words)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[defaults]\nmist_top = 300", ["[defaults] has 'mist_top'", "mist_top_m"]),
        ("[defaults]\nmist_top_m = nan", ["mist_top_m nan", "-500 to 9000 m"]),
        ("[defaults]\nmist_top_m = -1e300", ["mist_top_m -1e+300"]),
        ("[kit]\nsensor = [36, 24]", ["[kit] has 'sensor'", "sensor_mm"]),
        ("[kit]\nsensor_mm = [36]", ["[WIDTH, HEIGHT]", "[36]"]),
        ("[kit]\nsensor_mm = [36, 24, 3]", ["[WIDTH, HEIGHT]"]),
        ("[kit]\nsensor_mm = [36, -24]", ["sensor_mm -24", "1 to 1000 mm"]),
        ("[kit]\nsensor_mm = [inf, 24]", ["sensor_mm inf"]),
        ("[kit]\nlenses_mm = []", ["lenses_mm", "list of millimetres"]),
        ("[kit]\nlenses_mm = [0]", ["lenses_mm 0"]),
        ("[kit]\nlenses_mm = [[24, 70, 200]]", ["lenses_mm", "zoom"]),
        ('[kit]\nlenses_mm = "24"', ["lenses_mm", "list"]),
        ("band = 0", ["band 0", "1 to 65535"]),
        ("band = 9999999999999999999999", ["band"]),
        ("[places]\npole = [90.0, 0]", ["90.0,0", "poles"]),
        ("[places]\nhere = [nan, 0]", ["nan, 0"]),
        (f"[places]\n{'x' * 400} = [54, 0]", ["too long"]),
        ("a = " + "[" * 5000, ["too deep"]),
        (f"band = {'9' * 5000}", ["not a TOML file"]),
        (f"[defaults]\nmist_top_m = {'9' * 400}", ["too long"]),
    ],
)
def test_values_that_mean_nothing_in_an_area_file(terrain, tmp_path, text, words):
    area = tmp_path / "area.toml"
    area.write_text(f'rasters = ["ground.tif"]\n{text}\n', encoding="utf-8")
    _check(terrain("summits", area), *words)


@pytest.mark.parametrize("address", ["/vsicurl/http://127.0.0.1:1/a.tif", "https://a.test/a.tif"])
def test_an_area_file_names_no_address(terrain, tmp_path, address):
    area = tmp_path / "area.toml"
    area.write_text(f'rasters = ["{address}"]\n', encoding="utf-8")
    _check(terrain("summits", area), "names the address")


def two_of_one_name(folder):
    file = folder / "two.csv"
    file.write_text(
        "name,lat,lon\nTwin Tor,54.38150,-23.95000\nTwin Tor,54.39000,-23.97000\n"
        "Once,54.38000,-23.96000\nOnce,54.38001,-23.96001\n",
        encoding="utf-8",
    )
    return file


def test_two_places_of_one_name_are_asked_about(terrain, isle, tmp_path):
    names = two_of_one_name(tmp_path)
    both = ["2 places are called Twin Tor", "54.38150,-23.95000", "54.39000,-23.97000", "LAT,LON"]
    for option in ("--spot", "--hill"):
        others = ("--spot", "the ridge") if option == "--hill" else ()
        _check(terrain("sunrise", isle, "--names", names, option, "twin tor", *others), *both)
    given = terrain("skyline", isle, "--names", names, "--spot", "54.39,-23.97", "--json")
    assert given.code == 0
    assert json.loads(given.out)["spot"]["lat_deg"] == pytest.approx(54.39, abs=0.002)
    # what lies in one place is one place
    assert terrain("skyline", isle, "--names", names, "--spot", "Once", "--json").code == 0


def test_a_place_of_the_area_and_another_in_its_list_are_asked_about(terrain, isle, tmp_path):
    names = tmp_path / "other.csv"
    names.write_text("name,lat,lon\nthe ridge,54.38000,-23.96000\n", encoding="utf-8")
    _check(
        terrain("skyline", isle, "--names", names, "--spot", "the ridge"),
        "2 places are called the ridge",
        "54.38000,-23.96000",
    )


def test_names_of_an_area_that_differ_in_capitals_alone(terrain, isle, tmp_path):
    text = isle.read_text(encoding="utf-8").replace(
        "[places]", "[places]\nPair = [54.38, -23.95]\npair = [54.39, -23.97]"
    )
    area = isle.parent / "capitals.toml"
    area.write_text(text, encoding="utf-8")
    try:
        _check(terrain("skyline", area, "--spot", "PAIR"), "2 places are called")
        assert terrain("skyline", area, "--spot", "pair", "--json").code == 0
    finally:
        area.unlink()


@pytest.mark.parametrize("unit", ["fathom", "degrees", "cm", "furlong"])
def test_heights_in_a_unit_that_is_not_understood(terrain, tmp_path, unit):
    import rasterio

    raster = written(tmp_path / "g.tif", np.pad([[500.0]], 4), crs="EPSG:32627")
    with rasterio.open(raster, "r+") as file:
        file.units = (unit,)
    _check(terrain("summits", raster), "g.tif", f'"{unit}"', "us-survey-foot")
    assert terrain("summits", raster, "--unit", "metre").code == 0


def test_degrees_taken_for_metres(terrain, tmp_path):
    import rasterio
    from affine import Affine

    profile = {"driver": "GTiff", "count": 1, "dtype": "float32", "width": 9, "height": 9}
    with rasterio.open(
        tmp_path / "d.tif",
        "w",
        crs="EPSG:32627",
        transform=Affine(0.0003, 0, -24, 0, -0.0003, 54),
        **profile,
    ) as file:
        file.write(np.pad([[500.0]], 4).astype(np.float32), 1)
    _check(terrain("summits", tmp_path / "d.tif"), "cells of 0.0003 m", "degrees")


def test_cells_wider_than_the_earth(terrain, tmp_path):
    raster = written(tmp_path / "wide.tif", np.pad([[500.0]], 4), crs="EPSG:32627")
    import rasterio
    from affine import Affine

    with rasterio.open(raster, "r+") as file:
        file.transform = Affine(1e308, 0, 300_000, 0, -50, 6_035_000)
    _check(terrain("summits", raster), "wide.tif", "wider than the earth")


def test_a_folder_that_is_gone(tmp_path):
    import subprocess
    import sys

    gone = tmp_path / "gone"
    gone.mkdir()
    code = f"import os; os.chdir({str(gone)!r}); os.rmdir({str(gone)!r})\n"
    code += "from terrain.command.main import run; run(['summits', 'a.tif', '--save', 'b.csv'])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert done.stderr.count("\n") == 1
    assert "folder" in done.stderr
