"""All hills and vantages of a day at once, held against full looks from any cells."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from scipy.ndimage import binary_dilation

from terrain.country import Country
from terrain.errors import NoAnswer, NoSun, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.ground.relief.summits import find_summits, hill_in
from terrain.mist.level import level_mist
from terrain.sun.path import sun_path
from terrain.vantage.candidates import fit_to_stand
from terrain.vantage.limits import Limits
from terrain.vantage.pairs import backlit_pairs
from terrain.vantage.search import answer_on
from terrain.vantage.sectors import cells_in_sectors
from terrain.view.backlight import check_backlight
from terrain.view.look import look
from terrain.view.nearness import nearness
from terrain.view.scene import Scene
from tests.plain import plain_kernels
from tests.sight.test_far import parted

MakeDem = Callable[..., Dem]

DAY = dt.date(2025, 10, 12)
DRAWN = 36
HIGHEST_DEG = 12.0


def ground(size: int = 300) -> np.ndarray:
    """Two cones on a plain that falls gently to the west, and a ridge far behind the lower one."""
    row, col = np.mgrid[0:size, 0:size]
    heights = 60.0 + 0.4 * col
    for at_row, at_col, height in ((120, 220, 700.0), (210, 180, 520.0), (150, 120, 240.0)):
        heights = np.maximum(heights, height - 14.0 * np.hypot(row - at_row, col - at_col))
    return heights


@pytest.fixture(scope="module")
def hills(make_dem: MakeDem) -> Dem:
    return make_dem(ground(), cell_m=50.0, lon=0.0)


@pytest.fixture(scope="module")
def summits(hills: Dem) -> gpd.GeoDataFrame:
    return find_summits(hills, min_prominence_m=60.0)


def promised(
    dem: Dem,
    summits: gpd.GeoDataFrame,
    limits: Limits,
    evening: bool = False,
    top: float = HIGHEST_DEG,
) -> pd.DataFrame:
    return cells_in_sectors(
        Country(dem),
        summits,
        DAY,
        limits,
        highest_deg=top,
        evening=evening,
        progress=lambda share: None,
    )


@pytest.mark.parametrize("evening", [False, True])
def test_pairs_hold_in_a_full_look(hills: Dem, summits: gpd.GeoDataFrame, evening: bool) -> None:
    mist = level_mist(hills, 80.0)
    # how much mist is in view is not what is asked here
    limits = Limits(freeboard_m=5.0, tolerance_deg=0.5, min_distance_m=1500.0, mist_share=0.0)
    done: list[float] = []
    pairs = backlit_pairs(
        hills,
        summits,
        DAY,
        mist=mist,
        limits=limits,
        per_hill=2,
        evening=evening,
        progress=done.append,
    )
    assert set(pairs["hill_height_m"].round()) >= {700.0, 520.0}
    assert pairs["rank"].tolist() == list(range(1, len(pairs) + 1))
    assert pairs["score"].is_monotonic_decreasing
    assert done == sorted(done)
    assert 0.0 <= pairs.attrs["left_out"].open_share <= 1.0
    for pair in pairs.itertuples():
        hill = Hill(
            lon_deg=pair.hill_lon_deg,
            lat_deg=pair.hill_lat_deg,
            height_m=pair.hill_height_m,
            min_prominence_m=60.0,
        )
        spot = Spot(lon_deg=pair.lon_deg, lat_deg=pair.lat_deg)
        answer = check_backlight(hills, spot, hill, DAY, mist=mist, evening=evening)
        assert answer.within(0.5)
        assert answer.contact.appears == pair.appears
        assert answer.best.which == pair.best
        assert answer.view.backdrop == pair.backdrop
        assert answer.view.freeboard_m >= 5.0
        assert (answer.contact.sun_azimuth_deg > 180.0) == evening


def cells_about(scene: Scene, fit: np.ndarray, *, evening: bool) -> list[tuple[int, int]]:
    """Cells that are fit to stand on, from which the sun comes by within some degrees of the hill.

    So near to its way, drawn at every distance, that a sector laid a little aside leaves some out;
    every third is where it comes by higher, as over far ground behind the summit.
    """
    rng = np.random.default_rng(2)
    grid, hill = scene.dem.grid, scene.hill
    row, col = (float(part) for part in grid.rowcol(hill.lon_deg, hill.lat_deg))
    away = rng.uniform(20.0, 150.0, DRAWN)
    plain_m = 60.0 + 0.4 * (col + (away if evening else -away))
    over_deg = np.degrees(np.arctan2(hill.height_m - plain_m, away * scene.dem.cell_m))
    path = sun_path(DAY, lon_deg=hill.lon_deg, lat_deg=hill.lat_deg, height_m=0.0, evening=evening)
    azimuth, altitude = path.at(np.arange(0.0, path.length_s / 2.0, 60.0))
    rises = altitude > -2.0
    toward = np.interp(over_deg, altitude[rises], azimuth[rises])
    aside = rng.uniform(-1.5, 1.5, DRAWN)
    aside[::3] = (-1.0 if evening else 1.0) * rng.uniform(0.0, 8.0, aside[::3].size)
    back = np.radians(toward + 180.0 + aside)
    rows = np.rint(row - away * np.cos(back)).astype(int)
    cols = np.rint(col + away * np.sin(back)).astype(int)
    inside = (rows >= 0) & (cols >= 0) & (rows < fit.shape[0]) & (cols < fit.shape[1])
    inside &= over_deg < HIGHEST_DEG - 1.0
    at = zip(rows[inside].tolist(), cols[inside].tolist(), strict=True)
    return [cell for cell in at if fit[cell]]


@pytest.mark.parametrize("evening", [False, True])
def test_what_a_full_look_finds_was_promised(
    hills: Dem, summits: gpd.GeoDataFrame, evening: bool
) -> None:
    """Of cells drawn about each hill, hardly one that is good lies beside the sectors."""
    limits, country = Limits(tolerance_deg=1.0), Country(hills)
    table, fit = promised(hills, summits, limits, evening), fit_to_stand(country, limits)
    hits, kinds = [], set()
    for number in range(len(summits)):
        scene = Scene(country, hill_in(summits, number))
        mine = table[table["label"] == number + 1]
        found = np.zeros(hills.shape, dtype=bool)
        found[mine["row"], mine["col"]] = True
        found = binary_dilation(found, iterations=2)  # the lines are up to two cells apart
        for cell in cells_about(scene, fit, evening=evening):
            lon, lat = (float(part) for part in hills.grid.lonlat(*cell))
            view = look(scene, Spot(lon_deg=lon, lat_deg=lat), day=DAY)
            if view.visible and nearness(scene, view, DAY, evening=evening).within(1.0):
                hits.append(found[cell])
                kinds.add(str(view.backdrop))
    assert len(hits) >= 20
    assert np.mean(hits) >= 0.98
    assert kinds >= ({"sky", "ground"} if evening else {"sky"})


def test_most_of_what_is_promised_holds(hills: Dem, summits: gpd.GeoDataFrame) -> None:
    limits, country = Limits(tolerance_deg=1.0), Country(hills)
    table = promised(hills, summits, limits, top=6.0).sample(60, random_state=1)
    held = 0
    for cell in table.itertuples():
        lon, lat = (float(part) for part in hills.grid.lonlat(cell.row, cell.col))
        scene = Scene(country, hill_in(summits, cell.label - 1))
        held += answer_on(scene, Spot(lon_deg=lon, lat_deg=lat), DAY, limits) is not None
    assert held >= 0.6 * len(table)


def test_the_evening_is_promised_as_the_morning_is_in_a_mirror(make_dem: MakeDem) -> None:
    limits = Limits(tolerance_deg=1.0)
    cells = []
    for heights, evening in ((ground(), False), (ground()[:, ::-1], True)):
        dem = make_dem(heights, cell_m=50.0, lon=0.0)
        table = promised(dem, find_summits(dem, min_prominence_m=60.0), limits, evening)
        found = np.zeros(dem.shape, dtype=bool)
        found[table["row"], table["col"]] = True
        cells.append(found[:, ::-1] if evening else found)
    morning, late = cells
    assert morning.sum() > 500
    # the declination moves by a fifth of a degree from the morning to the evening
    assert (morning & binary_dilation(late, iterations=4)).sum() > 0.97 * morning.sum()
    assert (late & binary_dilation(morning, iterations=4)).sum() > 0.97 * late.sum()


def test_promised_cells_keep_to_the_limits(hills: Dem, summits: gpd.GeoDataFrame) -> None:
    strict = Limits(min_distance_m=2500.0, max_distance_m=6000.0, max_slope_deg=10.0)
    table = promised(hills, summits, strict, top=2.4)
    assert table["distance_m"].between(2500.0, 6000.0).all()
    assert 2.0 < table["altitude_deg"].max() <= 2.4
    assert (Country(hills).slope_deg[table["row"], table["col"]] <= 10.0).all()
    assert not table.duplicated(["label", "row", "col"]).any()


def test_lines_as_plain_python_find_the_same(make_dem: MakeDem) -> None:
    row, col = np.mgrid[0:40, 0:40]
    heights = np.maximum(20.0 + 0.0 * col, 300.0 - 40.0 * np.hypot(row - 18, col - 24))
    heights[5, 5:9] = np.nan
    dem = make_dem(heights, cell_m=100.0)
    summits, limits = find_summits(dem), Limits(max_distance_m=3000.0)
    compiled = promised(dem, summits, limits)
    with plain_kernels():
        plain = promised(dem, summits, limits)
    assert len(compiled) > 10
    pd.testing.assert_frame_equal(plain, compiled, rtol=1e-4)


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


def test_why_there_are_no_pairs_names_the_mist_that_is_to_be_seen(
    hills: Dem, summits: gpd.GeoDataFrame
) -> None:
    mist, much = level_mist(hills, 90.0), Limits(min_distance_m=2500.0, mist_share=1.0)
    with pytest.raises(NoAnswer, match=r"within 1 degrees of .* with mist in 100% of the view"):
        backlit_pairs(hills, summits, DAY, mist=mist, limits=much)


def test_no_sun_no_pairs(make_dem: MakeDem) -> None:
    row, col = np.mgrid[0:40, 0:40]
    dem = make_dem(300.0 - 8.0 * np.hypot(row - 18, col - 24), cell_m=100.0, lat=80.0)
    with pytest.raises(NoSun):
        backlit_pairs(dem, find_summits(dem), dt.date(2025, 12, 20))


def ridge_behind(make_dem: MakeDem) -> Dem:
    """A cone, and a ridge all along the east of it."""
    row, col = np.mgrid[0:80, 0:120]
    heights = np.maximum(10.0 + 0.0 * col, 260.0 - 40.0 * np.hypot(row - 40, col - 60))
    heights[:, 80:84] = 400.0
    return make_dem(heights, cell_m=100.0)


def test_the_sky_begins_where_a_full_look_has_it(make_dem: MakeDem) -> None:
    """Over a ridge that stands behind a hill, from all cells that were promised."""
    dem = ridge_behind(make_dem)
    hill = find_summits(dem, min_prominence_m=100.0)
    hill = hill[hill["height_m"].between(250.0, 270.0)]
    table = promised(dem, hill, Limits(tolerance_deg=1.0))
    scene = Scene(Country(dem), hill_in(hill, 0))
    assert len(table) > 20
    under: list[float] = []
    for cell in table.iloc[:: len(table) // 20].itertuples():
        lon, lat = (float(part) for part in dem.grid.lonlat(cell.row, cell.col))
        view = look(scene, Spot(lon_deg=lon, lat_deg=lat))
        under.append(view.under_skyline_deg)
        assert cell.altitude_deg == pytest.approx(view.sky_from_deg, abs=0.25)
    assert max(under) > 0.3


def test_far_ground_makes_the_sky_begin_over_a_hill_as_in_a_full_look(make_dem: MakeDem) -> None:
    """A ridge beyond what is read cell by cell stands behind all cells that were promised."""
    row, col = np.mgrid[0:150, 0:150]
    heights = np.maximum(10.0 + 0.0 * col, 260.0 - 40.0 * np.hypot(row - 70, col - 70))
    heights[:, 120:128] = 1000.0
    dem = parted(make_dem(heights, cell_m=100.0), 30, 80)
    hill = find_summits(dem, min_prominence_m=100.0)
    limits = Limits(min_distance_m=2500.0)
    table = promised(dem, hill, limits)
    scene = Scene(Country(dem), hill_in(hill, 0))
    assert len(table) > 20
    for cell in table.iloc[:: len(table) // 10].itertuples():
        lon, lat = (float(part) for part in dem.grid.lonlat(cell.row, cell.col))
        view = look(scene, Spot(lon_deg=lon, lat_deg=lat))
        assert view.under_skyline_deg > 0.3
        assert cell.altitude_deg == pytest.approx(view.sky_from_deg, abs=0.25)
    found = backlit_pairs(dem, hill, DAY, limits=limits)
    assert found["backdrop"].tolist() == ["ground"]
    alone = promised(replace(dem, far=None), hill, limits)
    assert alone["altitude_deg"].max() < table["altitude_deg"].min()


def test_no_look_of_a_pair_is_used_up_on_another_backdrop(make_dem: MakeDem) -> None:
    """Those before ground are found, and where none can show mist none is looked at."""
    dem = ridge_behind(make_dem)
    hill = find_summits(dem, min_prominence_m=100.0)
    hill = hill[hill["height_m"].between(250.0, 270.0)]
    pairs = backlit_pairs(dem, hill, DAY, limits=Limits(against="ground"), per_hill=3)
    assert set(pairs["backdrop"]) == {"ground"}
    with pytest.raises(NoAnswer, match="sees it against mist: ask for another backdrop"):
        backlit_pairs(dem, hill, DAY, limits=Limits(against="mist"))
