"""Files of every kind come in as the same ground, and what cannot be ground is refused."""

from __future__ import annotations

import re
import subprocess
import sys
import tracemalloc
import warnings
import zipfile
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio
import rasterio.shutil
from affine import Affine
from pyproj import CRS
from rasterio.enums import ColorInterp
from rasterio.errors import NotGeoreferencedWarning, RasterioIOError

from terrain.errors import NoGround, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.geodesy import azimuth_and_distance, destination
from terrain.ground.grid import Grid
from terrain.ground.places import Spot
from terrain.ground.raster.read import read_dem

UTM28 = "EPSG:32628"
AT_UTM = Affine(50, 0, 480_000, 0, -50, 6_040_000)
THREE_SECONDS = 3 / 3600


def write(file: Path, heights: Any, transform: Affine = AT_UTM, **profile: Any) -> Path:
    heights = np.asarray(heights)
    bands = heights if heights.ndim == 3 else heights[None]
    profile = {"driver": "GTiff", "crs": UTM28, "dtype": bands.dtype, **profile}
    units = profile.pop("units", None)
    count, rows, cols = bands.shape
    profile |= {"count": count, "height": rows, "width": cols, "transform": transform}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        with rasterio.open(file, "w", **profile) as raster:
            raster.write(bands)
            if units:
                raster.units = (units,)
    return file


def country(rows: int = 60, cols: int = 80) -> np.ndarray:
    """Rolling ground of a few hundred metres, smooth over three cells."""
    row, col = np.mgrid[:rows, :cols]
    rolling = 300 + 120 * np.sin(row / 7) * np.cos(col / 9) + 40 * np.sin(col / 4 + row / 5)
    return rolling.astype(np.float32)


def lonlat_sheet(west: float, north: float, step: float = THREE_SECONDS) -> Affine:
    return Affine(step, 0, west, 0, -step, north)


def test_a_metric_raster_is_used_as_it_is(tmp_path: Path) -> None:
    dem = read_dem(write(tmp_path / "utm.tif", country()))
    assert dem.delivered is None
    assert dem.transform == AT_UTM
    assert dem.crs == CRS(UTM28)
    assert dem.cell_m == 50.0
    np.testing.assert_array_equal(dem.heights_m, country())
    assert not dem.heights_m.flags.writeable


def test_a_geographic_raster_is_warped_and_kept_as_delivered(tmp_path: Path) -> None:
    file = write(tmp_path / "deg.tif", country(), lonlat_sheet(-24.0, 54.5), crs="EPSG:4326")
    dem = read_dem(file)
    assert dem.delivered is not None
    np.testing.assert_array_equal(dem.delivered.heights_m, country())
    assert dem.grid.is_metric
    # the finer side, 3" of longitude at 54.475 N: a cos(lat) / sqrt(1 - e² sin²(lat)) of WGS 84
    latitude = np.radians(54.475)
    parallel = 6_378_137 * np.cos(latitude) / np.sqrt(1 - 0.00669438 * np.sin(latitude) ** 2)
    assert dem.cell_m == pytest.approx(parallel * np.radians(THREE_SECONDS), rel=1e-4)
    # scale 1 in the middle, where grid north is true north
    lon, lat = dem.grid.centre_lonlat
    assert abs(float(dem.grid.convergence_deg(lon, lat))) < 0.01
    lons, lats = dem.grid.lonlat([30, 30], [30, 31])
    assert azimuth_and_distance(lons[0], lats[0], lons[1], lats[1])[1] == pytest.approx(
        dem.cell_m, rel=1e-5
    )
    # and the ground is where it was
    row, col = np.mgrid[5:55, 5:75]
    there = dem.heights_at(*dem.delivered.grid.lonlat(row, col))
    assert np.abs(there - country()[5:55, 5:75]).max() < 0.6
    assert np.sqrt(np.mean((there - country()[5:55, 5:75]) ** 2)) < 0.15


def test_warped_ground_keeps_within_the_heights_delivered(tmp_path: Path) -> None:
    cliff = np.zeros((60, 80), dtype=np.float32)
    cliff[20:40, 30:50] = 900.0
    file = write(tmp_path / "cliff.tif", cliff, lonlat_sheet(-24.0, 54.5), crs="EPSG:4326")
    dem = read_dem(file)
    assert np.nanmin(dem.heights_m) == 0.0
    assert np.nanmax(dem.heights_m) == 900.0


def test_voids_do_not_bleed_when_warped(tmp_path: Path) -> None:
    heights = country()
    heights[20:30, 30:40] = -32768
    file = write(tmp_path / "void.tif", heights, lonlat_sheet(-24.0, 54.5), crs="EPSG:4326")
    dem = read_dem(file)
    known = country()
    assert np.nanmin(dem.heights_m) >= known.min()
    assert np.nanmax(dem.heights_m) <= known.max()
    row, col = dem.delivered.grid.rowcol(*dem.grid.lonlat(*np.indices(dem.shape)))
    in_void = (row > 19.6) & (row < 29.4) & (col > 29.6) & (col < 39.4)
    outside = (row > 1) & (row < 58) & (col > 1) & (col < 78)
    outside &= (row < 18.9) | (row > 30.1) | (col < 28.9) | (col > 40.1)
    assert np.isnan(dem.heights_m[in_void]).all()
    assert in_void.sum() > 80
    assert not np.isnan(dem.heights_m[outside]).any()


