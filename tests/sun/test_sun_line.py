from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from terrain.errors import NoSun
from terrain.ground.dem import Dem
from terrain.ground.places import Hill
from terrain.sun.path import sun_path
from terrain.sun.sun_line import sun_line, sun_lines
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


FAR_NORTH = {
    "sun low at noon": (20.0, 69.0, dt.date(2026, 10, 30)),
    "sun seen in the south of the tile alone": (25.0, 69.0, dt.date(2026, 11, 24)),
    "last night of spring": (25.0, 69.6, dt.date(2026, 5, 17)),
    "midnight sun": (20.0, 70.0, dt.date(2026, 6, 21)),
    "after the solstice": (20.0, 68.0, dt.date(2026, 7, 25)),
}


def mornings(
    dem: Dem, lon: float, day: dt.date, count: int, *, evening: bool = False
) -> list[tuple[float, np.ndarray, np.ndarray]]:
    """Latitudes over a tile, and azimuths and altitudes from the lowest sun to the highest.

    Of an evening from the highest to the lowest.
    """
    found = []
    for lat in np.linspace(*dem.grid.lonlat([79, 0], [40, 40])[1], count):
        path = sun_path(day, lon_deg=lon, lat_deg=float(lat), height_m=600.0)
        azimuth, apparent = path.at(np.arange(0.0, path.length_s, 40.0))
        top = int(np.argmax(apparent))
        morning = slice(int(np.argmin(apparent[: top + 1])), top + 1)
        if evening:
            morning = slice(top, top + 1 + int(np.argmin(apparent[top:])))
        found.append((float(lat), azimuth[morning], apparent[morning]))
    return found


@pytest.mark.parametrize("evening", [False, True])
@pytest.mark.parametrize("place", {**PLACES, **FAR_NORTH})
def test_azimuth_as_the_sun_has_it_from_the_lowest_to_the_highest(
    make_dem: MakeDem, place: str, evening: bool
) -> None:
    """All over the tile, within 0.001 degrees on the sky, and nowhere missing."""
    lon, lat, day = {**PLACES, **FAR_NORTH}[place]
    dem, hill = tile(make_dem, lon, lat)
    line = sun_line(day, hill, dem.grid.latitudes_deg, evening=evening)
    assert line.evening == evening
    for at_lat, azimuth, apparent in mornings(dem, lon, day, 9, evening=evening):
        # within 0.01 degrees of either end a ten thousandth of altitude is much of azimuth
        inner = apparent > max(apparent.min() + 0.01, -6.0)
        inner &= apparent < apparent.max() - 0.01
        off = line.azimuth_at(apparent[inner], at_lat) - azimuth[inner]
        off = ((off + 180.0) % 360.0 - 180.0) * np.cos(np.radians(apparent[inner]))
        assert np.isfinite(off).all()
        assert np.abs(off).max(initial=0.0) < 0.001
        assert np.isnan(line.azimuth_at(apparent.max() + 0.02, at_lat))
        # a day that ends while the sun still sinks is followed five minutes on
        assert np.isnan(line.azimuth_at(apparent.min() - (0.12 if evening else 0.02), at_lat))


def test_each_latitude_has_its_own_highest_sun(make_dem: MakeDem) -> None:
    """On the day on which the sun just rises in the middle of a tile, its north has none."""
    dem, hill = tile(make_dem, 25.0, 69.0)
    line = sun_line(dt.date(2026, 11, 24), hill, dem.grid.latitudes_deg)
    south, north = (float(lat) for lat in dem.grid.lonlat([79, 0], [40, 40])[1])
    highest = [apparent.max() for _, _, apparent in mornings(dem, 25.0, line.day, 3)]
    assert highest[0] > highest[1] > highest[2]
    between = 0.5 * (highest[1] + highest[2])
    assert np.isfinite(line.azimuth_at(between, [south, hill.lat_deg])).all()
    assert np.isnan(line.azimuth_at(between, north))


def test_many_days_are_each_as_by_itself(make_dem: MakeDem) -> None:
    dem, hill = tile(make_dem, 25.0, 70.5)
    days = [dt.date(2026, 11, 10) + dt.timedelta(days=step) for step in range(0, 40, 8)]
    lines = sun_lines(days, hill, dem.grid.latitudes_deg)
    shown = [day for day in days if mornings(dem, 25.0, day, 3)[0][2].max() > -1.0]
    assert [line.day for line in lines] == shown  # on the others the sun stays away
    assert 0 < len(shown) < len(days)
    alone = sun_line(days[0], hill, dem.grid.latitudes_deg)
    altitude = np.linspace(-5.0, 1.0, 20)
    np.testing.assert_allclose(
        lines[0].azimuth_at(altitude, 70.5), alone.azimuth_at(altitude, 70.5)
    )


def test_nothing_where_the_sun_does_not_come(make_dem: MakeDem) -> None:
    dem, hill = tile(make_dem, -24.0, 54.4)
    line = sun_line(dt.date(2026, 12, 21), hill, dem.grid.latitudes_deg)
    assert np.isnan(line.azimuth_at(60.0, 54.4))
    assert np.isnan(line.azimuth_at(-20.0, 54.4))
    assert line.azimuth_at(np.zeros((2, 3)), 54.4).shape == (2, 3)


def test_polar_night(make_dem: MakeDem) -> None:
    dem, hill = tile(make_dem, 25.0, 71.0)
    with pytest.raises(NoSun, match=r"does not rise at the hill at 71.* on 2026-12-21"):
        sun_line(dt.date(2026, 12, 21), hill, dem.grid.latitudes_deg)


@pytest.mark.parametrize("evening", [False, True])
def test_points_of_the_sky_are_the_same_for_all_days_of_a_place(
    make_dem: MakeDem, evening: bool
) -> None:
    dem, hill = tile(make_dem, -24.0, 54.4)
    days = [dt.date(2026, 1, 20), dt.date(2026, 4, 2), dt.date(2026, 10, 9)]
    first, *others = sun_lines(days, hill, dem.grid.latitudes_deg, evening=evening)
    azimuth, altitude = np.meshgrid(np.arange(0.0, 360.0, 7.0), np.linspace(-5.0, 30.0, 12))
    lat = np.linspace(54.1, 54.7, azimuth.shape[1])
    points = first.sky_points(azimuth, altitude, lat)
    for line in others:
        aside = line.aside_of(azimuth, altitude, lat)
        np.testing.assert_array_equal(line.aside_of_points(points), aside)
        assert np.nanmax(np.abs(aside - first.aside_of_points(points))) > 5.0
