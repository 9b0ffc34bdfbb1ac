"""A stranger's list of places opens no other file and no network."""

from __future__ import annotations

import select
import socket
from pathlib import Path

import pytest

from terrain.errors import TerrainError
from terrain.ground.features import read_areas, read_names, read_paths

POINT = (
    '{"type":"Feature","properties":{"name":"a"},"geometry":{"type":"Point","coordinates":[1,2]}}'
)
KML = (
    '<kml xmlns="http://www.opengis.net/kml/2.2"><Document><Placemark><name>Knoll</name>'
    "<Point><coordinates>-24.1,54.4</coordinates></Point></Placemark></Document></kml>"
)


def collection(crs: str) -> str:
    return f'{{"type":"FeatureCollection",{crs}"features":[{POINT}]}}'


ORDERS = {
    "link.geojson": collection('"crs":{{"type":"link","properties":{{"href":"{url}/c"}}}},'),
    "url.geojson": collection(
        '"crs":{{"type":"URL","properties":{{"url":"{url}/c","href":"{url}"}}}},'
    ),
    "escaped.geojson": collection(
        '"\\u0063rs":{{"type":"lin\\u006b","properties":{{"hre\\u0066":"{url}/c"}}}},'
    ),
    "wfs.geojson": "<OGRWFSDataSource><URL>{url}/w</URL></OGRWFSDataSource>",
    "ogr.gpx": '<OGRVRTDataSource><OGRVRTLayer name="x"><SrcDataSource>/vsicurl/{url}/x.gpx'
    "</SrcDataSource></OGRVRTLayer></OGRVRTDataSource>",
    "file.kml": '<OGRVRTDataSource><OGRVRTLayer name="x"><SrcDataSource>/etc/hostname'
    "</SrcDataSource></OGRVRTLayer></OGRVRTDataSource>",
    "run.json": '{{"type":"gdal_streamed_alg","command_line":"gdal vector ! read {url}/a"}}',
    "doc.gpx": '<!DOCTYPE gpx [<!ENTITY x SYSTEM "{url}/x">]><gpx version="1.1">&x;</gpx>',
    "schema.gml": '<a xmlns="{url}/a" schemaLocation="{url}/a.xsd"/>',
    "odd.gpkg": "<WFS_Capabilities/>",
    "odd.shp": "{url}",
    "odd.fgb": "PG:host={url}",
    "empty.kml": "",
}


@pytest.mark.parametrize("name", ORDERS)
def test_a_file_that_is_an_order_to_fetch_holds_no_features(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    monkeypatch.setenv("GDAL_HTTP_TIMEOUT", "1")
    with socket.create_server(("127.0.0.1", 0)) as ear:
        url = f"http://127.0.0.1:{ear.getsockname()[1]}"
        text = ORDERS[name].replace("{url}", url).replace("{{", "{").replace("}}", "}")
        (tmp_path / name).write_text(text, encoding="utf-8")
        for read in (read_names, read_paths, read_areas):
            with pytest.raises(TerrainError, match=name) as caught:
                read(tmp_path / name)
            assert "\n" not in str(caught.value)
        assert not select.select([ear], [], [], 0.02)[0]


def test_what_is_as_its_ending_says_is_read(tmp_path: Path) -> None:
    crs = '"crs":{"type":"name","properties":{"name":"urn:ogc:def:crs:OGC:1.3:CRS84"}},'
    (tmp_path / "a.geojson").write_text(collection(crs), encoding="utf-8")
    (tmp_path / "href.json").write_text(
        collection("").replace('"name":"a"', '"name":"a","href":"https://a.test"'), encoding="utf-8"
    )
    (tmp_path / "a.kml").write_text(KML, encoding="utf-8")
    assert read_names(tmp_path / "a.geojson").name.tolist() == ["a"]
    assert read_names(tmp_path / "href.json").name.tolist() == ["a"]
    assert read_names(tmp_path / "a.kml").name.tolist() == ["Knoll"]


def test_of_a_name_of_a_whole_page_a_line_is_kept(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text(f"name,lat,lon\n{'x' * 5000},54,2\n", encoding="utf-8")
    (name,) = read_names(tmp_path / "a.csv").name
    assert name == "x" * 79 + "…"
