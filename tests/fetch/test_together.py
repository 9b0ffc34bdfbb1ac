"""Two processes that want the same tile at once: one of them fetches it, or takes it over."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
import rasterio

from tests.fetch.server import Server, serving
from tests.fetch.test_bring import bucket

__all__ = ["bucket"]  # fixture

FETCH = """
import terrain
spot = terrain.Spot(lon_deg=11.5, lat_deg=50.5)
came = lambda done, _: print("bytes", done, flush=True)
found = terrain.fetch_ground("copernicus-30", spot, reach_m=5000, sunward_m=0.0, progress=came)
print("has", found.fetched_bytes, found.files[0], flush=True)
"""


@contextmanager
def fetching(server: Server, cache: Path) -> Iterator[subprocess.Popen[str]]:
    places = {"TERRAIN_CACHE": str(cache), "TERRAIN_GROUND_URL": server.url}
    with subprocess.Popen(
        [sys.executable, "-c", FETCH],
        stdout=subprocess.PIPE,
        text=True,
        env=os.environ | places,
        cwd=Path(__file__).parents[2],
    ) as process:
        try:
            yield process
        finally:
            process.kill()


def said(process: subprocess.Popen[str]) -> list[str]:
    assert process.stdout is not None
    return process.stdout.readline().split()


def tile_asked(server: Server) -> int:
    return sum(path.endswith("DEM.tif") for _, path, _ in server.asked)


def until_asked(server: Server) -> None:
    for _ in range(1200):
        if tile_asked(server):
            return
        time.sleep(0.05)
    raise AssertionError("no tile was asked for")


@pytest.mark.parametrize("killed", [False, True])
def test_a_tile_is_fetched_by_one_of_two(bucket: Path, tmp_path: Path, killed: bool) -> None:
    with serving(bucket) as server:
        server.faults = {"N50_00_E011_00_DEM.tif": ["held"]}
        with fetching(server, tmp_path) as first:
            until_asked(server)
            with fetching(server, tmp_path) as second:
                # the second waits, and says so
                assert said(second) == ["bytes", "0"]
                assert tile_asked(server) == 1
                if killed:
                    first.kill()
                    first.wait()
                else:
                    server.let_go.set()
                    assert said(first)[0] == "bytes"
                lines = [line.split() for line in second.stdout or ()]
            server.let_go.set()
    _, fetched, file = lines[-1]
    assert (int(fetched) > 0) == killed
    assert tile_asked(server) == (2 if killed else 1)
    with rasterio.open(file) as raster:
        assert raster.read(1).shape == (60, 40)
