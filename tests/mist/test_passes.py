"""Passes on ground whose passes are known, and which way mist pours over them."""

from __future__ import annotations

from collections.abc import Callable

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from terrain.errors import NoAnswer, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.ground.relief.summits import find_summits
from terrain.ground.relief.tops import find_tops
from terrain.mist.drainage import drain
from terrain.mist.flood import find_pits, flood_levels
from terrain.mist.level import level_mist
from terrain.mist.passes import describe_pass, passes, pour_path

MakeDem = Callable[..., Dem]

CELL_M = 50.0
PASS_M = 320.0


def spot_in(dem: Dem, row: float, col: float) -> Spot:
    lon, lat = dem.grid.lonlat(row, col)
    return Spot(lon_deg=float(lon), lat_deg=float(lat))


def summits_at(dem: Dem, **places: tuple[int, int]) -> gpd.GeoDataFrame:
    row, col = np.array(list(places.values())).T
    return gpd.GeoDataFrame(
        {"name": list(places), "height_m": dem.heights_m[row, col].astype(float)},
        geometry=gpd.points_from_xy(*dem.grid.lonlat(row, col)),
        index=range(10, 10 + len(places)),
        crs="EPSG:4326",
    )


@pytest.fixture(scope="module")
def two_basins(make_dem: MakeDem) -> Dem:
    """Two bowls, floors at 220 m and 200 m, joined by a pass at 320 m; a rim of 800 m all round."""
    row, col = np.mgrid[0:61, 0:121] - np.array([30, 60])[:, None, None]
    away = np.abs(np.abs(col) - 30)
    bowl = PASS_M - 100 + 100 * (away / 30.0) ** 2 - 20 * (col > 0) * (1 - away / 30.0)
    ground = np.minimum(bowl + row**2, 800.0)
    ground[:, [0, 1, -2, -1]] = 800.0
    return make_dem(ground, cell_m=CELL_M)


@pytest.fixture(scope="module")
def saddle(make_dem: MakeDem) -> Dem:
    """Two hills, west 900 m and east 700 m, on a ridge that sinks to 405 m between them.

    Valleys run down north and south of it to the raster's edge.
    """
    row, _ = np.mgrid[0:101, 0:141]
    crest = np.interp(np.arange(141), [0, 40, 70, 100, 140], [100, 900, 405, 700, 100])
    return make_dem(crest[None, :] * np.exp(-(((row - 50) / 18.0) ** 2)), cell_m=CELL_M)


@pytest.mark.parametrize(("seed", "towards"), [((30, 30), "east"), ((30, 90), "west")])
def test_mist_pours_into_the_next_basin_at_the_height_of_the_pass(
    two_basins: Dem, seed: tuple[int, int], towards: str
) -> None:
    found = passes(two_basins, min_depth_m=50, seeds=[spot_in(two_basins, *seed)])
    one = found[found.height_m == PASS_M].iloc[0]
    assert one.pours
    assert one.pours_at_m == PASS_M
    assert one.side_b == towards
    assert one.fills_a_m < PASS_M
    assert one.fills_b_m == PASS_M
    assert one.valley_a != one.valley_b
    row, col = two_basins.grid.rowcol(one.geometry.x, one.geometry.y)
    assert (round(float(row)), round(float(col))) == (30, 60)
    seeds = [spot_in(two_basins, *seed)]
    far = (30, 90) if towards == "east" else (30, 30)
    assert not level_mist(two_basins, PASS_M, seeds=seeds).covers[far]
    assert level_mist(two_basins, PASS_M + 0.5, seeds=seeds).covers[far]
    other = {"east": "west", "west": "east"}[towards]
    assert describe_pass(one).startswith(f"at 320 m the mist in the valley to the {other} pours")


def test_both_basins_fill_by_themselves_unless_told(two_basins: Dem) -> None:
    one = passes(two_basins, min_depth_m=50).set_index("height_m").loc[PASS_M]
    assert not one.pours
    assert np.isnan(one.pours_at_m)
    # the deeper one fills first
    assert one.side_a == "east"
    assert (one.floor_a_m, one.floor_b_m) == (200.0, 220.0)
    assert (one.fills_a_m, one.fills_b_m) == (200.0, 220.0)
    assert describe_pass(one.to_dict() | {"name": "Hoo Gap", "height_m": 320.0}) == (
        "at 320 m the mists to the east and to the west meet at Hoo Gap"
    )


def test_a_pass_lies_between_two_hills_and_two_valleys(saddle: Dem) -> None:
    summits = summits_at(saddle, West=(50, 40), East=(50, 100))
    found = passes(saddle, summits=summits, min_depth_m=50, valley_km2=0.5)
    one = found[np.isclose(found.height_m, 405.0)].iloc[0]
    assert one["name"] == "East – West"
    assert (one.summit_a, one.summit_b) == (11, 10)
    assert one.depth_m == pytest.approx(295.0, abs=1e-3)
    assert {one.side_a, one.side_b} == {"north", "south"}
    assert found.crs == "EPSG:4326"
    assert found.height_m.is_monotonic_increasing


def test_a_summit_beyond_the_raster_lends_no_hill_its_name(saddle: Dem) -> None:
    summits = summits_at(saddle, West=(50, 40), East=(50, 100), Beyond=(50, 140))
    lon, lat = saddle.grid.lonlat(50, 160)
    summits.loc[12, ["height_m", "geometry"]] = 2000.0, shapely.Point(lon, lat)
    found = passes(saddle, summits=summits, min_depth_m=50, valley_km2=0.5)
    assert set(found["name"]) == {"East – West"}


