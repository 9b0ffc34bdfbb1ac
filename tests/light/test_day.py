from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import geopandas as gpd
import numpy as np
import pytest

from terrain.errors import NoGround
from terrain.ground.dem import Dem
from terrain.ground.geodesy import azimuth_and_distance, destination, wrap_deg
from terrain.ground.places import Spot
from terrain.ground.relief.hills import hill_labels
from terrain.ground.relief.summits import find_summits
from terrain.light.day import DayAtlas, day_atlas
from terrain.mist.level import level_mist
from terrain.sight.skyline import skyline
from terrain.view.contact import sun_contact

MakeDem = Callable[..., Dem]

DAY = dt.date(2025, 10, 12)


def place(dem: Dem, row: int, col: int) -> tuple[float, float]:
    lon, lat = dem.grid.lonlat(row, col)
    return float(lon), float(lat)


@pytest.fixture(scope="module")
def hills(make_dem: MakeDem) -> Dem:
    """Two cones on a plain that falls gently to the west, 15 by 15 km."""
    row, col = np.mgrid[0:300, 0:300]
    ground = 60.0 + 0.4 * col
    for at_row, at_col, height in ((120, 220, 700.0), (210, 180, 520.0)):
        ground = np.maximum(ground, height - 14.0 * np.hypot(row - at_row, col - at_col))
    return make_dem(ground, cell_m=50.0)


@pytest.fixture(scope="module")
def summits(hills: Dem) -> gpd.GeoDataFrame:
    return find_summits(hills, min_prominence_m=150.0)


@pytest.fixture(scope="module")
def atlas(hills: Dem, summits: gpd.GeoDataFrame) -> DayAtlas:
    return day_atlas(hills, DAY, summits=summits)


def test_point_and_hill_are_those_of_the_contact(
    hills: Dem, summits: gpd.GeoDataFrame, atlas: DayAtlas
) -> None:
    labels, rng, checked = hill_labels(hills, summits), np.random.default_rng(4), 0
    same = []
    while checked < 25:
        cell = int(rng.integers(40, 260)), int(rng.integers(20, 170))
        lon, lat = place(hills, *cell)
        sky = skyline(hills, Spot(lon_deg=lon, lat_deg=lat, eye_m=0.0))
        contact = sun_contact(sky, DAY)
        if contact.distance_m < 5.0 * hills.cell_m:
            continue
        checked += 1
        assert atlas.arrival.azimuth_deg[cell] == pytest.approx(contact.azimuth_deg, abs=0.5)
        near = abs(atlas.distance_m[cell] / contact.distance_m - 1.0) < 0.05
        own = labels[hills.grid.cell_of(contact.lon_deg, contact.lat_deg)]
        same.append(near and atlas.hill[cell] == own)
    assert np.mean(same) >= 0.9


def test_hill_is_whose_ground_the_point_is(jacksboro: Dem) -> None:
    atlas = day_atlas(jacksboro, DAY, summits=find_summits(jacksboro))
    labels = hill_labels(jacksboro, atlas.summits)
    rng = np.random.default_rng(7)
    far = np.argwhere(atlas.distance_m > 8.0 * jacksboro.cell_m)
    row, col = far[rng.choice(len(far), 800, replace=False)].T
    lon, lat = jacksboro.grid.lonlat(row, col)
    way, away = atlas.arrival.azimuth_deg[row, col], atlas.distance_m[row, col]
    to_row, to_col = jacksboro.grid.rowcol(*destination(lon, lat, way, away))
    rows, cols = jacksboro.shape
    on = jacksboro.grid.holds_nearly(*destination(lon, lat, way, away))
    to_row, to_col = np.clip(np.rint(to_row), 0, rows - 1), np.clip(np.rint(to_col), 0, cols - 1)
    expected = np.where(on, labels[to_row.astype(int), to_col.astype(int)], 0)
    assert np.mean(atlas.hill[row, col] == expected) > 0.97
    assert np.unique(expected).size > 5


def test_offsets_are_from_the_summit(
    hills: Dem, summits: gpd.GeoDataFrame, atlas: DayAtlas
) -> None:
    offset, away = atlas.offsets()
    label = 1
    mine = np.argwhere(atlas.hill == label)
    row, col = mine[len(mine) // 2]
    lon, lat = place(hills, int(row), int(col))
    summit = summits.geometry.iloc[label - 1]
    azimuth, distance = azimuth_and_distance(lon, lat, summit.x, summit.y)
    aside = wrap_deg(atlas.arrival.azimuth_deg[row, col] - float(azimuth))
    level = np.cos(np.radians(atlas.arrival.altitude_deg[row, col]))
    assert offset[row, col] == pytest.approx(aside * level, abs=0.02)
    assert away[row, col] == pytest.approx(float(distance), rel=1e-3)
    assert np.isnan(offset[atlas.hill == 0]).all()


def test_mist_is_nobodys_hill(hills: Dem, summits: gpd.GeoDataFrame) -> None:
    mist = level_mist(hills, 250.0)
    misty = day_atlas(hills, DAY, mist=mist, summits=summits)
    bare = day_atlas(hills, DAY, summits=summits)
    assert 0 < np.count_nonzero(misty.hill) < np.count_nonzero(bare.hill)
    assert not misty.hill[np.isnan(misty.distance_m)].any()


def test_unknown_ground_has_no_morning(make_dem: MakeDem) -> None:
    with pytest.raises(NoGround):
        day_atlas(make_dem(np.full((5, 5), np.nan)), DAY)


def test_the_horizon_of_the_sea_is_nobodys_hill(make_dem: MakeDem) -> None:
    """High ground in the west looks over a hill at the raster's edge to where nothing is known."""
    row, col = np.mgrid[-20:21, 0:61]
    ridge = np.maximum(900.0 - 40.0 * col, 5.0)
    dem = make_dem(np.maximum(ridge, 200.0 - 20.0 * np.hypot(row, col - 50)), cell_m=100.0)
    atlas = day_atlas(dem, dt.date(2026, 3, 20))
    lon, lat = dem.grid.lonlat(row + 20, col)
    to = destination(lon, lat, atlas.arrival.azimuth_deg, atlas.distance_m)
    off = ~dem.grid.holds_nearly(*to) & np.isfinite(atlas.distance_m)
    assert off[:, :8].mean() > 0.9
    assert not atlas.hill[off].any()
    assert atlas.hill[~off].any()
