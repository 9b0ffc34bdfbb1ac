"""Cells, places and true north on grids of every kind."""

from __future__ import annotations

import pickle
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np
import pytest
from affine import Affine
from hypothesis import given
from hypothesis import strategies as st
from pyproj import CRS

from terrain.errors import NoGround, TerrainError
from terrain.ground.geodesy import azimuth_and_distance, local_transverse_mercator, wrap_deg
from terrain.ground.grid import Grid, nearest_cells


def grid_at(crs: str | CRS, lon: float, lat: float, cell: float = 50.0, size: int = 400) -> Grid:
    """A square grid with its middle at a place."""
    crs = CRS.from_user_input(crs)
    row, col = Grid(crs=crs, transform=Affine(1, 0, 0, 0, -1, 0), shape=(1, 1)).rowcol(lon, lat)
    west, north = float(col) + 0.5 - cell * size / 2, cell * size / 2 - float(row) - 0.5
    return Grid(crs=crs, transform=Affine(cell, 0, west, 0, -cell, north), shape=(size, size))


GRIDS = {
    "British National Grid": grid_at("EPSG:27700", -6.2, 57.2),
    "UTM 33 N": grid_at("EPSG:32633", 12.2, 47.6),
    "UTM 19 S": grid_at("EPSG:32719", -66.3, -22.5),
    "Lambert conic of France": grid_at("EPSG:2154", 6.9, 45.9),
    "local transverse Mercator": grid_at(local_transverse_mercator(-24, 54.4), -24, 54.4),
    "degrees": grid_at("EPSG:4326", 11.0, 50.0, cell=1 / 1200),
}


@pytest.mark.parametrize("name", GRIDS)
def test_convergence_is_the_azimuth_of_the_grid_s_north(name: str) -> None:
    grid = GRIDS[name]
    row, col = np.meshgrid([3.0, 200.0, 390.0], [5.0, 210.0, 396.0])
    lon, lat = grid.lonlat(row, col)
    azimuth, _ = azimuth_and_distance(lon, lat, *grid.lonlat(row - 0.2, col))
    np.testing.assert_allclose(grid.convergence_deg(lon, lat), wrap_deg(azimuth), atol=2e-3)
    east, _ = azimuth_and_distance(lon, lat, *grid.lonlat(row, col + 0.2))
    if name != "degrees":
        np.testing.assert_allclose(grid.grid_azimuth_deg(east, lon, lat), 90.0, atol=5e-3)


def test_convergence_exceeds_two_degrees_in_ordinary_grids() -> None:
    grid = GRIDS["British National Grid"]
    # 4.2 degrees west of the grid's meridian, times the sine of the latitude
    assert float(grid.convergence_deg(-6.2, 57.2)) == pytest.approx(-4.2 * 0.8406, abs=0.01)


def test_true_and_grid_azimuths_undo_one_another() -> None:
    grid = GRIDS["UTM 33 N"]
    azimuth = np.array([0.0, 1.0, 123.4, 359.9])
    there = grid.grid_azimuth_deg(azimuth, 12.2, 47.6)
    assert ((there >= 0) & (there < 360)).all()
    np.testing.assert_allclose(grid.true_azimuth_deg(there, 12.2, 47.6), azimuth, atol=1e-9)


@pytest.mark.parametrize("name", GRIDS)
@given(row=st.floats(-0.5, 399.5), col=st.floats(-0.5, 399.5))
def test_cells_to_places_and_back(name: str, row: float, col: float) -> None:
    grid = GRIDS[name]
    # a change of datum comes back within millimetres
    np.testing.assert_allclose(grid.rowcol(*grid.lonlat(row, col)), (row, col), atol=1e-4)


def test_whole_numbers_are_cell_centres() -> None:
    grid = Grid(crs=CRS("EPSG:4326"), transform=Affine(0.5, 0, 10, 0, -0.5, 60), shape=(4, 6))
    assert [float(place) for place in grid.lonlat(0, 0)] == [10.25, 59.75]
    assert grid.cell_of(10.01, 59.99) == (0, 0)
    assert grid.cell_of(13.0, 58.0) == (3, 5)
    assert grid.centre_lonlat == (11.5, 59.0)


