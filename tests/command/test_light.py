"""The light from the command line: the table, and each kind of file opened again."""

from __future__ import annotations

import datetime as dt
import json

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import rasterio
import shapely

from terrain.command.light import _clock
from terrain.ground.raster.read import read_dem
from terrain.light.day import light_arrival
from terrain.mist.level import level_mist
from tests.scenes import written

DAY = dt.date(2026, 3, 22)
PLACE = "54.3815,-23.99"


@pytest.fixture(scope="module")
def ground(isle):
    return read_dem(isle.with_name("isle.tif"))


@pytest.fixture(scope="module")
def expected(ground):
    return light_arrival(ground, DAY, mist=level_mist(ground, 200.0))


def test_the_table_says_when_and_what_is_left_out(terrain, isle):
    outcome = terrain(
        "light", isle, "--valley", f"the dale={PLACE}", "--valley", "the ridge", "--wide"
    )
    assert outcome.code == 0
    assert "First direct sun on Sunday 22 March 2026, any part of the disc" in outcome.out
    assert "by the clock in UTC-2" in " ".join(outcome.out.split())
    for words in ("the dale", "the ridge", "all mist", "all clear ground", "Not known when"):
        assert words in outcome.out


def test_the_table_has_the_clock_of_the_json(answered, isle, monkeypatch):
    monkeypatch.setenv("COLUMNS", "200")
    valley = ("--valley", f"the dale={PLACE}")
    light = answered("light", isle, *valley)
    rows, lines = light.fields["valleys"], light.out.splitlines()
    for row in rows:
        cells = next(line for line in lines if line.strip().startswith(row["name"]))
        times = cells.strip().removeprefix(row["name"]).split()[1:6]
        columns = ("first_light", "lit_10", "lit_50", "lit_90", "last_light")
        assert len(times) == len(columns)
        for shown, column in zip(times, columns, strict=True):
            exact = dt.datetime.fromisoformat(row[column])
            near = dt.datetime.combine(exact.date(), dt.time.fromisoformat(shown), exact.tzinfo)
            assert abs(near - exact) <= dt.timedelta(seconds=30)
    since = dt.datetime(2026, 3, 22)
    assert _clock(pd.NaT, since) == "-"
    assert _clock(pd.Timestamp(since), since) == "all night"


def test_an_evening_is_told_in_the_order_of_the_clock(
    answered, isle, ground, tmp_path, monkeypatch
):
    monkeypatch.setenv("COLUMNS", "200")
    asked = ("light", isle, "--evening", "--valley", f"the dale={PLACE}")
    saved = [("--save", tmp_path / f"last.{kind}") for kind in ("png", "gpkg", "tif", "csv")]
    outcome = answered(*asked, "--every", "60", *(word for pair in saved for word in pair))
    assert outcome.code == 0
    rows = outcome.fields["valleys"]
    assert "Last direct sun on Sunday 22 March 2026, any part of the disc" in outcome.out
    for words in ("shade from", "last sun", "take the sun sooner", "the sun goes behind"):
        assert words in outcome.out
    expected = light_arrival(ground, DAY, mist=level_mist(ground, 200.0), evening=True)
    columns = ("first_shade", "lit_90", "lit_50", "lit_10", "last_light")
    for row in rows:
        moments = [dt.datetime.fromisoformat(row[column]) for column in columns]
        assert moments == sorted(moments)
        line = next(
            line for line in outcome.out.splitlines() if line.strip().startswith(row["name"])
        )
        times = line.strip().removeprefix(row["name"]).split()[1:6]
        for shown, exact in zip(times, moments, strict=True):
            near = dt.datetime.combine(exact.date(), dt.time.fromisoformat(shown), exact.tzinfo)
            assert abs(near - exact) <= dt.timedelta(seconds=30)
    assert len(gpd.read_file(tmp_path / "last.gpkg", layer="last_light")) > 0
    with rasterio.open(tmp_path / "last.tif") as raster:
        bands, words = raster.read(), raster.descriptions
    goes = bands[4] == 0.0
    assert words[0] == "last sun, seconds after 2026-03-22T00:00:00-02:00"
    np.testing.assert_allclose(bands[0][goes], expected.arrives_s[goes], atol=0.01)
    shares = pd.read_csv(tmp_path / "last.csv")
    assert shares["all mist"].is_monotonic_decreasing
    assert shares["all mist"].iloc[-1] == 0.0
    assert [path.name for path in tmp_path.glob("last-*.png")] == ["last-sheet.png"]
    end = dt.datetime(2026, 3, 23)
    assert _clock(pd.Timestamp(end), end, "24:00") == "24:00"