@pytest.mark.parametrize("void", [-9999.0, -32768.0, -32767.0, -3.4028235e38, 1e20, -12000.0])
def test_undeclared_voids_are_unknown(tmp_path: Path, void: float) -> None:
    heights = country()
    heights[3, 4] = void
    dem = read_dem(write(tmp_path / "void.tif", heights))
    assert np.argwhere(np.isnan(dem.heights_m)).tolist() == [[3, 4]]


@pytest.mark.parametrize("nodata", [0.0, 123.456789, float("nan"), -1.7976931348623157e308])
def test_declared_nodata_is_unknown(tmp_path: Path, nodata: float) -> None:
    heights = country().astype(np.float64)
    heights[3, 4] = nodata
    dem = read_dem(write(tmp_path / "nodata.tif", heights, nodata=nodata))
    assert np.argwhere(np.isnan(dem.heights_m)).tolist() == [[3, 4]]


def test_nodata_rounded_by_storage_is_unknown(tmp_path: Path) -> None:
    heights = country()
    heights[3, 4] = np.float32(123.456789) + np.float32(1e-5)
    dem = read_dem(write(tmp_path / "nodata.tif", heights, nodata=123.456789))
    assert np.argwhere(np.isnan(dem.heights_m)).tolist() == [[3, 4]]


def test_cells_masked_by_a_mask_or_an_alpha_band_are_unknown(tmp_path: Path) -> None:
    masked = write(tmp_path / "masked.tif", country())
    mask = np.full(country().shape, 255, dtype=np.uint8)
    mask[3, 4] = 0
    with rasterio.open(masked, "r+") as raster:
        raster.write_mask(mask)
    both = np.stack([country().astype(np.int16), mask.astype(np.int16)])
    alpha = write(tmp_path / "alpha.tif", both)
    with rasterio.open(alpha, "r+") as raster:
        raster.colorinterp = (ColorInterp.gray, ColorInterp.alpha)
    for file in (masked, alpha):
        assert np.argwhere(np.isnan(read_dem(file).heights_m)).tolist() == [[3, 4]]


@pytest.mark.parametrize("north_up", [True, False])
def test_a_raster_stored_from_the_south_is_turned_over(tmp_path: Path, north_up: bool) -> None:
    rows, _ = country().shape
    south_up = Affine(50, 0, 480_000, 0, 50, 6_040_000 - 50 * rows)
    heights, transform = (country(), AT_UTM) if north_up else (country()[::-1], south_up)
    file = write(tmp_path / "turned.tif", heights, transform)
    dem = read_dem(file)
    assert dem.transform == AT_UTM
    np.testing.assert_array_equal(dem.heights_m, country())
    lon, lat = (float(place) for place in dem.grid.lonlat(20, 30))
    part = read_dem(file, around=Spot(lon_deg=lon, lat_deg=lat), reach_m=300)
    np.testing.assert_array_equal(part.heights_m, country()[14:27, 24:37])


def test_a_turned_raster_is_straightened(tmp_path: Path) -> None:
    cos, sin = 50 * np.cos(np.radians(30)), 50 * np.sin(np.radians(30))
    turned = Affine(cos, sin, 480_000, sin, -cos, 6_040_000)
    dem = read_dem(write(tmp_path / "turned.tif", country(), turned))
    assert dem.transform.b == 0
    easting, northing = 480_000 + cos * 30.5 + sin * 20.5, 6_040_000 + sin * 30.5 - cos * 20.5
    lon, lat = dem.grid.lonlat(
        (dem.transform.f - northing) / 50 - 0.5, (easting - dem.transform.c) / 50 - 0.5
    )
    assert dem.height_at(float(lon), float(lat)) == pytest.approx(country()[20, 30], abs=4.0)


@pytest.mark.parametrize(
    ("crs", "cell"), [("EPSG:3857", 80.0), ("EPSG:2277", 150.0), ("EPSG:3035", 50.0)]
)
def test_stretched_and_foot_grids_are_warped(tmp_path: Path, crs: str, cell: float) -> None:
    # web Mercator; Texas in US feet; equal area, far from its centre
    lon, lat = {"EPSG:2277": (-98.0, 30.5), "EPSG:3857": (-3, 54.4), "EPSG:3035": (-8, 40)}[crs]
    at = Grid(crs=CRS(crs), transform=Affine(1, 0, 0, 0, -1, 0), shape=(1, 1))
    south, east = (float(place) for place in at.rowcol(lon, lat))
    transform = Affine(cell, 0, east, 0, -cell, -south)
    dem = read_dem(write(tmp_path / "stretched.tif", country(), transform, crs=crs))
    assert dem.delivered is not None
    lon, lat = dem.delivered.grid.lonlat(30, 40)
    assert dem.height_at(float(lon), float(lat)) == pytest.approx(country()[30, 40], abs=3.0)
    lons, lats = dem.grid.lonlat([30, 30, 31], [40, 41, 40])
    _, distance = azimuth_and_distance(lons[0], lats[0], lons[1:], lats[1:])
    np.testing.assert_allclose(distance, dem.cell_m, rtol=1e-4)


