"""The triangle of pole, zenith and sun against axes turned by astropy."""

from __future__ import annotations

import numpy as np
import pytest
from astropy import units
from astropy.coordinates import SkyCoord, SphericalRepresentation
from astropy.coordinates.matrix_utilities import rotation_matrix

from terrain.sun.triangle import (
    azimuth,
    azimuth_cosine,
    declination_sine,
    hour_angle,
    hour_cosine,
)

LATITUDES = np.radians([-66.0, -16.8, 0.0, 54.4, 78.0])


def turned(latitude: float, altitude: np.ndarray, way: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Declination and hour angle of directions, by turning axes: south, east, up to the pole's."""
    sky = SphericalRepresentation((np.pi - way) * units.rad, altitude * units.rad, 1.0)
    tilt = rotation_matrix(-(np.pi / 2.0 - latitude) * units.rad, axis="y")
    place = SkyCoord(sky.to_cartesian().transform(tilt)).spherical
    return place.lat.rad, -place.lon.wrap_at(180.0 * units.deg).rad


@pytest.mark.parametrize("latitude", LATITUDES)
def test_directions_are_turned_as_axes_are(latitude: float) -> None:
    altitude, way = np.meshgrid(
        np.radians([-6.0, 0.5, 31.0, 80.0]), np.radians(np.arange(5, 360, 9))
    )
    declination, hour = turned(latitude, altitude, way)
    np.testing.assert_allclose(
        declination_sine(latitude, altitude, way), np.sin(declination), atol=1e-12
    )
    np.testing.assert_allclose(hour_angle(latitude, altitude, way), hour, atol=1e-9)
    np.testing.assert_allclose(
        hour_cosine(latitude, altitude, declination), np.cos(hour), atol=1e-9
    )
    cosine = azimuth_cosine(latitude, altitude, np.sin(declination))
    np.testing.assert_allclose(cosine, np.cos(way), atol=1e-9)
    back = np.mod(azimuth(latitude, declination, hour), 2.0 * np.pi)
    np.testing.assert_allclose(back, way, atol=1e-9)


def test_what_the_sun_never_reaches() -> None:
    assert abs(float(azimuth_cosine(np.radians(54.4), np.radians(60.0), np.sin(0.1)))) > 1.0
    assert abs(float(hour_cosine(np.radians(54.4), np.radians(60.0), 0.1))) > 1.0
    assert np.isfinite(hour_cosine(np.pi / 2.0, 0.1, 0.1))
