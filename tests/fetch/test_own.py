"""A user's own sources: a folder of rasters, and a collection of a STAC API."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from terrain.errors import TerrainError
from terrain.fetch.bring import fetch_ground
from terrain.fetch.tiles import Tile
from terrain.ground.places import Spot
from terrain.ground.raster.read import read_dem
from tests.fetch.server import Server, serving
from tests.fetch.test_bring import SMALL, bucket, write_tile

__all__ = ["bucket"]  # a fixture

PLACE = Spot(lon_deg=11.5, lat_deg=50.5)


def test_folder(bucket: Path) -> None:
    fine = SMALL["copernicus-30"]
    file = bucket / fine.folder / Tile(50, 11).written(fine.tile)
    found = fetch_ground(str(file.parent), PLACE, offline=True)
    assert found.files == (file,)


def test_folder_without_rasters(tmp_path: Path) -> None:
    with pytest.raises(TerrainError, match="there is no raster in"):
        fetch_ground(str(tmp_path), PLACE)


def catalogue(folder: Path, url: str, href: str) -> None:
    """The answers of an API with one collection of one item (STAC API 1.0.0, item search)."""
    conforms = ["https://api.stacspec.org/v1.0.0/" + one for one in ("core", "item-search")]
    conforms.append("https://api.stacspec.org/v1.0.0/collections")
    root = {
        "type": "Catalog",
        "id": "api",
        "stac_version": "1.0.0",
        "description": "an invented one",
        "conformsTo": conforms,
        "links": [
            {"rel": "self", "href": f"{url}/api"},
            {"rel": "root", "href": f"{url}/api"},
            {"rel": "data", "href": f"{url}/collections"},
            {"rel": "search", "href": f"{url}/search", "type": "application/geo+json"},
        ],
    }
    collection = {
        "type": "Collection",
        "id": "heights",
        "stac_version": "1.0.0",
        "description": "of invented ground",
        "license": "CC-BY-4.0",
        "providers": [{"name": "The Surveyors", "roles": ["producer"]}],
        "extent": {
            "spatial": {"bbox": [[11, 50, 12, 51]]},
            "temporal": {"interval": [["2020-01-01T00:00:00Z", None]]},
        },
        "links": [],
    }
    item = {
        "type": "Feature",
        "id": "one",
        "stac_version": "1.0.0",
        "geometry": {
            "type": "Polygon",
            "coordinates": [[[11, 50], [12, 50], [12, 51], [11, 51], [11, 50]]],
        },
        "bbox": [11, 50, 12, 51],
        "properties": {"datetime": "2020-01-01T00:00:00Z"},
        "links": [],
        "assets": {
            "data": {"href": href, "type": "image/tiff; application=geotiff"},
            "thumbnail": {"href": f"{url}/a.png", "type": "image/png"},
        },
        "collection": "heights",
    }
    (folder / "collections").mkdir()
    (folder / "api").write_text(json.dumps(root))
    (folder / "collections" / "heights").write_text(json.dumps(collection))
    (folder / "search").write_text(
        json.dumps({"type": "FeatureCollection", "features": [item], "links": []})
    )


@pytest.mark.parametrize("is_local", [False, True])
def test_collection(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, is_local: bool) -> None:
    pytest.importorskip("pystac_client")
    monkeypatch.setenv("TERRAIN_CACHE", str(tmp_path / "cache"))
    fine, folder = SMALL["copernicus-30"], tmp_path / "served"
    write_tile(folder, fine, Tile(50, 11))
    served: Server
    with serving(folder) as served:
        tile = f"{fine.folder}/{Tile(50, 11).written(fine.tile)}"
        # a catalogue must not have files of this machine read
        href = f"file://{folder / tile}" if is_local else f"{served.url}/{tile}"
        catalogue(folder, served.url, href)
        address = f"stac:{served.url}/api#heights"
        if is_local:
            with pytest.raises(TerrainError, match="has no GeoTIFF"):
                fetch_ground(address, PLACE, reach_m=5000)
            return
        found = fetch_ground(address, PLACE, reach_m=5000)
        assert found.credits == ("The Surveyors",)
        assert found.licences == ("CC-BY-4.0",)
        assert found.fetched_bytes > 0
        again = fetch_ground(address, PLACE, reach_m=5000, offline=True)
    assert again.files == found.files
    assert read_dem(found.files).height_at(11.5, 50.5) == pytest.approx(520.0, abs=1.0)


@pytest.mark.parametrize("address", ["stac:https://example.org", "stac:file:///etc#passwd"])
def test_no_collection(address: str) -> None:
    pytest.importorskip("pystac_client")
    with pytest.raises(TerrainError, match="is no collection"):
        fetch_ground(address, PLACE)
