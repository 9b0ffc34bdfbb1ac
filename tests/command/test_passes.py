"""Passes from the command line, on two basins that a wall with one gap parts."""

from __future__ import annotations

import json

import numpy as np
import pyogrio
import pytest
import rasterio
import rasterio.warp

from tests.scenes import written


@pytest.fixture
def basins(tmp_path):
    """Two bowls with floors at 100 and 160 m, a wall between them with a gap at 300 m."""
    row, col = np.mgrid[:80, :160].astype(float)
    west = 100.0 + 0.35 * np.hypot(row - 40, col - 40) ** 1.9
    east = 160.0 + 0.30 * np.hypot(row - 40, col - 120) ** 1.9
    ground = np.minimum(np.minimum(west, east), 280.0)
    wall = np.abs(col - 80) < 2
    ground[wall] = 300.0 + 6.0 * np.abs(row[wall] - 40)
    path = written(tmp_path / "basins.tif", ground)
    with rasterio.open(path) as raster:
        place = rasterio.warp.transform(raster.crs, "EPSG:4326", *[[v] for v in raster.xy(40, 40)])
    return path, f"{place[1][0]},{place[0][0]}"


def test_mist_from_the_west_pours_through_the_gap_at_its_height(terrain, basins, tmp_path):
    path, west = basins
    picture = tmp_path / "passes.png"
    outcome = terrain(
        "passes", path, "--mist-from", west, "--prominence", "50", "--json", "--save", picture
    )
    rows = json.loads(outcome.out)
    pouring = [row for row in rows if row["pours"]]
    assert len(pouring) == 1
    assert pouring[0]["pours_at_m"] == pytest.approx(300.0, abs=0.5)
    assert pouring[0]["side_a"] == "west"
    assert pouring[0]["lon_b_deg"] > pouring[0]["lon_a_deg"]
    assert picture.read_bytes().startswith(b"\x89PNG")
    said = terrain("passes", path, "--mist-from", west, "--prominence", "50").out
    place = f"{pouring[0]['lat_deg']:.4f}, {pouring[0]['lon_deg']:.4f}"
    assert "At 300 m the mist in the valley to the west" in said
    assert f"pours over the pass at {place} into the valley" in said
    assert said.splitlines()[0].startswith("1 pass")


def test_ways_down_are_lines_in_a_geopackage(terrain, basins, tmp_path):
    path, west = basins
    file = tmp_path / "passes.gpkg"
    assert (
        terrain("passes", path, "--mist-from", west, "--prominence", "50", "--save", file).code == 0
    )
    assert dict(pyogrio.list_layers(file)) == {
        "passes": "Point",
        "pours": "LineString",
        "layer_styles": None,
    }


def test_names_keep_their_capitals(terrain, isle, tmp_path):
    names = tmp_path / "names.csv"
    names.write_text("name,lat,lon\nLone Hill,54.3815,-23.9485\nThe Ridge,54.3794,-24.0331\n")
    outcome = terrain("passes", isle, "--names", names, "--wide")
    assert "The Ridge – Lone Hill" in outcome.out


def test_no_pass_so_deep_is_one_line(terrain, basins):
    outcome = terrain("passes", basins[0], "--prominence", "2000")
    assert outcome.code == 2
    assert outcome.err.count("\n") == 1


def test_a_mist_that_rises_everywhere_pours_over_nothing_and_says_so(terrain, isle):
    found = terrain("passes", isle)
    assert found.code == 0
    assert "pours at m" not in found.out
    assert "--mist-from" in found.out


def test_passes_that_mist_pours_over_come_first(terrain, basins, tmp_path):
    """A ridge parts the eastern basin 80 m under the gap: it drowns before mist could pour."""
    path, west = basins
    with rasterio.open(path) as raster:
        profile, ground = raster.profile, raster.read(1)
    ground[:, 119:122] = np.maximum(ground[:, 119:122], 225.0)
    ridged = tmp_path / "ridged.tif"
    with rasterio.open(ridged, "w", **profile) as raster:
        raster.write(ground, 1)
    asked = terrain("passes", ridged, "--mist-from", west, "--prominence", "50", "--json")
    rows = json.loads(asked.out)
    assert [row["pours"] for row in rows] == [True, False]
    assert rows[0]["height_m"] > rows[1]["height_m"]


def test_a_mist_that_rises_from_the_west_tells_which_pass_it_comes_to(terrain, basins, tmp_path):
    path, west = basins
    with rasterio.open(path) as raster:
        ground = raster.read(1)
    row, col = np.mgrid[:80, :160]
    hill = 250.0 * np.exp(-((row - 25.0) ** 2 + (col - 30.0) ** 2) / 20.0)
    asked = ("mist", written(tmp_path / "hill.tif", ground + hill), "--mist-from", west, "--top")
    (passed,) = json.loads(terrain(*asked, "150:350:100", "--json").out)["passes"]
    assert passed["pours_at_m"] == pytest.approx(300.0, abs=0.5)
    assert "pours over the pass" in terrain(*asked, "150:350:100").out
    assert json.loads(terrain(*asked, "150:250:50", "--json").out)["passes"] == []
