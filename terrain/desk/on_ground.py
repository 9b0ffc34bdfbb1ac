"""Which rows of a survey lie on the ground of a desk: a survey may be of a whole country."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from terrain.arrays import Flags
from terrain.errors import TerrainError
from terrain.ground.dem import Dem

if TYPE_CHECKING:
    import geopandas as gpd


def on_ground(rows: gpd.GeoDataFrame, dem: Dem) -> Flags:
    """Whether both the place and the hill of each row stand on known ground."""
    points = rows.geometry
    hills = _is_known(rows["hill_lon_deg"].to_numpy(), rows["hill_lat_deg"].to_numpy(), dem)
    return hills & _is_known(points.x.to_numpy(), points.y.to_numpy(), dem)


def check_ground(rows: gpd.GeoDataFrame, dem: Dem) -> None:
    """TerrainError where no row of a survey lies on the ground."""
    if not on_ground(rows, dem).any():
        best = rows.iloc[0]
        raise TerrainError(
            f"the survey is of other ground: its best hill, at {best['hill_lat_deg']:.4f}, "
            f"{best['hill_lon_deg']:.4f}, does not lie on this; {dem.grid.coverage()}"
        )


def _is_known(lon_deg: np.ndarray, lat_deg: np.ndarray, dem: Dem) -> Flags:
    row, col = dem.grid.rowcol(lon_deg, lat_deg)
    known = ~np.isnan(dem.heights_m[dem.grid.cells_at(lon_deg, lat_deg)])
    return np.asarray(dem.grid.contains(row, col) & known)
