"""A rising mist from the command line: the table, the chart and a map for each height."""

from __future__ import annotations

import numpy as np
import pytest
import rasterio
from matplotlib.image import imread

from terrain.command.mist_asked import tops_of
from terrain.errors import TerrainError


def test_a_range_has_both_its_ends():
    assert tops_of("300") == (300.0,)
    assert tops_of("250:450:100") == (250.0, 350.0, 450.0)
    assert tops_of("0:1:0.3") == pytest.approx([0.0, 0.3, 0.6, 0.9])


@pytest.mark.parametrize("text", ["high", "1:2", "450:250:25", "1:2:0", "1:2:-1", "0:9000:1"])
def test_what_is_no_range(text):
    with pytest.raises(TerrainError, match=r"height|step"):
        tops_of(text)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("rising")


@pytest.fixture
def rising(answered, isle, folder):
    """What is told of a rise of three heights; its files lie in the folder."""
    saves = ("--save", folder / "rise.png", "--save", folder / "rise.csv")
    return answered("mist", isle, "--top", "100:500:200", *saves)


def test_frames_chart_and_table(rising, folder):
    assert rising.code == 0
    names = {path.name for path in folder.iterdir()}
    assert names == {"rise.png", "rise.csv", "rise-0100.png", "rise-0300.png", "rise-0500.png"}
    assert "2 summits as the mist rises" in rising.out


def test_frames_differ_in_nothing_but_the_mist(rising, folder):
    low, high, highest = (imread(folder / f"rise-{top:04d}.png") for top in (100, 300, 500))
    assert low.shape == high.shape == highest.shape
    # both summits stand at 100 and at 300 m, so their discs lie where they did
    colour = np.array([32, 38, 45]) / 255.0
    ink = [np.abs(frame[..., :3] - colour).max(axis=2) < 0.02 for frame in (low, high)]
    map_side = np.s_[200:-100, : low.shape[1] // 2]
    assert (ink[0] == ink[1])[map_side].mean() > 0.999
    assert ink[0][map_side].sum() > 200


def test_a_height_without_a_map_is_said(terrain, isle, tmp_path):
    outcome = terrain("mist", isle, "--top", "300:700:200", "--save", tmp_path / "rise.png")
    assert outcome.code == 0
    assert "no map at 700 m: mist with its top at 700 m covers all ground" in outcome.err
    names = {path.name for path in tmp_path.iterdir()}
    assert names == {"rise.png", "rise-0300.png", "rise-0500.png"}


def test_each_summit_drowns_at_its_height_and_stands_alone_above_the_valley(rising):
    answer = rising.fields
    lone, ridge = answer["summits"]
    assert lone["drowns_m"] == pytest.approx(580.0, abs=1.0)
    assert lone["alone_from_m"] == pytest.approx(60.0, abs=1.0)
    assert ridge["drowns_m"] == pytest.approx(440.0, abs=1.0)
    standing = {
        top: sum(row["top_m"] == top for row in answer["islands"]) for top in (100, 300, 500)
    }
    assert standing == {100: 2, 300: 2, 500: 1}


def test_mist_that_rises_from_a_place_reaches_what_it_can_from_there(terrain, isle, tmp_path):
    raster = tmp_path / "levels.tif"
    rise = ("--top", "100:300:200", "--save", raster)
    levels = []
    for quay in ((), ("--mist-from", "Lone Hill")):
        assert terrain("mist", isle, *rise, *quay).code == 0
        with rasterio.open(raster) as file:
            levels.append(file.read(1))
    summit = float(levels[0].max())
    assert summit == pytest.approx(580.0, abs=1.0)
    # mist that wells up on a summit lies over all the rest once it lies there at all
    assert (levels[1] == summit).all()
    assert levels[0].min() < 1.0