def test_cells_of_another_size_on_request(tmp_path: Path) -> None:
    file = write(tmp_path / "utm.tif", country())
    dem = read_dem(file, cell_m=100)
    assert dem.shape == (30, 40)
    assert dem.cell_m == 100
    np.testing.assert_array_equal(dem.delivered.heights_m, country())
    means = country().reshape(30, 2, 40, 2).mean(axis=(1, 3))
    assert np.abs(dem.heights_m - means)[1:-1, 1:-1].max() < 5.0
    assert read_dem(file, cell_m=50).delivered is None
    few = write(tmp_path / "few.tif", country()[:4, :4])
    assert read_dem(few, cell_m=0.5).cell_m == 0.5


def test_coarser_cells_are_means(tmp_path: Path) -> None:
    towers = np.zeros((120, 160), dtype=np.float32)
    towers[2::5, 2::5] = 100.0
    dem = read_dem(write(tmp_path / "towers.tif", towers), cell_m=500)
    # one cell in 25 holds a tower of 100 m
    np.testing.assert_allclose(dem.heights_m[1:-1, 1:-1], 4.0, atol=1.5)


@pytest.mark.parametrize(("unit", "metres"), [("foot", 0.3048), ("us-survey-foot", 1200 / 3937)])
def test_feet_become_metres(tmp_path: Path, unit: str, metres: float) -> None:
    feet = write(tmp_path / "feet.tif", country())
    np.testing.assert_allclose(
        read_dem(feet, height_unit=unit).heights_m, country() * metres, rtol=1e-6
    )


@pytest.mark.parametrize(
    ("word", "unit", "metres"),
    [
        ("ft", "foot", 0.3048),
        ("US survey foot", "us-survey-foot", 1200 / 3937),
        ("m", "metre", 1.0),
    ],
)
def test_the_unit_a_file_declares_is_used(
    tmp_path: Path, word: str, unit: str, metres: float
) -> None:
    file = write(tmp_path / "said.tif", country(), units=word)
    for given in (None, unit):
        heights = read_dem(file, height_unit=given).heights_m
        np.testing.assert_allclose(heights, country() * metres, rtol=1e-6)
    other = "foot" if unit == "metre" else "metre"
    with pytest.raises(TerrainError, match=f'"{word}", not in {other}: .* give "{unit}"') as said:
        read_dem(file, height_unit=other)
    assert "\n" not in str(said.value)


def test_the_unit_of_a_vertical_system_is_used(tmp_path: Path) -> None:
    vertical = write(tmp_path / "vertical.tif", country(), crs="EPSG:32628+6360")
    np.testing.assert_allclose(read_dem(vertical).heights_m, country() * 1200 / 3937, rtol=1e-6)
    with pytest.raises(TerrainError, match=r'not in metre: .* "us-survey-foot"'):
        read_dem(vertical, height_unit="metre")
    with pytest.raises(TerrainError, match=r"'fathom' .* metre, foot, us-survey-foot"):
        read_dem(vertical, height_unit="fathom")


def test_sheets_each_in_their_own_unit(tmp_path: Path) -> None:
    whole = country()
    aside = Affine(50, 0, 482_000, 0, -50, 6_040_000)
    feet = write(tmp_path / "feet.tif", whole[:, :40] / 0.3048, units="ft")
    metres = write(tmp_path / "metres.tif", whole[:, 40:], aside)
    np.testing.assert_allclose(read_dem([feet, metres]).heights_m, whole, rtol=1e-6)


def test_heights_too_high_for_metres_are_questioned(tmp_path: Path) -> None:
    # Mount Rainier is 14,410 feet high (USGS), and no ground on earth reaches 9,000 m
    peak = 10_000 + (country() - country().min()) / np.ptp(country()) * 4410
    file = write(tmp_path / "feet.tif", peak)
    with pytest.raises(TerrainError, match=r'feet.tif goes to 14410, higher .* "foot"') as said:
        read_dem(file)
    assert "\n" not in str(said.value)
    np.testing.assert_allclose(read_dem(file, height_unit="foot").heights_m, peak * 0.3048, 1e-6)
    # whoever says metres is believed, and such heights are faults
    peak[0, 0] = 800.0
    write(file, peak)
    assert np.isfinite(read_dem(file, height_unit="metre").heights_m).sum() == 1
    said_feet = write(tmp_path / "said.tif", peak, units="ft")
    assert np.isfinite(read_dem(said_feet).heights_m).all()


