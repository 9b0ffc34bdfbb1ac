"""A large Cloud Optimised GeoTIFF: only the window is read, and heights never from overviews."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import rasterio
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS
from rasterio.shutil import copy
from rasterio.windows import Window

from terrain.command.main import run
from terrain.ground.dem import Dem
from terrain.ground.grid import Grid
from terrain.ground.places import Spot
from terrain.ground.raster.read import read_dem
from terrain.ground.raster.warp import to_square_cells

SIDE = 10_000
"""Cells along a side: 400 MB of heights as they are held in memory."""
KNOWN = 900
FIRST = (1_300, 700)
"""Near a corner, so that less of the file lies within sight of a summit."""
CELL_M = 50.0
WRONG_M = 9_000
"""What every overview says of the height of the known ground, to be found out at once."""
REACH_M = 15_000.0
MOST_MB = 60.0

GRID = Grid(
    crs=CRS("EPSG:32627"), transform=Affine(CELL_M, 0, 0, 0, -CELL_M, 7_000_000), shape=(SIDE, SIDE)
)


def heights() -> NDArray[np.int16]:
    """Rugged ground with a peak in its middle."""
    row, col = np.mgrid[-450:450, -450:450]
    ground = 200.0 + 150.0 * np.sin(row / 31.0) * np.cos(col / 23.0)
    ground += 500.0 * np.exp(-(row**2 + col**2) / 900.0)
    ground += np.random.default_rng(5).uniform(0.0, 30.0, ground.shape)
    return ground.astype(np.int16)


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("cog")
    window = Window(FIRST[1], FIRST[0], KNOWN, KNOWN)
    profile = {"driver": "GTiff", "width": SIDE, "height": SIDE, "count": 1, "dtype": "int16"}
    profile |= {"tiled": True, "blockxsize": 512, "blockysize": 512, "sparse_ok": True}
    profile |= {"crs": GRID.crs.to_wkt(), "transform": GRID.transform, "nodata": -9999}
    with rasterio.open(folder / "plain.tif", "w", **profile) as raster:
        raster.write(np.full((1, KNOWN, KNOWN), WRONG_M, dtype=np.int16), window=window)
    with rasterio.open(folder / "plain.tif", "r+") as raster:
        raster.build_overviews([2, 4, 8, 16, 32])
    with rasterio.open(folder / "plain.tif", "r+") as raster:
        raster.write(heights()[np.newaxis], window=window)
    # overviews as they are: of ground that is not there any more
    options = {"compress": "deflate", "overviews": "force_use_existing", "sparse_ok": "yes"}
    copy(folder / "plain.tif", folder / "country.tif", driver="COG", level=1, **options)
    (folder / "plain.tif").unlink()
    return folder / "country.tif"


@pytest.fixture(scope="module")
def spot() -> Spot:
    lon, lat = GRID.lonlat(FIRST[0] + 450, FIRST[1] + 450)
    return Spot(lon_deg=float(lon), lat_deg=float(lat))


def test_it_is_a_tiled_file_with_overviews_that_are_wrong(file: Path) -> None:
    with rasterio.open(file) as raster:
        assert raster.tags(ns="IMAGE_STRUCTURE")["LAYOUT"] == "COG"
        assert raster.overviews(1) == [2, 4, 8, 16, 32]
        assert raster.block_shapes == [(512, 512)]
    with rasterio.open(file, overview_level=1) as raster:
        small = raster.read(1)
    assert small[FIRST[0] // 4 + 100, FIRST[1] // 4 + 100] == WRONG_M


def test_heights_are_those_of_the_raster_itself(file: Path, spot: Spot) -> None:
    dem = read_dem(file, around=spot, reach_m=REACH_M)
    side = round(REACH_M / CELL_M)
    part = heights()[450 - side : 450 + side + 1, 450 - side : 450 + side + 1]
    np.testing.assert_array_equal(dem.heights_m, part)


@pytest.mark.parametrize("cell_m", [100.0, 200.0, 800.0])
def test_larger_cells_come_from_the_raster_too(file: Path, spot: Spot, cell_m: float) -> None:
    """An overview would be at hand, and quicker."""
    coarse = read_dem(file, around=spot, reach_m=REACH_M, cell_m=cell_m)
    fine = read_dem(file, around=spot, reach_m=REACH_M)
    assert coarse.cell_m == cell_m
    np.testing.assert_array_equal(
        coarse.heights_m, to_square_cells(Dem(fine.heights_m, fine.grid), cell_m=cell_m).heights_m
    )
    assert np.nanmax(coarse.heights_m) < 1_000.0


MEASURE = """
import resource, sys
from terrain.ground.places import Spot
from terrain.ground.raster.read import read_dem

lon, lat, reach_m = map(float, sys.argv[3:])
spot = Spot(lon_deg=lon, lat_deg=lat)
read_dem(sys.argv[1], around=spot, reach_m=reach_m)  # what PROJ and GDAL load but once
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
dem = read_dem(sys.argv[2], around=spot, reach_m=reach_m)
after = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
print(dem.heights_m.size, (after - before) / 1024)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="peak memory is told in another unit")
def test_memory_is_for_the_window_alone(file: Path, spot: Spot, tmp_path: Path) -> None:
    small = tmp_path / "small.tif"
    profile = {"driver": "GTiff", "width": 40, "height": 40, "count": 1, "dtype": "int16"}
    window = GRID.window(FIRST[0] + 430, FIRST[1] + 430, (40, 40))
    with rasterio.open(
        small, "w", crs=GRID.crs.to_wkt(), transform=window.transform, **profile
    ) as raster:
        raster.write(np.ones((1, 40, 40), dtype=np.int16))
    given = [str(part) for part in (small, file, spot.lon_deg, spot.lat_deg, 10_000)]
    command = [sys.executable, "-c", MEASURE, *given]
    told = subprocess.check_output(command, text=True, env=os.environ, timeout=120).split()
    cells, more_mb = int(told[0]), float(told[1])
    assert cells == 401 * 401
    assert more_mb < MOST_MB


def test_a_command_works_on_the_file_as_it_is(
    file: Path, spot: Spot, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The whole year of a hill, for the ground within reach of it; and what that leaves out."""
    bands = tmp_path / "atlas.tif"
    place = f"{spot.lat_deg},{spot.lon_deg}"
    asked = ["--hill", place, "--year", "2026", "--reach", "5", "--save", str(bands)]
    run(["atlas", str(file), *asked])
    said = capsys.readouterr().out
    assert "the ground is known for at least" in said
    with rasterio.open(bands) as raster:
        names = list(raster.descriptions)
        assert raster.shape == (201, 201)
        known = raster.read(1 + names.index("ground known toward the summit and on behind it (m)"))
    assert np.nanmin(known) > 4_500.0
    assert np.nanmax(known) < 15_000.0
