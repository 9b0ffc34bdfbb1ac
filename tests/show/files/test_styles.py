"""The styles in a GeoPackage, by the table that QGIS documents and elements as it writes them.

The table: https://github.com/pka/qgpkg (qgis_geopackage_extension.md); the elements of a style:
from memory.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from xml.etree import ElementTree as Xml

import geopandas as gpd
import pyogrio
import pytest
from matplotlib.colors import to_hex
from shapely import LineString, Point, Polygon

from terrain.show.files.export import save_layers
from terrain.show.files.styles import TABLE
from terrain.show.paper.palette import SHORE, SUN

SHAPES = {
    "vantages": (Point(-24.0, 54.4), "marker"),
    "sight_lines": (LineString([(-24.0, 54.4), (-23.9, 54.4)]), "line"),
    "mist": (Polygon([(-24.0, 54.4), (-23.9, 54.4), (-23.9, 54.5)]), "fill"),
}


def saved(path: Path, *names: str) -> Path:
    layers = {
        name: gpd.GeoDataFrame({"rank": [1]}, geometry=[SHAPES[name][0]], crs="EPSG:4326")
        for name in names
    }
    save_layers(layers, path)
    return path


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return saved(tmp_path / "vantages.gpkg", *SHAPES)


def styles(file: Path) -> dict[str, Xml.Element]:
    with closing(sqlite3.connect(file)) as base:
        rows = base.execute(f"SELECT f_table_name, styleQML FROM {TABLE} WHERE useAsDefault")
        return {name: Xml.fromstring(text) for name, text in rows}


def told(style: Xml.Element, name: str) -> str:
    (option,) = (one for one in style.iter("Option") if one.get("name") == name)
    return option.get("value", "")


def test_each_layer_has_one_style_of_its_kind(file: Path) -> None:
    found = styles(file)
    assert {name: style.find(".//symbol").get("type") for name, style in found.items()} == {
        name: kind for name, (_, kind) in SHAPES.items()
    }


def test_styles_name_the_columns_that_hold_the_shapes(file: Path) -> None:
    with closing(sqlite3.connect(file)) as base:
        named = base.execute(f"SELECT f_table_name, f_geometry_column FROM {TABLE}").fetchall()
        held = base.execute("SELECT table_name, column_name FROM gpkg_geometry_columns").fetchall()
        kinds = dict(base.execute("SELECT table_name, data_type FROM gpkg_contents").fetchall())
    assert sorted(named) == sorted(held)
    assert kinds[TABLE] == "attributes"


def test_colours_are_those_of_the_pictures(file: Path) -> None:
    found = styles(file)
    for name, colour, of in (("sight_lines", "line_color", SUN), ("mist", "outline_color", SHORE)):
        parts = [int(part) / 255 for part in told(found[name], colour).split(",")]
        assert to_hex(parts[:3]) == of
    # ground shows through the mist
    assert 0 < int(told(found["mist"], "color").split(",")[3]) < 255


def test_the_discs_have_their_numbers(file: Path) -> None:
    style = styles(file)["vantages"]
    assert style.get("labelsEnabled") == "1"
    column = style.find(".//text-style").get("fieldName")
    assert column in gpd.read_file(file, layer="vantages").columns


def test_a_reader_meets_the_places_first(file: Path) -> None:
    assert pyogrio.list_layers(file)[:, 0].tolist() == [*SHAPES, TABLE]
    with pytest.warns(UserWarning, match="More than one layer"):
        assert len(gpd.read_file(file)) == 1


def test_what_has_no_style_has_no_table(tmp_path: Path) -> None:
    tops = gpd.GeoDataFrame({"name": ["a"]}, geometry=[Point(0.0, 1.0)], crs="EPSG:4326")
    save_layers({"summits": tops}, tmp_path / "tops.gpkg")
    assert pyogrio.list_layers(tmp_path / "tops.gpkg")[:, 0].tolist() == ["summits"]
