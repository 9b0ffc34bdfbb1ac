"""Heights between cells, unknown ground, and that nothing changes a `Dem`."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import RegularGridInterpolator

from terrain.errors import NoGround
from terrain.ground.dem import Dem
from tests.conftest import MakeDem


def random_heights(rows: int = 12, cols: int = 17) -> np.ndarray:
    return np.random.default_rng(7).uniform(0, 900, (rows, cols)).astype(np.float32)


def test_heights_between_cells_are_bilinear(make_dem: MakeDem) -> None:
    heights = random_heights()
    dem = make_dem(heights)
    row, col = np.random.default_rng(8).uniform(0, [[11], [16]], (2, 500))
    twin = RegularGridInterpolator((np.arange(12.0), np.arange(17.0)), heights.astype(float))
    found = dem.heights_at(*dem.grid.lonlat(row, col))
    np.testing.assert_allclose(found, twin(np.stack([row, col], axis=-1)), atol=1e-3)
    assert dem.heights_at(*dem.grid.lonlat(row.reshape(4, -1), col.reshape(4, -1))).shape == (
        4,
        125,
    )


def test_cell_centres_have_their_own_height(make_dem: MakeDem) -> None:
    dem = make_dem(random_heights())
    row, col = np.indices(dem.shape)
    found = dem.heights_at(*dem.grid.lonlat(row, col))
    np.testing.assert_allclose(found, dem.heights_m, atol=1e-3)


def test_cell_centres_beside_unknown_cells_are_known(make_dem: MakeDem) -> None:
    heights = random_heights()
    heights[::3, ::2] = np.nan
    dem = make_dem(heights, crs="EPSG:27700", lon=-3.2, lat=54.5)
    found = dem.heights_at(*dem.grid.lonlat(*np.indices(dem.shape)))
    np.testing.assert_array_equal(np.isnan(found), np.isnan(dem.heights_m))


def test_the_outer_half_of_the_edge_cells(make_dem: MakeDem) -> None:
    dem = make_dem(random_heights())
    at = [dem.grid.lonlat(-0.4, 3), dem.grid.lonlat(0, 3), dem.grid.lonlat(-0.6, 3)]
    outer, edge, off = (float(dem.heights_at(*place)) for place in at)
    assert outer == pytest.approx(edge)
    assert np.isnan(off)


def test_unknown_cells_hide_what_they_share_in_and_no_more(make_dem: MakeDem) -> None:
    heights = random_heights()
    heights[5, 6] = np.nan
    dem = make_dem(heights)
    assert np.isnan(dem.heights_at(*dem.grid.lonlat(5.5, 6.0)))
    assert np.isnan(dem.heights_at(*dem.grid.lonlat(4.1, 5.1)))
    assert np.isfinite(dem.heights_at(*dem.grid.lonlat(3.9, 6.0)))
    with pytest.raises(NoGround, match="is unknown: the raster has a void there"):
        dem.height_at(*(float(place) for place in dem.grid.lonlat(5, 6)))


def test_a_place_off_the_raster(make_dem: MakeDem) -> None:
    with pytest.raises(NoGround, match=r"no ground at 10.0000, 10.0000: the raster covers"):
        make_dem(random_heights()).height_at(10.0, 10.0)


def test_nothing_changes_a_dem(make_dem: MakeDem) -> None:
    heights = random_heights()
    dem = Dem(heights, make_dem(heights).grid)
    heights[0, 0] = -1
    assert dem.heights_m[0, 0] != -1
    assert dem.heights_m.dtype == np.float32
    with pytest.raises(ValueError, match="read-only"):
        dem.heights_m[0, 0] = 3
    assert dem.as_delivered is dem


def test_heights_must_fit_their_grid(make_dem: MakeDem) -> None:
    with pytest.raises(ValueError, match=r"heights of shape \(3, 4\) on a grid of \(12, 17\)"):
        Dem(np.zeros((3, 4), dtype=np.float32), make_dem(random_heights()).grid)


def test_heights_without_end_are_refused(make_dem: MakeDem) -> None:
    with pytest.raises(ValueError, match="unknown where it is NaN"):
        make_dem([[1.0, np.inf]])


def test_one_place_is_answered_as_among_many_to_the_last_digit(make_dem: MakeDem) -> None:
    heights = random_heights()
    heights[::3, ::4] = np.nan
    dem, draw = make_dem(heights), np.random.default_rng(9)
    row = np.append(draw.uniform(-1.0, 12.0, 400), np.repeat(np.arange(-0.5, 11.5), 17))
    col = np.append(draw.uniform(-1.0, 17.0, 400), np.tile(np.arange(17.0), 12))
    lon, lat = dem.grid.lonlat(row, col)
    many = dem.heights_at(lon, lat)
    assert np.isnan(many).any()
    for at, place in enumerate(zip(lon.tolist(), lat.tolist(), strict=True)):
        one = dem.heights_at(*place)
        assert one.shape == ()
        np.testing.assert_array_equal(one, many[at])
        row_and_col = [part[at] for part in dem.grid.rowcol(lon, lat)]
        assert list(dem.grid.rowcol(*place)) == row_and_col
