"""The ground of a picture: against the skyline, against geometry, and lids with their shores."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest

from terrain.constants import EARTH_RADIUS_M
from terrain.errors import NoGround
from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.ground.raster.read import read_dem
from terrain.sight.seen import seen_ground, summits_in_view
from terrain.sight.skyline import skyline

MakeDem = Callable[..., Dem]


def spot_at(dem: Dem, row: float, col: float, eye_m: float = 1.7) -> Spot:
    lon, lat = dem.grid.lonlat(row, col)
    return Spot(lon_deg=float(lon), lat_deg=float(lat), eye_m=eye_m)


def tops(distance_m: np.ndarray, altitudes: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Altitude and distance of the highest filled cell of each column."""
    filled = ~np.isnan(distance_m)
    last = filled.shape[0] - 1 - np.argmax(filled[::-1], axis=0)
    return altitudes[last], distance_m[last, np.arange(filled.shape[1])]


def rough(make_dem: MakeDem, size: int = 120) -> Dem:
    rng = np.random.default_rng(5)
    rows, cols = np.mgrid[:size, :size]
    waves = sum(
        a * np.sin(rows / b + p) * np.cos(cols / (b + 2) + p)
        for a, b, p in zip((200, 90, 40), (17, 9, 4), rng.uniform(0, 6, 3), strict=True)
    )
    return make_dem(400 + waves)


def test_top_of_the_filled_cells_is_the_skyline(make_dem: MakeDem) -> None:
    dem = rough(make_dem)
    spot = spot_at(dem, 60.3, 58.8)
    azimuths, altitudes = np.arange(0.0, 360.0, 0.5), np.arange(-60.0, 60.0, 0.05)
    seen = seen_ground(dem, spot, azimuths_deg=azimuths, altitudes_deg=altitudes)
    sky = skyline(dem, spot, azimuths_deg=azimuths)
    top, _ = tops(seen.distance_m, altitudes)
    # of the horizon of a sea that is not known there is no picture
    ground = sky.distance_m <= sky.known_to_m
    short = (sky.altitude_deg - top)[ground]
    assert ground.mean() > 0.5
    # within 16 cells the skyline takes the crest between crossings exactly, the picture in parts
    assert np.all(short > -0.001)
    assert np.quantile(short, 0.99) < 0.05 + 1e-6
    assert short.max() < 0.1


def test_no_gaps_below_the_skyline_and_distances_grow_upward(make_dem: MakeDem) -> None:
    dem = rough(make_dem)
    seen = seen_ground(
        dem, spot_at(dem, 61, 57), azimuths_deg=np.arange(0, 360, 3), altitudes_deg=range(-80, 40)
    )
    filled = ~np.isnan(seen.distance_m)
    assert np.all(filled[:-1] | ~filled[1:])
    steps = np.diff(seen.distance_m, axis=0)
    assert np.all((steps >= -1e-3) | np.isnan(steps))
    assert np.all(seen.row[filled] >= -0.5)
    assert np.all(seen.col[filled] <= dem.shape[1] - 0.5)


def test_what_is_seen_lies_on_the_line_of_sight(make_dem: MakeDem) -> None:
    dem = rough(make_dem)
    spot = spot_at(dem, 60.2, 60.4)
    seen = seen_ground(
        dem, spot, azimuths_deg=[10, 100, 250], altitudes_deg=np.arange(-8, 3, 0.1), refraction=0.0
    )
    eye_m = dem.height_at(spot.lon_deg, spot.lat_deg) + spot.eye_m
    filled = ~np.isnan(seen.distance_m)
    lon, lat = dem.grid.lonlat(seen.row[filled], seen.col[filled])
    ground_m = dem.heights_at(lon, lat)
    distance = seen.distance_m[filled].astype(float)
    rise = (ground_m - eye_m) / distance - distance / (2 * EARTH_RADIUS_M)
    asked = np.broadcast_to(seen.altitude_deg[:, np.newaxis], filled.shape)[filled]
    # the ground between two crossings is curved, the picture takes it for straight
    miss_m = np.abs(np.tan(np.radians(asked)) - rise) * distance
    assert np.quantile(miss_m, 0.95) < 2.0
    assert miss_m.max() < 12.0


