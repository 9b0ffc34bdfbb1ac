"""Spots and hills are places on the earth."""

from __future__ import annotations

import math

import pytest

from terrain.errors import TerrainError
from terrain.ground.places import Hill, Spot


@pytest.mark.parametrize(("lon", "lat"), [(181, 0), (0, 91), (-24, math.nan), (math.inf, 3)])
def test_what_is_no_place(lon: float, lat: float) -> None:
    with pytest.raises(TerrainError, match=r"is not a place: give LAT,LON in degrees"):
        Spot(lon_deg=lon, lat_deg=lat)
    with pytest.raises(TerrainError, match="is not a place"):
        Hill(lon_deg=lon, lat_deg=lat, height_m=500)


@pytest.mark.parametrize("eye_m", [-0.1, 1000, math.nan])
def test_an_eye_is_near_the_ground(eye_m: float) -> None:
    with pytest.raises(TerrainError, match="eye height"):
        Spot(lon_deg=0, lat_deg=0, eye_m=eye_m)


def test_a_hill_has_a_height() -> None:
    with pytest.raises(TerrainError, match="height of a hill must be a number, got nan"):
        Hill(lon_deg=0, lat_deg=0, height_m=math.nan)


def test_what_a_hill_is_called() -> None:
    assert Hill(lon_deg=-24, lat_deg=54.4, height_m=1, name="Hoo").label == "Hoo"
    assert Hill(lon_deg=-24, lat_deg=54.4, height_m=1).label == "the hill at 54.4000, -24.0000"


@pytest.mark.parametrize("prominence_m", [-1.0, math.nan])
def test_a_hill_stands_out_by_a_length(prominence_m: float) -> None:
    with pytest.raises(TerrainError, match="is not 0 m or more"):
        Hill(lon_deg=0, lat_deg=0, height_m=500, min_prominence_m=prominence_m)