def test_json_agrees_with_the_library(terrain, isle, ground, expected):
    answer = json.loads(terrain("light", isle, "--valley", PLACE, "--json").out)
    valley, mist, _ = answer["valleys"]
    assert valley["name"] == PLACE
    assert mist["name"] == "all mist"
    covers = level_mist(ground, 200.0).covers & expected.is_known
    half = np.sort(expected.arrives_s[covers])[int(np.ceil(0.5 * covers.sum())) - 1]
    found = dt.datetime.fromisoformat(mist["lit_50"])
    assert expected.seconds(found) == pytest.approx(float(half), abs=0.01)
    assert found.utcoffset() == dt.timedelta(hours=-2)


def test_half_and_all_of_the_disc_come_later(terrain, isle):
    halves = []
    for disc in ("any", "half", "full"):
        answer = json.loads(terrain("light", isle, "--disc", disc, "--json").out)
        halves.append(dt.datetime.fromisoformat(answer["valleys"][0]["lit_50"]))
    assert halves[0] < halves[1] < halves[2]


def test_every_kind_of_file(terrain, isle, expected, tmp_path):
    files = [tmp_path / f"first.{ending}" for ending in ("png", "csv", "gpkg", "geojson", "tif")]
    saves = [word for file in files for word in ("--save", file)]
    outcome = terrain(
        "light", isle, "--every", "60", "--frames", "--valley", f"the dale={PLACE}", *saves
    )
    assert outcome.code == 0
    names = {path.name for path in tmp_path.iterdir()}
    frames = sorted(name for name in names if name.startswith("first-") and "sheet" not in name)
    assert names == {file.name for file in files} | {"first-sheet.png"} | set(frames)
    assert all(name[6:8].isdigit() and name[8:10] == "00" for name in frames)
    assert len(frames) >= 3

    shares = pd.read_csv(tmp_path / "first.csv")
    assert list(shares.columns) == ["time", "the dale", "all mist", "all clear ground"]
    moments = [dt.datetime.fromisoformat(text) for text in shares["time"]]
    assert all(moment.utcoffset() == dt.timedelta(hours=-2) for moment in moments)
    mist = level_mist(read_dem(isle.with_name("isle.tif")), 200.0).covers
    np.testing.assert_allclose(shares["all mist"], expected.share_lit(mist, moments), atol=1e-4)

    lines = gpd.read_file(tmp_path / "first.gpkg", layer="first_light")
    other = gpd.read_file(tmp_path / "first.geojson")
    assert list(lines["clock"]) == [f"{clock:%H:%M}" for clock in other["clock"]]
    assert lines.crs.to_epsg() == 4326
    first = dt.datetime.fromisoformat(lines["time"][1])
    assert f"{first:%H:%M}" == lines["clock"][1]

    with rasterio.open(tmp_path / "first.tif") as raster:
        bands, words = raster.read(), raster.descriptions
    comes = bands[4] == 0.0
    assert words[0] == "first sun, seconds after 2026-03-22T00:00:00-02:00"
    np.testing.assert_allclose(bands[0][comes], expected.arrives_s[comes], atol=0.01)
    np.testing.assert_allclose(bands[1][comes], bands[0][comes] / 3600.0 + 2.0, atol=1e-5)
    assert np.array_equal(np.isnan(bands[0]), ~comes)
    assert set(np.unique(bands[4])) <= {0.0, 2.0, 3.0}
    np.testing.assert_allclose(bands[2][comes], expected.azimuth_deg[comes], atol=1e-3)


