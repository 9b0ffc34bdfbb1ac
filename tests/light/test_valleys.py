"""The light of named valleys: which ground is theirs, and what share of it is lit when."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from terrain.country import Country
from terrain.errors import NoAnswer, NoGround, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.ground.raster.read import read_dem
from terrain.light.arrival import Arrival
from terrain.light.day import light_arrival
from terrain.light.shares import valley_shares, valley_times
from terrain.light.valleys import Valley, all_ground, valley_about, valleys_in
from terrain.mist.level import level_mist

MakeDem = Callable[..., Dem]

DAY = dt.date(2026, 10, 13)
DEMO = Path(__file__).parents[2] / "data" / "upland.tif"


@pytest.fixture(scope="module")
def folds(make_dem: MakeDem) -> Dem:
    """Three valleys side by side that fall to the south, their floors at columns 20, 60, 100."""
    row, col = np.mgrid[:120, :121]
    return make_dem(6.0 * np.abs((col % 40) - 20) - 0.7 * row + 200.0, cell_m=50.0)


@pytest.fixture(scope="module")
def light(folds: Dem) -> Arrival:
    return light_arrival(folds, DAY)


def spot_at(dem: Dem, row: int, col: int, name: str = "") -> Spot:
    lon, lat = dem.grid.lonlat(row, col)
    return Spot(lon_deg=float(lon), lat_deg=float(lat), name=name)


def slow_valley(dem: Dem, row: int, col: int, reach_m: float) -> np.ndarray:
    """Every cell within reach, led down step by step: whose way joins the place's, in reach.

    For ground without hollows or level places.
    """

    def below(at: tuple[int, int]) -> tuple[int, int] | None:
        steps = {}
        for down in (-1, 0, 1):
            for along in (-1, 0, 1):
                to = at[0] + down, at[1] + along
                if to != at and 0 <= to[0] < dem.shape[0] and 0 <= to[1] < dem.shape[1]:
                    fall = float(dem.heights_m[at]) - float(dem.heights_m[to])
                    steps[to] = fall / math.hypot(down, along)
        best = max(steps, key=steps.__getitem__)
        return best if steps[best] > 0.0 else None

    def away_m(at: tuple[int, int]) -> float:
        return math.hypot(at[0] - row, at[1] - col) * dem.cell_m

    def way(at: tuple[int, int]) -> list[tuple[int, int]]:
        cells = [at]
        while (to := below(cells[-1])) is not None:
            cells.append(to)
        return cells

    stream = [at for at in way((row, col)) if away_m(at) <= reach_m]
    mouth = stream[-1]
    found = np.zeros(dem.shape, dtype=bool)
    for at in np.ndindex(*dem.shape):
        if away_m(at) <= reach_m:
            found[at] = mouth in way(at)
    return found


def test_a_valley_is_the_ground_that_drains_past_its_place(folds: Dem) -> None:
    valley = valley_about(folds, spot_at(folds, 60, 60, "the middle"), reach_m=1520.0)
    assert valley.name == "the middle"
    slow = slow_valley(folds, 60, 60, 1520.0)
    # on a ridge the ways down to both sides are alike
    slow[:, [40, 80]] = valley.cells[:, [40, 80]]
    assert np.array_equal(valley.cells, slow)
    rows, cols = np.nonzero(valley.cells)
    # from ridge to ridge, and as far as its reach along the valley
    assert (cols.min(), cols.max()) in ((40, 80), (41, 80), (40, 79), (41, 79))
    assert 29 <= rows.min() <= 31
    assert valley.area_km2 == pytest.approx(valley.cells.sum() * 0.0025)


def test_a_place_by_the_stream_is_in_its_valley(folds: Dem) -> None:
    on_the_side = spot_at(folds, 60, 66)
    valley = valley_about(Country(folds), on_the_side, reach_m=1500.0)
    assert valley.cells[60, 60]
    assert not valley.cells[:, :38].any()
    assert valley.name == f"{on_the_side.lat_deg:.4f}, {on_the_side.lon_deg:.4f}"


def test_a_valley_ends_at_the_sea(make_dem: MakeDem) -> None:
    row, col = np.mgrid[:160, :101]
    land = 5.0 * np.abs(col - 50) + 1.0 * (100 - row)
    dem = make_dem(np.maximum(land, 0.0), cell_m=50.0)
    valley = valley_about(dem, spot_at(dem, 90, 50, "the bay"), reach_m=2000.0)
    assert valley.cells[85, 50]
    assert not valley.cells[110:].any()


def test_a_lake_at_the_end_of_the_reach_belongs_to_it_on_both_shores(make_dem: MakeDem) -> None:
    row, col = np.mgrid[:161, :101]
    land = 2.0 * np.abs(col - 50) + 1.0 * (160 - row)
    land[130:] += 40.0  # a dam; the lake behind it begins at row 40
    dem = make_dem(np.where(row < 130, np.maximum(land, 120.0), land), cell_m=50.0)
    valley = valley_about(dem, spot_at(dem, 30, 50), reach_m=1500.0)
    for side in (36, 44, 56, 64):
        assert valley.cells[55, side]


def test_valleys_drawn_by_hand(folds: Dem, tmp_path: Path) -> None:
    lon, lat = folds.grid.lonlat(np.array([90.0, 30.0]), np.array([41.0, 79.0]))
    west, south, east, north = lon[0], lat[0], lon[1], lat[1]
    drawn = gpd.GeoDataFrame(
        {"name": ["the middle"]}, crs="EPSG:4326", geometry=[shapely.box(west, south, east, north)]
    )
    drawn.to_file(tmp_path / "valleys.gpkg")
    (valley,) = valleys_in(folds, tmp_path / "valleys.gpkg")
    assert valley.name == "the middle"
    assert valley.cells[31:90, 42:79].all()
    assert not valley.cells[:, :40].any()
    far = drawn.set_geometry([shapely.box(10.0, 10.0, 11.0, 11.0)], crs="EPSG:4326")
    with pytest.raises(NoAnswer, match="no ground of the raster lies in the middle"):
        valleys_in(folds, far)


def test_shares_are_those_of_counting(folds: Dem, light: Arrival) -> None:
    valleys = [
        valley_about(folds, spot_at(folds, 60, col, name), reach_m=1500.0)
        for name, col in (("west", 20), ("middle", 60))
    ]
    times = light.clock_times(5.0)
    table = valley_shares(light, valleys, times)
    assert list(table.columns) == ["west", "middle"]
    assert list(table.index.to_pydatetime()) == times
    for valley in valleys:
        for time, share in table[valley.name].items():
            lit = known = 0
            for cell in zip(*np.nonzero(valley.cells), strict=True):
                known += bool(light.is_known[cell])
                arrives = float(light.arrives_s[cell])
                lit += arrives <= light.seconds(time.to_pydatetime())
            assert share == pytest.approx(lit / known)
    assert table.iloc[0].max() == 0.0
    assert table["middle"].is_monotonic_increasing
    assert 0.3 < table["middle"].iloc[len(times) // 2] < 1.0


def test_times_are_those_at_which_the_shares_are_reached(folds: Dem, light: Arrival) -> None:
    valley = valley_about(folds, spot_at(folds, 60, 60, "middle"), reach_m=1500.0)
    row = valley_times(light, [valley]).loc["middle"]
    cells = np.sort(light.arrives_s[valley.cells & light.is_known])
    for name, share in (("lit_10", 0.1), ("lit_50", 0.5), ("lit_90", 0.9)):
        at = row[name].to_pydatetime()
        just = dt.timedelta(seconds=0.05)
        before, after = valley_shares(light, [valley], [at - just, at + just])["middle"]
        assert before < share <= after
    assert light.seconds(row["first_light"].to_pydatetime()) == pytest.approx(cells[0], abs=0.01)
    last = np.nanmax(cells)
    assert light.seconds(row["last_light"].to_pydatetime()) == pytest.approx(last, abs=0.01)
    assert str(row["lit_50"].tz) == str(light.since.tzinfo)
    assert row["never_share"] == pytest.approx(np.isnan(cells).mean())
    assert row["unknown_share"] == 0.0


def test_what_never_comes_and_what_is_not_known(make_dem: MakeDem) -> None:
    heights = np.zeros((60, 90))
    heights[30:34, 30:60] = 2000.0  # a wall to the south hides the December sun all day
    dem = make_dem(heights)
    light = light_arrival(dem, dt.date(2025, 12, 21))
    under, east = np.zeros(dem.shape, dtype=bool), np.zeros(dem.shape, dtype=bool)
    under[24:29, 40:50] = True
    east[:, -3:] = True
    valleys = [
        Valley(name=name, grid=dem.grid, cells=cells)
        for name, cells in (("under the wall", under), ("the edge", east))
    ]
    table = valley_times(light, valleys)
    assert table.loc["under the wall", "never_share"] == 1.0
    assert table.loc["under the wall", ["first_light", "lit_50", "last_light"]].isna().all()
    assert 0.3 < table.loc["the edge", "unknown_share"] < 1.0
    outermost = Valley(name="outermost", grid=dem.grid, cells=np.arange(90) == 89 + 0 * heights)
    assert valley_times(light, [outermost]).loc["outermost", "unknown_share"] == 1.0
    assert valley_shares(light, [outermost], [light.since]).isna().all(axis=None)


def test_the_sun_is_up_all_night_from_the_start(make_dem: MakeDem) -> None:
    heights = np.zeros((200, 40))
    heights[:10] = 900.0
    dem = make_dem(heights, lon=20.0, lat=75.0)
    light = light_arrival(dem, dt.date(2025, 6, 21))
    whole = Valley(name="all", grid=dem.grid, cells=np.ones(dem.shape, dtype=bool))
    row = valley_times(light, [whole]).loc["all"]
    assert row["first_light"] == light.since
    assert row["last_light"] > light.since


def test_mist_in_a_valley_is_lit_before_its_floor() -> None:
    place = Spot(lon_deg=-24.00359, lat_deg=54.38430, name="Ilverk")
    dem = read_dem(DEMO, around=place, reach_m=9000.0)
    valley = valley_about(dem, place)
    assert 10.0 < valley.area_km2 < math.pi * 9.0
    bare = light_arrival(dem, DAY)
    misty = light_arrival(dem, DAY, mist=level_mist(dem, 280.0))
    times = [valley_times(light, [valley]).loc["Ilverk", "lit_50"] for light in (bare, misty)]
    assert times[1] < times[0] - pd.Timedelta(minutes=20)


def test_what_is_no_valley(folds: Dem, light: Arrival, make_dem: MakeDem) -> None:
    with pytest.raises(TerrainError, match=r"reaches 0\.0 m"):
        valley_about(folds, spot_at(folds, 60, 60), reach_m=0.0)
    with pytest.raises(NoGround, match="no ground at"):
        valley_about(folds, Spot(lon_deg=0.0, lat_deg=0.0))
    elsewhere = make_dem(np.arange(16.0).reshape(4, 4))
    other = Valley(name="other", grid=elsewhere.grid, cells=np.ones((4, 4), dtype=bool))
    with pytest.raises(ValueError, match="another grid"):
        valley_times(light, [other])
    with pytest.raises(ValueError, match="above 0 and up to 1"):
        valley_times(light, [], shares=[0.0])
    with pytest.raises(ValueError, match="cells of shape"):
        Valley(name="odd", grid=elsewhere.grid, cells=np.ones((3, 4), dtype=bool))


def test_all_ground_is_parted_by_mist(make_dem: MakeDem) -> None:
    heights = np.linspace(0.0, 90.0, 100).reshape(10, 10)
    heights[0, 0] = np.nan
    dem = make_dem(heights)
    (everything,) = all_ground(Country(dem))
    assert everything.name == "all ground"
    assert (everything.cells == ~np.isnan(heights)).all()
    mist = level_mist(dem, 45.0)
    under, clear = all_ground(Country(dem, mist=mist))
    assert (under.cells == mist.covers).all()
    assert (clear.cells == ~np.isnan(heights) & ~mist.covers).all()
