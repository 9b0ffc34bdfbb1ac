"""Ground beyond what is read cell by cell: never too low by its blocks, and exact by its cells."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import rasterio
from affine import Affine
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

import terrain
from terrain.arrays import Singles
from terrain.ground.dem import Dem
from terrain.ground.far import FarGround
from terrain.ground.geodesy import local_transverse_mercator
from terrain.ground.places import Spot
from terrain.ground.raster import far as reading
from terrain.ground.raster.far import block_tops
from terrain.ground.raster.read import read_dem
from terrain.sight._far_kernels import steepest_over
from terrain.sight._line_hull_kernels import NEAR
from terrain.sight.bend import bend_per_m
from terrain.sight.far import with_far
from terrain.sight.farther import farthest_m, with_far_ground
from terrain.sight.horizon import horizon, horizon_on_grid
from terrain.sight.rays import eye_at, far_toward, rays_of, scan
from terrain.sight.skyline import skyline
from tests.sight.test_plain_kernels import check_same

MakeDem = Callable[..., Dem]
Heights = NDArray[np.float64]
AZIMUTHS_DEG = np.arange(0.0, 360.0, 1.7)
LON, LAT = -24.0, 54.4


def parted(full: Dem, first: int, size: int, side: int = 4) -> Dem:
    """A square of some ground as a Dem, and all of the ground about it by its blocks."""

    def read(row: int, col: int, shape: tuple[int, int]) -> Singles:
        cells = np.full(shape, np.nan, dtype=np.float32)
        top, left = max(row + first, 0), max(col + first, 0)
        part = full.heights_m[
            top : max(row + first + shape[0], 0), left : max(col + first + shape[1], 0)
        ]
        at_row, at_col = top - row - first, left - col - first
        cells[at_row : at_row + part.shape[0], at_col : at_col + part.shape[1]] = part
        return cells

    begin = -(-first // side) * side
    blocks = tuple(-(-(count - first + begin) // side) for count in full.shape)
    wide = read(-begin - 1, -begin - 1, (blocks[0] * side + 2, blocks[1] * side + 2))
    far = FarGround(
        tops_m=block_tops(wide, side).astype(np.float32),
        row=-begin,
        col=-begin,
        side=side,
        cell_m=full.cell_m,
        to_m=1e5,
        read=read,
    )
    inner = full.heights_m[first : first + size, first : first + size]
    grid = full.grid.window(first, first, (size, size))
    return Dem(inner, grid, sea_m=full.floor_m, far=far)


def hills(seed: int, holes: float = 0.0, shape: tuple[int, int] = (90, 97)) -> Heights:
    rng = np.random.default_rng(seed)
    heights = rng.uniform(0, 60, shape) + 400.0 * rng.random(shape) ** 12
    heights[rng.random(shape) < holes] = np.nan
    # at the very edge ground is taken to go on level, which the far ground knows nothing of
    heights[[0, 1, -2, -1], :] = heights[:, [0, 1, -2, -1]] = -60.0
    return heights


def middle_of(dem: Dem, row: float, col: float, eye_m: float = 30.0) -> Spot:
    lon, lat = (float(part) for part in dem.grid.lonlat(row, col))
    return Spot(lon_deg=lon, lat_deg=lat, eye_m=eye_m)


@given(seed=st.integers(0, 10_000), holes=st.sampled_from([0.0, 0.1]), side=st.sampled_from([4, 8]))
@settings(max_examples=15)
def test_blocks_are_nowhere_lower_than_cells_and_cells_decide(
    make_dem: MakeDem, seed: int, holes: float, side: int
) -> None:
    full = make_dem(hills(seed, holes, (120, 131)))
    # wide enough for all ground that is looked at between the cells
    dem = parted(full, 40, 48, side)
    row, col = np.random.default_rng(seed).integers(20, 28, 2)
    if np.isnan(dem.heights_m[row, col]):
        return
    spot = middle_of(dem, float(row), float(col))
    truth, by_cells = (skyline(ground, spot, azimuths_deg=AZIMUTHS_DEG) for ground in (full, dem))
    np.testing.assert_allclose(by_cells.altitude_deg, truth.altitude_deg, atol=1e-6)
    np.testing.assert_allclose(by_cells.distance_m, truth.distance_m, rtol=1e-6)
    rays = rays_of(dem, spot, AZIMUTHS_DEG, 0.13)
    altitude, distance_m, known_m = scan(rays, np.array([np.inf]))
    by_blocks, _, _ = with_far(dem, rays, (altitude[:, 0], distance_m[:, 0], known_m))
    exact, _, _ = scan(rays_of(full, spot, AZIMUTHS_DEG, 0.13), np.array([np.inf]))
    assert (by_blocks >= exact[:, 0] - 1e-9).all()


@given(
    top=st.floats(-50.0, 400.0),
    eye=st.floats(0.0, 3000.0),
    from_m=st.floats(100.0, 200_000.0),
    wide_m=st.floats(1.0, 2_000.0),
)
def test_a_block_stands_as_high_as_the_best_place_for_its_highest(
    top: float, eye: float, from_m: float, wide_m: float
) -> None:
    bend = bend_per_m(0.13)
    slope, at = steepest_over(top, eye, bend, from_m, from_m + wide_m)
    places = np.linspace(from_m, from_m + wide_m, 501)
    assert slope >= ((top - eye) / places - bend * places).max() - 1e-12
    assert slope == pytest.approx((top - eye) / at - bend * at, abs=1e-12)
    assert from_m <= at <= from_m + wide_m


def test_ground_is_known_as_far_as_blocks_are(make_dem: MakeDem) -> None:
    heights = hills(3)
    heights[30:60, 80:88] = np.nan
    full = make_dem(heights)
    dem = parted(full, 33, 22)
    spot = middle_of(dem, 11.0, 11.0)
    sky = skyline(dem, spot, azimuths_deg=[90.0, 270.0])
    truth = skyline(full, spot, azimuths_deg=[90.0, 270.0])
    assert sky.known_to_m == pytest.approx(truth.known_to_m, abs=5 * 50.0)
    assert skyline(replace(dem, far=None), spot, azimuths_deg=[90.0]).known_to_m[0] < 600.0


@pytest.mark.parametrize("turn_deg", [0.0, 90.0, 180.0, 270.0, 45.0])
def test_horizon_of_every_cell_is_nowhere_lower_than_over_all_cells(
    make_dem: MakeDem, turn_deg: float
) -> None:
    full = make_dem(hills(7, shape=(150, 150)))
    dem = parted(full, 40, 60)
    at = float(dem.grid.convergence_deg(*dem.grid.centre_lonlat)) + turn_deg
    same = float(full.grid.convergence_deg(*full.grid.centre_lonlat)) + turn_deg
    truth = horizon_on_grid(full, same)[40:100, 40:100]
    alone, found = horizon(replace(dem, far=None), at), horizon(dem, at)
    # aslant a cell by the edge has no ray of its own over the blocks
    inner = slice(NEAR, -NEAR) if turn_deg == 45.0 else slice(None)
    assert (found >= truth - 1e-3)[inner, inner].all()
    reached = np.abs(alone - truth) < 1e-4
    assert not reached.all()
    # where nearer ground decides, the blocks add no more than their own width makes of them
    assert np.median((found - truth)[reached]) == 0.0


def test_far_horizon_is_the_same_as_rays_over_the_blocks(make_dem: MakeDem) -> None:
    flat = np.zeros((40, 200))
    flat[:, 150:154] = 900.0
    full = make_dem(flat, cell_m=100.0)
    dem = replace(parted(full, 0, 40), sea_m=0.0)
    at = float(dem.grid.convergence_deg(*dem.grid.centre_lonlat)) + 90.0
    row = np.arange(4, 36)
    rays, known_m = far_toward(
        dem, row, np.full(32, 5), 90.0, np.zeros(32), np.full(32, 3_450.0), refraction=0.13
    )
    assert known_m == pytest.approx(19_450.0, abs=200.0)
    assert horizon(dem, at)[4:36, 5] == pytest.approx(rays, abs=0.02)
    # the block begins two cells before the wall, 14 250 m away
    slope = 900.0 / 14_250.0 - bend_per_m(0.13) * 14_250.0
    assert rays == pytest.approx(math.degrees(math.atan(slope)), abs=1e-6)


def test_light_comes_over_far_ground_however_high_it_stands(make_dem: MakeDem) -> None:
    heights = np.zeros((80, 400))
    heights[:, 300:304] = 2500.0
    whole = make_dem(heights, cell_m=100.0)
    dem = parted(whole, 0, 80)
    day = dt.date(2026, 3, 20)
    # farther south the sun comes round the end of the wall
    alone, known, truth = (
        terrain.light_arrival(each, day).arrives_s[10:40, 30:50]
        for each in (replace(dem, far=None), dem, whole)
    )
    assert (known - truth).max() < 60.0
    assert (known > truth - 1.0).all()
    assert (truth - alone).min() > 1200.0


def test_what_is_left_out_lies_beyond_the_far_ground(make_dem: MakeDem) -> None:
    dem = parted(make_dem(np.zeros((60, 200)), cell_m=100.0), 0, 60)
    found, alone = (
        terrain.left_out(each, 90.0, horizon(each, 90.0)) for each in (dem, replace(dem, far=None))
    )
    assert alone.known_m < 6_000.0
    assert found.known_m > 14_000.0


def test_how_far_ground_can_matter_is_where_its_line_of_sight_comes_to_it() -> None:
    for top_m, eye_m, altitude in (
        (1000.0, 100.0, -0.3),
        (3000.0, 2500.0, -1.2),
        (900.0, 2.0, 2.0),
    ):
        (away,) = farthest_m(top_m, eye_m, [altitude], 0.13)
        line = eye_m + math.tan(math.radians(altitude)) * away + bend_per_m(0.13) * away**2
        assert line == pytest.approx(top_m, abs=1e-6)
    assert farthest_m(100.0, 500.0, [3.0], 0.13) == [0.0]
    assert np.isfinite(farthest_m(1000.0, 100.0, [0.5], 1.0)).all()


def saved(
    path: Path, heights: Heights, cell_m: float, crs: object, west: float, north: float
) -> Path:
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        height=heights.shape[0],
        width=heights.shape[1],
        count=1,
        dtype="float32",
        crs=crs,
        transform=Affine(cell_m, 0, west, 0, -cell_m, north),
        nodata=-9999.0,
        tiled=True,
    ) as file:
        file.write(heights.astype(np.float32), 1)
    return path


RANGE_M, RANGE_AT_M, CELL_M = 2000.0, 150_000.0, 250.0


@pytest.fixture(scope="module")
def strip(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sea from west to east, and a range of one height far off."""
    heights = np.zeros((161, 680))
    heights[80, 16] = 900.0
    edge = 16 + round(RANGE_AT_M / CELL_M)
    heights[:, edge : edge + 8] = RANGE_M
    crs = local_transverse_mercator(LON, LAT).to_wkt()
    path = tmp_path_factory.mktemp("strip") / "strip.tif"
    return saved(path, heights, CELL_M, crs, -16.5 * CELL_M, 80.5 * CELL_M)


