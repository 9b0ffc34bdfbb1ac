"""Geodesics, the fall of the curved earth and the local projection."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyproj import Proj

from terrain.ground.geodesy import (
    azimuth_and_distance,
    destination,
    drop_m,
    local_transverse_mercator,
    wrap_deg,
)
from tests.authorities import geodesy

longitudes = st.floats(-180, 180)
latitudes = st.floats(-85, 85)


def test_the_geodesic_from_wellington_to_salamanca() -> None:
    azimuth, distance = azimuth_and_distance(*geodesy.WELLINGTON_SALAMANCA)
    assert float(distance) == pytest.approx(geodesy.GEODESIC_M, abs=0.001)
    assert float(azimuth) == pytest.approx(geodesy.GEODESIC_AZIMUTH_DEG, abs=1e-9)


def test_a_second_of_latitude_and_of_longitude() -> None:
    # radii of curvature of WGS 84 at 45 degrees: M = a (1-e²) / W³, N = a / W
    e2, a = 0.00669437999014, 6_378_137.0
    w = np.sqrt(1 - e2 * 0.5)
    second = np.radians(1 / 3600)
    _, north = azimuth_and_distance(7.0, 45.0, 7.0, 45.0 + 1 / 3600)
    _, east = azimuth_and_distance(7.0, 45.0, 7.0 + 1 / 3600, 45.0)
    assert float(north) == pytest.approx(a * (1 - e2) / w**3 * second, abs=1e-3)
    assert float(east) == pytest.approx(a / w * np.cos(np.radians(45)) * second, abs=1e-3)


@given(lon=longitudes, lat=latitudes, azimuth=st.floats(0, 359.99), distance=st.floats(10, 1e6))
def test_going_there_and_looking_back(
    lon: float, lat: float, azimuth: float, distance: float
) -> None:
    to_lon, to_lat = destination(lon, lat, azimuth, distance)
    found_azimuth, found = azimuth_and_distance(lon, lat, to_lon, to_lat)
    assert float(found) == pytest.approx(distance, abs=1e-3)
    assert abs(float(wrap_deg(found_azimuth - azimuth))) < 1e-3
    assert 0 <= float(found_azimuth) < 360


def test_many_places_at_once() -> None:
    azimuth, distance = azimuth_and_distance(0.0, 50.0, [[0.1, 0.2, 0.3]], [[50.0], [51.0]])
    assert azimuth.shape == distance.shape == (2, 3)


def test_the_fall_of_the_earth() -> None:
    # without air: the depth of the sagitta d²/2R for R = 6371 km
    assert float(drop_m(10_000.0, 0.0)) == pytest.approx(1e8 / 12_742_000)
    # k = 0.13 takes 13 % off, whatever the distance
    np.testing.assert_allclose(drop_m([1e3, 5e4]) / drop_m([1e3, 5e4], 0.0), 0.87)
    # the exact fall below a tangent plane, R/cos(d/R) - R, agrees to a millimetre at 10 km
    radius = 6_371_000.0
    assert float(drop_m(10_000.0, 0.0)) == pytest.approx(
        radius / np.cos(10_000 / radius) - radius, abs=1e-3
    )


def test_the_local_projection_is_true_at_its_middle() -> None:
    projection = Proj(local_transverse_mercator(-24.0, 54.4))
    assert projection(-24.0, 54.4) == pytest.approx((0.0, 0.0), abs=1e-6)
    factors = projection.get_factors(-24.0, 54.4)
    assert factors.meridional_scale == pytest.approx(1.0, abs=1e-9)
    assert factors.meridian_convergence == pytest.approx(0.0, abs=1e-9)


@given(st.floats(-1e4, 1e4))
def test_a_wrapped_angle_is_the_short_way(angle: float) -> None:
    wrapped = float(wrap_deg(angle))
    assert -180 <= wrapped < 180
    turns = (angle - wrapped) / 360
    assert turns == pytest.approx(round(turns), abs=1e-9)
