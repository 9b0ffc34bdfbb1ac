from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from terrain.errors import NoSun
from terrain.ground.dem import Dem
from terrain.ground.places import Hill
from terrain.morning.sunline import sun_line
from terrain.sun.path import sun_path
from terrain.sun.position import sun_position
from tests.conftest import MakeDem

PLACES = {
    "upland": (-24.0, 54.4, dt.date(2026, 3, 20)),
    "summer": (-24.0, 54.4, dt.date(2026, 6, 21)),
    "south": (170.0, -44.0, dt.date(2026, 12, 21)),
    "far north": (20.0, 66.0, dt.date(2026, 10, 10)),
    "date line": (179.9, -16.8, dt.date(2026, 8, 1)),
}


def tile(make_dem: MakeDem, lon: float, lat: float) -> tuple[Dem, Hill]:
    """A tile of 80 km, on coarse cells."""
    dem = make_dem(np.zeros((80, 80)), cell_m=1000.0, lon=lon, lat=lat)
    return dem, Hill(lon_deg=lon, lat_deg=lat, height_m=600.0)


@pytest.mark.parametrize("place", PLACES)
def test_azimuth_as_the_sun_itself_has_it(make_dem: MakeDem, place: str) -> None:
    """Over the tile's latitudes, at random mornings' moments, within 0.01 degrees on the sky."""
    lon, lat, day = PLACES[place]
    dem, hill = tile(make_dem, lon, lat)
    line = sun_line(day, dem, hill)
    rng = np.random.default_rng(4)
    for at_lat in rng.uniform(*dem.grid.lonlat([79, 0], [40, 40])[1], 25):
        path = sun_path(day, lon_deg=lon, lat_deg=float(at_lat), height_m=600.0)
        t_s = np.arange(0.0, path.length_s, 60.0)
        _, apparent = path.at(t_s)
        top = int(np.argmax(apparent))
        # near noon's altitude the azimuth runs away from any table of altitudes
        highest = min(25.0, apparent[top] - 5.0)
        rises = t_s[: top + 1][(apparent[: top + 1] > -2.0) & (apparent[: top + 1] < highest)]
        moments = [path.time(float(t)) for t in rng.choice(rises, 5)]
        sun = sun_position(moments, lon_deg=lon, lat_deg=float(at_lat), height_m=600.0)
        azimuth = line.azimuth_at(sun.apparent_altitude_deg, at_lat)
        off = (azimuth - sun.azimuth_deg + 180.0) % 360.0 - 180.0
        assert np.nanmax(np.abs(off * np.cos(np.radians(sun.apparent_altitude_deg)))) < 0.01
        assert np.isfinite(off).mean() > 0.9


def test_nothing_where_the_sun_does_not_come(make_dem: MakeDem) -> None:
    dem, hill = tile(make_dem, -24.0, 54.4)
    line = sun_line(dt.date(2026, 12, 21), dem, hill)
    assert np.isnan(line.azimuth_at(60.0, 54.4))
    assert np.isnan(line.azimuth_at(-20.0, 54.4))
    assert line.azimuth_at(np.zeros((2, 3)), 54.4).shape == (2, 3)


def test_polar_night(make_dem: MakeDem) -> None:
    dem, hill = tile(make_dem, 25.0, 71.0)
    with pytest.raises(NoSun, match=r"does not rise at the hill at 71.* on 2026-12-21"):
        sun_line(dt.date(2026, 12, 21), dem, hill)
