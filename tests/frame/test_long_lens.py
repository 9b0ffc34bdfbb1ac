"""Small scenes for the lenses of a kit: which suits, how full it is, and which come first."""

from __future__ import annotations

import math

import numpy as np
import pytest

from terrain.country import Country
from terrain.frame.lens import Kit, Sensor
from terrain.frame.long_lens import small_scenes
from terrain.ground.places import Spot
from terrain.mist.level import level_mist
from tests.conftest import MakeDem

SIZE, STAND, CELL_M, TOP_M = 201, (100, 100), 50.0, 100.0
EAST, NORTH, SMALL = ((100, 160), 300.0), ((30, 100), 400.0), ((150, 130), 200.0)


@pytest.fixture
def bay(make_dem: MakeDem) -> tuple[Country, Spot]:
    """Deep mist about a mast, and three round banks ten metres under its top."""
    row, col = np.mgrid[:SIZE, :SIZE]
    heights = np.zeros((SIZE, SIZE))
    for (at_row, at_col), radius_m in (EAST, NORTH, SMALL):
        away_m = np.hypot(row - at_row, col - at_col) * CELL_M
        heights = np.where(away_m < radius_m, 91.0 - away_m / 200.0, heights)
    heights[STAND] = TOP_M + 1.0
    dem = make_dem(heights)
    lon, lat = (float(part) for part in dem.grid.lonlat(*STAND))
    spot = Spot(lon_deg=lon, lat_deg=lat, eye_m=150.0)
    return Country(dem, mist=level_mist(dem, TOP_M)), spot


def test_the_longest_lens_that_leaves_a_margin(bay: tuple[Country, Spot]) -> None:
    country, spot = bay
    table = small_scenes(country, spot, kit=Kit(lenses_mm=(24.0, (70.0, 135.0), 400.0)))
    assert len(table) == 3
    assert table["rank"].tolist() == [1, 2, 3]
    assert (np.diff(table["area_deg2"]) < 0.0).all()
    for row in table.to_dict("records"):
        # the frame's margin of 8 % along each edge
        longest_mm = 0.84 * 18.0 / math.tan(math.radians(row["width_deg"] / 2.0))
        assert row["focal_mm"] == pytest.approx(longest_mm)
        zoom = "70-135 mm", pytest.approx(min(longest_mm, 135.0))
        assert (row["lens"], row["lens_mm"]) == (zoom if longest_mm < 400.0 else ("400 mm", 400.0))
        assert row["fills"] == pytest.approx(0.84 * row["lens_mm"] / longest_mm)


def test_a_zoom_is_set_to_leave_the_margin_and_a_smaller_sensor_is_fuller(
    bay: tuple[Country, Spot],
) -> None:
    country, spot = bay
    zoom = small_scenes(country, spot, kit=Kit(lenses_mm=((100.0, 800.0),)))
    assert zoom["fills"].tolist() == pytest.approx([0.84] * 3)
    wide, narrow = (
        small_scenes(
            country, spot, kit=Kit(sensor=Sensor(width_mm=mm, height_mm=15.0), lenses_mm=(50.0,))
        )
        for mm in (36.0, 18.0)
    )
    assert narrow["fills"].iloc[0] == pytest.approx(2.0 * wide["fills"].iloc[0])


def test_what_no_lens_shows_well_is_left_out(bay: tuple[Country, Spot]) -> None:
    country, spot = bay
    assert small_scenes(country, spot, kit=Kit(lenses_mm=(12.0,))).empty
    assert small_scenes(country, spot, kit=Kit(lenses_mm=(1000.0,))).empty
    assert len(small_scenes(country, spot, count=2)) == 2
    # no trees so high
    assert small_scenes(country, spot, trees_m=(20.0, 30.0)).empty


def test_those_toward_the_hill_come_first(bay: tuple[Country, Spot]) -> None:
    country, spot = bay
    first = small_scenes(country, spot)["azimuth_deg"].round(-1).mod(360.0)
    turned = small_scenes(country, spot, toward_deg=150.0)["azimuth_deg"].round(-1).mod(360.0)
    assert turned.iloc[0] == 150.0
    assert turned.tolist()[1:] == [each for each in first if each != 150.0]


def test_without_a_mist_there_are_none(bay: tuple[Country, Spot]) -> None:
    country, spot = bay
    assert small_scenes(country.under(None), spot).empty
    assert small_scenes(country.under(None), spot, toward_deg=90.0).empty
