"""Mist along the valley floors from the command line, sources, straits, and what does not go."""

from __future__ import annotations

import json

import numpy as np
import pyogrio
import pytest
import rasterio
import rasterio.warp

from tests.scenes import written

SPOT = ("--spot", "the ridge")


@pytest.fixture
def valley(tmp_path):
    """Two valleys that fall 20 m in every km to the south, and a knoll on the ridge between."""
    row, col = np.mgrid[:120, :100] * 50.0
    floor = 300.0 - 0.02 * row
    main = floor + 0.35 * np.abs(col - 1500.0)
    side = floor + 15.0 + 0.35 * np.abs(col - 3750.0)
    knoll = 60.0 * np.exp(-((row - 3000.0) ** 2 + (col - 2650.0) ** 2) / 200.0**2)
    path = written(tmp_path / "valley.tif", np.minimum(main, side) + knoll)
    area = tmp_path / "area.toml"
    places = {name: _place(path, 60, col) for name, col in (("the weir", 30), ("the mill", 75))}
    named = "\n".join(f'"{name}" = [{lat}, {lon}]' for name, (lat, lon) in places.items())
    area.write_text(f'rasters = ["valley.tif"]\n[places]\n{named}\n', encoding="utf-8")
    return area


def _place(path, row, col):
    with rasterio.open(path) as raster:
        lon, lat = rasterio.warp.transform(
            raster.crs, "EPSG:4326", *[[v] for v in raster.xy(row, col)]
        )
    return lat[0], lon[0]


def _depths(path, col):
    with rasterio.open(path) as raster:
        return raster.read(2)[20:100, col]


def test_mist_has_the_depth_asked_for_and_stays_under_the_ceiling(terrain, valley, tmp_path):
    raster = tmp_path / "mist.tif"
    wanted = ("--prominence", "1", "--save", raster)
    assert terrain("mist", valley, "--depth", "30", *wanted).code == 0
    np.testing.assert_allclose(_depths(raster, 30), 30.0, atol=1.5)
    assert terrain("mist", valley, "--depth", "30", "--ceiling", "270", *wanted).code == 0
    with rasterio.open(raster) as file:
        assert np.nanmax(file.read(1)) == pytest.approx(270.0, abs=0.01)


def test_a_source_may_have_a_depth_of_its_own(terrain, valley, tmp_path):
    raster = tmp_path / "mist.tif"
    sources = ("--mist-from", "the weir=40", "--mist-from", "the mill=20")
    terrain("mist", valley, *sources, "--prominence", "1", "--save", raster)
    assert _depths(raster, 30)[40] == pytest.approx(40.0, abs=2.0)
    assert _depths(raster, 75)[40] == pytest.approx(20.0, abs=2.0)


def test_mist_of_one_valley_says_what_stays_clear(terrain, valley):
    outcome = terrain(
        "mist", valley, "--mist-from", "the weir", "--top", "260", "--prominence", "1"
    )
    assert outcome.code == 0, outcome.err
    assert "It comes from the weir alone" in outcome.out
    assert "that it does not reach stays clear" in outcome.out
    answer = json.loads(
        terrain(
            "mist", valley, "--mist-from", "the weir", "--top", "260", "--prominence", "1", "--json"
        ).out
    )
    (hollow,) = answer["clear_hollows"]
    # the side valley's floor at the raster's southern edge, 15 m above the main one
    assert hollow["floor_m"] == pytest.approx(300.0 - 0.02 * 119 * 50.0 + 15.0, abs=0.5)
    assert hollow["depth_m"] == pytest.approx(260.0 - hollow["floor_m"], abs=0.01)


def test_amounts_are_said_and_add_up(terrain, isle):
    answer = json.loads(terrain("mist", isle, "--json").out)
    mist = answer["mist"]
    assert mist["lowest_top_m"] == mist["highest_top_m"] == 200.0
    assert mist["deepest_m"] == pytest.approx(200.0, abs=0.5)
    assert 0 < mist["volume_m3"] < mist["area_km2"] * 1e6 * mist["deepest_m"]
    said = terrain("mist", isle).out
    assert f"The mist covers {mist['area_km2']:.1f} km²" in said
    assert "hollows more than 10 m deep" in said
    assert "hollows more than 25 m deep" in terrain("mist", isle, "--hollow", "25").out


def test_outline_and_islands_are_layers_of_one_file(terrain, isle, tmp_path):
    file = tmp_path / "mist.gpkg"
    assert terrain("mist", isle, "--save", file).code == 0
    layers = dict(pyogrio.list_layers(file))
    assert layers["islands"] == "Point"
    assert layers["mist"] in ("Polygon", "MultiPolygon")
    rising = tmp_path / "rising.gpkg"
    assert terrain("mist", isle, "--top", "100:500:200", "--save", rising).code == 0
    assert {"summits", "islands", "mist"} <= set(dict(pyogrio.list_layers(rising)))
    assert set(pyogrio.read_dataframe(rising, layer="mist")["top_m"]) == {100.0, 300.0, 500.0}


def test_the_width_of_the_mist_between_your_island_and_theirs(answered, isle):
    mist = answered("mist", isle, "--top", "200", "--wide", *SPOT)
    rows = mist.fields["islands"]
    assert rows[1]["from_spot_m"] == 0.0
    assert rows[0]["from_spot_m"] == pytest.approx(rows[0]["strait_m"])
    assert "your island m" in mist.out
    # the mist of the area file
    morning = answered("sunrise", isle, *SPOT, "--date", "2026-03-27")
    assert morning.fields["strait_m"] == rows[0]["from_spot_m"]
    assert "mist between its island and the hill's" in morning.out


