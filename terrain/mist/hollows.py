"""Ground lower than the mist's top that the mist does not reach."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
from scipy import ndimage

from terrain.ground.dem import Dem
from terrain.mist.mist import Mist

__all__ = ["clear_hollows"]

_TOUCHING = np.ones((3, 3), dtype=bool)


def clear_hollows(dem: Dem, mist: Mist, *, min_area_km2: float = 0.01) -> gpd.GeoDataFrame:
    """The hollows and valleys below a mist's top that stay clear of it, deepest first.

    min_area_km2: smaller ones are left out. Of a sloping mist the top nearest to each place
    counts.

    A table: depth_m (how far the lowest place lies below the top), floor_m (its height),
    area_km2 (of all the ground below the top), geometry (the lowest place, EPSG:4326).

    >>> from affine import Affine
    >>> from terrain.ground.geodesy import local_transverse_mercator
    >>> from terrain.ground.grid import Grid
    >>> from terrain.mist.level import level_mist
    >>> placing = Affine(100.0, 0.0, 0.0, 0.0, -100.0, 0.0)
    >>> grid = Grid(crs=local_transverse_mercator(-24, 54), transform=placing, shape=(3, 5))
    >>> dem = Dem(np.array([[9, 9, 9, 9, 9], [1, 8, 2, 7, 4], [9, 9, 9, 9, 9]]), grid)
    >>> clear_hollows(dem, level_mist(dem, 5.0)).drop(columns="geometry").values.tolist()
    [[3.0, 2.0, 0.01]]
    """
    below_m = np.where(mist.covers, 0, np.nan_to_num(mist.nearest_top_m - dem.heights_m))
    number, count = ndimage.label(below_m > 0, _TOUCHING)
    area_km2 = np.bincount(number.ravel(), minlength=count + 1)[1:] * dem.cell_m**2 / 1e6
    kept = 1 + np.flatnonzero(area_km2 >= min_area_km2)
    deepest = ndimage.maximum_position(below_m, number, kept) if kept.size else []
    row, col = np.array(deepest, dtype=np.int64).reshape(-1, 2).T
    table = gpd.GeoDataFrame(
        {
            "depth_m": below_m[row, col].astype(float),
            "floor_m": dem.heights_m[row, col].astype(float),
            "area_km2": area_km2[kept - 1],
        },
        geometry=gpd.points_from_xy(*dem.grid.lonlat(row, col)),
        crs="EPSG:4326",
    )
    return table.sort_values("depth_m", ascending=False, kind="stable", ignore_index=True)