def test_bare_sphere_fills_to_the_dip(make_dem: MakeDem) -> None:
    dem = make_dem(np.zeros((400, 400)), cell_m=100.0)
    eye_m = 20.0
    dip_deg = math.degrees(math.sqrt(2 * eye_m / EARTH_RADIUS_M))
    altitudes = np.arange(-1.0, 0.5, 0.002)
    seen = seen_ground(
        dem,
        spot_at(dem, 200, 200, eye_m),
        azimuths_deg=np.arange(0, 360, 10),
        altitudes_deg=altitudes,
        refraction=0.0,
    )
    top, far = tops(seen.distance_m, altitudes)
    assert np.allclose(top, -dip_deg, atol=0.002)
    assert np.all(np.abs(far - math.sqrt(2 * EARTH_RADIUS_M * eye_m)) < 1500.0)


def test_wall_hides_what_is_behind_it(make_dem: MakeDem) -> None:
    heights = np.zeros((101, 101))
    heights[:, 70] = 100.0
    dem = make_dem(heights, cell_m=50.0)
    altitudes = np.arange(-5.0, 10.0, 0.1)
    # due east along the grid, where the raster's own meridian makes that true east
    seen = seen_ground(
        dem, spot_at(dem, 50, 50), azimuths_deg=[90.0], altitudes_deg=altitudes, refraction=0.0
    )
    distance = seen.distance_m[:, 0]
    assert np.nanmax(distance) == pytest.approx(1000.0, abs=1.0)
    top, _ = tops(seen.distance_m, altitudes)
    assert top[0] == pytest.approx(math.degrees(math.atan(98.3 / 1000.0)), abs=0.1)
    above_foot = distance[(altitudes > 0.0) & ~np.isnan(distance)]
    assert np.all((above_foot > 950.0) & (above_foot <= 1000.5))


def test_shore_is_where_the_ground_comes_out_of_the_lid(make_dem: MakeDem) -> None:
    # a ramp that rises to the east by 4 m a cell, with a lid at 122 m: halfway between two cells
    cell_m, slope = 50.0, 4.0
    heights = np.broadcast_to(slope * np.arange(101), (101, 101))
    dem = make_dem(heights, cell_m=cell_m)
    lid = np.where(heights < 126.0, 122.0, np.nan).astype(np.float32)
    lid[:, :20] = np.nan
    spot = spot_at(dem, 50, 10, 200.0)
    altitudes = np.arange(-20.0, 0.0, 0.01)
    seen = seen_ground(dem, spot, azimuths_deg=[90.0], altitudes_deg=altitudes, lid_m=lid)
    col = seen.col[:, 0]
    eye_m = 240.0
    shore_m = (30.5 - 10.0) * cell_m
    shore_deg = math.degrees(math.atan((122.0 - eye_m) / shore_m))
    at_shore = float(np.interp(shore_deg, altitudes, col))
    assert at_shore == pytest.approx(30.5, abs=0.02)
    # a little below the shore the flat lid is seen, whose distance follows from its height alone
    below = shore_deg - 0.3
    flat_m = (122.0 - eye_m) / math.tan(math.radians(below))
    assert np.interp(below, altitudes, seen.distance_m[:, 0]) == pytest.approx(flat_m, abs=1.0)
    # and a little above it the ramp
    bare = seen_ground(dem, spot, azimuths_deg=[90.0], altitudes_deg=altitudes)
    higher = altitudes > shore_deg + 0.01
    assert np.allclose(seen.col[higher], bare.col[higher], equal_nan=True)


@pytest.mark.parametrize("azimuth_deg", [30.0, 65.0, 115.0, 150.0, 245.0, 295.0])
def test_a_lid_that_slopes_is_met_where_its_plane_is(make_dem: MakeDem, azimuth_deg: float) -> None:
    """A plane 20 m under the eye that rises northward by 1 in 50 and eastward by 1 in 100."""
    row, col = np.mgrid[-60:61, -60:61]
    lid = (100.0 - 1.0 * row + 0.5 * col).astype(np.float32)
    dem = make_dem(np.zeros(lid.shape))
    altitudes = np.array([-8.0, -6.0, -4.0, -3.0])
    seen = seen_ground(
        dem,
        spot_at(dem, 60, 60, eye_m=120.0),
        azimuths_deg=[azimuth_deg],
        altitudes_deg=altitudes,
        lid_m=lid,
        refraction=1.0,
    )
    turned = np.radians(azimuth_deg)
    rise = np.cos(turned) / 50.0 + np.sin(turned) / 100.0
    expected_m = 20.0 / (np.tan(np.radians(-altitudes)) + rise)
    assert seen.distance_m.ravel() == pytest.approx(expected_m, rel=2e-3)


