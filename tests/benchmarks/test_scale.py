"""Ground far larger than memory: a window is read, and answers as the whole would within reach."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import numpy as np
import pytest

from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.ground.raster.parts import read_parts
from terrain.ground.raster.read import read_dem
from terrain.ground.relief.summits import find_summits
from terrain.light.day import DayAtlas, day_atlas
from terrain.sight.beyond import lowest_deg
from terrain.sight.horizon import horizon_and_distance
from terrain.sight.known import known_between, known_to, lowest_hidden_m
from terrain.sight.skyline import skyline
from terrain.sight.viewshed import margin, viewshed
from terrain.year.atlas import backlight_atlas
from tests.benchmarks.ground import CELL_M, middle, rugged
from tests.benchmarks.peers import write

SIDE = 200_000
"""Cells along a side of the sparse raster: 40 000 million cells, 160 GB if they were all there."""
KNOWN = 700
FIRST = 123_000
"""Row and column of the first known cell."""
REACH_M = 9_000.0
DAY = dt.date(2026, 3, 20)

SPARSE = """<VRTDataset rasterXSize="{side}" rasterYSize="{side}">
  <SRS>{crs}</SRS>
  <GeoTransform>{west}, {cell}, 0, {north}, 0, -{cell}</GeoTransform>
  <VRTRasterBand dataType="Float32" band="1">
    <NoDataValue>-9999</NoDataValue>
    <SimpleSource>
      <SourceFilename relativeToVRT="1">{name}</SourceFilename>
      <SourceBand>1</SourceBand>
      <SrcRect xOff="0" yOff="0" xSize="{known}" ySize="{known}"/>
      <DstRect xOff="{first}" yOff="{first}" xSize="{known}" ySize="{known}"/>
    </SimpleSource>
  </VRTRasterBand>
</VRTDataset>
"""


@pytest.fixture(scope="module")
def whole() -> Dem:
    return rugged(KNOWN)


@pytest.fixture(scope="module")
def sparse(whole: Dem, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The known ground somewhere in a raster of ground that is nowhere else known."""
    folder = tmp_path_factory.mktemp("sparse")
    write(whole, folder / "known.tif")
    _, _, west, _, _, north = whole.transform[:6]
    file = folder / "sparse.vrt"
    file.write_text(
        SPARSE.format(
            side=SIDE,
            crs=whole.crs.to_wkt().replace("<", "&lt;"),
            west=west - FIRST * CELL_M,
            north=north + FIRST * CELL_M,
            cell=CELL_M,
            name="known.tif",
            known=KNOWN,
            first=FIRST,
        )
    )
    return file


@pytest.fixture(scope="module")
def spot(whole: Dem) -> Spot:
    return middle(whole)


@pytest.fixture(scope="module")
def window(sparse: Path, spot: Spot) -> Dem:
    return read_dem(sparse, around=spot, reach_m=REACH_M)


def place_of(window: Dem, whole: Dem) -> tuple[slice, slice]:
    """The rows and columns of the whole that the window is."""
    lon, lat = window.grid.lonlat(0, 0)
    row, col = whole.grid.cell_of(float(lon), float(lat))
    return slice(row, row + window.shape[0]), slice(col, col + window.shape[1])


def test_only_the_window_is_read(window: Dem, whole: Dem) -> None:
    across = 2 * REACH_M / CELL_M
    assert across <= min(window.shape) <= max(window.shape) <= across + 20
    np.testing.assert_array_equal(window.heights_m, whole.heights_m[place_of(window, whole)])


def test_viewshed_of_a_window_is_that_of_the_whole_within_reach(
    window: Dem, whole: Dem, spot: Spot
) -> None:
    inside = place_of(window, whole)
    near, far = (margin(dem, spot, reach_m=REACH_M) for dem in (window, whole))
    np.testing.assert_allclose(near, far[inside], atol=0.02)
    seen, all_seen = (viewshed(dem, spot, reach_m=REACH_M) for dem in (window, whole))
    assert np.mean(seen == all_seen[inside]) > 0.9999
    assert np.isnan(np.delete(far, np.r_[inside[0]], axis=0)).all()  # nothing of it is beyond


