"""Ground for every test: a maker of small rasters, real open ground, and where more of it lies."""

from __future__ import annotations

import datetime as dt
import gc
import os
from collections.abc import Callable, Generator, Iterator
from functools import partial
from pathlib import Path
from typing import Any

import matplotlib.image
import numpy as np
import pytest
import rasterio
from affine import Affine
from hypothesis import settings
from matplotlib.cbook import get_sample_data
from matplotlib.figure import Figure
from numpy.typing import ArrayLike
from pyproj import CRS

from terrain.ground.dem import Dem
from terrain.ground.geodesy import local_transverse_mercator
from terrain.ground.grid import Grid
from terrain.sun import calendar
from terrain.sun.clock import local_zone

# pytest-xdist tells its workers how wide a terminal is, and there is none
os.environ.pop("COLUMNS", None)

# kernels compile at their first example, and a machine may be busy: no example has a deadline
settings.register_profile("unhurried", settings(), deadline=None)
settings.load_profile("unhurried")

MakeDem = Callable[..., Dem]


@pytest.hookimpl(wrapper=True)
def pytest_collection() -> Generator[None, object, object]:
    """What is loaded with all tests stays, and is not looked through for refuse again and again."""
    gc.disable()
    try:
        return (yield)
    finally:
        gc.freeze()
        gc.enable()


SetClock = Callable[[str], None]


@pytest.fixture
def set_clock(monkeypatch: pytest.MonkeyPatch) -> SetClock:
    """A function that sets the clocks of all places to a moment, told in UTC as ISO has it."""

    def set_to(utc: str) -> None:
        now = dt.datetime.fromisoformat(utc).replace(tzinfo=dt.UTC)
        monkeypatch.setattr(calendar, "now_at", lambda *place: now.astimezone(local_zone(*place)))

    return set_to


@pytest.fixture(autouse=True, scope="session")
def _quick_to_write() -> Iterator[None]:
    """A PNG of a test is packed loosely: the same picture, sooner, in a larger file."""
    as_asked = matplotlib.image.imsave

    def loosely(*args: Any, pil_kwargs: dict[str, Any] | None = None, **named: Any) -> None:
        as_asked(*args, pil_kwargs={"compress_level": 1, **(pil_kwargs or {})}, **named)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(matplotlib.image, "imsave", loosely)
        yield


@pytest.fixture
def fewer_of_a_kind(monkeypatch: pytest.MonkeyPatch) -> None:
    """All that a command works out and draws it does, and sooner, for it has fewer of a kind.

    A picture has a third of the dots an inch, a map one view beside it in place of six, a sheet
    three heights of mist in place of nine, a plan a fall-back for more mist alone.
    """
    import terrain
    from terrain.plan import what_if

    save, views, steps = Figure.savefig, terrain.small_views, what_if.mist_steps
    plan = partial(terrain.plan_morning, other_tops_m=(50.0,))

    def coarsely(self: Figure, *to: Any, dpi: float, **how: Any) -> None:
        save(self, *to, dpi=dpi / 3.0, **how)

    monkeypatch.setattr(Figure, "savefig", coarsely)
    monkeypatch.setattr(terrain, "small_views", partial(views, count=1))
    monkeypatch.setattr(what_if, "mist_steps", partial(steps, count=1))
    monkeypatch.setattr(terrain, "plan_morning", plan)


@pytest.fixture(scope="session")
def open_data() -> Path:
    """The folder of open elevation data; the test is skipped without it."""
    folder = os.environ.get("TERRAIN_OPEN_DATA")
    if not folder:
        pytest.skip("set TERRAIN_OPEN_DATA to the folder of open elevation data")
    if not Path(folder).is_dir():
        pytest.skip(f"TERRAIN_OPEN_DATA is {folder}, which is not a folder")
    return Path(folder)


@pytest.fixture(scope="session")
def make_dem() -> MakeDem:
    """A function that lays heights (rows, cols) on square cells around a place."""

    def make(
        heights_m: ArrayLike,
        cell_m: float = 50.0,
        crs: CRS | str | None = None,
        lon: float = -24.0,
        lat: float = 54.4,
    ) -> Dem:
        heights = np.array(heights_m, dtype=np.float32)
        crs = local_transverse_mercator(lon, lat) if crs is None else CRS.from_user_input(crs)
        at_place = Grid(crs=crs, transform=Affine(1, 0, 0, 0, -1, 0), shape=(1, 1))
        row, col = at_place.rowcol(lon, lat)
        rows, cols = heights.shape
        west, north = float(col) + 0.5 - cols * cell_m / 2, rows * cell_m / 2 - float(row) - 0.5
        transform = Affine(cell_m, 0, west, 0, -cell_m, north)
        return Dem(heights, Grid(crs=crs, transform=transform, shape=heights.shape))

    return make


@pytest.fixture(scope="session")
def jacksboro_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A GeoTIFF of the elevation sample that installs with matplotlib (USGS, public domain).

    344 x 403 cells of 3 seconds of arc in Tennessee; row 0 of its array is the northern row
    although its `ymin` and `ymax` entries are swapped.
    """
    with get_sample_data("jacksboro_fault_dem.npz") as sample:
        heights = sample["elevation"]
        west, north = float(sample["xmin"]), max(float(sample["ymin"]), float(sample["ymax"]))
    rows, cols = heights.shape
    file = tmp_path_factory.mktemp("jacksboro") / "jacksboro.tif"
    profile = {
        "driver": "GTiff",
        "height": rows,
        "width": cols,
        "count": 1,
        "dtype": heights.dtype,
        "crs": "EPSG:4326",
        "transform": Affine(3 / 3600, 0, west, 0, -3 / 3600, north),
    }
    with rasterio.open(file, "w", **profile) as raster:
        raster.write(heights, 1)
    return file


@pytest.fixture(scope="session")
def jacksboro(jacksboro_file: Path) -> Dem:
    """The sample that installs with matplotlib, warped to square cells."""
    from terrain.ground.raster.read import read_dem

    return read_dem(jacksboro_file)