def test_heights_too_low_for_land_are_questioned(tmp_path: Path) -> None:
    # the Dead Sea lies 430 m, 1410 feet, below the sea; off Crete the seabed lies as low
    shore = country() - country().min() - 1410
    for lon, lat, is_land in ((35.4, 31.6, True), (25.5, 34.6, False)):
        file = write(tmp_path / "low.tif", shore, lonlat_sheet(lon, lat), crs="EPSG:4326")
        if is_land:
            with pytest.raises(TerrainError, match=r'low.tif goes to -1410, lower .* "foot"'):
                read_dem(file)
        else:
            np.testing.assert_array_equal(read_dem(file).delivered.heights_m, shore)
        dem = read_dem(file, height_unit="foot").delivered
        np.testing.assert_allclose(dem.heights_m, shore * 0.3048, rtol=1e-5)


@pytest.mark.parametrize(
    ("west", "north"), [(35.4, 33.02), (35.88, 31.6), (35.16, 31.6), (35.4, 30.52)]
)
def test_a_sheet_that_reaches_into_the_lowest_country_is_questioned(
    tmp_path: Path, west: float, north: float
) -> None:
    """Over each border of it, by 4 km."""
    shore = country() - country().min() - 1410
    write(tmp_path / "low.tif", shore, lonlat_sheet(west, north), crs="EPSG:4326")
    with pytest.raises(TerrainError, match="lower than any land"):
        read_dem(tmp_path / "low.tif")


def test_scale_and_offset_of_the_band_are_applied(tmp_path: Path) -> None:
    decimetres = np.round((country() - 100) * 10).astype(np.int16)
    file = write(tmp_path / "scaled.tif", decimetres)
    with rasterio.open(file, "r+") as raster:
        raster.scales, raster.offsets = (0.1,), (100.0,)
    np.testing.assert_allclose(read_dem(file).heights_m, country(), atol=0.051)


def test_an_ascii_grid_needs_to_be_told_its_crs(tmp_path: Path) -> None:
    file = tmp_path / "grid.asc"
    head = "ncols 3\nnrows 2\nxllcorner 320000\nyllcorner 510000\ncellsize 50\nNODATA_value -99\n"
    file.write_text(head + "1 2 3\n4 5 -99\n")
    with pytest.raises(TerrainError, match=r"grid.asc does not say its coordinate reference"):
        read_dem(file)
    dem = read_dem(file, crs="EPSG:27700")
    np.testing.assert_array_equal(dem.heights_m, [[1, 2, 3], [4, 5, np.nan]])
    assert dem.crs == CRS("EPSG:27700")
    assert dem.transform == Affine(50, 0, 320_000, 0, -50, 510_100)
    for crs in ("nonsense", "EPSG:5701"):  # the latter is one of heights
        with pytest.raises(TerrainError, match=f"{crs} is no coordinate reference system"):
            read_dem(file, crs=crs)


def test_a_crs_that_contradicts_the_file_is_refused(tmp_path: Path) -> None:
    file = write(tmp_path / "utm.tif", country())
    with pytest.raises(TerrainError, match=r"utm.tif is in WGS 84 / UTM zone 28N, not in .*leave"):
        read_dem(file, crs="EPSG:27700")
    assert read_dem(file, crs=UTM28).delivered is None


def test_a_crs_without_a_place_on_the_earth_is_refused(tmp_path: Path) -> None:
    site = 'LOCAL_CS["building site",UNIT["metre",1]]'
    file = write(tmp_path / "site.tif", country(), crs=site)
    with pytest.raises(TerrainError, match=r"site.tif is in building site, which has no known"):
        read_dem(file)


def test_sheets_side_by_side_make_one_ground(tmp_path: Path) -> None:
    whole = country()
    parts = [(0, 0), (0, 40), (30, 0), (30, 40)]
    files = [
        write(
            tmp_path / f"{row}_{col}.tif",
            whole[row : row + 30, col : col + 40],
            Affine(50, 0, 480_000 + 50 * col, 0, -50, 6_040_000 - 50 * row),
        )
        for row, col in parts
    ]
    dem = read_dem(files[::-1])
    assert dem.transform == AT_UTM
    np.testing.assert_array_equal(dem.heights_m, whole)
    lon, lat = (float(place) for place in dem.grid.lonlat(30, 40))
    part = read_dem(files, around=Spot(lon_deg=lon, lat_deg=lat), reach_m=500)
    np.testing.assert_array_equal(part.heights_m, whole[20:41, 30:51])


def test_more_sheets_than_may_be_open_at_once(tmp_path: Path) -> None:
    resource = pytest.importorskip("resource")
    whole = country()
    files = [
        write(
            tmp_path / f"{row}_{col}.tif",
            whole[row : row + 5, col : col + 5],
            Affine(50, 0, 480_000 + 50 * col, 0, -50, 6_040_000 - 50 * row),
        )
        for row in range(0, 60, 5)
        for col in range(0, 80, 5)
    ]
    before = resource.getrlimit(resource.RLIMIT_NOFILE)
    resource.setrlimit(resource.RLIMIT_NOFILE, (100, before[1]))
    try:
        dem = read_dem(files)
    finally:
        resource.setrlimit(resource.RLIMIT_NOFILE, before)
    np.testing.assert_array_equal(dem.heights_m, whole)