def test_unknown_ground_hides_nothing(make_dem: MakeDem) -> None:
    heights = np.zeros((101, 101))
    heights[:, 80] = 100.0
    heights[:, 60:70] = np.nan
    dem = make_dem(heights, cell_m=50.0)
    seen = seen_ground(dem, spot_at(dem, 50, 50), azimuths_deg=[90.0], altitudes_deg=[1.0, 2.0])
    assert seen.distance_m[:, 0] == pytest.approx([1475.0, 1475.0], abs=30.0)


def test_bad_input_is_refused(make_dem: MakeDem) -> None:
    dem = make_dem(np.zeros((20, 20)))
    spot = spot_at(dem, 10, 10)
    with pytest.raises(ValueError, match="ascend"):
        seen_ground(dem, spot, azimuths_deg=[0], altitudes_deg=[2, 1])
    with pytest.raises(ValueError, match="lid"):
        seen_ground(
            dem, spot, azimuths_deg=[0], altitudes_deg=[1], lid_m=np.zeros((3, 3), np.float32)
        )
    with pytest.raises(NoGround):
        seen_ground(dem, Spot(lon_deg=0, lat_deg=0), azimuths_deg=[0], altitudes_deg=[1])


def test_arrays_are_read_only(make_dem: MakeDem) -> None:
    dem = make_dem(np.zeros((20, 20)))
    seen = seen_ground(dem, spot_at(dem, 10, 10), azimuths_deg=[0.0], altitudes_deg=[-5.0])
    with pytest.raises(ValueError, match="read-only"):
        seen.distance_m[0, 0] = 1.0


def test_summits_in_view(make_dem: MakeDem) -> None:
    heights = np.zeros((101, 101))
    heights[:, 60] = 100.0  # a wall
    heights[50, 55], heights[50, 65], heights[50, 80] = 90.0, 110.0, 400.0
    dem = make_dem(heights, cell_m=50.0)
    lon, lat = dem.grid.lonlat([50, 50, 50, 50], [55, 65, 80, 50])
    table = gpd.GeoDataFrame(
        {"name": ["near", "behind the wall", "far", "here"], "height_m": [90.0, 110.0, 400.0, 0.0]},
        geometry=gpd.points_from_xy(lon, lat),
        crs="EPSG:4326",
    )
    view = summits_in_view(dem, spot_at(dem, 50.0, 50.0, 30.0), table)
    assert list(view["name"]) == ["near", "far"]
    assert view["distance_m"].to_numpy() == pytest.approx([250.0, 1500.0], rel=0.002)
    assert view["azimuth_deg"].to_numpy() == pytest.approx([90.0, 90.0], abs=0.1)


def test_a_summit_within_two_cells_is_where_one_stands(make_dem: MakeDem) -> None:
    dem = make_dem(np.zeros((41, 41)))
    away = [1.0, 1.9, 2.1, 3.0]
    lon, lat = dem.grid.lonlat([20.0] * 4, [20.0 + cells for cells in away])
    table = gpd.GeoDataFrame(
        {"name": [str(cells) for cells in away], "height_m": 20.0},
        geometry=gpd.points_from_xy(lon, lat),
        crs="EPSG:4326",
    )
    view = summits_in_view(dem, spot_at(dem, 20, 20), table)
    assert list(view["name"]) == ["2.1", "3.0"]


def test_drowned_summit_is_not_in_view(make_dem: MakeDem) -> None:
    heights = np.zeros((61, 61))
    heights[30, 50] = 90.0
    mist = np.maximum(heights, 100.0)
    mist[30, 30] = 300.0
    dem = make_dem(mist)
    lon, lat = dem.grid.lonlat([30], [50])
    table = gpd.GeoDataFrame(
        {"name": ["drowned"], "height_m": [90.0]},
        geometry=gpd.points_from_xy(lon, lat),
        crs="EPSG:4326",
    )
    assert summits_in_view(dem, spot_at(dem, 30, 30), table).empty


def test_real_ground_fills_to_its_skyline(open_data: Path) -> None:
    dem = read_dem(open_data / "lakeland_50m.tif")
    spot = Spot(lon_deg=-3.10, lat_deg=54.60)
    azimuths, altitudes = np.arange(300.0, 360.0, 0.1), np.linspace(-6.0, 9.0, 700)
    seen = seen_ground(dem, spot, azimuths_deg=azimuths, altitudes_deg=altitudes)
    sky = skyline(dem, spot, azimuths_deg=azimuths)
    top, _ = tops(seen.distance_m, altitudes)
    assert np.all(np.abs(sky.altitude_deg - top) < altitudes[1] - altitudes[0] + 1e-3)
