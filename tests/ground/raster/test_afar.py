"""Rasters fetched by GDAL: how few requests a window takes, and what a failing server does."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import rasterio
from affine import Affine
from rasterio.io import MemoryFile
from rasterio.shutil import copy

from terrain.errors import TerrainError
from terrain.ground.places import Spot
from terrain.ground.raster.read import read_dem
from tests.fetch.server import serving_apart

SIDE = 1200
MIDDLE = Spot(lon_deg=11.5, lat_deg=49.5)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A cloud optimised file of a degree, whose blocks are about a seventh of it."""
    folder = tmp_path_factory.mktemp("served")
    ramp = np.add.outer(np.arange(SIDE), np.arange(SIDE)) % 500
    heights = ramp + np.random.default_rng(0).random((SIDE, SIDE))
    profile = {"driver": "GTiff", "height": SIDE, "width": SIDE, "count": 1, "dtype": "float32"}
    profile |= {"crs": "EPSG:4326", "transform": Affine(1 / SIDE, 0, 11, 0, -1 / SIDE, 50)}
    with MemoryFile() as memory:
        with memory.open(**profile) as raster:
            raster.write(heights.astype("float32"), 1)
        with memory.open() as raster:
            copy(raster, folder / "degree.tif", driver="COG", blocksize=256, compress="deflate")
    return folder


def test_few_requests(folder: Path, tmp_path: Path) -> None:
    with serving_apart(folder, tmp_path / "log") as server:
        dem = read_dem(f"{server.url}/degree.tif", around=MIDDLE, reach_m=15_000)
        asked = server.asked()
    here = read_dem(folder / "degree.tif", around=MIDDLE, reach_m=15_000)
    np.testing.assert_array_equal(dem.heights_m, here.heights_m)
    # 14 before: a list of the folder, and a search for nine files beside it
    assert len(asked) <= 4, asked
    assert {path for _, path, _ in asked} == {"/degree.tif"}
    spans = [part.removeprefix("bytes=").split("-") for _, _, part in asked if part]
    fetched = sum(int(last) - int(first) + 1 for first, last in spans)
    assert fetched < (folder / "degree.tif").stat().st_size / 3


def test_busy_server_is_asked_again(folder: Path, tmp_path: Path) -> None:
    faults = {"degree.tif": [503]}
    with serving_apart(folder, tmp_path / "log", faults) as server:
        dem = read_dem(f"{server.url}/degree.tif", around=MIDDLE, reach_m=2000)
    assert np.isfinite(dem.heights_m).all()


def test_failure_is_not_remembered(folder: Path, tmp_path: Path) -> None:
    # 404 is not tried again by itself; the one who asks once more is not answered from memory
    with serving_apart(folder, tmp_path / "log", {"degree.tif": [404, 404]}) as server:
        address = f"{server.url}/degree.tif"
        with pytest.raises(TerrainError, match=r"degree.tif cannot be read"):
            read_dem(address, around=MIDDLE, reach_m=2000)
        dem = read_dem(address, around=MIDDLE, reach_m=2000)
    assert np.isfinite(dem.heights_m).all()


def test_settings_end_with_the_reading(folder: Path, tmp_path: Path) -> None:
    with serving_apart(folder, tmp_path / "log") as server, rasterio.Env():
        read_dem(f"{server.url}/degree.tif", around=MIDDLE, reach_m=2000)
        assert "GDAL_DISABLE_READDIR_ON_OPEN" not in rasterio.env.getenv()