def test_sheets_that_share_a_row_leave_no_seam(tmp_path: Path) -> None:
    whole = country()
    upper, lower = whole[:31].copy(), whole[30:].copy()
    upper[30, 10] = -32768  # a void that the other sheet knows
    files = [
        write(tmp_path / "n.tif", upper, lonlat_sheet(-24, 54.5), crs="EPSG:4326"),
        write(
            tmp_path / "s.tif",
            lower,
            lonlat_sheet(-24, 54.5 - 30 * THREE_SECONDS + 1e-10),
            crs="EPSG:4326",
        ),
    ]
    dem = read_dem(files)
    np.testing.assert_array_equal(dem.delivered.heights_m, whole)
    np.testing.assert_array_equal(read_dem(files[::-1]).delivered.heights_m, whole)


def test_sheets_of_wider_cells_join_those_of_finer(tmp_path: Path) -> None:
    # as global models have it, whose cells grow wider by steps towards the pole
    def plane(row: np.ndarray, col: np.ndarray) -> np.ndarray:
        return (500 + 0.5 * row + 2 * col).astype(np.float32)

    row, col = np.mgrid[:40, :80].astype(float)
    files = [
        write(
            tmp_path / "wide.tif",
            plane(row[:, :40], 2 * col[:, :40] + 0.5),
            Affine(2 * THREE_SECONDS, 0, -24, 0, -THREE_SECONDS, 55),
            crs="EPSG:4326",
        ),
        write(
            tmp_path / "fine.tif",
            plane(row + 40, col),
            lonlat_sheet(-24, 55 - 40 * THREE_SECONDS),
            crs="EPSG:4326",
        ),
    ]
    heights = read_dem(files).delivered.heights_m
    assert heights.shape == (80, 80)
    expected = plane(*np.mgrid[:80, :80].astype(float))
    np.testing.assert_allclose(heights[:, 1:-1], expected[:, 1:-1], atol=1e-3)
    assert not np.isnan(heights).any()


def test_sheets_across_the_date_line_are_neighbours(tmp_path: Path) -> None:
    whole = country()
    west, east = whole[:, :40], whole[:, 40:]
    files = [
        write(
            tmp_path / "w.tif", west, lonlat_sheet(180 - 40 * THREE_SECONDS, -16), crs="EPSG:4326"
        ),
        write(tmp_path / "e.tif", east, lonlat_sheet(-180, -16), crs="EPSG:4326"),
    ]
    for order in (files, files[::-1]):
        dem = read_dem(order)
        np.testing.assert_array_equal(dem.delivered.heights_m, whole)
        for col in (30, 50):
            lon, lat = (float(place) for place in dem.delivered.grid.lonlat(30, col))
            assert -180 <= lon < 180
            assert dem.height_at(lon, lat) == pytest.approx(whole[30, col], abs=3.0)
            part = read_dem(order, around=Spot(lon_deg=lon, lat_deg=lat), reach_m=500)
            assert part.height_at(lon, lat) == pytest.approx(whole[30, col], abs=3.0)


def test_sheets_in_different_systems_are_refused(tmp_path: Path) -> None:
    files = [
        write(tmp_path / "a.tif", country()),
        write(tmp_path / "b.tif", country(), crs="EPSG:32629"),
    ]
    with pytest.raises(TerrainError, match=r"a.tif is in .*28N but .*b.tif in .*29N"):
        read_dem(files)


@pytest.mark.parametrize(
    ("crs", "datum"),
    [
        (UTM28, ""),
        ("EPSG:27700+5701", "Ordnance Datum Newlyn"),
        ("EPSG:4326+5773", "EGM96 geoid"),
    ],
)
def test_what_heights_are_counted_from_is_kept(tmp_path: Path, crs: str, datum: str) -> None:
    placing = lonlat_sheet(-24.0, 54.5) if crs.startswith("EPSG:4326") else AT_UTM
    dem = read_dem(write(tmp_path / "said.tif", country(), placing, crs=crs))
    assert dem.vertical_datum == datum
    assert dem.as_delivered.vertical_datum == datum
    assert not dem.crs.is_compound


def test_sheets_above_different_levels_are_refused(tmp_path: Path) -> None:
    aside = Affine(50, 0, 484_000, 0, -50, 6_040_000)
    first = write(tmp_path / "first.tif", country(), crs="EPSG:32628+5773")
    unsaid = write(tmp_path / "unsaid.tif", country(), aside)
    other = write(tmp_path / "other.tif", country(), aside, crs="EPSG:32628+5701")
    assert read_dem([unsaid, first]).vertical_datum == "EGM96 geoid"
    with pytest.raises(TerrainError, match=r"above EGM96 geoid but .*other.tif above Ordnance"):
        read_dem([first, unsaid, other])


def test_a_window_is_the_slice_of_the_full_read(tmp_path: Path) -> None:
    file = write(tmp_path / "utm.tif", country())
    full = read_dem(file)
    lon, lat = (float(place) for place in full.grid.lonlat(20, 70))
    part = read_dem(file, around=Spot(lon_deg=lon, lat_deg=lat), reach_m=750)
    np.testing.assert_array_equal(part.heights_m, full.heights_m[5:36, 55:80])
    assert part.transform == full.grid.window(5, 55, (31, 25)).transform
    assert part.height_at(lon, lat) == full.height_at(lon, lat)


