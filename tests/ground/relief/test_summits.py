"""Prominence against its definition, against cones, against surveyed hills."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from terrain.errors import NoGround, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.geodesy import azimuth_and_distance
from terrain.ground.raster.read import read_dem
from terrain.ground.relief.summits import find_summits, hill_at, hill_named
from terrain.ground.relief.tops import find_tops
from tests.conftest import MakeDem
from tests.ground import twins
from tests.plain import plain_kernels

COLUMNS = [
    "name",
    "height_m",
    "prominence_m",
    "col_height_m",
    "bounded",
    "col_lon_deg",
    "col_lat_deg",
    "geometry",
]


def cells_of(dem: Dem, lon: pd.Series, lat: pd.Series) -> list[tuple[int, int]]:
    row, col = dem.grid.rowcol(lon, lat)
    return [(round(r), round(c)) for r, c in zip(row.tolist(), col.tolist(), strict=True)]


def ridge(*heights: float) -> np.ndarray:
    """A ridge one cell wide from west to east above ground of height 0, in three more rows."""
    ground = np.zeros((5, len(heights)))
    ground[2] = heights
    return ground


grounds = arrays.arrays(
    np.float32,
    st.tuples(st.integers(1, 9), st.integers(1, 9)),
    elements=st.one_of(
        st.integers(0, 9).map(float), st.integers(0, 9).map(float), st.just(float("nan"))
    ),
)


@settings(max_examples=80, deadline=None)
@given(heights=grounds)
def test_every_summit_is_that_of_the_slow_twin(make_dem: MakeDem, heights: np.ndarray) -> None:
    dem = make_dem(heights)
    found = find_summits(dem, min_prominence_m=0.5)
    twin = [top for top in twins.summits(dem.heights_m) if top.height - top.low >= 0.5]
    assert len(found) == len(twin)
    at = cells_of(dem, found.geometry.x, found.geometry.y)
    cols = cells_of(dem, found.col_lon_deg, found.col_lat_deg)
    for summit, cell, col in zip(found.itertuples(), at, cols, strict=True):
        flat = cell[0] * dem.shape[1] + cell[1]
        (same,) = [top for top in twin if flat in top.cells]
        assert summit.height_m == same.height
        assert summit.col_height_m == same.low
        assert summit.prominence_m == same.height - same.low
        assert summit.bounded == same.bounded
        # the col is at its height, and the summit is reached from it without going lower
        assert dem.heights_m[col] == same.low
        islands = twins.islands_above(dem.heights_m, same.low)
        assert islands[col] == islands[cell]


@settings(max_examples=25, deadline=None)
@given(heights=grounds)
def test_without_compiling_the_tops_are_the_same(make_dem: MakeDem, heights: np.ndarray) -> None:
    dem = make_dem(heights)
    compiled = dataclasses.asdict(find_tops(dem))
    with plain_kernels():
        plain = dataclasses.asdict(find_tops(make_dem(heights)))
    for name, values in compiled.items():
        np.testing.assert_array_equal(values, plain[name], err_msg=name)


def two_cones(make_dem: MakeDem) -> Dem:
    """Cones of 800 and 600 m, 4000 m apart, falling 1 in 5 to a plain at 100 m.

    They meet where 800 - a/5 = 600 - (4000 - a)/5, that is a = 2500 m from the higher, at 300 m.
    """
    row, col = np.indices((241, 321))
    east, south = 50.0 * (col - 160), 50.0 * (row - 120)
    high = 800 - np.hypot(east + 2000, south) / 5
    low = 600 - np.hypot(east - 2000, south) / 5
    return make_dem(np.maximum(np.maximum(high, low), 100.0))


def test_two_cones(make_dem: MakeDem) -> None:
    dem = two_cones(make_dem)
    found = find_summits(dem)
    assert list(found.columns) == COLUMNS
    assert found.crs.to_epsg() == 4326
    assert found.height_m.tolist() == [800, 600]
    assert found.prominence_m.tolist() == pytest.approx([700, 300], abs=1e-3)
    assert found.bounded.tolist() == [True, False]
    assert found.name.tolist() == ["", ""]
    assert cells_of(dem, found.geometry.x, found.geometry.y) == [(120, 120), (120, 200)]
    assert cells_of(dem, found.col_lon_deg, found.col_lat_deg)[1] == (120, 170)
    assert found.attrs["min_prominence_m"] == 30.0


@pytest.mark.parametrize(
    ("heights", "second", "low", "bounded"),
    [
        # the key col is known: 4 lies between 7 and 9
        (ridge(0, 9, 4, 7, 1, 0), 7, 4, False),
        # from 7 one may leave by the edge at 6, above the known col at 4
        (ridge(0, 9, 4, 7, 6), 7, 6, True),
        # the way out over unknown ground at 5 is as good as the edge
        (ridge(0, 9, 4, 7, 6, 5, np.nan, 0), 7, 5, True),
        # a way out at the height of the col, or lower, tells nothing new
        (ridge(0, 9, 4, 7, 4), 7, 4, False),
        (ridge(4, 7, 4, 9, 0), 7, 4, False),
        (ridge(0, 9, 4, 7, 3), 7, 4, False),
        # the lesser top has a way out at 6: from 8 that is reached at 5, above the col at 4
        (ridge(0, 9, 4, 8, 5, 7, 6), 8, 5, True),
    ],
)
def test_cols_by_the_edge(
    make_dem: MakeDem, heights: np.ndarray, second: float, low: float, bounded: bool
) -> None:
    found = find_summits(make_dem(heights), min_prominence_m=0.5)
    summit = found[found.height_m == second].iloc[0]
    assert summit.col_height_m == low
    assert summit.prominence_m == second - low
    assert summit.bounded == bounded
    dem = make_dem(heights)
    (col,) = cells_of(dem, pd.Series([summit.col_lon_deg]), pd.Series([summit.col_lat_deg]))
    assert dem.heights_m[col] == low


def test_the_highest_is_always_bounded(make_dem: MakeDem) -> None:
    found = find_summits(make_dem(ridge(0, 9, 4, 7, 1, 0)), min_prominence_m=0.5)
    assert found.bounded.tolist() == [True, False]
    assert found.col_height_m.iloc[0] == 0


def test_a_flat_top_counts_once_in_its_middle(make_dem: MakeDem) -> None:
    heights = np.zeros((9, 12))
    heights[2:7, 3:10] = 50
    heights[3:6, 4:9] = 100
    dem = make_dem(heights)
    found = find_summits(dem)
    assert cells_of(dem, found.geometry.x, found.geometry.y) == [(4, 6)]
    # the middle of a horseshoe is not on it: the nearest cell that is
    heights[3:6, 5:8] = 50
    heights[3, 4:9] = 100
    dem = make_dem(heights)
    (at,) = cells_of(dem, *(lambda p: (p.x, p.y))(find_summits(dem).geometry))
    assert dem.heights_m[at] == 100


def test_of_two_equal_summits_the_northern_owns_the_greater_drop(make_dem: MakeDem) -> None:
    heights = ridge(0, 0, 9, 4, 9, 0, 0)
    found = find_summits(make_dem(heights.T), min_prominence_m=0.5)
    assert found.prominence_m.tolist() == [9, 5]
    assert found.geometry.y.iloc[0] > found.geometry.y.iloc[1]


def test_flat_or_unknown_ground_has_no_summit(make_dem: MakeDem) -> None:
    for heights in (np.full((5, 5), 3.0), np.full((5, 5), np.nan), np.full((1, 1), 3.0)):
        found = find_summits(make_dem(heights))
        assert found.empty
        assert list(found.columns) == COLUMNS


@pytest.mark.parametrize("prominence", [0.0, -5.0, np.nan, np.inf])
def test_a_prominence_must_be_above_zero(make_dem: MakeDem, prominence: float) -> None:
    with pytest.raises(TerrainError, match="give more than 0 m"):
        find_summits(make_dem(ridge(0, 9, 0)), min_prominence_m=prominence)


def test_prominence_is_that_of_the_ground_as_delivered(jacksboro: Dem) -> None:
    found = find_summits(jacksboro)
    delivered = find_summits(jacksboro.delivered)
    pd.testing.assert_frame_equal(found, delivered)
    highest = np.nanmax(jacksboro.delivered.heights_m)
    assert found.height_m.iloc[0] == highest
    assert (found.height_m.diff().dropna() <= 0).all()
    assert (found.prominence_m >= 30).all()
    assert 20 < len(found) < 200


def test_a_hill_by_its_name(make_dem: MakeDem) -> None:
    summits = find_summits(two_cones(make_dem), min_prominence_m=20)
    summits["name"] = ["Great Hoo", "Little Hoo"]
    hill = hill_named(summits, "  great hoo ")
    assert (hill.name, hill.height_m, hill.min_prominence_m) == ("Great Hoo", 800.0, 20.0)
    assert (hill.lon_deg, hill.lat_deg) == (summits.geometry.x[0], summits.geometry.y[0])
    assert hill_named(summits, "little").name == "Little Hoo"
    for name, message in [
        ("Hoo", "'Hoo' may be Great Hoo or Little Hoo: say which"),
        ("Litle Ho", "no summit is called 'Litle Ho': did you mean Little Hoo"),
        ("Zzz", "no summit is called 'Zzz'$"),
        ("", "no summit is called ''"),
    ]:
        with pytest.raises(TerrainError, match=message):
            hill_named(summits, name)
    summits["name"] = ["Hoo", "Hoo Pike"]
    assert hill_named(summits, "hoo").height_m == 800
    summits["name"] = ["Hoo", "Hoo"]
    with pytest.raises(TerrainError, match=r"2 summits are called Hoo, at 54\..* and 54\..*"):
        hill_named(summits, "hoo")
    summits["name"] = ["", ""]
    with pytest.raises(TerrainError, match="none has a name"):
        hill_named(summits, "hoo")


def test_a_hill_at_a_place(make_dem: MakeDem) -> None:
    dem = two_cones(make_dem)
    lon, lat = (float(place) for place in dem.grid.lonlat(122, 203))
    hill = hill_at(dem, lon, lat, name="Hoo")
    assert (hill.height_m, hill.name) == (600.0, "Hoo")
    assert cells_of(dem, pd.Series([hill.lon_deg]), pd.Series([hill.lat_deg])) == [(120, 200)]
    # no farther than asked: 3 cells east and 2 south of the top lie 180 m away
    assert hill_at(dem, lon, lat, snap_m=179).height_m < 600
    assert hill_at(dem, lon, lat, snap_m=0).height_m == dem.heights_m[122, 203]
    # all around is equal: the nearest
    flat = hill_at(dem, *(float(place) for place in dem.grid.lonlat(5, 5)))
    assert cells_of(dem, pd.Series([flat.lon_deg]), pd.Series([flat.lat_deg])) == [(5, 5)]


def test_a_hill_where_there_is_no_ground(make_dem: MakeDem) -> None:
    heights = np.full((30, 30), np.nan)
    heights[0] = 5
    dem = make_dem(heights)
    with pytest.raises(NoGround, match="unknown for 300 m around"):
        hill_at(dem, *(float(place) for place in dem.grid.lonlat(20, 15)))
    with pytest.raises(NoGround, match="the raster covers"):
        hill_at(dem, 10.0, 10.0)
    with pytest.raises(TerrainError, match="-1 m is no distance"):
        hill_at(dem, 10.0, 10.0, snap_m=-1)


def test_prominence_of_the_lakeland_summits(open_data: Path) -> None:
    """Against surveyed drops (The Database of British and Irish Hills v17.4, CC BY 4.0)."""
    found = find_summits(read_dem(open_data / "lakeland_50m.tif"), min_prominence_m=20)
    surveyed = pd.read_csv(open_data / "lakeland_summits.csv").query("drop_m >= 30")
    lon, lat = found.geometry.x.to_numpy(), found.geometry.y.to_numpy()
    _, apart = azimuth_and_distance(
        surveyed.longitude.to_numpy()[:, None], surveyed.latitude.to_numpy()[:, None], lon, lat
    )
    nearest = apart.argmin(axis=1)
    # of several lists on one top the nearest; the col of a bounded one is not known
    matched = (apart.min(axis=1) <= 300) & ~found.bounded.to_numpy()[nearest]
    assert matched.sum() > 0.93 * len(surveyed)
    rows = found.iloc[nearest[matched]]
    off_m = rows.prominence_m.to_numpy() - surveyed.drop_m.to_numpy()[matched]
    assert np.median(off_m) == pytest.approx(-3, abs=1)
    assert np.mean(np.abs(off_m) <= 15) >= 0.96
    col_off_m = rows.col_height_m.to_numpy() - surveyed.col_m.to_numpy()[matched]
    assert np.median(np.abs(col_off_m)) < 3
    assert np.percentile(np.abs(col_off_m), 90) < 6
    assert bool(found.bounded.iloc[0])


def test_noise_has_too_many_tops_to_be_summits(make_dem: MakeDem) -> None:
    noise = np.random.default_rng(4).uniform(0.0, 150.0, (1100, 1100))
    dem = make_dem(noise, cell_m=10.0)
    with pytest.raises(TerrainError, match=r"\d+ tops .* too many to be summits: ask for more"):
        find_summits(dem, min_prominence_m=0.01)
