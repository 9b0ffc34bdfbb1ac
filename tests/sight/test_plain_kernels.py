"""Every kernel of sight as plain Python within fences: the answers are those of compiled code."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.sight.horizon import horizon_and_distance
from terrain.sight.line import profile, sight_line
from terrain.sight.rays import altitudes_toward, before_and_behind
from terrain.sight.seen import seen_ground
from terrain.sight.skyline import skyline
from terrain.sight.viewshed import margin, viewshed
from tests.plain import Fenced, FencedNumpy, plain_kernels

MakeDem = Callable[..., Dem]
Answers = dict[str, NDArray[Any]]

AZIMUTHS_DEG = np.arange(0.0, 360.0, 40.0)


def holed(shape: tuple[int, int], share: float = 0.1) -> NDArray[np.float64]:
    rng = np.random.default_rng(1)
    heights = rng.uniform(0, 90, shape)
    heights[rng.random(shape) < share] = np.nan
    heights[2:5, 2:5] = 50.0
    return heights


def both(answers: Callable[[], Answers]) -> tuple[Answers, Answers]:
    compiled = answers()
    with plain_kernels():
        return answers(), compiled


def check_same(answers: Callable[[], Answers]) -> None:
    plain, compiled = both(answers)
    for name, values in plain.items():
        np.testing.assert_allclose(values, compiled[name], atol=2e-3, err_msg=name)


def spot_on(dem: Dem, row: float, col: float) -> Spot:
    lon, lat = dem.grid.lonlat(row, col)
    return Spot(lon_deg=float(lon), lat_deg=float(lat))


def test_the_fence_holds() -> None:
    row = np.arange(3.0).view(Fenced)
    assert row[0:3].tolist() == [0.0, 1.0, 2.0]
    for key in (-1, 3, np.int64(-1), slice(-2, 3), slice(0, 4)):
        with pytest.raises(IndexError):
            row[key]
    with pytest.raises(IndexError):
        row[-1] = 1.0
    square = np.zeros((2, 3)).view(Fenced)
    assert square[1, 0:3].shape == (3,)
    for key in ((0, -1), (np.int64(-1), 0), (0, 3), (0, slice(0, 4)), (slice(-1, 2), 0)):
        with pytest.raises(IndexError):
            square[key]
    with pytest.raises(IndexError):
        FencedNumpy().zeros(3)[-1]


@pytest.mark.parametrize("azimuth_deg", [0.0, 20.0, 45.0, 80.0, 120.0, 180.0, 200.0, 250.0, 290.0])
@pytest.mark.parametrize("shape", [(31, 9), (9, 31), (1, 27)])
def test_horizon(make_dem: MakeDem, azimuth_deg: float, shape: tuple[int, int]) -> None:
    dem = make_dem(holed(shape))

    def answers() -> Answers:
        altitude_deg, distance_m = horizon_and_distance(dem, azimuth_deg)
        return {"altitude": altitude_deg, "distance": distance_m}

    plain, compiled = both(answers)
    np.testing.assert_allclose(plain["altitude"], compiled["altitude"], atol=2e-3)
    # of two crossings as high as each other either may be told
    same = np.isclose(plain["distance"], compiled["distance"], equal_nan=True)
    assert same.mean() > 0.99


def test_rays_from_a_spot(make_dem: MakeDem) -> None:
    dem = make_dem(holed((21, 13)))
    spot = spot_on(dem, 3.3, 3.6)
    lon, lat = (float(part) for part in dem.grid.lonlat(17.0, 9.0))

    def answers() -> Answers:
        sky = skyline(dem, spot, azimuths_deg=AZIMUTHS_DEG)
        line = sight_line(dem, spot, lon, lat, 120.0)
        section = profile(dem, spot, 130.0)
        return {
            "skyline": np.array([sky.altitude_deg, sky.distance_m, sky.known_to_m]),
            "line": np.array([line.clearance_deg, line.blocked_at_m]),
            "profile": np.asarray(section.height_m),
        }

    check_same(answers)


# from a corner the lines are as wide as there is room for
@pytest.mark.parametrize(("shape", "eye"), [((21, 13), (3.3, 3.6)), ((33, 33), (0.0, 0.0))])
def test_fan_of_rays(shape: tuple[int, int], eye: tuple[float, float], make_dem: MakeDem) -> None:
    dem = make_dem(holed(shape))
    spot = spot_on(dem, *eye)
    plain, compiled = both(
        lambda: {"margin": margin(dem, spot), "seen": viewshed(dem, spot, target_m=3.0)}
    )
    np.testing.assert_allclose(plain["margin"], compiled["margin"], atol=2e-3)
    assert np.mean(plain["seen"] == compiled["seen"]) > 0.99
    assert 0.0 < plain["seen"].mean() < 1.0


def test_picture_with_a_lid(make_dem: MakeDem) -> None:
    dem = make_dem(holed((21, 13)))
    lid = np.where(dem.heights_m < 40.0, 45.0, np.nan).astype(np.float32)
    spot = spot_on(dem, 9.7, 6.2)

    def answers() -> Answers:
        options = {"azimuths_deg": AZIMUTHS_DEG, "altitudes_deg": np.arange(-40.0, 40.0, 4.0)}
        bare, under = (seen_ground(dem, spot, lid_m=over, **options) for over in (None, lid))
        return {"bare": bare.distance_m, "lidded": under.distance_m}

    check_same(answers)


def test_rays_from_many_cells(make_dem: MakeDem) -> None:
    dem = make_dem(holed((21, 13)))
    row, col = np.divmod(np.arange(0, dem.heights_m.size, 7), dem.shape[1])
    own = np.zeros(dem.shape, dtype=bool)
    own[8:12, 5:8] = True

    def answers() -> Answers:
        return {
            "toward": np.array(altitudes_toward(dem, row, col, 130.0, reach_m=600.0)),
            "parted": np.array(before_and_behind(dem, own, row, col, 200.0, 400.0)),
        }

    check_same(answers)
