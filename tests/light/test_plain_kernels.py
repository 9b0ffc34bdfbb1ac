"""The sweeps, the rays and the hills of a morning as plain Python within fences."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable

import geopandas as gpd
import numpy as np
import pytest
from numpy.typing import NDArray

from terrain.ground.dem import Dem
from terrain.light import _disc_kernels, _ray_kernels, _sweep_kernels
from terrain.light._sweep_kernels import FirstLight, Relief
from terrain.light.day import DayAtlas, day_atlas
from terrain.sight.bend import bend_per_m
from tests.plain import plain_kernels
from tests.scenes import cone
from tests.sight.test_correctness import crossings

MakeDem = Callable[..., Dem]

SIZE, SUMMIT = 10, (5, 6)


def morning(make_dem: MakeDem, relief_m: float, month: int) -> DayAtlas:
    """A cone over ground that is rough by so much, of which some cells are unknown."""
    rng = np.random.default_rng(3)
    heights = cone(SIZE, SUMMIT, 150.0, 0.3) + rng.uniform(0.0, relief_m, (SIZE, SIZE))
    heights[rng.random(heights.shape) < 0.05] = np.nan
    heights[SUMMIT] = 150.0 + relief_m
    dem = make_dem(heights)
    lon, lat = dem.grid.lonlat(*SUMMIT)
    summits = gpd.GeoDataFrame(
        {"height_m": [150.0 + relief_m], "name": ["Cone"]},
        geometry=gpd.points_from_xy([lon], [lat]),
        crs="EPSG:4326",
    )
    return day_atlas(dem, dt.date(2025, month, 21), summits=summits)


# in June the rays leave by the north, in December by the south
@pytest.mark.parametrize(("relief_m", "month"), [(3.0, 3), (60.0, 6), (60.0, 12)])
def test_morning(make_dem: MakeDem, relief_m: float, month: int) -> None:
    compiled = morning(make_dem, relief_m, month)
    with plain_kernels():
        plain = morning(make_dem, relief_m, month)
        offsets = plain.offsets()

    def check(ours: NDArray, theirs: NDArray, atol: float) -> None:
        np.testing.assert_array_equal(np.isnan(ours), np.isnan(theirs))
        assert np.mean(np.isclose(ours, theirs, atol=atol, equal_nan=True)) > 0.98

    check(plain.arrival.arrives_s, compiled.arrival.arrives_s, 0.5)
    check(plain.arrival.azimuth_deg, compiled.arrival.azimuth_deg, 2e-3)
    check(plain.arrival.altitude_deg, compiled.arrival.altitude_deg, 2e-3)
    check(plain.distance_m, compiled.distance_m, 1.0)
    np.testing.assert_array_equal(plain.hill, compiled.hill)
    assert (plain.hill > 0).any()
    for ours, theirs in zip(offsets, compiled.offsets(), strict=True):
        check(ours, theirs, 1e-2)


# by the east along columns and by the north along rows, over more than two blocks of ground
@pytest.mark.parametrize(
    ("shape", "lat", "month"), [((3, 70), 54.4, 3), ((3, 70), 54.4, 12), ((70, 3), 66.0, 6)]
)
def test_rays_over_many_blocks(
    make_dem: MakeDem, shape: tuple[int, int], lat: float, month: int
) -> None:
    """A rough strip with a wall at either end: what the sun clears is crossed in strides.

    The wall is highest in the last cell, whose ground reaches half a cell beyond its centre.
    """
    rng = np.random.default_rng(month)
    heights = rng.uniform(0.0, 40.0, shape)
    along = np.arange(max(shape))
    wall = 300.0 * np.maximum(3 - np.minimum(along, along[::-1]), 0)
    heights += wall if shape[1] > shape[0] else wall[:, np.newaxis]
    heights[2, 30 % shape[1]] = np.nan
    dem = make_dem(heights, lat=lat)
    ends = [0, 0], [0, shape[1] - 1]
    summits = gpd.GeoDataFrame(
        {"height_m": heights[ends], "name": ["West", "East"]},
        geometry=gpd.points_from_xy(*dem.grid.lonlat(*ends)),
        crs="EPSG:4326",
    )

    def made() -> DayAtlas:
        return day_atlas(dem, dt.date(2025, month, 21), summits=summits)

    compiled = made()
    with plain_kernels():
        plain = made()
    for name, atol in (("arrives_s", 0.5), ("azimuth_deg", 2e-3), ("altitude_deg", 2e-3)):
        ours, theirs = getattr(plain.arrival, name), getattr(compiled.arrival, name)
        np.testing.assert_array_equal(np.isnan(ours), np.isnan(theirs), err_msg=name)
        assert np.mean(np.isclose(ours, theirs, atol=atol, equal_nan=True)) > 0.98, name
    np.testing.assert_array_equal(plain.hill, compiled.hill)
    assert np.isfinite(plain.arrival.arrives_s).mean() > 0.5


STRAIGHT = [(0, 1), (1, 0), (0, -1), (-1, 0)]


def stands_over(
    dem: Dem, cell: tuple[int, int], north: float, east: float, tangent: float
) -> tuple[NDArray, NDArray]:
    """What the known ground of a ray's crossings stands over it, as tangents, and cells to it.

    Far off the lines across the ray's own count no more, nor do they where the next of its own
    lies off the raster.
    """
    step = -north / dem.cell_m, east / dem.cell_m
    at_m, heights = crossings(dem, *cell, step)
    main = 0 if abs(step[0]) >= abs(step[1]) else 1
    lines = at_m * abs(step[main])
    own, after = np.abs(lines - np.rint(lines)) < 1e-6, np.ceil(lines - 1e-6)
    row, col = (place + after / abs(step[main]) * by for place, by in zip(cell, step, strict=True))
    counts = own | ((after < _ray_kernels.CLOSE) & dem.grid.contains(row, col))
    inside = (row, col)[main]
    counts &= (inside > -1e-6) & (inside < dem.shape[main] - 1 + 1e-6)
    at_m, heights = at_m[counts & ~np.isnan(heights)], heights[counts & ~np.isnan(heights)]
    eye = float(dem.heights_m[cell])
    return (heights - eye) / at_m - bend_per_m(0.13) * at_m - tangent, at_m / dem.cell_m


@pytest.mark.parametrize("shape", [(9, 11), (5, 140), (140, 5), (70, 80)])
@pytest.mark.parametrize("kind", ["noise", "walls", "towers"])
def test_a_ray_meets_the_ground_on_its_line(
    make_dem: MakeDem, shape: tuple[int, int], kind: str
) -> None:
    """From cells anywhere, in any direction, against the walk over all crossings.

    Over noise; over low ground with walls on the first line of a block, beside which rays run;
    and with a few towers, so that rays pass over whole blocks and are stopped by others.
    """
    rng = np.random.default_rng(6)
    heights = rng.uniform(0.0, 60.0 if kind == "noise" else 5.0, shape)
    if kind == "walls":
        heights[32:33], heights[:, 32:33] = 40.0, 40.0
    if kind == "towers":
        heights[rng.random(shape) < 0.01] = 150.0
    heights[rng.random(shape) < 0.1] = np.nan
    heights[:3, :3] = np.nan
    heights[-1, -2:] = 20.0, np.nan
    dem = make_dem(heights)
    with plain_kernels():
        relief = Relief(
            heights=dem.heights_m,
            tops=_ray_kernels.block_tops(dem.heights_m),
            cell_m=dem.cell_m,
            bend=bend_per_m(0.13),
            low_m=float(np.nanmin(heights)),
            span_m=200.0,  # ground as high lies elsewhere
        )
        cells = [(0, 3), (3, 0), (shape[0] - 1, shape[1] - 2)]
        cells += [tuple(cell) for cell in rng.permutation(np.argwhere(~np.isnan(heights)))[:12]]
        if kind == "walls" and max(shape) > 32:
            cells += [(min(31, shape[0] - 1), col) for col in (1, 2, shape[1] - 2)]
            cells += [(row, min(31, shape[1] - 1)) for row in (1, 2, shape[0] - 2)]
        met, flat = 0, dem.heights_m.ravel()
        for cell in cells:
            if np.isnan(heights[cell]):
                continue
            turned = np.append(rng.uniform(0.0, 7.0, 6), 0.5 * np.pi * np.arange(4) + 0.01)
            turned = np.append(turned, 0.5 * np.pi * np.arange(4) - 0.02)
            for north, east in [*STRAIGHT, *zip(np.cos(turned), np.sin(turned), strict=True)]:
                tangent = float(rng.choice([-0.1, 0.02, 0.2]))
                way = (*cell, float(north), float(east), tangent)
                over, cells_to = stands_over(dem, cell, *way[2:])
                highest, far = _ray_kernels.highest_over(relief, flat, *way)
                ray, lines = _ray_kernels.ray_of(relief, *way)
                first, line_met = _ray_kernels.first_over(relief, flat, ray, lines)
                assert (line_met > 0) == (first > 0.0)
                if not over.size:
                    assert highest == first == -math.inf
                    assert math.isnan(far)
                    continue
                if over.max() < 1e-5:
                    # once the ray has left all ground below, no more is looked at
                    assert -math.inf < highest < over.max() + 1e-5
                    assert -math.inf < first < 1e-5
                    continue
                met += 1
                assert highest == pytest.approx(over.max(), abs=1e-5)
                assert far == pytest.approx(cells_to[np.argmax(over)], abs=1e-3)
                in_the_way = np.flatnonzero(over > 1e-5)[0]
                line = np.abs(cells_to - cells_to[in_the_way]) < math.sqrt(2.0)
                assert over[in_the_way] - 1e-5 <= first <= over[line].max() + 1e-5
        assert met > (30 if kind == "noise" else 1)


@pytest.mark.parametrize("turn_deg", [0.0, 12.5])
def test_the_hill_behind_is_that_of_the_ground_at_its_distance(turn_deg: float) -> None:
    """From the middle of 5 by 9 labels to all sides; ground of the edge reaches 2 cells beyond."""
    labels = np.arange(1, 46, dtype=np.int32).reshape(5, 9)
    turn = np.full((2, 2), turn_deg)
    for azimuth_deg, down, along in ((0, -1, 0), (90, 0, 1), (180, 1, 0), (270, 0, -1)):
        for cells in (0.6, 1.0, 2.0, 3.0, 4.4, 5.0, 6.4, 6.6, 9.0, math.nan):
            here = np.full(labels.shape, np.nan, dtype=np.float32)
            here[2, 4] = cells * 50.0
            light = FirstLight(here, np.full_like(here, azimuth_deg + turn_deg), here, here)
            behind = np.zeros_like(labels)
            with plain_kernels():
                _sweep_kernels.hills_behind(0, 5, labels, light, turn, 50.0, behind)
            far = 0 if math.isnan(cells) else math.floor(cells + 0.5)
            row, col = 2 + far * down, 4 + far * along
            off = max(-row, row - 4, -col, col - 8)
            at_edge = labels[min(max(row, 0), 4), min(max(col, 0), 8)]
            expected = 0 if math.isnan(cells) or off > 2 else at_edge
            assert behind[2, 4] == expected, (azimuth_deg, cells)
            assert np.count_nonzero(behind) == (expected > 0)


@pytest.mark.parametrize(("edge", "shown"), [(3, True), (4, False), (5, False)])
@pytest.mark.parametrize("side", [1, -1])
def test_a_disc_shows_beside_a_wall_as_far_as_it_is_wide(edge: int, shown: bool, side: int) -> None:
    """A disc of 0.1 radians over a wall 44 cells off: its rim is looked at 3.8 cells aside."""
    heights = np.zeros((46, 41), dtype=np.float32)
    heights[1, : 21 + edge] = 600.0
    heights = np.ascontiguousarray(heights[:, ::side])
    with plain_kernels():
        relief = Relief(heights, _ray_kernels.block_tops(heights), 50.0, 0.0, 0.0, 600.0)
        sun, met = _disc_kernels.SunAt(1.0, 0.0, 0.05, 0.15), np.zeros(5, dtype=np.int64)
        over, aside = _disc_kernels.touched(relief, heights.ravel(), 45, 20, sun, 0.1, met)
    assert (over <= 0.0) == shown
    if shown:
        assert aside == side * 0.87
