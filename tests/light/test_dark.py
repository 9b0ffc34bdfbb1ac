"""What is told to stay dark without a ray: the rays say the same."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from terrain.ground.dem import Dem
from terrain.light import _disc_kernels, _ray_kernels, sweeps
from terrain.light._disc_kernels import Disc, SunAt, all_hidden_still, is_hidden_still
from terrain.light._sweep_kernels import Relief
from terrain.light.arrival import Arrival
from terrain.light.day import light_arrival
from terrain.sight.bend import bend_per_m

MakeDem = Callable[..., Dem]


def ridges(size: int, seed: int) -> NDArray:
    """A rough plain with a few upright ridges on it, some of it unknown."""
    rng = np.random.default_rng(seed)
    row, col = np.mgrid[0:size, 0:size]
    heights = rng.uniform(0.0, 1.0, (size, size))
    for _ in range(4):
        turn, length = rng.uniform(0.0, math.pi), size / 3
        south, east = row - rng.uniform(0.2, 0.8) * size, col - rng.uniform(0.2, 0.8) * size
        along = south * math.cos(turn) + east * math.sin(turn)
        across = south * math.sin(turn) - east * math.cos(turn)
        away = np.hypot(across, np.maximum(np.abs(along) - length / 2, 0.0))
        heights = np.maximum(heights, 30.0 * (4.0 - away) + rng.uniform(0.0, 5.0, away.shape))
    heights[rng.random((size, size)) < 0.002] = np.nan
    return heights


# in the north of Norway the sun goes all round; in the tropics it comes over the head
@pytest.mark.parametrize(
    ("lat", "day", "evening", "limb", "some"),
    [
        (54.4, dt.date(2025, 10, 9), False, 1.0, True),
        (54.4, dt.date(2025, 10, 9), True, -1.0, True),
        (54.4, dt.date(2025, 10, 25), True, 0.0, True),
        (70.0, dt.date(2025, 5, 30), False, 1.0, False),
        (70.0, dt.date(2025, 9, 25), False, 1.0, True),
        (-38.0, dt.date(2025, 6, 21), False, 1.0, True),
        (10.0, dt.date(2025, 4, 10), False, 1.0, False),
    ],
)
def test_what_stays_dark_is_never_lit(
    make_dem: MakeDem,
    monkeypatch: pytest.MonkeyPatch,
    lat: float,
    day: dt.date,
    evening: bool,
    limb: float,
    some: bool,
) -> None:
    dem, told = make_dem(ridges(120, 8), lat=lat, cell_m=15.0), []
    stay_dark = sweeps.stay_dark

    def counted(first: int, end: int, *asked: Any) -> None:
        stay_dark(first, end, *asked)
        told.append(int(asked[-1][first:end].sum()))

    def arrival() -> Arrival:
        return light_arrival(dem, day, evening=evening, limb=limb)

    monkeypatch.setattr(sweeps, "stay_dark", counted)
    found = arrival()
    assert (sum(told) > 100) == some
    monkeypatch.setattr(sweeps, "sectors_of", lambda relief, sky: None)
    by_rays = arrival()
    for name in ("arrives_s", "azimuth_deg", "altitude_deg"):
        np.testing.assert_array_equal(getattr(found, name), getattr(by_rays, name), err_msg=name)


def test_a_disc_that_is_hidden_still_is_hidden_at_each_point() -> None:
    heights = ridges(70, 2).astype(np.float32)
    flat, low = heights.ravel(), float(np.nanmin(heights))
    span = float(np.nanmax(heights)) - low
    relief = Relief(heights, _ray_kernels.block_tops(heights), 30.0, bend_per_m(0.13), low, span)
    rng, points, hidden = np.random.default_rng(5), _disc_kernels.ASIDE.size - 1, 0
    for _ in range(6000):
        row, col = (int(part) for part in rng.integers(0, 70, 2))
        azimuth, limb = rng.uniform(0.0, 2.0 * math.pi), rng.uniform(-0.05, 0.5)
        sun = SunAt(math.cos(azimuth), math.sin(azimuth), limb - rng.uniform(0.001, 0.02), limb)
        disc = Disc(sun, rng.uniform(0.001, 0.03))
        met = np.full(points + 1, rng.integers(0, 30), dtype=np.int64)
        if not all_hidden_still(relief, flat, row, col, disc, met):
            continue
        hidden += 1
        for point in range(points):
            assert is_hidden_still(relief, flat, row, col, disc, point, met), (row, col, point)
    assert hidden > 300
