"""Areas laid on the cells of a grid."""

from __future__ import annotations

import numpy as np
import shapely

from terrain.ground.raster.warp import cells_within
from tests.conftest import MakeDem


def test_cells_are_those_whose_centres_lie_inside(make_dem: MakeDem) -> None:
    dem = make_dem(np.zeros((60, 80)))
    lon, lat = dem.grid.lonlat(*np.meshgrid(np.arange(60), np.arange(80), indexing="ij"))
    ring = (
        shapely.Point(-24.0, 54.4)
        .buffer(0.008)
        .difference(shapely.Point(-24.0, 54.4).buffer(0.003))
    )
    centres = shapely.points(lon, lat)
    slow = np.array([[ring.contains(centre) for centre in row] for row in centres])
    found = cells_within(dem.grid, ring)
    assert slow.sum() > 100
    assert np.array_equal(found, slow)
    assert not cells_within(dem.grid, shapely.box(10.0, 10.0, 11.0, 11.0)).any()
    assert cells_within(dem.grid, shapely.box(-25.0, 54.0, -23.0, 55.0)).all()


def test_an_area_beyond_the_projection_holds_no_cell(make_dem: MakeDem) -> None:
    dem = make_dem(np.zeros((6, 8)))
    assert not cells_within(dem.grid, shapely.box(65.0, -1.0, 67.0, 1.0)).any()
