"""Planes of 16 bits hold what the library says, to half of their step."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import terrain
from terrain.desk.planes import NONE, Scale, metres_from, tiles_of
from terrain.errors import TerrainError
from terrain.ground.coarse import coarser
from tests.conftest import MakeDem
from tests.desk.conftest import DAY, SPOT

SHAPE = (80, 100)


def test_a_scale_gives_back_what_it_was_given_to_half_a_step():
    scale = metres_from(-3.2, 871.4)
    heights = np.linspace(-3.2, 871.4, 999)
    back = scale.low + scale.step * scale.plane(heights)
    assert np.abs(back - heights).max() <= scale.step / 2 + 1e-9
    assert scale.plane([np.nan, np.inf, -3.0])[:2].tolist() == [NONE, NONE]


@given(st.floats(-430, 8800), st.floats(0.1, 9000))
def test_a_scale_reaches_both_ends_and_no_further(low_m, span_m):
    scale = metres_from(low_m, low_m + span_m)
    assert (scale.plane([low_m, low_m + span_m]) < NONE).all()
    with pytest.raises(TerrainError, match="beyond what the map can hold"):
        scale.plane([scale.low + 65536 * scale.step])


@given(st.integers(1, 30), st.integers(1, 30), st.integers(1, 12))
def test_tiles_cover_every_cell_once(rows, cols, side):
    count = np.zeros((rows, cols), dtype=int)
    for tile in tiles_of((rows, cols), side):
        part = tile.of(count)
        assert max(part.shape) <= side
        part += 1
    assert (count == 1).all()


def test_heights_and_floods_are_the_librarys(ask, plane, table):
    told = ask("/about.json")
    scale, dem = told["heights"], table.country.dem
    for name, values in (("heights", dem.heights_m), ("flood", terrain.flood_levels(dem))):
        metres = scale["low_m"] + scale["step_m"] * plane(f"/{name}/0", *SHAPE)
        assert np.abs(metres - values).max() <= scale["step_m"] / 2 + 1e-4


def test_mist_along_the_floors_is_the_librarys(ask, plane, table):
    scale = ask("/about.json")["heights"]
    numbers = plane("/valley/0?depth_m=30&ceiling_m=150", *SHAPE)
    top_m = terrain.valley_mist(table.country.dem, 30.0, ceiling_m=150.0).top_m
    assert ((numbers == NONE) == np.isnan(top_m)).all()
    metres = scale["low_m"] + scale["step_m"] * numbers
    assert np.nanmax(np.abs(np.where(numbers == NONE, np.nan, metres) - top_m)) <= scale["step_m"]


@pytest.mark.parametrize("end", ["morning", "evening"])
def test_the_light_is_the_librarys_to_half_its_step(page, plane, table, end):
    address = f"/light/0?date=2026-03-16&end={end}&mist=level:120&fine=1"
    mist = terrain.level_mist(table.country.dem, 120.0)
    day, evening = dt.date(2026, 3, 16), end == "evening"
    arrival = terrain.light_arrival(table.country.dem, day, mist=mist, evening=evening)
    numbers = plane(address, *SHAPE)
    never = np.isnan(arrival.arrives_s)
    assert ((numbers == NONE) == never).all()
    assert 0.0 < never.mean() < 0.9
    off_s = np.abs(60.0 / 8.0 * numbers - arrival.arrives_s)
    assert off_s[~never].max() <= 60.0 / 16.0 + 0.01
    since = dt.datetime.fromisoformat(page.get(address).headers["x-from-utc"])
    assert since == arrival.since


def test_the_first_light_is_that_of_wider_cells(page, plane):
    fine = plane(f"/light/0?{DAY}&mist=level:120&fine=1", *SHAPE)
    headers = page.get(f"/light/0?{DAY}&mist=level:120&fine=0").headers
    assert (headers["x-rows"], headers["x-cols"]) == ("20", "25")
    soon = plane(f"/light/0?{DAY}&mist=level:120", 20, 25)
    both = (soon != NONE) & (fine[2::4, 2::4] != NONE)
    assert np.median(np.abs(soon - fine[2::4, 2::4])[both]) <= 8


def test_wider_cells_are_means_of_what_is_known(make_dem: MakeDem):
    heights = np.arange(35.0).reshape(5, 7)
    heights[0, 0] = heights[4, 4:] = np.nan
    dem = make_dem(heights)
    wide = coarser(dem, 4)
    assert wide.shape == (2, 2)
    assert wide.heights_m[0, 0] == pytest.approx(np.nanmean(heights[:4, :4]))
    assert np.isnan(wide.heights_m[1, 1])
    # the middle of a wide cell is that of the cells in it
    lon, lat = dem.grid.lonlat(1.5, 1.5)
    assert np.allclose(wide.grid.rowcol(lon, lat), 0.0, atol=1e-6)


def test_what_a_spot_sees_is_the_librarys(plane, table):
    camera = terrain.Spot(lon_deg=-24.0658, lat_deg=54.4056)
    camera = table.camera(camera)
    seen = terrain.viewshed(table.country.dem, camera)
    assert (plane(f"/visible/0?{SPOT}", *SHAPE) == seen).all()
    assert 0.1 < seen.mean() < 0.9


def test_days_of_the_atlas_are_the_librarys(page, plane, table):
    hill = table.hill("Lone Hill")
    atlas = terrain.backlight_atlas(table.country.under_level(120.0), hill, 2026)
    north, south = plane("/atlas/0?hill=Lone Hill&year=2026&mist=level:120", 2, *SHAPE)
    assert page.get("/atlas/0?hill=Lone Hill&year=2026").headers["x-days"] == "365"
    for numbers, days in ((north, atlas.north_day), (south, atlas.south_day)):
        assert ((numbers == NONE) == np.isnan(days)).all()
        assert np.nanmax(np.abs(np.where(numbers == NONE, np.nan, numbers) - days)) <= 0.5


def test_a_value_beyond_the_scale_is_refused():
    with pytest.raises(TerrainError):
        Scale(0.0, 1.0).plane([-1.0])