def test_a_window_of_degrees_is_the_square_asked_for(tmp_path: Path) -> None:
    file = write(tmp_path / "deg.tif", country(600, 800), lonlat_sheet(-24, 54.5), crs="EPSG:4326")
    spot = Spot(lon_deg=-23.7, lat_deg=54.25)
    dem = read_dem(file, around=spot, reach_m=5000)
    assert np.isfinite(dem.heights_m).all()
    rows, cols = dem.shape
    assert rows * dem.cell_m == pytest.approx(10_000, abs=2 * dem.cell_m)
    assert cols * dem.cell_m == pytest.approx(10_000, abs=2 * dem.cell_m)
    for azimuth in (0, 90, 180, 270):
        near = destination(spot.lon_deg, spot.lat_deg, azimuth, 4990)
        beyond = destination(spot.lon_deg, spot.lat_deg, azimuth, 5100)
        assert np.isfinite(dem.heights_at(*near))
        assert np.isnan(dem.heights_at(*beyond))
    assert dem.delivered.heights_m.size < 0.2 * 600 * 800


@pytest.mark.parametrize("lat", [89.95, 89.99, -89.95])
def test_a_window_over_a_pole_has_all_that_lies_round_it(tmp_path: Path, lat: float) -> None:
    """Of 11 km round a place 5.6 km or less from a pole, half lies on the far side of it."""
    top = 90.0 if lat > 0 else -89.8
    at = Affine(1, 0, -180, 0, -0.005, top)
    file = write(tmp_path / "pole.tif", np.full((40, 360), 200.0), at, crs="EPSG:4326")
    dem = read_dem(file, around=Spot(lon_deg=10.0, lat_deg=lat), reach_m=12_000)
    assert np.isfinite(dem.heights_m).mean() > 0.95
    beyond = destination(10.0, lat, 0.0 if lat > 0 else 180.0, 10_000)
    assert dem.heights_at(*beyond) == pytest.approx(200.0)


def test_of_a_huge_raster_nothing_is_read_but_the_window(tmp_path: Path) -> None:
    """10 000 million cells, 20 GB; what is stored of them beside the window is spoilt."""
    file = tmp_path / "huge.tif"
    transform = Affine(5, 0, 300_000, 0, -5, 6_500_000)
    profile = {"driver": "GTiff", "width": 100_000, "height": 100_000, "count": 1}
    profile |= {"tiled": True, "sparse_ok": True, "bigtiff": "yes", "nodata": -9999}
    profile |= {"compress": "deflate"}
    with rasterio.open(file, "w", dtype="int16", crs=UTM28, transform=transform, **profile) as big:
        window = rasterio.windows.Window(50_000, 50_000, 400, 400)
        big.write(np.full((1, 400, 400), 7, dtype=np.int16), window=window)
        for tile in _TILES_ASIDE:
            aside = rasterio.windows.Window(256 * tile[1], 256 * tile[0], 256, 256)
            big.write(np.full((1, 256, 256), 9, dtype=np.int16), window=aside)
    for tile in _TILES_ASIDE:
        _spoil(file, tile)
    grid = Grid(crs=CRS(UTM28), transform=transform, shape=(100_000, 100_000))
    lon, lat = (float(place) for place in grid.lonlat(50_200, 50_200))
    tracemalloc.start()
    try:
        dem = read_dem(file, around=Spot(lon_deg=lon, lat_deg=lat), reach_m=1000)
        most_bytes = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    # numpy's arrays are among it, and modules loaded on the way; all heights would take 20 GB
    assert most_bytes < 50e6
    assert dem.shape == (401, 401)
    assert dem.height_at(lon, lat) == 7.0
    with pytest.raises(TerrainError, match="10000000000 cells are too many"):
        read_dem(file)
    far = Spot(lon_deg=float(grid.lonlat(90_000, 9)[0]), lat_deg=float(grid.lonlat(90_000, 9)[1]))
    with pytest.raises(NoGround, match="no ground is known within reach"):
        read_dem(file, around=far, reach_m=1000)


# of the ring about the four that hold the window; and far off
_TILES_ASIDE = [(194, 195), (195, 194), (195, 197), (197, 196), (197, 197), (0, 0), (389, 389)]


def _spoil(file: Path, tile: tuple[int, int]) -> None:
    """Make rubbish of a tile of a TIFF, which cannot be read from then on."""
    with rasterio.open(file) as big:
        name = f"{tile[1]}_{tile[0]}"
        offset = int(big.get_tag_item(f"BLOCK_OFFSET_{name}", "TIFF", bidx=1))
        length = int(big.get_tag_item(f"BLOCK_SIZE_{name}", "TIFF", bidx=1))
    with file.open("r+b") as stored:
        stored.seek(offset)
        stored.write(b"\xff" * length)
    window = rasterio.windows.Window(256 * tile[1], 256 * tile[0], 1, 1)
    with rasterio.open(file) as big, pytest.raises(RasterioIOError):
        big.read(1, window=window)


