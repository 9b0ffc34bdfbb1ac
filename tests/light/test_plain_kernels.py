"""The sweeps, the rays and the hills of a morning as plain Python within fences."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import geopandas as gpd
import numpy as np
import pytest
from numpy.typing import NDArray

from terrain.ground.dem import Dem
from terrain.light.day import DayAtlas, day_atlas
from tests.plain import plain_kernels
from tests.scenes import cone

MakeDem = Callable[..., Dem]

SIZE, SUMMIT = 10, (5, 6)


def morning(make_dem: MakeDem, relief_m: float, month: int) -> DayAtlas:
    """A cone over ground that is rough by so much, of which some cells are unknown."""
    rng = np.random.default_rng(3)
    heights = cone(SIZE, SUMMIT, 150.0, 0.3) + rng.uniform(0.0, relief_m, (SIZE, SIZE))
    heights[rng.random(heights.shape) < 0.05] = np.nan
    heights[SUMMIT] = 150.0 + relief_m
    dem = make_dem(heights)
    lon, lat = dem.grid.lonlat(*SUMMIT)
    summits = gpd.GeoDataFrame(
        {"height_m": [150.0 + relief_m], "name": ["Cone"]},
        geometry=gpd.points_from_xy([lon], [lat]),
        crs="EPSG:4326",
    )
    return day_atlas(dem, dt.date(2025, month, 21), summits=summits)


# in June the rays leave by the north, in December by the south
@pytest.mark.parametrize(("relief_m", "month"), [(3.0, 3), (60.0, 6), (60.0, 12)])
def test_morning(make_dem: MakeDem, relief_m: float, month: int) -> None:
    compiled = morning(make_dem, relief_m, month)
    with plain_kernels():
        plain = morning(make_dem, relief_m, month)
        offsets = plain.offsets()

    def check(ours: NDArray, theirs: NDArray, atol: float) -> None:
        np.testing.assert_array_equal(np.isnan(ours), np.isnan(theirs))
        assert np.mean(np.isclose(ours, theirs, atol=atol, equal_nan=True)) > 0.98

    check(plain.arrival.arrives_s, compiled.arrival.arrives_s, 0.5)
    check(plain.arrival.azimuth_deg, compiled.arrival.azimuth_deg, 2e-3)
    check(plain.arrival.altitude_deg, compiled.arrival.altitude_deg, 2e-3)
    check(plain.distance_m, compiled.distance_m, 1.0)
    np.testing.assert_array_equal(plain.hill, compiled.hill)
    assert (plain.hill > 0).any()
    for ours, theirs in zip(offsets, compiled.offsets(), strict=True):
        check(ours, theirs, 1e-2)


# by the east along columns and by the north along rows, over more than two blocks of ground
@pytest.mark.parametrize(
    ("shape", "lat", "month"), [((4, 75), 54.4, 3), ((4, 75), 54.4, 12), ((75, 4), 66.0, 6)]
)
def test_rays_over_many_blocks(
    make_dem: MakeDem, shape: tuple[int, int], lat: float, month: int
) -> None:
    """A rough strip with a wall at either end: what the sun clears is crossed in strides.

    The wall is highest in the last cell, whose ground reaches half a cell beyond its centre.
    """
    rng = np.random.default_rng(month)
    heights = rng.uniform(0.0, 40.0, shape)
    along = np.arange(max(shape))
    wall = 300.0 * np.maximum(3 - np.minimum(along, along[::-1]), 0)
    heights += wall if shape[1] > shape[0] else wall[:, np.newaxis]
    heights[2, 30 % shape[1]] = np.nan
    dem = make_dem(heights, lat=lat)
    ends = [0, 0], [0, shape[1] - 1]
    summits = gpd.GeoDataFrame(
        {"height_m": heights[ends], "name": ["West", "East"]},
        geometry=gpd.points_from_xy(*dem.grid.lonlat(*ends)),
        crs="EPSG:4326",
    )

    def made() -> DayAtlas:
        return day_atlas(dem, dt.date(2025, month, 21), summits=summits)

    compiled = made()
    with plain_kernels():
        plain = made()
    for name, atol in (("arrives_s", 0.5), ("azimuth_deg", 2e-3), ("altitude_deg", 2e-3)):
        ours, theirs = getattr(plain.arrival, name), getattr(compiled.arrival, name)
        np.testing.assert_array_equal(np.isnan(ours), np.isnan(theirs), err_msg=name)
        assert np.mean(np.isclose(ours, theirs, atol=atol, equal_nan=True)) > 0.98, name
    np.testing.assert_array_equal(plain.hill, compiled.hill)
    assert np.isfinite(plain.arrival.arrives_s).mean() > 0.5
