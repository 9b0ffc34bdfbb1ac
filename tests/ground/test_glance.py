"""What a notebook shows of the objects, and ground to and from xarray."""

from __future__ import annotations

import base64
import re
from io import BytesIO

import numpy as np
import pytest
from PIL import Image

import terrain

SPOT_AT = (2.0, 2.0)


@pytest.fixture(scope="module")
def dem(make_dem):
    row, col = np.mgrid[:40, :60]
    heights = 5.0 * col + row
    heights[0, 0] = np.nan
    return make_dem(heights)


def _picture(html):
    data = re.search(r"data:image/png;base64,([^\"]+)", html)[1]
    return np.asarray(Image.open(BytesIO(base64.b64decode(data))))


def test_ground_is_told_in_one_line_and_shown(dem):
    assert len(repr(dem).splitlines()) == 1
    assert repr(dem).startswith("<Dem 40 x 60 cells of 50 m, 1 to 334 m, ")
    picture = _picture(dem._repr_html_())
    assert picture.shape == (40, 60, 2)
    assert picture[0, 0, 1] == 0
    assert picture[20, 50, 0] > picture[20, 5, 0]


def test_a_large_ground_has_a_small_picture(make_dem):
    assert max(_picture(make_dem(np.ones((700, 1000)))._repr_html_()).shape) <= 320


def test_mist_and_skyline_are_told_and_shown(dem):
    mist = terrain.level_mist(dem, 150.0)
    assert repr(mist).startswith("<Mist with its top at 150 m, over ")
    assert _picture(mist._repr_html_()).shape[:2] == dem.shape
    lon, lat = (float(part) for part in dem.grid.lonlat(20, 30))
    sky = terrain.skyline(dem, terrain.Spot(lon_deg=lon, lat_deg=lat, name="a <b>"))
    assert repr(sky).startswith("<Skyline from a <b>, camera at ")
    assert "a &lt;b&gt;" in sky._repr_html_()
    assert "<polygon" in sky._repr_html_()


def test_ground_goes_to_xarray_and_comes_back(dem):
    pytest.importorskip("xarray")
    heights = dem.to_xarray()
    back = terrain.Dem.from_xarray(heights)
    assert back.grid == dem.grid
    np.testing.assert_array_equal(back.heights_m, dem.heights_m)
    upside_down = heights.isel(y=slice(None, None, -1)).expand_dims("band")
    np.testing.assert_array_equal(terrain.Dem.from_xarray(upside_down).heights_m, dem.heights_m)


def test_another_reader_finds_the_system_of_the_ground(dem):
    pytest.importorskip("rioxarray")
    heights = dem.to_xarray()
    assert heights.rio.crs == dem.grid.crs
    assert heights.rio.transform().almost_equals(dem.grid.transform)


def test_an_array_that_is_no_ground_is_refused(dem):
    xarray = pytest.importorskip("xarray")
    heights = dem.to_xarray()
    for wrong, words in (
        (heights.drop_vars("spatial_ref"), "no reference system"),
        (heights.rename(x="east"), "dimensions"),
        (heights.assign_coords(x=heights.x**2), "evenly"),
        (xarray.DataArray([[1.0]], dims=("y", "x"), coords={"x": [0], "y": [0]}), "no size"),
    ):
        with pytest.raises(terrain.TerrainError, match=words):
            terrain.Dem.from_xarray(wrong)
