"""Rasters for other programs, each complete or not at all."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray
from rasterio.io import MemoryFile
from rasterio.shutil import copy

from terrain.ground.geodesy import with_heights
from terrain.ground.grid import Grid
from terrain.show.files.whole import whole_file


def save_raster(
    bands: Mapping[str, NDArray[Any]],
    grid: Grid,
    path: str | Path,
    *,
    says: Mapping[str, str] = MappingProxyType({}),
    vertical_crs: str = "",
) -> None:
    """Write arrays of a grid's shape as the bands of a GeoTIFF, float32, NaN where unknown.

    Parameters
    ----------
    bands : mapping from str to (rows, cols) array
        From the description of each band, with its unit, to its values.
    grid : Grid
        Where the cells lie.
    path : path
        The file, complete or not at all.
    says : mapping from str to str, optional
        What the file says of itself, by the names of its tags.
    vertical_crs : str, optional
        The system that heights are counted in, such as "EPSG:3855".

    Raises
    ------
    TerrainError
        For an ending other than .tif, and where the file cannot be written.

    Examples
    --------
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(50, 0, 5e5, 0, -50, 6e6), shape=(3, 7))
    >>> heights = [[0, 0, 0, 0, 0, 0, 0], [0, 90, 40, 40, 40, 70, 0], [0, 0, 0, 0, 0, 0, 0]]
    >>> dem = terrain.Dem(heights, grid)
    >>> import tempfile
    >>> from pathlib import Path
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     terrain.save_raster({"height (m)": dem.heights_m}, grid, Path(folder) / "ground.tif")
    ...     float(terrain.read_dem(Path(folder) / "ground.tif").heights_m.max())
    90.0
    """
    with (
        whole_file(path, "write a raster as", ".tif", ".tiff") as partial,
        _in_memory(bands, grid, says, vertical_crs) as memory,
    ):
        # GDAL says nothing of a disk that is full when it closes a file
        partial.write_bytes(memory.getbuffer())


def save_cloud_raster(
    bands: Mapping[str, NDArray[Any]], grid: Grid, path: str | Path, *, overview: str = "nearest"
) -> None:
    """As `save_raster`, with overviews, laid out so that a part can be read from afar.

    overview: how GDAL makes the overviews.
    """
    with (
        whole_file(path, "write a raster as", ".tif", ".tiff") as partial,
        _in_memory(bands, grid, {}, "") as memory,
        MemoryFile() as laid_out,
    ):
        options = {"compress": "deflate", "predictor": 3, "overview_resampling": overview}
        copy(memory.name, laid_out.name, driver="COG", **options)
        partial.write_bytes(laid_out.getbuffer())


@contextmanager
def _in_memory(
    bands: Mapping[str, NDArray[Any]], grid: Grid, says: Mapping[str, str], vertical_crs: str
) -> Iterator[MemoryFile]:
    profile = {
        "driver": "GTiff",
        "height": grid.shape[0],
        "width": grid.shape[1],
        "count": len(bands),
        "dtype": "float32",
        "nodata": float("nan"),
        "crs": with_heights(grid.crs, vertical_crs).to_wkt(),
        "transform": grid.transform,
        "tiled": True,
        "compress": "deflate",
        "predictor": 3,
    }
    with MemoryFile() as memory:
        with memory.open(**profile) as file:
            file.update_tags(**says)
            for number, (description, values) in enumerate(bands.items(), start=1):
                file.write(np.asarray(values, dtype=np.float32), number)
                file.set_band_description(number, description)
        yield memory
