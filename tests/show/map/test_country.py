"""The picture of a survey: its hills stand on their ground."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from terrain.ground.dem import Dem
from terrain.show.map.country import survey_figure
from terrain.show.map.extent import map_places
from tests.conftest import MakeDem
from tests.scenes import cone

TOPS = {"Hoo": (40, 50), "Great Hoo": (90, 120), "Far Hoo": (30, 140)}


@pytest.fixture(scope="module")
def country(make_dem: MakeDem) -> Dem:
    heights = sum(cone(181, top, 300.0, 0.3) for top in TOPS.values())
    heights[150:, :40] = np.nan
    return make_dem(heights)


def places(dem: Dem) -> tuple[np.ndarray, np.ndarray]:
    lon, lat = dem.grid.lonlat(*np.array(list(TOPS.values())).T)
    return np.asarray(lon), np.asarray(lat)


def found(dem: Dem) -> gpd.GeoDataFrame:
    """A vantage of each of the first two hills."""
    lon, lat = (part[:2] for part in places(dem))
    table = pd.DataFrame(
        {
            "hill": list(TOPS)[:2],
            "hill_lon_deg": lon,
            "hill_lat_deg": lat,
            "hill_height_m": 300.0,
            "score": [0.9, 0.6],
            "evening": [False, True],
            "days": ["2026-10-13..2026-10-15", "2026-03-02"],
        }
    )
    return gpd.GeoDataFrame(table, geometry=gpd.points_from_xy(lon, lat), crs="EPSG:4326")


def drawn(dem: Dem, ground: Dem | None) -> tuple[Figure, Axes]:
    summits = gpd.GeoDataFrame(geometry=gpd.points_from_xy(*places(dem)), crs="EPSG:4326")
    page = survey_figure(found(dem), summits=summits, ground=ground)
    page.canvas.draw()
    return page, page.axes[0]


def test_hills_stand_on_the_relief_of_their_ground(country: Dem) -> None:
    _, ax = drawn(country, country)
    assert "ground" in {image.get_gid() for image in ax.get_images()}
    expected = map_places(country.grid, *places(country))
    dots = next(line for line in ax.get_lines() if line.get_marker() == ".")
    tops = np.column_stack(dots.get_data())
    np.testing.assert_allclose(tops[-3:], expected, atol=1.0)
    (west, east), (south, north) = ax.get_xlim(), ax.get_ylim()
    assert ((expected > [west, south]) & (expected < [east, north])).all()
    # a map is as wide as it is high, on the ground as on the page
    assert east - west == pytest.approx(north - south)
    assert {text.get_text() for text in ax.texts} >= {"1", "2", "N"}


def test_without_ground_it_says_how_wide_it_is(country: Dem) -> None:
    _, ax = drawn(country, None)
    assert not ax.get_images()
    assert any("km across" in text.get_text() for text in ax.texts)