def test_skyline_of_a_window_says_how_far_it_looked(window: Dem, whole: Dem, spot: Spot) -> None:
    azimuths = np.arange(0.0, 360.0, 1.0)
    near, far = (skyline(dem, spot, azimuths_deg=azimuths) for dem in (window, whole))
    assert np.all(near.known_to_m >= REACH_M - CELL_M)
    assert np.all(near.known_to_m < 1.45 * REACH_M)
    inside = far.distance_m <= near.known_to_m
    assert 20 < inside.sum() < azimuths.size
    np.testing.assert_allclose(near.altitude_deg[inside], far.altitude_deg[inside], atol=1e-4)
    assert np.all(near.altitude_deg <= far.altitude_deg + 1e-4)


def test_horizon_of_a_core_is_that_of_the_whole_but_for_ground_beyond_the_margin(
    window: Dem, whole: Dem
) -> None:
    inside, core, margin_m = place_of(window, whole), np.s_[200:-200, 200:-200], 200 * CELL_M
    near, near_m = (found[core] for found in horizon_and_distance(window, 118.0))
    far, far_m = (found[inside][core] for found in horizon_and_distance(whole, 118.0))
    # parallel lines far ahead begin elsewhere, so far ground is interpolated otherwise
    off = np.abs(near - far)[far_m < margin_m]
    assert np.median(off) < 0.01
    assert np.percentile(off, 99) < 0.2
    # what lies farther off than the window is the horizon of the sea
    sea = near_m > 1.2 * np.hypot(*window.shape) * CELL_M
    _, away_m = lowest_deg(window, window.heights_m[core], 0.13)
    np.testing.assert_allclose(near_m[sea], away_m[sea], rtol=1e-3)
    assert np.mean(near <= far + 0.2) > 0.99


def test_year_atlas_of_a_window_sees_as_that_of_the_whole(
    window: Dem, whole: Dem, spot: Spot
) -> None:
    ground_m = whole.height_at(spot.lon_deg, spot.lat_deg)
    hill = Hill(lon_deg=spot.lon_deg, lat_deg=spot.lat_deg, height_m=ground_m)
    near, far = (backlight_atlas(dem, hill, 2026) for dem in (window, whole))
    inside = place_of(window, whole)
    assert np.mean(near.sees == far.sees[inside]) > 0.999
    # ground behind the hill that is beyond the window can only be missed, not made up
    assert np.mean(near.on_skyline >= far.on_skyline[inside]) > 0.999
    same = near.on_skyline & far.on_skyline[inside] & near.has_days & far.has_days[inside]
    assert same.sum() > 100
    days = near.north_day[same] - far.north_day[inside][same]
    assert np.nanmax(np.abs(days)) <= 1


def test_the_year_atlas_of_a_window_flags_what_the_whole_decides_otherwise(
    window: Dem, whole: Dem, spot: Spot
) -> None:
    """Where ground beyond the window takes the skyline, it stands over the height that was told."""
    ground_m = whole.height_at(spot.lon_deg, spot.lat_deg)
    hill = Hill(lon_deg=spot.lon_deg, lat_deg=spot.lat_deg, height_m=ground_m)
    near, far = (backlight_atlas(dem, hill, 2026) for dem in (window, whole))
    inside = place_of(window, whole)
    lost = near.on_skyline & ~far.on_skyline[inside]
    assert lost.sum() > 40
    outside = whole.heights_m.copy()
    outside[inside] = np.nan
    # all of the ground beyond, as it happens, stands no higher than this
    assert np.mean(near.beyond_height_m()[lost] <= np.nanmax(outside)) > 0.999
    kept = near.on_skyline & (near.beyond_height_m() > np.nanmax(outside) + 1.0)
    assert kept.sum() > 100
    assert np.mean(far.on_skyline[inside][kept]) > 0.999


def test_the_way_to_a_camera_is_known_all_over_a_window(window: Dem, spot: Spot) -> None:
    assert known_between(window, spot).all()
    assert known_to(window, 118.0).max() < np.sqrt(2.0) * 2.1 * REACH_M


@pytest.fixture(scope="module")
def mornings(window: Dem, whole: Dem) -> tuple[DayAtlas, DayAtlas]:
    """One morning over the window and over the whole."""
    near, far = (
        day_atlas(dem, DAY, summits=find_summits(dem, min_prominence_m=200.0))
        for dem in (window, whole)
    )
    return near, far


