"""Islands on real ground against the surveyed key cols of its summits."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from numpy.typing import NDArray

from terrain.ground.dem import Dem
from terrain.ground.geodesy import azimuth_and_distance
from terrain.ground.places import Spot
from terrain.ground.raster.read import read_dem
from terrain.mist.flood import flood_levels
from terrain.mist.foremost import foremost_passes
from terrain.mist.islands import islands, label_islands
from terrain.mist.level import level_mist
from terrain.mist.passes import passes
from terrain.mist.sweep import mist_sweep

# a key col of the survey against the same col on a 50 m grid
COL_ERROR_M = 10.0

# Ordnance Survey's maps: latitude, longitude and height of the summits of four old ways
NAMED_PASSES = {
    "Dunmail Raise": (54.4958, -3.0405, 238.0),
    "Kirkstone Pass": (54.4640, -2.9265, 454.0),
    "Newlands Hause": (54.5478, -3.2505, 333.0),
    "Black Sail Pass": (54.4925, -3.2495, 545.0),
}


@pytest.fixture(scope="module")
def lakeland(open_data: Path) -> Dem:
    """OS Terrain 50 (Crown copyright), 50 m, with absent sea tiles."""
    return read_dem(open_data / "lakeland_50m.tif")


@pytest.fixture(scope="module")
def surveyed(open_data: Path) -> gpd.GeoDataFrame:
    """The Database of British and Irish Hills v17.4 (CC BY 4.0): heights, drops and key cols."""
    table = pd.read_csv(open_data / "lakeland_summits.csv")
    places = gpd.points_from_xy(table.longitude, table.latitude)
    table = table.rename(columns={"drop_m": "prominence_m"})
    return gpd.GeoDataFrame(table, geometry=places, crs="EPSG:4326")


@pytest.fixture(scope="module")
def levels(lakeland: Dem) -> NDArray[np.float32]:
    return flood_levels(lakeland)


def test_a_summit_is_an_island_of_its_own_above_its_key_col_alone(
    lakeland: Dem, surveyed: gpd.GeoDataFrame, levels: NDArray[np.float32]
) -> None:
    row, col = lakeland.grid.rowcol(surveyed.longitude, surveyed.latitude)
    cells = np.rint(row).astype(int), np.rint(col).astype(int)
    right = []
    # the highest has its key col beyond the raster
    bounded = surveyed.height_m < surveyed.height_m.max()
    for hill in surveyed[bounded & (surveyed.prominence_m >= 100)].itertuples():
        higher = (surveyed.height_m > hill.height_m).to_numpy()
        for shift_m, joined in ((COL_ERROR_M, False), (-COL_ERROR_M, True)):
            mist = level_mist(lakeland, hill.col_m + shift_m, levels=levels)
            island = label_islands(lakeland, mist)[cells]
            own = island[hill.Index]
            right.append(own > 0 and bool(np.any(island[higher] == own)) == joined)
    assert len(right) > 120
    assert np.mean(right) > 0.9


def test_skiddaw_stands_above_a_mist_from_the_valley_of_keswick(
    lakeland: Dem, surveyed: gpd.GeoDataFrame
) -> None:
    keswick = Spot(lon_deg=-3.137, lat_deg=54.601)
    mist = level_mist(lakeland, 600.0, seeds=[keswick])
    found = islands(lakeland, mist, surveyed).set_index("name")
    skiddaw = found.loc["Skiddaw"]
    # survey: 930.4 m, key col 224.7 m; Skiddaw Little Man joined by a col at 804 m
    assert skiddaw.freeboard_m == pytest.approx(330.4, abs=0.1)
    assert skiddaw.island == found.island["Skiddaw Little Man"]
    assert skiddaw.island != found.island["Blencathra - Hallsfell Top"]
    assert skiddaw.strait_m > 0
    assert not skiddaw.touches_edge


def test_absent_sea_tiles_take_no_mist(lakeland: Dem, levels: NDArray[np.float32]) -> None:
    unknown = np.isnan(lakeland.heights_m)
    assert unknown.any()
    assert np.isnan(levels[unknown]).all()
    assert np.all(levels[~unknown] >= lakeland.heights_m[~unknown])
    assert not level_mist(lakeland, 300.0, levels=levels).covers[unknown].any()


@pytest.fixture(scope="module")
def found(
    lakeland: Dem, surveyed: gpd.GeoDataFrame, levels: NDArray[np.float32]
) -> gpd.GeoDataFrame:
    """The passes between its valleys."""
    return passes(lakeland, summits=surveyed, min_depth_m=20.0, levels=levels)


def test_passes_lie_at_the_surveyed_key_cols(
    surveyed: gpd.GeoDataFrame, found: gpd.GeoDataFrame
) -> None:
    of_summit = found.dropna(subset="summit_a").drop_duplicates("summit_a").set_index("summit_a")
    # a pass has some depth; of the highest summit the key col lies beyond the raster
    asked = surveyed[(surveyed.prominence_m >= 30) & (surveyed.height_m < surveyed.height_m.max())]
    error_m = of_summit.height_m.reindex(asked.index) - asked.col_m
    assert len(asked) > 150
    assert np.mean(error_m.abs() <= COL_ERROR_M) > 0.9
    # side a fills first, and both lie below the pass
    assert (found.fills_a_m <= found.fills_b_m).all()
    assert (found[["floor_a_m", "floor_b_m"]].max(axis=1) < found.height_m).all()


def test_the_passes_that_roads_and_paths_take_are_foremost(found: gpd.GeoDataFrame) -> None:
    assert len(found) > 500
    # the lowest twenty are gaps by the coast
    assert found.head(20).height_m.max() < 25.0
    first = foremost_passes(found, 20)
    for lat_deg, lon_deg, height_m in NAMED_PASSES.values():
        lon, lat = first.geometry.x.to_numpy(), first.geometry.y.to_numpy()
        _, away_m = azimuth_and_distance(lon_deg, lat_deg, lon, lat)
        assert away_m.min() < 600.0
        assert first.height_m.iloc[away_m.argmin()] == pytest.approx(height_m, abs=COL_ERROR_M)


def test_hills_become_islands_at_their_surveyed_key_cols(
    lakeland: Dem, surveyed: gpd.GeoDataFrame, levels: NDArray[np.float32]
) -> None:
    fates = mist_sweep(lakeland, surveyed, [500.0], levels=levels).summits
    bounded = fates[(fates.prominence_m >= 30) & (fates.height_m < fates.height_m.max())]
    error_m = bounded.own_from_m - surveyed.col_m[bounded.index]
    assert len(bounded) > 150
    assert np.mean(error_m.abs() <= COL_ERROR_M) > 0.9