def test_valleys_from_a_file_by_name(terrain, isle, tmp_path):
    boxes = [shapely.box(-24.0, low, -23.98, low + 0.01) for low in (54.38, 54.36)]
    drawn = gpd.GeoDataFrame({"name": ["Upper", "Lower"]}, crs="EPSG:4326", geometry=boxes)
    drawn.to_file(tmp_path / "dales.gpkg")
    areas = ("--areas", tmp_path / "dales.gpkg", "--json")
    both = json.loads(terrain("light", isle, *areas).out)["valleys"]
    assert [row["name"] for row in both[:2]] == ["Upper", "Lower"]
    one = json.loads(terrain("light", isle, *areas, "--valley", "lower").out)["valleys"]
    assert [row["name"] for row in one] == ["Lower", "all mist", "all clear ground"]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--date", "someday"], ["someday", "YYYY-MM-DD"]),
        (["--every", "0"], ["--every 0", "1 to 720 minutes"]),
        (["--every", "0.1", "--save", "l.png"], ["--every 0.1", "1 to 720 minutes"]),
        (["--valley", "the rigde"], ["the rigde", "the ridge"]),
        (["--valley", "50,10"], ["no ground at 50.0000"]),
        (["--valley", "the ridge", "--valley-reach", "0"], ["--valley-reach 0", "more than 0"]),
        (["--areas", "nowhere.gpkg"], ["nowhere.gpkg"]),
        (["--disc", "most"], ["most"]),
        (["--map", "5"], ["--near"]),
        (["--near", "the ridge", "--map", "-1", "--save", "l.png"], ["--map -1", "more than 0"]),
        (["--save", "l.docx"], ["l.docx", ".png"]),
        (["--mist-top", "900"], ["900 m", "all ground"]),
    ],
)
def test_what_cannot_be_done_is_one_line(terrain, isle, tmp_path, monkeypatch, arguments, words):
    monkeypatch.chdir(tmp_path)
    outcome = terrain("light", isle, *arguments)
    assert outcome.code == 2
    assert outcome.err.startswith("terrain: ")
    assert outcome.err.count("\n") == 1
    for word in words:
        assert word in outcome.err
    assert list(tmp_path.iterdir()) == []


def test_a_stop_leaves_only_whole_files(terrain, isle, tmp_path, monkeypatch):
    import terrain as package

    drawn = []
    save = package.save_picture

    def stopped(figure, path):
        if len(drawn) == 2:
            raise KeyboardInterrupt
        drawn.append(path)
        save(figure, path)

    monkeypatch.setattr(package, "save_picture", stopped)
    outcome = terrain("light", isle, "--every", "30", "--frames", "--save", tmp_path / "l.png")
    assert outcome.code == 130
    assert "stopped" in outcome.err
    assert sorted(tmp_path.iterdir()) == sorted(drawn)
    assert all(path.read_bytes().startswith(b"\x89PNG") for path in drawn)


def test_the_far_north(terrain, tmp_path):
    heights = 300.0 * np.exp(-(((np.mgrid[:80, :80][1] - 60) / 9.0) ** 2))
    north = tmp_path / "north.tif"
    path = written(north, heights, crs="EPSG:32634", corner_m=(437_000, 7_690_000))
    october = terrain("light", path, "--date", "2026-10-13", "--save", tmp_path / "october.png")
    assert october.code == 0
    assert "clock in CEST" in " ".join(october.out.split())
    june = terrain("light", path, "--date", "2026-06-21")
    assert june.code == 0 if "all night" in june.out else "does not set" in june.err
    december = terrain("light", path, "--date", "2026-12-21")
    assert (december.code, december.out) == (2, "")
    assert "does not rise" in december.err