def test_a_place_off_the_raster_is_told_what_there_is() -> None:
    grid = Grid(crs=CRS("EPSG:4326"), transform=Affine(0.5, 0, -2, 0, -0.5, 1), shape=(4, 8))
    coverage = "the raster covers 1.0000 S..1.0000 N, 2.0000 W..2.0000 E"
    with pytest.raises(NoGround) as caught:
        grid.cell_of(-3.0, 5.0)
    assert str(caught.value) == f"no ground at 5.0000, -3.0000: {coverage}"


def test_a_grid_across_the_date_line() -> None:
    grid = Grid(crs=CRS("EPSG:4326"), transform=Affine(0.1, 0, 179, 0, -0.1, -16), shape=(10, 20))
    for lon, col in ((179.55, 5), (-179.45, 15), (180.55, 15)):
        row_found, col_found = grid.rowcol(lon, -16.55)
        assert (float(row_found), float(col_found)) == pytest.approx((5, col))
    lon, _ = grid.lonlat(5, [5, 15])
    np.testing.assert_allclose(lon, [179.55, -179.45])
    assert "179.0000 E" in grid.coverage()


@pytest.mark.parametrize(
    ("crs", "lon", "lat", "metric"),
    [
        ("EPSG:27700", -3.2, 54.5, True),
        ("EPSG:32633", 12.2, 47.6, True),
        ("EPSG:32633+5773", 12.2, 47.6, True),
        ("EPSG:2154", 6.9, 45.9, True),
        ("EPSG:3857", -3.2, 54.5, False),  # stretched by 1/cos latitude
        ("EPSG:3857", 30.0, 0.1, True),
        ("EPSG:2277", -98.0, 30.5, False),  # US feet
        ("EPSG:3035", 10.0, 52.5, True),
        ("EPSG:3035", -8.0, 40.0, False),
        # on the diagonal from its centre the scales along meridian and parallel are both 1
        ("EPSG:3035", 31.5, 61.6, False),
    ],
)
def test_which_grids_are_metric(crs: str, lon: float, lat: float, metric: bool) -> None:
    assert grid_at(crs, lon, lat).is_metric is metric


def test_degrees_and_oblong_cells_are_not_metric() -> None:
    assert not GRIDS["degrees"].is_metric
    oblong = Affine(50, 0, 3e5, 0, -49, 5e5)
    grid = Grid(crs=CRS("EPSG:27700"), transform=oblong, shape=(5, 5))
    assert not grid.is_metric
    with pytest.raises(ValueError, match="no square cells in metres"):
        _ = grid.cell_m


@pytest.mark.parametrize("name", GRIDS)
def test_sizes_of_cells_on_the_ground(name: str) -> None:
    grid = GRIDS[name]
    width, depth = grid.cell_sizes_m()
    assert width.shape == depth.shape == (400,)
    if name == "degrees":
        # 3": 92.7 m along the meridian, less by cos latitude along the parallel
        np.testing.assert_allclose(depth, 92.7, atol=0.1)
        lat = grid.lonlat(np.arange(400), 200)[1]
        np.testing.assert_allclose(width, 92.99 * np.cos(np.radians(lat)), rtol=1e-3)
    else:
        np.testing.assert_allclose(width, 50.0, rtol=0.005)
        np.testing.assert_allclose(depth, 50.0, rtol=0.005)


def test_a_window_lies_where_its_cells_do() -> None:
    grid = GRIDS["UTM 33 N"]
    part = grid.window(30, 40, (5, 6))
    np.testing.assert_allclose(part.lonlat(2, 3), grid.lonlat(32, 43), atol=1e-12)
    assert part.shape == (5, 6)


@pytest.mark.parametrize(
    "transform",
    [Affine(50, 0, 0, 0, 50, 0), Affine(50, 1, 0, 0, -50, 0), Affine(-50, 0, 0, 0, -50, 0)],
)
def test_north_must_be_up(transform: Affine) -> None:
    with pytest.raises(ValueError, match="north up"):
        Grid(crs=CRS("EPSG:27700"), transform=transform, shape=(3, 3))


def test_a_grid_has_cells() -> None:
    with pytest.raises(ValueError, match="at least one row"):
        Grid(crs=CRS("EPSG:27700"), transform=Affine(50, 0, 0, 0, -50, 0), shape=(0, 3))


