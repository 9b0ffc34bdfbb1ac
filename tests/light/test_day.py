from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import geopandas as gpd
import numpy as np
import pytest

from terrain.country import Country
from terrain.errors import NoAnswer, NoGround, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.geodesy import azimuth_and_distance, destination, wrap_deg
from terrain.ground.places import Hill, Spot
from terrain.ground.relief.hills import hill_labels
from terrain.ground.relief.summits import find_summits, hill_in
from terrain.light.day import DayAtlas, day_atlas
from terrain.mist.level import level_mist
from terrain.sight.skyline import skyline
from terrain.vantage.pairs import _KNOWN, _promised, backlit_pairs
from terrain.vantage.question import Limits, Question
from terrain.vantage.search import answer_on
from terrain.view.backlight import check_backlight
from terrain.view.contact import sun_contact
from terrain.view.scene import Scene

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


def test_pairs_hold_in_a_full_look(hills: Dem, summits: gpd.GeoDataFrame) -> None:
    mist = level_mist(hills, 80.0)
    # how much mist is in view is not what is asked here
    limits = Limits(freeboard_m=5.0, tolerance_deg=0.5, min_distance_m=1500.0, mist_share=0.0)
    done: list[float] = []
    pairs = backlit_pairs(
        hills, summits, DAY, mist=mist, limits=limits, per_hill=2, progress=done.append
    )
    assert set(pairs["hill_height_m"].round()) == {700.0, 520.0}
    assert pairs["rank"].tolist() == list(range(1, len(pairs) + 1))
    assert pairs["score"].is_monotonic_decreasing
    assert done == sorted(done)
    for pair in pairs.itertuples():
        hill = Hill(
            lon_deg=pair.hill_lon_deg,
            lat_deg=pair.hill_lat_deg,
            height_m=pair.hill_height_m,
            min_prominence_m=150.0,
        )
        spot = Spot(lon_deg=pair.lon_deg, lat_deg=pair.lat_deg)
        answer = check_backlight(hills, spot, hill, DAY, mist=mist)
        assert answer.within(0.5)
        assert answer.contact.appears == pair.appears
        assert answer.view.freeboard_m >= 5.0


def test_a_look_holds_a_pair_to_the_limits(hills: Dem, summits: gpd.GeoDataFrame) -> None:
    limits = Limits(min_distance_m=1500.0)
    atlas = day_atlas(hills, DAY, summits=summits)
    country = Country(hills)
    scene = Scene(country, hill_in(summits, 0))
    promised = _promised(country, atlas, Question(limits=limits, only=_KNOWN), 12.0)
    held = [
        (spot, answer)
        for row, col in promised.sort_values("offset_deg")[["row", "col"]].to_numpy()[:200:8]
        if (spot := Spot(**dict(zip(("lon_deg", "lat_deg"), place(hills, row, col), strict=True))))
        and (answer := answer_on(scene, spot, DAY, limits))
    ]
    spot, answer = max(held, key=lambda one: one[1].best.away_deg)
    off = answer.best.away_deg
    assert off > 0.1
    closer = Limits(min_distance_m=1500.0, tolerance_deg=0.9 * off)
    assert answer_on(scene, spot, DAY, closer) is None


def test_promised_cells_keep_to_the_limits(hills: Dem, summits: gpd.GeoDataFrame) -> None:
    mist = level_mist(hills, 80.0)
    atlas = day_atlas(hills, DAY, mist=mist, summits=summits)
    loose = Limits(freeboard_m=0.0, min_distance_m=1500.0)
    strict = Limits(freeboard_m=12.0, min_distance_m=2500.0, max_distance_m=6000.0)
    country = Country(hills, mist=mist)
    first, second = (
        _promised(country, atlas, Question(limits=limits, only=_KNOWN), 12.0)
        for limits in (loose, strict)
    )
    assert first["freeboard_m"].min() < 12.0 <= second["freeboard_m"].min()
    assert first["distance_m"].min() < 2500.0 <= second["distance_m"].min()
    assert second["distance_m"].max() <= 6000.0
    low = _promised(country, atlas, Question(limits=loose, only=_KNOWN), 4.0)
    assert low["altitude_deg"].max() <= 4.0 < first["altitude_deg"].max()


def test_one_hill_may_have_no_more_than_asked(hills: Dem, summits: gpd.GeoDataFrame) -> None:
    limits = Limits(min_distance_m=2500.0)
    pairs = backlit_pairs(hills, summits, DAY, limits=limits)
    assert pairs["hill_height_m"].is_unique
    assert pairs["freeboard_m"].isna().all()
    assert len(backlit_pairs(hills, summits, DAY, limits=limits, count=1)) == 1


def test_no_pairs(hills: Dem, summits: gpd.GeoDataFrame) -> None:
    with pytest.raises(NoAnswer, match="from no place that keeps to the limits"):
        backlit_pairs(hills, summits, DAY, mist=level_mist(hills, 650.0))
    with pytest.raises(TerrainError, match="the table of summits is empty"):
        backlit_pairs(hills, summits.iloc[:0], DAY)
    with pytest.raises(TerrainError, match="ask for 1 or more"):
        backlit_pairs(hills, summits, DAY, count=0)


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