def test_a_place_off_the_raster(tmp_path: Path) -> None:
    file = write(tmp_path / "utm.tif", country())
    with pytest.raises(NoGround, match=r"no ground at 10.0000, 20.0000: the raster covers 54\."):
        read_dem(file, around=Spot(lon_deg=20.0, lat_deg=10.0), reach_m=1000)


def test_a_raster_too_wide_for_a_plane(tmp_path: Path) -> None:
    ones = np.ones((720, 1440), dtype=np.int16)
    world = Affine(0.25, 0, -180, 0, -0.25, 90)
    file = write(tmp_path / "world.tif", ones, world, crs="EPSG:4326")
    with pytest.raises(TerrainError, match=r"40[0-9]* km from west to east are too wide"):
        read_dem(file)
    dem = read_dem(file, around=Spot(lon_deg=179.0, lat_deg=50), reach_m=200_000)
    assert dem.height_at(179.0, 50.0) == 1.0
    assert dem.delivered.heights_m.size < 500


def test_a_zip_is_opened_in_place(tmp_path: Path) -> None:
    write(tmp_path / "utm.tif", country())
    with zipfile.ZipFile(tmp_path / "sheet.zip", "w") as archive:
        archive.write(tmp_path / "utm.tif", "folder/utm.tif")
        archive.writestr("readme.txt", "about it")
    np.testing.assert_array_equal(read_dem(tmp_path / "sheet.zip").heights_m, country())
    with zipfile.ZipFile(tmp_path / "empty.zip", "w") as archive:
        archive.writestr("readme.txt", "about it")
    with pytest.raises(TerrainError, match=r"empty.zip holds no elevation raster"):
        read_dem(tmp_path / "empty.zip")
    (tmp_path / "broken.zip").write_bytes(b"not a zip")
    with pytest.raises(TerrainError, match=r"broken.zip cannot be read as a zip"):
        read_dem(tmp_path / "broken.zip")


def test_a_virtual_raster(tmp_path: Path) -> None:
    write(tmp_path / "utm.tif", country())
    vrt = tmp_path / "virtual.vrt"
    vrt.write_text(
        f"""<VRTDataset rasterXSize="80" rasterYSize="60"><SRS>{UTM28}</SRS>
        <GeoTransform>480000, 50, 0, 6040000, 0, -50</GeoTransform>
        <VRTRasterBand dataType="Float32" band="1"><SimpleSource>
        <SourceFilename relativeToVRT="1">utm.tif</SourceFilename><SourceBand>1</SourceBand>
        </SimpleSource></VRTRasterBand></VRTDataset>"""
    )
    np.testing.assert_array_equal(read_dem(vrt).heights_m, country())