def test_a_range_far_beyond_what_is_read_makes_the_skyline(strip: Path) -> None:
    spot = Spot(lon_deg=LON, lat_deg=LAT, eye_m=2.0)
    near = read_dem(strip, around=spot, reach_m=10_000.0)
    dem = with_far_ground(near, strip, around=spot, only_there=True)
    sky, alone = (skyline(ground, spot, azimuths_deg=[90.0]) for ground in (dem, near))
    # its foremost cells; (z - eye) / d - d (1 - k) / 2R, R = 6 371 km
    slope = (RANGE_M - 902.0) / RANGE_AT_M - RANGE_AT_M * 0.87 / (2 * 6_371_000.0)
    assert sky.altitude_deg[0] == pytest.approx(math.degrees(math.atan(slope)), abs=2e-4)
    assert sky.distance_m[0] == pytest.approx(RANGE_AT_M, rel=1e-3)
    assert alone.altitude_deg[0] == pytest.approx(-0.9, abs=0.01)
    assert dem.far is not None
    assert "by the highest of each 1000 m" in dem.far.how
    whole = skyline(read_dem(strip), spot, azimuths_deg=[90.0])
    assert sky.altitude_deg[0] == pytest.approx(whole.altitude_deg[0], abs=1e-6)


def test_the_horizon_of_all_cells_knows_the_range_too(strip: Path) -> None:
    spot = Spot(lon_deg=LON, lat_deg=LAT)
    near = read_dem(strip, around=spot, reach_m=12_000.0)
    dem = with_far_ground(near, strip, around=spot)
    whole = read_dem(strip)
    found, truth = (horizon(ground, 90.0) for ground in (dem, whole))
    rows = slice(80 - near.shape[0] // 2, 80 - near.shape[0] // 2 + near.shape[0])
    truth = truth[rows, : near.shape[1]]
    # one cell stands alone, and lies elsewhere between the lines that are swept
    open_sea = np.delete(found - truth, slice(47, 51), axis=0)
    assert np.abs(open_sea).max() < 0.01
    assert (open_sea > -1e-3).all()
    assert (horizon(near, 90.0) < truth - 0.01).mean() > 0.5


def test_an_atlas_knows_ground_behind_a_hill_that_was_not_read_with_it(make_dem: MakeDem) -> None:
    heights = np.zeros((60, 160))
    heights[30, 30] = 30.0
    heights[:, 100:104] = 600.0
    whole = make_dem(heights)
    dem = parted(whole, 0, 60)
    place = tuple(float(part) for part in dem.grid.lonlat(30, 30))
    alone, known, truth = (
        terrain.backlight_atlas(each, terrain.hill_at(each, *place), 2026)
        for each in (replace(dem, far=None), dem, whole)
    )
    west = slice(5, 25)
    assert alone.on_skyline[30, west].all()
    assert not known.on_skyline[30, west].any()
    differ = known.on_skyline != truth.on_skyline[:60, :60]
    assert differ[:, west].mean() < 0.02
    one, other = known.isolation_deg[30, west], truth.isolation_deg[30, west]
    assert one == pytest.approx(other, abs=0.6)
    assert (one <= other + 1e-3).all()


def test_ground_that_was_read_whole_has_nothing_beyond(strip: Path) -> None:
    spot = Spot(lon_deg=LON, lat_deg=LAT)
    dem = read_dem(strip, around=spot, reach_m=400_000.0)
    assert with_far_ground(dem, strip, around=spot) is dem


def test_only_ground_that_can_matter_is_read(strip: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reading, "_CHUNK_CELLS", (64, 64))
    monkeypatch.setattr(reading, "_LOOKED_AT_CELLS", 16)
    spot = Spot(lon_deg=LON, lat_deg=LAT, eye_m=2.0)
    near = read_dem(strip, around=spot, reach_m=10_000.0)
    walls = np.zeros(near.shape)
    walls[:, 22:24] = walls[:, 4:6] = walls[30:32] = walls[50:52] = 3000.0
    closed = replace(near, heights_m=walls)
    wide, narrow = (
        with_far_ground(each, strip, around=spot, only_there=True).far for each in (near, closed)
    )
    assert wide is not None
    assert wide.highest_m == RANGE_M
    assert narrow is None or narrow.to_m < RANGE_AT_M


def test_ground_in_degrees_has_blocks_nowhere_lower_than_its_cells(tmp_path: Path) -> None:
    row, col = np.mgrid[0:600, 0:700]
    heights = 150.0 + 90.0 * np.sin(row / 9.0) * np.cos(col / 11.0) + row / 10.0
    heights[200:230, 500:540] = -9999.0
    path = saved(tmp_path / "degrees.tif", heights, 1 / 1200, "EPSG:4326", LON - 0.2, LAT + 0.25)
    spot = Spot(lon_deg=LON, lat_deg=LAT, eye_m=900.0)
    near = read_dem(path, around=spot, reach_m=6_000.0)
    dem = with_far_ground(near, path, around=spot)
    far = dem.far
    assert far is not None
    rows, cols = far.tops_m.shape
    cells = far.read(far.row, far.col, (rows * far.side, cols * far.side))
    blocks = np.where(np.isnan(cells), -np.inf, cells).reshape(rows, far.side, cols, far.side)
    tops = blocks.max(axis=(1, 3))
    read = np.isfinite(far.tops_m)
    assert (far.tops_m >= tops - 1e-3)[read].all()
    assert np.isinf(tops[np.isnan(far.tops_m)]).all()
    whole = Dem(cells, near.grid.window(far.row, far.col, cells.shape))
    one, other = (skyline(ground, spot, azimuths_deg=AZIMUTHS_DEG) for ground in (dem, whole))
    # the warper places cells to some hundredths of one
    assert np.abs(one.altitude_deg - other.altitude_deg).max() < 0.01


def test_overviews_bound_the_highest_ground(strip: Path, tmp_path: Path) -> None:
    said = reading.Said()
    assert reading.highest_m(reading.files_of(strip, said)) == reading.HIGHEST_M
    rng = np.random.default_rng(1)
    heights = rng.uniform(0, 100, (512, 512)).cumsum(axis=0) / 50.0
    crs = local_transverse_mercator(LON, LAT).to_wkt()
    path = saved(tmp_path / "seen.tif", heights, 50.0, crs, 0.0, 0.0)
    with rasterio.open(path, "r+") as file:
        file.build_overviews([2, 4, 8], rasterio.enums.Resampling.average)
    bound = reading.highest_m(reading.files_of(path, said))
    assert heights.max() <= bound <= heights.max() + 500.0


def test_the_place_of_far_ground_has_the_height_of_its_block(make_dem: MakeDem) -> None:
    full = make_dem(hills(1))
    far = parted(full, 33, 22).far
    assert far is not None
    assert far.top_at(-10.0, 40.0) >= full.heights_m[23, 73]
    assert math.isnan(far.top_at(-1000.0, 0.0))


def test_kernels_over_far_ground_stay_inside_their_arrays(make_dem: MakeDem) -> None:
    dem = parted(make_dem(hills(2, 0.05)), 33, 22)
    row, col = np.argwhere(~np.isnan(dem.heights_m))[200]
    spot = middle_of(dem, float(row), float(col))
    assert eye_at(dem, spot).height_m > 0.0

    def answers() -> dict[str, NDArray[np.float64]]:
        sky = skyline(dem, spot, azimuths_deg=np.arange(0.0, 360.0, 40.0))
        found = {"altitude": sky.altitude_deg, "known": sky.known_to_m}
        return found | {f"{az:.0f}": horizon(dem, az) for az in (3.0, 100.0, 215.0, 300.0)}

    check_same(answers)
