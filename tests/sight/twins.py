"""Slow and plain versions of what the sight kernels do, written apart from them.

All of them look at every crossing of a straight ray with a line of cell centres, one family of
lines after the other, height linear between the two centres; beyond the outermost centres the
ground goes on level to the edge of the cells. Unknown ground is passed over.
"""

from __future__ import annotations

import math

import numpy as np
from numba import prange
from numpy.typing import ArrayLike, NDArray

from terrain.compiling import njit
from terrain.ground.dem import Dem
from terrain.ground.geodesy import destination
from terrain.ground.places import Spot

RADIUS_M = 6_371_000.0


def bend(refraction: float = 0.13) -> float:
    return (1 - refraction) / (2 * RADIUS_M)


@njit()
def mix(first: float, second: float, share: float) -> float:
    if share == 0.0:
        return first
    if share == 1.0:
        return second
    return (1.0 - share) * first + share * second


@njit()
def across(heights, row, col):
    """Height at a place on a line of centres: one of row and col is whole."""
    rows, cols = heights.shape
    row, col = min(max(row, 0.0), rows - 1.0), min(max(col, 0.0), cols - 1.0)
    top, left = math.floor(row), math.floor(col)
    below, right = min(top + 1, rows - 1), min(left + 1, cols - 1)
    if row == top:
        return mix(heights[top, left], heights[top, right], col - left)
    return mix(heights[top, left], heights[below, left], row - top)


@njit()
def lines_between(start, end, count):
    return range(max(math.floor(min(start, end)), 0), min(math.ceil(max(start, end)) + 1, count))


@njit()
def steepest_between(heights, row, col, to_row, to_col, eye, curve, cell_m):
    """Steepest slope of what lies strictly between two places, -inf if nothing does."""
    down, aside = to_row - row, to_col - col
    length = math.hypot(down, aside) * cell_m
    steepest = -math.inf
    if down != 0.0:
        for line in lines_between(row, to_row, heights.shape[0]):
            share = (line - row) / down
            if 0.0 < share < 1.0:
                z = across(heights, float(line), col + share * aside)
                slope = (z - eye) / (share * length) - curve * share * length
                if slope > steepest:
                    steepest = slope
    if aside != 0.0:
        for line in lines_between(col, to_col, heights.shape[1]):
            share = (line - col) / aside
            if 0.0 < share < 1.0:
                z = across(heights, row + share * down, float(line))
                slope = (z - eye) / (share * length) - curve * share * length
                if slope > steepest:
                    steepest = slope
    return steepest


@njit(parallel=True)
def margins(heights, row, col, eye, curve, cell_m):
    """Metres each cell would have to rise to be seen, negative where it stands clear."""
    rows, cols = heights.shape
    found = np.full((rows, cols), np.nan)
    for to_row in prange(rows):
        for to_col in range(cols):
            length = math.hypot(to_row - row, to_col - col) * cell_m
            if math.isnan(heights[to_row, to_col]):
                continue
            if length == 0.0:
                found[to_row, to_col] = 0.0
                continue
            slope = (heights[to_row, to_col] - eye) / length - curve * length
            front = steepest_between(heights, row, col, to_row, to_col, eye, curve, cell_m)
            found[to_row, to_col] = (front - slope) * length
    return found


@njit()
def sea_seen(over_m, curve, cell_m):
    """Steepest slope of a level sea so far below an eye, a cell away at the least, and where.

    By looking ever farther out, a thousandth at a time, until it falls away.
    """
    at = cell_m
    slope = -over_m / at - curve * at
    while True:
        ahead = at * 1.001
        farther = -over_m / ahead - curve * ahead
        if farther <= slope:
            return slope, at
        at, slope = ahead, farther


@njit(parallel=True)
def horizons(heights, row_step, col_step, curve, cell_m):
    """Altitude (degrees) and distance (cells) of every cell's horizon; steps of unit length.

    The sea, or whatever known ground is lower, stands for the unknown ground.
    """
    floor = min(0.0, np.nanmin(heights))
    rows, cols = heights.shape
    altitude_deg = np.full((rows, cols), np.nan)
    distance = np.full((rows, cols), np.nan)
    for row in prange(rows):
        for col in range(cols):
            z = heights[row, col]
            steepest = -math.inf
            for family in range(2):
                step = row_step if family == 0 else col_step
                if step == 0.0 or math.isnan(z):
                    continue
                for line in range(heights.shape[family]):
                    at = (line - (row if family == 0 else col)) / step
                    to_row = float(line) if family == 0 else row + at * row_step
                    to_col = float(line) if family == 1 else col + at * col_step
                    if at <= 0.0 or not -0.5 <= to_row <= rows - 0.5:
                        continue
                    if not -0.5 <= to_col <= cols - 0.5:
                        continue
                    there = across(heights, to_row, to_col)
                    slope = (there - z) / (at * cell_m) - curve * at * cell_m
                    if slope > steepest:
                        steepest, distance[row, col] = slope, at
            if steepest > -math.inf:
                sea, sea_m = sea_seen(z - floor, curve, cell_m)
                distance[row, col] = sea_m / cell_m if sea > steepest else distance[row, col]
                altitude_deg[row, col] = math.degrees(math.atan(max(steepest, sea)))
    return altitude_deg, distance


def geodesic_skyline(
    dem: Dem, spot: Spot, azimuth_deg: ArrayLike, reach_m: float, step_m: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Altitude (degrees) and distance of the skyline, by walking geodesics over the raster as
    delivered in equal steps."""
    delivered = dem.as_delivered
    eye_m = delivered.height_at(spot.lon_deg, spot.lat_deg) + spot.eye_m
    distance_m = np.arange(1, int(reach_m / step_m)) * step_m
    altitudes, distances = [], []
    for azimuth in np.atleast_1d(azimuth_deg):
        lon, lat = destination(spot.lon_deg, spot.lat_deg, azimuth, distance_m)
        rise = (delivered.heights_at(lon, lat) - eye_m) / distance_m - bend() * distance_m
        best = int(np.nanargmax(rise))
        altitudes.append(math.degrees(math.atan(rise[best])))
        distances.append(distance_m[best])
    return np.array(altitudes), np.array(distances)