def test_what_is_no_elevation_raster(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("not a raster")
    (tmp_path / "cut.tif").write_bytes(b"II*\0rubbish")
    rgb = write(tmp_path / "rgb.tif", np.ones((3, 5, 5), dtype=np.uint8))
    grey = np.ones((5, 5), dtype=np.uint8)
    png = write(tmp_path / "p.png", grey, Affine.identity(), driver="PNG")
    empty = write(tmp_path / "empty.tif", np.full((5, 5), -9999.0))
    for path, message in [
        (tmp_path / "none.tif", "there is no file .*none.tif"),
        (tmp_path / "notes.txt", "notes.txt cannot be read as an elevation raster"),
        (tmp_path / "cut.tif", "cut.tif cannot be read as an elevation raster"),
        (tmp_path, "it is a folder"),
        (rgb, "rgb.tif has 3 bands"),
        (png, "p.png does not say where on the earth it lies"),
        (empty, "empty.tif holds no known height"),
        ([], "no elevation raster was given"),
    ]:
        with pytest.raises(TerrainError, match=message) as caught:
            read_dem(path)
        assert "\n" not in str(caught.value)


def test_a_file_cut_short(tmp_path: Path) -> None:
    file = write(tmp_path / "cut.tif", country(600, 800))
    file.write_bytes(file.read_bytes()[: file.stat().st_size // 2])
    with pytest.raises(TerrainError, match=r"cut.tif cannot be read"):
        read_dem(file)


def test_a_number_for_unknown_that_no_cell_can_hold(tmp_path: Path) -> None:
    """Without a warning of the libraries, which are errors here."""
    whole = write(tmp_path / "whole.tif", country().astype("float32"), nodata=-1.0)
    virtual = tmp_path / "virtual.vrt"
    rasterio.shutil.copy(whole, virtual, driver="VRT")
    text = virtual.read_text()
    virtual.write_text(re.sub("<NoDataValue>[^<]*", "<NoDataValue>1e308", text))
    np.testing.assert_array_equal(read_dem(virtual).heights_m, read_dem(whole).heights_m)


def test_reach_and_cells_must_make_sense(tmp_path: Path) -> None:
    file = write(tmp_path / "utm.tif", country())
    lon, lat = (float(place) for place in read_dem(file).grid.lonlat(20, 30))
    with pytest.raises(TerrainError, match="a reach of 0 m"):
        read_dem(file, around=Spot(lon_deg=lon, lat_deg=lat), reach_m=0)
    with pytest.raises(TerrainError, match="a reach of 500 m needs a place"):
        read_dem(file, reach_m=500)
    with pytest.raises(TerrainError, match="cells of -1 m"):
        read_dem(file, cell_m=-1)
    with pytest.raises(TerrainError, match="give a side of"):
        read_dem(file, cell_m=1e-320)
    # without a reach: 40 km, here all of it
    assert read_dem(file, around=Spot(lon_deg=lon, lat_deg=lat)).shape == (60, 80)


@pytest.mark.parametrize("most_cells", [None, 1_000_000])
@pytest.mark.parametrize(
    ("transform", "crs"),
    [
        # its middle row lies on the pole, where a cell has no width
        (lonlat_sheet(10.0, 90.0 + 20.5 * 0.001, 0.001), "EPSG:4326"),
        # so far north of all that one row is where the next is
        (Affine(50, 0, 480_000, 0, -50, 1e20), "EPSG:32628"),
    ],
    ids=["over the pole", "beyond the earth"],
)
def test_cells_without_an_extent_on_the_earth(
    tmp_path: Path, transform: Affine, crs: str, most_cells: int | None
) -> None:
    file = write(tmp_path / "off.tif", country(41, 40), transform, crs=crs)
    with pytest.raises(TerrainError, match="does not lie on the earth"):
        read_dem(file, most_cells=most_cells)


def test_nothing_of_the_reading_library_reaches_the_terminal(tmp_path: Path) -> None:
    (tmp_path / "cut.tif").write_bytes(b"II*\0rubbish")
    write(tmp_path / "p.png", np.ones((5, 5), dtype=np.uint8), Affine.identity(), driver="PNG")
    code = (
        "import sys\n"
        "from terrain.ground.raster.read import read_dem\n"
        "from terrain.errors import *\n"
        "for path in sys.argv[1:]:\n"
        "    try: read_dem(path)\n"
        "    except TerrainError as error: print(error)\n"
    )
    paths = [str(tmp_path / name) for name in ("cut.tif", "p.png", "none.tif")]
    done = subprocess.run(
        [sys.executable, "-c", code, *paths], capture_output=True, text=True, check=True
    )
    assert done.stderr == ""
    assert len(done.stdout.splitlines()) == 3


def test_real_ground_from_matplotlib(jacksboro: Dem, jacksboro_file: Path) -> None:
    with rasterio.open(jacksboro_file) as raster:
        stored = raster.read(1)
    np.testing.assert_array_equal(jacksboro.delivered.heights_m, stored)
    lon, lat = jacksboro.delivered.grid.lonlat(*np.mgrid[10:334:5, 10:393:5])
    off = jacksboro.heights_at(lon, lat) - stored[10:334:5, 10:393:5]
    # half a metre of rounding and a cell of 75 by 93 m in steep country
    assert abs(float(off.mean())) < 0.2
    assert float(np.sqrt((off**2).mean())) < 3.0


def srtm_tile(file: Path) -> tuple[str, bytes]:
    """The name and the bytes of the tile in a zip file."""
    with zipfile.ZipFile(file) as archive:
        (name,) = [name for name in archive.namelist() if name.endswith(".hgt")]
        return name, archive.read(name)


def srtm_heights(tile: bytes) -> np.ndarray:
    """Big-endian whole metres, row 0 in the north, -32768 for voids (the format's definition)."""
    raw = np.frombuffer(tile, dtype=">i2").reshape(1201, 1201).astype(np.float32)
    return np.where(raw == -32768, np.nan, raw)


def test_neighbouring_srtm_tiles_in_their_zips(open_data: Path) -> None:
    south, north = open_data / "N49E011.hgt.zip", open_data / "N50E011.hgt.zip"
    dem = read_dem([south, north])
    heights = dem.delivered.heights_m
    assert heights.shape == (2401, 1201)
    np.testing.assert_array_equal(heights[:1201], srtm_heights(srtm_tile(north)[1]))
    np.testing.assert_array_equal(heights[1201:], srtm_heights(srtm_tile(south)[1])[1:])
    # the step across the shared row is like the steps elsewhere
    steps = np.nanmean(np.abs(np.diff(heights, axis=0)), axis=1)
    assert steps[1199:1202].max() < 1.2 * np.median(steps[1100:1300])
    _, _, west, _, _, top = dem.delivered.transform[:6]
    assert (west, top) == pytest.approx((11 - THREE_SECONDS / 2, 51 + THREE_SECONDS / 2))


def test_an_srtm_tile_out_of_its_zip(open_data: Path, tmp_path: Path) -> None:
    name, tile = srtm_tile(open_data / "N50E011.hgt.zip")
    (tmp_path / name).write_bytes(tile)
    spot = Spot(lon_deg=11.5, lat_deg=50.5)
    dem = read_dem(tmp_path / name, around=spot, reach_m=3000)
    at = srtm_heights(tile)[600, 600]
    assert dem.delivered.height_at(11.5, 50.5) == at
    assert dem.height_at(11.5, 50.5) == pytest.approx(at, abs=10)