def test_a_name_of_its_own_goes_before_those_of_the_summits(saddle: Dem) -> None:
    place = spot_in(saddle, 51, 71)
    names = gpd.GeoDataFrame(
        {"name": ["Hause"]},
        geometry=gpd.points_from_xy([place.lon_deg], [place.lat_deg]),
        crs="EPSG:4326",
    )
    found = passes(saddle, summits=summits_at(saddle, West=(50, 40)), names=names, min_depth_m=50)
    assert "Hause" in found["name"].tolist()


def test_what_pours_runs_down_the_far_side_to_the_floor(two_basins: Dem) -> None:
    found = passes(two_basins, min_depth_m=50, seeds=[spot_in(two_basins, 30, 30)])
    one = found[found.height_m == PASS_M].iloc[0]
    line = pour_path(two_basins, one)
    lon, lat = np.array(line.coords).T
    assert (lon[0], lat[0]) == (one.geometry.x, one.geometry.y)
    heights = two_basins.heights_at(lon, lat)
    assert heights[0] == pytest.approx(PASS_M, abs=0.1)
    assert heights[-1] == pytest.approx(one.floor_b_m, abs=0.1)
    assert np.all(np.diff(heights) < 0.1)
    row, col = two_basins.grid.rowcol(lon, lat)
    # straight down the middle of the far bowl
    np.testing.assert_allclose(row, 30, atol=1e-3)
    assert col[-1] == pytest.approx(90, abs=1e-3)


def test_a_flat_pass_counts_once(make_dem: MakeDem) -> None:
    ground = np.full((21, 41), 500.0)
    ground[8:13, 3:38] = 100.0
    ground[8:13, 17:24] = 300.0
    found = passes(make_dem(ground, cell_m=CELL_M), min_depth_m=50, valley_km2=0.01)
    assert found.height_m.tolist().count(300.0) == 1
    one = found[found.height_m == 300.0].iloc[0]
    assert {one.side_a, one.side_b} == {"east", "west"}


def test_the_lowest_pass_between_two_valleys_is_told(make_dem: MakeDem) -> None:
    # a ridge with two passes between two valleys that run down to the east
    row, col = np.mgrid[0:81, 0:161]
    valleys = 4.0 * np.minimum(np.abs(row - 10), np.abs(row - 70)) + 0.5 * (160 - col)
    crest = np.interp(col, [0, 30, 50, 80, 110, 130, 160], [500, 900, 420, 800, 460, 850, 500])
    ground = valleys + crest * np.exp(-(((row - 40) / 10.0) ** 2))
    found = passes(make_dem(ground, cell_m=CELL_M), min_depth_m=100, valley_km2=5.0)
    lowest = found.groupby(
        [np.minimum(found.valley_a, found.valley_b), np.maximum(found.valley_a, found.valley_b)]
    ).height_m.transform("min")
    np.testing.assert_array_equal(found.lowest, found.height_m == lowest)
    assert found.lowest.tolist() == [True, False]


def test_ground_without_a_pass_is_told(make_dem: MakeDem, two_basins: Dem) -> None:
    row, col = np.mgrid[0:21, 0:21]
    cone = make_dem(500 - 10 * np.hypot(row - 10, col - 10), cell_m=CELL_M)
    with pytest.raises(NoAnswer, match="there is no pass here at least 30 m deep"):
        passes(cone)
    with pytest.raises(TerrainError, match="a pass 0 m deep is none"):
        passes(two_basins, min_depth_m=0)


def test_no_pass_is_none_where_that_is_asked_for(make_dem: MakeDem, two_basins: Dem) -> None:
    slope = make_dem(np.add.outer(np.arange(40.0), np.arange(40.0)), cell_m=CELL_M)
    summits = summits_at(slope, top=(39, 39))
    with pytest.raises(NoAnswer):
        passes(slope, summits=summits)
    beside = summits_at(two_basins, rim=(0, 0))
    (found,) = passes(two_basins, summits=beside)["height_m"]
    assert found == pytest.approx(PASS_M, abs=2.0)


def test_what_is_known_of_the_ground_is_not_worked_out_again(
    two_basins: Dem, monkeypatch: pytest.MonkeyPatch
) -> None:
    expected = passes(two_basins, min_depth_m=50, seeds=[spot_in(two_basins, 30, 30)])
    tops, drainage, pits = find_tops(two_basins), drain(two_basins), find_pits(two_basins)
    summits = find_summits(two_basins, min_prominence_m=50)
    for name in ("terrain.mist.passes.drain", "terrain.mist.passes.find_tops"):
        monkeypatch.setattr(name, None)
    monkeypatch.setattr("terrain.mist.flood.find_tops", None)
    levels = flood_levels(two_basins, seeds=[spot_in(two_basins, 30, 30)], pits=pits)
    found = passes(
        two_basins, min_depth_m=50, summits=summits, levels=levels, tops=tops, drainage=drainage
    )
    pd.testing.assert_frame_equal(found, expected)
    warped = Dem(two_basins.heights_m, two_basins.grid, delivered=two_basins)
    with pytest.raises(TypeError):
        passes(warped, min_depth_m=50, summits=summits, levels=levels, tops=tops, drainage=drainage)
