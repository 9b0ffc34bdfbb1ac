"""Ground brought from a server laid out as the public ones are, which fails in every way."""

from __future__ import annotations

import gzip
import json
import socket
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio

from terrain.errors import TerrainError
from terrain.fetch import bring, sorting, sources, transfer
from terrain.fetch.bring import Brought, Wanted, fetch_ground
from terrain.fetch.sources import Source, known_sources
from terrain.fetch.tiles import Tile
from terrain.ground.places import Spot
from terrain.ground.raster.read import read_dem
from tests.fetch.server import Server, serving

ROWS = 60
"""Of a tile, so that one is made and sent at once; the columns are in the published proportion."""
PLACE = Spot(lon_deg=11.5, lat_deg=50.0)
LAND = [Tile(south, 11) for south in (49, 50)] + [Tile(50, 12)]
UNRELEASED = Tile(49, 12)
SEA = [Tile(49, 10), Tile(50, 10)]


def small(source: Source) -> Source:
    """The same with sixtieths of its cells."""
    widest = source.columns[0][1]
    columns = tuple((below, count * ROWS // widest) for below, count in source.columns)
    return replace(source, rows=ROWS, columns=columns)


SMALL = {name: small(source) for name, source in known_sources().items()}


def height_at(lon: Any, lat: Any) -> Any:
    """A plain that rises evenly to north and east, so that every seam shows."""
    return 500.0 + 40.0 * (lat - 50.0) + 30.0 * (lon - 11.5)


def write_tile(folder: Path, source: Source, tile: Tile) -> None:
    rows, cols = source.shape_of(tile)
    at = source.transform_of(tile)
    lon, lat = at.c + at.a * (np.arange(cols) + 0.5), at.f + at.e * (np.arange(rows) + 0.5)
    heights = height_at(lon[None, :], lat[:, None]).astype("float32")
    path = folder / source.folder / tile.written(source.tile)
    path.parent.mkdir(parents=True)
    profile = {"driver": "GTiff", "height": rows, "width": cols, "count": 1, "dtype": "float32"}
    with rasterio.open(path, "w", crs="EPSG:4326", transform=at, **profile) as raster:
        raster.write(heights, 1)


def write_list(folder: Path, source: Source, tiles: list[Tile]) -> None:
    names = [Path(tile.written(source.tile)).stem for tile in tiles]
    path = folder / source.folder / source.listed
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("".join(f"{name}\n" for name in names))


@pytest.fixture(scope="module")
def bucket(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("bucket")
    fine, coarse = SMALL["copernicus-30"], SMALL["copernicus-90"]
    for tile in LAND:
        write_tile(folder, fine, tile)
    write_tile(folder, coarse, UNRELEASED)
    write_list(folder, fine, LAND)
    write_list(folder, coarse, [*LAND, UNRELEASED])
    return folder


@pytest.fixture
def server(bucket: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Server]:
    monkeypatch.setattr(sources, "known_sources", lambda: SMALL)
    for module in (bring, sorting):
        monkeypatch.setattr(module, "known_sources", lambda: SMALL)
    monkeypatch.setattr(transfer, "_WAITS_S", (0.0, 0.0, 0.0))
    monkeypatch.setenv("TERRAIN_CACHE", str(tmp_path / "cache"))
    with serving(bucket) as served:
        monkeypatch.setenv("TERRAIN_GROUND_URL", served.url)
        yield served


def brought(**options: Any) -> Brought:
    return fetch_ground("copernicus-30", PLACE, reach_m=50_000, sunward_m=0.0, **options)


def tiles_asked(server: Server) -> list[str]:
    return [path[-25:-8] for _, path, _ in server.asked if path.endswith(".tif")]


def test_land_sea_and_what_is_not_released(server: Server) -> None:
    found = brought()
    assert found.sea == ("N50E010", "N49E010")
    assert found.coarser == ("N49E012",)
    assert found.unknown == ()
    assert len(found.files) == 6
    assert found.datum == "EGM2008"
    assert [credit.count("Airbus") for credit in found.credits] == [1, 1]


def test_no_seam_across_the_change_of_columns(server: Server) -> None:
    found = brought()
    dem = read_dem(found.files, around=PLACE, reach_m=30_000)
    assert dem.doubts == ()
    ground = dem.as_delivered
    row, col = np.mgrid[: ground.shape[0], : ground.shape[1]]
    lon, lat = ground.grid.lonlat(row, col)
    east = lon > 11.02
    # a cell of the coarser tiles is 0.02 degrees; an even slope is carried without a step
    np.testing.assert_allclose(ground.heights_m[east], height_at(lon, lat)[east], atol=0.5)
    assert not np.isnan(ground.heights_m).any()


def test_sea_is_known(server: Server) -> None:
    dem = read_dem(brought().files)
    assert dem.height_at(10.5, 50.5) == 0.0


def test_second_time_without_network(server: Server) -> None:
    first = brought()
    server.asked.clear()
    again = brought(offline=True)
    assert again.files == first.files
    assert again.fetched_bytes == 0
    brought()
    assert server.asked == []


def test_offline_opens_no_socket(server: Server, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise AssertionError("a socket was opened")

    monkeypatch.setattr(socket, "socket", refuse)
    with pytest.raises(TerrainError, match=r"no ground of copernicus-30 is in the cache for N50"):
        brought(offline=True)


def test_side_file(server: Server) -> None:
    path = next(file for file in brought().files if "N50_00_E011" in file.name)
    said = json.loads(path.with_name(f"{path.name}.json").read_text())
    assert said["url"] == SMALL["copernicus-30"].url_of(Tile(50, 11))
    assert said["etag"].strip('"')
    assert said["bytes"] == path.stat().st_size
    assert {"fetched", "licence", "credit", "sha256", "vertical", "model"} <= set(said)


@pytest.mark.parametrize("fault", [[503], [503, 429, 500], ["cut"], ["cut", "cut"]])
def test_faults_that_pass(server: Server, fault: list[int | str]) -> None:
    server.faults = {"N50_00_E011_00_DEM.tif": list(fault)}
    found = brought()
    assert found.unknown == ()
    assert np.isfinite(read_dem(found.files).height_at(11.5, 50.5))


def test_cut_body_is_resumed(server: Server, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(transfer, "_PIECE", 1000)
    server.faults = {"N50_00_E011_00_DEM.tif": ["cut"]}
    brought()
    parts = [part for _, path, part in server.asked if path.endswith("N50_00_E011_00_DEM.tif")]
    assert len(parts) == 2
    assert parts[0] == ""
    assert int(parts[1].removeprefix("bytes=").rstrip("-")) > 0


def test_resumed_after_it_was_stopped(server: Server) -> None:
    def stop(done: int, _whole: int) -> None:
        if done > 3000:
            raise KeyboardInterrupt

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(transfer, "_PIECE", 1000)
        with pytest.raises(KeyboardInterrupt):
            brought(progress=stop)
    folder = sorting.folder_of(SMALL["copernicus-30"])
    assert not list(folder.glob("*.tif"))
    server.asked.clear()
    found = brought()
    assert any(part.startswith("bytes=4000") for _, _, part in server.asked), server.asked
    assert np.isfinite(read_dem(found.files).height_at(11.5, 50.5))


def test_another_file_now_is_fetched_whole(server: Server) -> None:
    folder = sorting.folder_of(SMALL["copernicus-30"]) / ".partial"
    folder.mkdir(parents=True)
    name = Path(LAND[1].written(SMALL["copernicus-30"].tile)).name
    (folder / name).write_bytes(b"of an older file")
    (folder / f"{name}.etag").write_text('"older"')
    assert np.isfinite(read_dem(brought().files).height_at(11.5, 50.5))


def test_server_without_ranges(server: Server) -> None:
    server.ranges = False
    server.faults = {"N50_00_E011_00_DEM.tif": ["cut"]}
    assert np.isfinite(read_dem(brought().files).height_at(11.5, 50.5))


def test_wrong_length_is_not_kept(server: Server) -> None:
    server.faults = {"N50_00_E011_00_DEM.tif": ["short"] * 9}
    server.ranges = False
    with pytest.raises(TerrainError, match=r"N50_00_E011_00_DEM.tif is no whole raster"):
        brought()
    assert not list(sorting.folder_of(SMALL["copernicus-30"]).glob("*N50_00_E011*.tif"))


@pytest.mark.parametrize(("fault", "ranges"), [("cut", False), ("more", False), ("more", True)])
def test_other_length_than_was_said_is_refused(server: Server, fault: str, ranges: bool) -> None:
    server.ranges = ranges
    server.faults = {"N50_00_E011_00_DEM.tif": [fault] * 20}
    with pytest.raises(TerrainError, match=r"N50_00_E011_00_DEM.tif cannot be fetched"):
        brought()
    assert not list(sorting.folder_of(SMALL["copernicus-30"]).glob("*N50_00_E011*.tif"))


@pytest.fixture
def old_list(server: Server) -> Path:
    """The file beside a list of tiles that was fetched long ago."""
    brought()
    server.asked.clear()
    side = sorting.folder_of(SMALL["copernicus-30"]) / "tileList.txt.json"
    said = json.loads(side.read_text())
    side.write_text(json.dumps(said | {"fetched": "2024-01-01T00:00:00+00:00"}))
    return side


def test_old_list_is_fetched_again(server: Server, old_list: Path) -> None:
    assert brought(offline=True).sea == brought().sea
    assert [path for _, path, _ in server.asked] == ["/copernicus-dem-30m/tileList.txt"]
    assert json.loads(old_list.read_text())["fetched"] > "2025"


def test_old_list_does_where_there_is_no_newer(
    old_list: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TERRAIN_GROUND_URL", "http://127.0.0.1:9")
    assert brought().sea == ("N50E010", "N49E010")


def test_missing_tile_is_unknown(server: Server) -> None:
    server.faults = {"N50_00_E012_00_DEM.tif": [404]}
    found = brought()
    assert found.unknown == ("N50E012",)
    assert np.isnan(read_dem(found.files).heights_at(12.5, 50.5))


def test_slow_server(server: Server, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(transfer, "_TIMEOUTS_S", (1.0, 0.2))
    server.faults = {"N50_00_E011_00_DEM.tif": ["slow"] * 9}
    with pytest.raises(TerrainError, match="the server does not answer; what has come is kept"):
        brought()


def test_dead_server(server: Server, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TERRAIN_GROUND_URL", "http://127.0.0.1:9")
    with pytest.raises(TerrainError, match="cannot be reached"):
        brought()


def test_proxy(server: Server, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TERRAIN_GROUND_URL", "http://ground.invalid")
    monkeypatch.setenv("http_proxy", server.url)
    assert len(brought().files) == 6


def test_asked_before_it_is_fetched(server: Server) -> None:
    def refuse(wanted: Wanted) -> None:
        assert wanted.tiles == 4
        # 40 MB south of 50 degrees, two thirds of it north, 5 MB of the coarser
        assert wanted.size_bytes == pytest.approx(98e6, rel=0.02)
        raise TerrainError("no")

    with pytest.raises(TerrainError, match="no"):
        brought(allow=refuse)
    assert tiles_asked(server) == []


def test_packed_tiles(server: Server, bucket: Path) -> None:
    folder = bucket / "elevation-tiles-prod/skadi/N50"
    folder.mkdir(parents=True, exist_ok=True)
    side = 1201
    heights = np.full((side, side), 321, dtype=">i2")
    (folder / "N50E011.hgt.gz").write_bytes(gzip.compress(heights.tobytes(), 1))
    spot = Spot(lon_deg=11.5, lat_deg=50.5)
    found = fetch_ground("skadi", spot, reach_m=5000, sunward_m=0.0)
    assert [path.name for path in found.files] == ["N50E011.hgt"]
    assert read_dem(found.files, around=spot, reach_m=3000).height_at(11.5, 50.5) == 321.0


def test_own_address(server: Server) -> None:
    own = f"{server.url}/copernicus-dem-30m/{SMALL['copernicus-30'].tile}"
    found = fetch_ground(own, Spot(lon_deg=11.5, lat_deg=50.5), reach_m=5000, sunward_m=0.0)
    assert len(found.files) == 1
    assert found.credits == ()
