"""Other software asked the same questions, where it is installed.

Each comes as a reason why it is missing ("" if it is not) and a function that prepares the call to
be timed; see `Contender`. None of them is needed for anything but this comparison.
"""

from __future__ import annotations

import importlib.util
import shutil
import subprocess
import warnings
from collections.abc import Callable
from importlib.metadata import version
from pathlib import Path
from typing import Any, Final

import numpy as np
import rasterio
from numpy.typing import NDArray

from terrain.constants import EYE_HEIGHT_M, TERRESTRIAL_REFRACTION
from terrain.ground.dem import Dem
from tests.benchmarks.ground import top_of_middle

Call = Callable[[], object]

GRID_AZIMUTH_DEG: Final = 118.0
"""What topocalc is asked for; its azimuths are from the grid's north as it counts rows."""

SEEN: Final = 255


def no_gdal() -> str:
    lacking = [name for name in ("gdal_viewshed", "gdal_translate") if shutil.which(name) is None]
    return f"{' and '.join(lacking)} not installed: apt install gdal-bin" if lacking else ""


def gdal_viewshed(dem: Dem, scratch: Path) -> tuple[Call, Call]:
    """GDAL's program, and its program that copies the raster to one of bytes, to subtract."""
    ground, seen = scratch / "ground.tif", scratch / "seen.tif"
    write(dem, ground)
    row, col = top_of_middle(dem)
    easting, northing = _centres(dem)
    place = ["-ox", str(easting[col]), "-oy", str(northing[row]), "-oz", str(EYE_HEIGHT_M)]
    bend = ["-cc", str(1.0 - TERRESTRIAL_REFRACTION)]
    return (
        runs("gdal_viewshed", "-q", *place, *bend, str(ground), str(seen)),
        runs("gdal_translate", "-q", "-ot", "Byte", str(ground), str(scratch / "copy.tif")),
    )


def gdal_seen(scratch: Path) -> NDArray[np.bool_]:
    """What GDAL's program found, after it has run."""
    with rasterio.open(scratch / "seen.tif") as raster:
        return np.asarray(raster.read(1) == SEEN)


def no_xarray_spatial() -> str:
    return _not_installed("xrspatial", "xarray-spatial")


def xarray_spatial_viewshed(dem: Dem, scratch: Path) -> tuple[Call, None]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import xarray
        from xrspatial import viewshed

    easting, northing = _centres(dem)
    raster = xarray.DataArray(
        dem.heights_m.astype(float),
        coords={"y": northing, "x": easting},
        dims=("y", "x"),
    )
    row, col = top_of_middle(dem)

    def call() -> Any:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return viewshed(raster, x=easting[col], y=northing[row], observer_elev=EYE_HEIGHT_M)

    return call, None


def no_topocalc() -> str:
    return _not_installed("topocalc", "topocalc")


def topocalc_horizon(dem: Dem, scratch: Path) -> tuple[Call, None]:
    """topocalc's horizon: sines of its altitude in one direction on the grid, on a flat earth."""
    from topocalc.horizon import horizon

    heights = dem.heights_m.astype(float)
    from_south = 180.0 - GRID_AZIMUTH_DEG
    return lambda: horizon(from_south, heights, dem.cell_m), None


def versions() -> list[str]:
    """What is installed of them, with its version."""
    found = []
    if not no_gdal():
        said = subprocess.run(["gdal_translate", "--version"], capture_output=True, text=True)
        found.append(said.stdout.split(",")[0])
    for missing, name in ((no_xarray_spatial, "xarray-spatial"), (no_topocalc, "topocalc")):
        if not missing():
            found.append(f"{name} {version(name)}")
    return found


def write(dem: Dem, file: Path) -> None:
    rows, cols = dem.shape
    with rasterio.open(
        file,
        "w",
        driver="GTiff",
        height=rows,
        width=cols,
        count=1,
        dtype="float32",
        crs=dem.crs.to_wkt(),
        transform=dem.transform,
    ) as raster:
        raster.write(dem.heights_m, 1)


def runs(*words: str) -> Call:
    return lambda: subprocess.run(words, check=True, stdout=subprocess.DEVNULL)


def _centres(dem: Dem) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    rows, cols = dem.shape
    a, _, west, _, e, north = dem.transform[:6]
    return west + a * (np.arange(cols) + 0.5), north + e * (np.arange(rows) + 0.5)


def _not_installed(module: str, name: str) -> str:
    if importlib.util.find_spec(module) is not None:
        return ""
    return f"{name} is not installed: see the peers in DEVELOPERS.md"