@pytest.mark.parametrize("crs", ["EPSG:32611", 32611, CRS(32611).to_wkt(), "EPSG:32611+5703"])
def test_a_grid_takes_what_pyproj_makes_a_crs_from_and_leaves_heights_out(crs: object) -> None:
    grid = Grid(crs=crs, transform=Affine(50, 0, 5e5, 0, -50, 4e6), shape=(3, 4))  # type: ignore[arg-type]
    assert grid.crs == CRS(32611)
    assert grid.cell_m == 50.0
    np.testing.assert_allclose(grid.rowcol(*grid.lonlat(1.0, 2.5)), (1.0, 2.5), atol=1e-6)


@pytest.mark.parametrize("crs", ["EPSG:no", "nowhere", 5703, None])
def test_a_grid_refuses_what_is_no_crs_of_places(crs: object) -> None:
    with pytest.raises(TerrainError, match="is no coordinate reference system of places"):
        Grid(crs=crs, transform=Affine(50, 0, 0, 0, -50, 0), shape=(3, 4))  # type: ignore[arg-type]


def test_a_grid_takes_plain_numbers_for_its_placing_and_refuses_those_that_place_nothing() -> None:
    plain = (50.0, 0.0, 5e5, 0.0, -50.0, 4e6)
    grid = Grid(crs=CRS(32611), transform=plain, shape=[3, 4])  # type: ignore[arg-type]
    assert grid.transform == Affine(*plain)
    assert grid.shape == (3, 4)
    for wrong in (np.nan, np.inf):
        with pytest.raises(ValueError, match="north up"):
            Grid(crs=CRS(32611), transform=Affine(50, 0, wrong, 0, -50, 0), shape=(3, 4))
    with pytest.raises(TypeError):
        Grid(crs=CRS(32611), transform=Affine(*plain), shape=(3.0, 4))  # type: ignore[arg-type]


@pytest.mark.parametrize("name", GRIDS)
def test_the_nearest_cells_hold_places_or_lie_at_the_edge_beside_them(name: str) -> None:
    grid = GRIDS[name]
    rng = np.random.default_rng(4)
    row, col = rng.uniform(-9.0, 409.0, (2, 5, 40))
    at_row, at_col = grid.cells_at(*grid.lonlat(row, col))
    assert at_row.shape == (5, 40)
    inside = grid.contains(row, col)
    assert inside.any()
    assert not inside.all()
    for where, found in ((row, at_row), (col, at_col)):
        assert (np.abs(where - found)[inside] <= 0.5 + 1e-6).all()
        beyond = (where < -0.5) | (where > 399.5)
        np.testing.assert_array_equal(found[beyond], np.where(where < 0, 0, 399)[beyond])
    lon, lat = (float(part) for part in grid.lonlat(row[inside][0], col[inside][0]))
    assert grid.cell_of(lon, lat) == (at_row[inside][0], at_col[inside][0])


def test_what_has_no_place_is_given_the_first_cell() -> None:
    row, col = nearest_cells([np.nan, 2.0], [3.0, np.nan], (4, 5))
    np.testing.assert_array_equal([row, col], [[0, 2], [3, 0]])


def test_each_thread_has_a_projection_of_its_own() -> None:
    grid = Grid(crs=CRS(32628), transform=Affine(50, 0, 5e5, 0, -50, 6e6), shape=(4, 4))
    here = grid._projection
    with ThreadPoolExecutor(1) as threads:
        there = threads.submit(lambda: grid._projection).result()
        turned = threads.submit(grid.convergence_deg, -14.0, 54.0).result()
    assert grid._projection is here is not there
    assert turned == grid.convergence_deg(-14.0, 54.0) != 0.0


@pytest.mark.parametrize("name", list(GRIDS))
def test_a_grid_that_was_sent_to_another_process_answers_the_same_there(name: str) -> None:
    grid = GRIDS[name]
    new = len(pickle.dumps(replace(grid)))
    asked = grid.lonlat(3.0, 7.5), grid.is_metric, grid.convergence_deg(*grid.centre_lonlat)
    there = pickle.loads(pickle.dumps(grid))
    # what follows from the placing is worked out there: to read a transformation takes 8 ms
    assert len(pickle.dumps(grid)) == new
    assert set(vars(there)) == {"crs", "transform", "shape"}
    assert there == grid
    assert (
        there.lonlat(3.0, 7.5),
        there.is_metric,
        there.convergence_deg(*there.centre_lonlat),
    ) == asked
