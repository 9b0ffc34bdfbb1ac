"""A tile of ground: read through once to know that it is whole, and one of level sea."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import rasterio
from affine import Affine

from terrain.errors import TerrainError
from terrain.ground.raster.read import quietly
from terrain.ground.raster.sheet import NOTHING_SAID, sheet_of


def check_tile(path: Path) -> None:
    """TerrainError where a file is no raster of heights, or cannot be read to its end."""
    with quietly():
        sheet = sheet_of(str(path), NOTHING_SAID)
        rows, cols = sheet.placing.shape
        if np.isnan(sheet.read(slice(0, rows), slice(0, cols))).all():
            raise TerrainError(f"{path.name} holds no known height")


def write_sea(path: Path, transform: Affine, shape: tuple[int, int], crs: str) -> None:
    """A raster of known sea, 0 m in every cell."""
    rows, cols = shape
    profile = {"driver": "GTiff", "height": rows, "width": cols, "count": 1, "dtype": "int16"}
    profile |= {"crs": crs, "transform": transform, "compress": "deflate", "tiled": True}
    with quietly(), rasterio.open(path, "w", **profile) as raster:
        raster.write(np.zeros((1, rows, cols), dtype=np.int16))
