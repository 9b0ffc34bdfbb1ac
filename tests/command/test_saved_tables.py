"""What a command prints as a table can be had as a file."""

from __future__ import annotations

import geopandas as gpd
import pandas as pd
import pyogrio

LOOK = ("--spot", "the ridge")


def test_dates_are_saved_where_the_camera_stands(terrain, isle, tmp_path):
    file = tmp_path / "dates.geojson"
    assert terrain("dates", isle, *LOOK, "--save", file).code == 0
    saved = gpd.read_file(file)
    assert len(saved) > 0
    assert saved.geometry.nunique() == 1
    assert {"day", "appears", "uncertainty_s"} <= set(saved.columns)


def test_the_sun_and_the_lenses_of_a_frame_are_saved(terrain, isle, tmp_path):
    book, sheet = tmp_path / "frame.gpkg", tmp_path / "frame.csv"
    asked = ("frame", isle, *LOOK, "--save", book, "--save", sheet)
    assert terrain(*asked).code == 0
    assert dict(pyogrio.list_layers(book)) == {"sun": "Point", "lenses": "Point"}
    assert "bracket" not in pd.read_csv(sheet).columns
    assert pd.read_csv(sheet)["state"].notna().all()


def test_how_the_sun_stands_to_the_hill_is_saved(terrain, isle, tmp_path):
    sheet = tmp_path / "sun.csv"
    assert terrain("sunrise", isle, *LOOK, "--save", sheet).code == 0
    assert {"state", "start", "end", "nearest_at"} <= set(pd.read_csv(sheet).columns)


def test_inversions_are_saved(terrain, tmp_path):
    ascent = tmp_path / "ascent.csv"
    ascent.write_text(
        "pressure hPa,height m,temperature C,dew point C\n970,120,3.0,3.0\n955,250,3.2,3.1\n"
        "940,380,7.5,1.0\n900,740,6.0,-4.0\n850,1210,3.0,-8.0\n"
    )
    sheet = tmp_path / "lids.csv"
    assert terrain("sounding", ascent, "--save", sheet).code == 0
    assert len(pd.read_csv(sheet)) > 0
    outcome = terrain("sounding", ascent, "--save", ascent)
    assert (outcome.code, "made from" in outcome.err) == (2, True)


def test_a_season_takes_a_walk_and_a_hill_by_its_place(terrain, isle):
    days = ("--from", "2026-03-20", "--to", "2026-03-21")
    hill = ("--hill", "54.3815, -23.9485")
    outcome = terrain("season", isle, *days, *hill, "--walk", "240", "--json")
    assert outcome.code == 0, outcome.err
    assert "walk_min" in outcome.out
    assert terrain("season", isle, *days, *hill, "--walk", "1").code == 2


def test_hills_take_a_walk(terrain, isle):
    outcome = terrain("hills", isle, "--walk", "240", "--json")
    assert outcome.code == 0, outcome.err
    assert "walk_min" in outcome.out
    outcome = terrain("hills", isle, "--walk", "1")
    assert outcome.code == 2
    assert "within 1 minutes" in outcome.err


def test_vantages_have_their_lines_of_sight_and_the_mist(terrain, isle, tmp_path):
    book = tmp_path / "vantages.gpkg"
    assert terrain("vantages", isle, "--save", book).code == 0
    layers = dict(pyogrio.list_layers(book))
    assert set(layers) == {"vantages", "sight_lines", "mist", "layer_styles"}
    found, lines = (gpd.read_file(book, layer=name) for name in ("vantages", "sight_lines"))
    assert len(lines) == len(found)
    hill = lines.geometry.iloc[0].coords[-1]
    assert hill == lines.geometry.iloc[-1].coords[-1]
    assert lines.geometry.iloc[0].coords[0] == found.geometry.iloc[0].coords[0]


def test_a_summit_has_the_height_of_the_list_too_where_it_differs(terrain, isle, tmp_path):
    names = tmp_path / "names.csv"
    names.write_text("name,height_m,lat,lon\nLone Hill,596.4,54.3815,-23.9485\n")
    said = terrain("summits", isle, "--names", names).out
    assert "listed" in said
    assert {"580", "596"} <= set(said.split())
    names.write_text("name,height_m,lat,lon\nLone Hill,580.4,54.3815,-23.9485\n")
    assert "listed" not in terrain("summits", isle, "--names", names).out