def test_first_light_of_a_window_is_that_of_the_whole_within_what_is_known(
    window: Dem, whole: Dem, mornings: tuple[DayAtlas, DayAtlas]
) -> None:
    near, far = mornings
    inside = place_of(window, whole)
    moments, all_moments = near.arrival.arrives_s, far.arrival.arrives_s[inside]
    distance_m = far.distance_m[inside]
    within = np.isfinite(moments) & np.isfinite(all_moments) & (distance_m < near.known_to_m)
    assert within.mean() > 0.6
    off_s = np.abs(moments - all_moments)[within]
    # both are as near to the truth as the light itself says it is: 2 s for half, 20 s for most
    assert np.median(off_s) < 1.0
    assert np.percentile(off_s, 95) < 20.0
    azimuth_deg = np.abs(near.arrival.azimuth_deg - far.arrival.azimuth_deg[inside])[within]
    assert np.percentile(azimuth_deg, 95) < 0.1
    apart_m = np.abs(near.distance_m - distance_m)[within]
    assert np.median(apart_m) < CELL_M
    assert np.mean(apart_m < 0.05 * distance_m[within] + 2.0 * CELL_M) > 0.97


def test_first_light_of_a_window_flags_where_hidden_ground_delays_the_sun(
    window: Dem, whole: Dem, mornings: tuple[DayAtlas, DayAtlas]
) -> None:
    near, far = mornings
    inside = place_of(window, whole)
    known = near.arrival.is_known & np.isfinite(near.arrival.arrives_s)
    later_s = (far.arrival.arrives_s[inside] - near.arrival.arrives_s)[known]
    assert np.nanpercentile(later_s, 1) > -40.0  # ground that comes in can only delay the sun
    delayed = later_s > 120.0
    assert delayed.sum() > 500
    hidden_m = near.beyond_height_m()[known][delayed]
    # the sun comes over ground beyond what was known, and that stands over the height told
    over = far.distance_m[inside][known][delayed] > near.known_to_m[known][delayed]
    assert np.mean(over) > 0.97
    outside = whole.heights_m.copy()
    outside[inside] = np.nan
    assert np.mean(hidden_m <= np.nanmax(outside)) > 0.99
    out = near.left_out()
    assert out.cells == 100_000
    assert out.known_m < far.left_out().known_m


def north(dem: Dem) -> float:
    """True azimuth of the grid's north in the middle of a raster, degrees."""
    return float(dem.grid.convergence_deg(*dem.grid.centre_lonlat))


def test_a_field_put_together_from_parts_is_that_of_the_whole(sparse: Path, whole: Dem) -> None:
    """The horizon of every cell, part by part; where the margin was too narrow is flagged."""
    found, hidden, times = (np.full(whole.shape, np.nan) for _ in range(3))
    times[:] = 0.0
    side_m, margin_m = 7_500.0, 6_000.0
    known = sparse.with_name("known.tif")
    for part in read_parts(known, side_m=side_m, margin_m=margin_m):
        rows, cols = place_of(part.dem, whole)
        own = part.is_own
        # along the same line of the grid: each raster takes north at its own middle
        turn = float(np.subtract(*(north(dem) for dem in (part.dem, whole))))
        altitude, _ = horizon_and_distance(part.dem, 118.0 + turn)
        found[rows, cols][own] = altitude[own]
        beyond = lowest_hidden_m(part.dem.heights_m, altitude, known_to(part.dem, 118.0))
        hidden[rows, cols][own] = beyond[own]
        times[rows, cols] += own
    assert (times == 1.0).all()
    altitude, distance_m = horizon_and_distance(whole, 118.0)
    np.testing.assert_array_equal(np.isnan(found), np.isnan(altitude))
    off = np.abs(found - altitude)
    within = distance_m < margin_m
    assert np.median(off[within]) < 0.01
    assert np.percentile(off[within], 99) < 0.2
    # nothing can differ where no ground at all stands as high as hidden ground would have to
    lower = found < altitude - 0.3
    assert np.mean(hidden[lower] <= np.nanmax(whole.heights_m)) > 0.99
    assert np.nanpercentile((found - altitude)[~within], 99) < 0.2