def test_a_spot_that_drowns_on_the_way_up_has_no_strait(terrain, isle, tmp_path):
    # at 400 m it stands on an island, and at 500 on none
    arguments = ("mist", isle, "--top", "400:500:100", *SPOT)
    outcome = terrain(*arguments, "--json", "--save", tmp_path / "rise.png")
    assert outcome.code == 0
    rows = json.loads(outcome.out)["islands"]
    known = {row["top_m"] for row in rows if row["from_spot_m"] is not None}
    assert known == {400.0}


def test_sunrise_and_skyline_take_mist_along_the_floors(terrain, isle):
    sunrise = ("sunrise", isle, *SPOT, "--date", "2026-03-27", "--mist-depth", "50")
    answer = json.loads(terrain(*sunrise, "--json").out)
    # the bowl between the hills is level at 60 m
    assert answer["spot"]["height_m"] - answer["spot"]["freeboard_m"] == pytest.approx(110, abs=3)
    sky = ("skyline", isle, *SPOT, "--step", "10", "--json")
    bare, misty = (
        json.loads(terrain(*sky, *more).out)["altitude_deg"] for more in ((), ("--top", "430"))
    )
    assert all(over >= under - 1e-9 for over, under in zip(misty, bare, strict=True))
    # without mist the sea stands behind the bowl
    assert max(over - under for over, under in zip(misty, bare, strict=True)) > 0.3
    assert "Over mist with its top at" in terrain(*sky[:-1], "--mist-depth", "50").out


def test_frame_and_light_take_mist_along_the_floors(terrain, isle):
    morning = ("frame", isle, *SPOT, "--date", "2026-03-27", "--json")
    level, sloping, bare = (
        json.loads(terrain(*morning, *more).out)
        for more in ((), ("--mist-depth", "50"), ("--mist-depth", "1"))
    )
    # a level top of 200 m stands 140 m over the bowl's floor
    assert level["altitude_deg"] != sloping["altitude_deg"] != bare["altitude_deg"]
    light = ("light", isle, "--date", "2026-03-22", "--json")
    deep = json.loads(terrain(*light, "--mist-depth", "50").out)
    assert deep["mist_top_m"] == pytest.approx(110.0, abs=3.0)
    assert [row["name"] for row in deep["valleys"]] == ["all mist", "all clear ground"]


@pytest.mark.parametrize("command", ["sunrise", "skyline"])
def test_of_a_range_the_top_hoped_for_is_taken_and_said(terrain, isle, command):
    asked = (command, isle, *SPOT, *(("--date", "2026-03-27") if command == "sunrise" else ()))
    ranged = terrain(*asked, "--mist-top", "390:430:20", "--json")
    assert "of mist from 390 to 430 m this is about the top hoped for, 410 m" in ranged.err
    assert ranged.out == terrain(*asked, "--mist-top", "410", "--json").out
    assert ranged.out != terrain(*asked, "--mist-top", "390", "--json").out


def test_mist_may_come_from_one_place_only_in_any_command(terrain, valley):
    sky = ("skyline", valley, "--spot", "the mill", "--top", "270", "--json")
    assert "m under the mist" in terrain(*sky).err
    # the ridge keeps the main valley's mist from the mill
    assert terrain(*sky, "--mist-from", "the weir").code == 0
    assert terrain(*sky, "--mist-from", "the weir").code == 0


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["mist", "--top", "200", "--depth", "50"], ["--mist-top 200", "--mist-depth 50"]),
        (["mist", "--ceiling", "300"], ["--mist-ceiling 300", "add --mist-depth"]),
        (["mist", "--mist-from", "the quay=50", "--top", "9"], ["--mist-top 9", "after ="]),
        (["mist", "--mist-from", "the quay=50", "--mist-from", "the ridge"], ["the ridge=M"]),
        (["mist", "--mist-from", "the quay=deep"], ["the quay=deep", "PLACE=METRES"]),
        (["mist", "--mist-from", "the quay=-5"], ["-5", "more than 0 to 9000 m"]),
        (["mist", "--depth", "50", "--hollow", "5"], ["--hollow 5", "--mist-depth"]),
        (["mist", "--mist-from", "the quay", "--hollow", "5"], ["--hollow 5", "--mist-from"]),
        (["mist", "--hollow", "-1"], ["-1", "0 to 9000 m"]),
        (["mist", "--top", "450", *SPOT], ["stands on no island", "450 m"]),
        (["passes", "--mist-from", "the quay", "--hollow", "5"], ["--hollow 5", "--mist-from"]),
        (["sunrise", *SPOT, "--top", "90", "--depth", "50"], ["--mist-top 90"]),
        (["skyline", *SPOT, "--ceiling", "90"], ["--mist-ceiling 90"]),
        (["skyline", *SPOT, "--top", "500"], ["60 m under the mist", "higher spot"]),
    ],
)
def test_what_does_not_go_together_is_one_line(terrain, isle, arguments, words):
    command, *options = arguments
    outcome = terrain(command, isle, *options)
    assert outcome.code == 2
    assert outcome.out == ""
    assert outcome.err.count("\n") == 1
    for word in words:
        assert word in outcome.err


def test_no_mist_at_all_says_what_to_add(terrain, isle):
    outcome = terrain("mist", isle.parent / "isle.tif")
    assert outcome.code == 2
    assert "--top" in outcome.err
    assert "--depth" in outcome.err
