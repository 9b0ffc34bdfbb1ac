"""Small grids whose visible cells or horizon are published, flat earth unless it says otherwise.

Sources: GDAL, autotest/cpp/test_viewshed.cpp, tests `simple_height` and `dem_vs_ground` (the least
height at which each cell is seen from the height of the ground at the observer); GRASS GIS,
raster/r.horizon/testsuite/test_r_horizon.py, `ref5` (a circular wall on flat ground).
"""

from __future__ import annotations

FIVE_BY_FIVE = [
    [-1, 0, 1, 0, -1],
    [-1, 2, 0, 4, -1],
    [-1, 1, 0, -1, -1],
    [0, 3, 0, 2, 0],
    [-1, 0, 0, 3, -1],
]
FIVE_BY_FIVE_OBSERVER = (2, 2)
FIVE_BY_FIVE_SEEN_FROM_HEIGHT = [
    [4, 2, 0, 4, 8],
    [3, 2, 0, 4, 3],
    [2, 1, 0, -1, -2],
    [4, 3, 0, 2, 1],
    [6, 3, 0, 2, 4],
]

# heights along a single row, the observer's column, metres above ground to be seen
ROWS = [
    ([0, 0, 0, 1, 0, 0, 0, 0], 2, [0, 0, 0, 0, 2, 3, 4, 5]),
    ([1, 1, 0, 1, 0, 1, 2, 2], 3, [0, 0, 0, 0, 0, 0, 0, 1 / 3]),
    ([0, 0, 0, 1, 1, 0, 0, 0], 0, [0, 0, 0, 0, 1 / 3, 5 / 3, 6 / 3, 7 / 3]),
    ([0, 0, 1, 2, 3, 4, 5, 6], 0, [0, 0, 0, 0, 0, 0, 0, 0]),
    ([0, 0, 1, 1, 3, 4, 5, 4], 0, [0, 0, 0, 0.5, 0, 0, 0, 11 / 6]),
]

# a wall 1000 m high at this distance, on a round earth of 6371 km without refraction
WALL_HEIGHT_M = 1000.0
WALL_DISTANCE_M = 5000.04
WALL_ALTITUDE_RAD = 0.197017
