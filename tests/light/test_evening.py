"""The last light of an evening: a morning with time turned round, and found by its engine."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
from numpy.typing import NDArray

from terrain.errors import NoSun
from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.light import sweeps
from terrain.light.arrival import Arrival
from terrain.light.colour import warm_light
from terrain.light.day import day_atlas, light_arrival
from terrain.light.shares import valley_shares, valley_times
from terrain.light.valleys import Valley
from terrain.sight.skyline import skyline
from terrain.sun.path import sun_path
from terrain.sun.twilight import twilight
from terrain.view.contact import sun_contact
from tests.authorities import sun_tables
from tests.conftest import MakeDem
from tests.scenes import cone
from tests.twin import Ground, Sky, halved

SOLSTICE = dt.date(2025, 6, 21)
SPRING = dt.date(2025, 3, 21)
DEMO = Path(__file__).parents[2] / "data" / "upland.tif"


def place(dem: Dem, row: int, col: int) -> tuple[float, float]:
    lon, lat = dem.grid.lonlat(row, col)
    return float(lon), float(lat)


def rough(shape: tuple[int, int]) -> NDArray[np.float64]:
    """Ground with slopes on all sides, and a hole in it."""
    row, col = np.mgrid[: shape[0], : shape[1]]
    heights = 300.0 * np.sin(row / 9.0) * np.cos(col / 13.0) + 250.0 * np.sin((row + 2 * col) / 31)
    heights[20:23, 30:34] = np.nan
    return np.asarray(heights + 600.0)


def transit_s(arrival: Arrival) -> float:
    lon, lat = arrival.grid.centre_lonlat
    transit = twilight(arrival.day, lon_deg=lon, lat_deg=lat).transit
    assert transit is not None
    return arrival.seconds(transit)


@pytest.mark.parametrize("ray_cells", [0.0, sweeps._RAY_CELLS, 1e9])
def test_an_evening_is_the_morning_of_the_ground_in_a_mirror(
    make_dem: MakeDem, monkeypatch: pytest.MonkeyPatch, ray_cells: float
) -> None:
    """At the solstice, about the moment in which the sun passes the meridian.

    In the sixteen hours between the two the declination goes 0.0002 degrees farther, and the sun
    falls 9 seconds behind the clock (the almanac's 13 seconds a day). The rest is that the sweeps
    and rays of the two do not fall on the same moments.
    """
    monkeypatch.setattr(sweeps, "_RAY_CELLS", ray_cells)
    heights = rough((90, 120))
    morning = light_arrival(make_dem(heights[:, ::-1]), SOLSTICE)
    evening = light_arrival(make_dem(heights), SOLSTICE, evening=True)
    assert evening.evening
    before = transit_s(morning) - morning.arrives_s[:, ::-1]
    after = evening.arrives_s - transit_s(evening)
    same = np.isnan(before) == np.isnan(after)
    assert same.mean() > 0.998
    assert np.isfinite(before).mean() > 0.7
    off_s = np.abs(before - after)
    assert np.nanmax(np.where(np.isfinite(off_s), off_s, 0.0)) > 0.0
    assert np.nanmedian(off_s) < 6.0
    assert np.nanpercentile(off_s, 94) < 9.0
    turned = evening.azimuth_deg + morning.azimuth_deg[:, ::-1] - 360.0
    assert np.nanpercentile(np.abs(turned), 94) < 0.05
    apart = np.abs(evening.altitude_deg - morning.altitude_deg[:, ::-1])
    assert np.nanpercentile(apart, 94) < 0.05


@pytest.mark.parametrize("month_day", sun_tables.NORTH_60)
def test_sunset_over_a_level_sea_as_published(
    make_dem: MakeDem, month_day: tuple[int, int]
) -> None:
    """To the minute of the table, whose refraction is 34'; that of 10 degrees C is within 1' of it.

    A minute of arc takes no more than 20 s where the sun goes down aslant at 60 degrees north.
    """
    sea = make_dem(np.zeros((30, 30)), cell_m=100.0, lon=0.0, lat=60.0)
    day = dt.date(2019, *month_day)
    set_ = sun_tables.NORTH_60[month_day][1]
    check_set(light_arrival(sea, day, evening=True), dt.datetime.combine(day, clock(set_), dt.UTC))


@pytest.mark.parametrize("month_day", sun_tables.SOUTH_60_WEST_150)
def test_sunset_over_a_southern_sea_as_published(
    make_dem: MakeDem, month_day: tuple[int, int]
) -> None:
    """The set of a universal day is that of the local day before; the sun goes by the north."""
    sea = make_dem(np.zeros((30, 30)), cell_m=100.0, lon=-150.0, lat=-60.0)
    day = dt.date(2019, *month_day)
    set_ = sun_tables.SOUTH_60_WEST_150[month_day][1]
    arrival = light_arrival(sea, day - dt.timedelta(days=1), evening=True)
    check_set(arrival, dt.datetime.combine(day, clock(set_), dt.UTC))
    assert 200.0 < np.nanmin(arrival.azimuth_deg) <= np.nanmax(arrival.azimuth_deg) < 330.0


def clock(text: str | None) -> dt.time:
    assert text is not None
    return dt.time(int(text[:2]), int(text[2:]))


def check_set(arrival: Arrival, published: dt.datetime) -> None:
    moment = arrival.at(*arrival.grid.centre_lonlat)
    assert abs(moment - published) <= dt.timedelta(seconds=50)


def last_seen(
    ground: Ground, lon: float, lat: float, midnight: dt.datetime, since: dt.datetime
) -> float:
    """The last moment at which any point of the disc stands above the ground, unix seconds.

    It is looked for backward from midnight on, no farther than to `since`. The sun is astropy's,
    the skyline that of geodesics.
    """
    sky = Sky(lon, lat, float(ground.heights_at([lon], [lat])[0]))
    times = np.arange(midnight.timestamp(), since.timestamp(), -20.0)
    times = times[sky.true(times)[1] > -1.5]
    azimuth, altitude = sky.rim(times)
    azimuths = np.arange(azimuth.min() - 0.1, azimuth.max() + 0.1, 0.045)
    line, _ = ground.skyline(lon, lat, 0.0, azimuths)

    def over(time_s: float) -> float:
        around, up = sky.rim(time_s)
        return float((up - np.interp(around, azimuths, line)).max())

    above = (altitude - np.interp(azimuth, azimuths, line)).max(axis=1) > 0.0
    last = int(np.argmax(above))
    assert above[last]
    return -halved(lambda t: over(-t), -times[max(last - 1, 0)], -times[last])


def check_against_twin(dem: Dem, day: dt.date, count: int, *, median_s: float = 10.0) -> None:
    """Cells where the sun goes behind known ground, below 12 degrees to keep the skyline short.

    Nearer than five cells the ground between the cells decides; see `terrain.light.arrival`.
    """
    atlas, ground, off = day_atlas(dem, day, evening=True), Ground.of(dem), []
    arrival = atlas.arrival
    midnight = arrival.moment(arrival.length_s)
    asked = (arrival.altitude_deg > 0.0) & (arrival.altitude_deg < 12.0)
    asked &= atlas.distance_m > 5.0 * dem.cell_m
    asked[: dem.shape[0] // 8] = asked[:, : dem.shape[1] // 8] = False
    for row, col in np.random.default_rng(day.month).permutation(np.argwhere(asked))[:count]:
        moment = arrival.moment(arrival.arrives_s[row, col])
        since = moment - dt.timedelta(minutes=50)
        off.append(moment.timestamp() - last_seen(ground, *place(dem, row, col), midnight, since))
    assert np.median(np.abs(off)) < median_s
    assert np.percentile(np.abs(off), 80) < 60.0


@pytest.mark.parametrize("day", [SPRING, dt.date(2025, 12, 10)])
def test_agrees_with_a_sun_and_a_ground_of_another_make(fells: Dem, day: dt.date) -> None:
    check_against_twin(fells, day, 5)


def test_agrees_with_the_twin_on_ridges(jacksboro: Dem) -> None:
    # the twin reads between the cells of the file, 74 by 92 m, not between those of a plane
    check_against_twin(jacksboro, dt.date(2025, 9, 3), 16, median_s=20.0)


def test_a_valley_loses_the_light_before_its_ridges(make_dem: MakeDem) -> None:
    across = np.abs((np.arange(160) - 80.0) % 80.0 - 40.0)  # ridges at 0, 80, floors at 40, 120
    dem = make_dem(np.tile(0.3 * across**2, (80, 1)), cell_m=50.0)
    arrival = light_arrival(dem, SPRING, evening=True)
    floor, ridge, western, eastern = (arrival.arrives_s[30:50, col] for col in (40, 80, 20, 60))
    assert np.all(floor < ridge - 1800.0)
    # the side that faces the sunrise is the first to lie in shade
    assert np.all(western < floor)
    assert np.all(floor < eastern)
    assert np.all(eastern < ridge)


def test_what_is_lit_still_and_the_clock(make_dem: MakeDem) -> None:
    heights = np.zeros((60, 200))
    heights[:, :20] = 400.0
    dem = make_dem(heights)
    arrival = light_arrival(dem, SPRING, evening=True)
    plain = np.zeros(dem.shape, dtype=bool)
    plain[:, 30:190] = True
    times = arrival.clock_times(7.0, cells=plain)
    goes = arrival.arrives_s[plain]
    assert times == sorted(times)
    assert arrival.seconds(times[-2]) < goes.max() <= arrival.seconds(times[-1])
    assert np.mean(goes >= arrival.seconds(times[0])) >= 0.95
    assert np.mean(goes >= arrival.seconds(times[1])) < 0.95
    shares = arrival.share_lit(plain, times)
    assert np.all(np.diff(shares) <= 0.0)
    assert shares[-1] == 0.0
    middle = times[len(times) // 2]
    assert arrival.lit(middle)[plain].mean() == shares[len(times) // 2]
    table = valley_shares(arrival, [Valley(name="plain", grid=dem.grid, cells=plain)], times)
    np.testing.assert_array_equal(table["plain"], shares)
    row = valley_times(arrival, [Valley(name="plain", grid=dem.grid, cells=plain)]).loc["plain"]
    names = ["first_shade", "lit_90", "lit_50", "lit_10", "last_light"]
    moments = [row[name] for name in names]
    assert list(row.index)[1:6] == names
    assert moments == sorted(moments)
    assert arrival.seconds(row["last_light"]) == pytest.approx(float(goes.max()), abs=1e-3)
    assert arrival.seconds(row["first_shade"]) == pytest.approx(float(goes.min()), abs=1e-3)
    just = dt.timedelta(seconds=0.05)
    before, after = arrival.share_lit(plain, [row["lit_10"] - just, row["lit_10"] + just])
    assert before >= 0.1 > after
    first, hours, *_, state = arrival.bands()
    assert first.startswith("last sun, seconds after 2025-03-21T00:00")
    assert hours.startswith("last sun, hours after")
    assert state == "0 the sun goes, 1 up when the day ends, 2 no sun that day, 3 not known"


def test_the_last_sun_goes_behind_the_hill_in_the_west(make_dem: MakeDem) -> None:
    size, summit = 160, (80, 40)
    dem = make_dem(cone(size, summit, 500.0, 0.3))
    summits = gpd.GeoDataFrame(
        {"height_m": [500.0], "name": ["Cone"]},
        geometry=gpd.points_from_xy(*([part] for part in place(dem, *summit))),
        crs="EPSG:4326",
    )
    atlas = day_atlas(dem, SPRING, summits=summits, evening=True)
    assert atlas.arrival.evening
    mirrored = day_atlas(
        make_dem(cone(size, (80, size - 1 - 40), 500.0, 0.3)),
        SPRING,
        summits=summits.set_geometry(
            gpd.points_from_xy(*([part] for part in place(dem, 80, size - 1 - 40)))
        ),
    )
    behind = atlas.hill == 1
    assert np.mean(behind != (mirrored.hill == 1)[:, ::-1]) < 0.03
    offset, away = atlas.offsets()
    exactly = np.argwhere(behind & (np.abs(offset) < 0.2) & (dem.heights_m == 0.0))
    assert len(exactly) > 10
    for row, col in exactly:
        assert col > 45
        assert 245.0 < atlas.arrival.azimuth_deg[row, col] < 272.0
        assert away[row, col] == pytest.approx(np.hypot(row - 80, col - 40) * 50.0, rel=1e-3)
        assert atlas.distance_m[row, col] == pytest.approx(away[row, col], rel=0.15)


def test_where_the_day_ends_with_the_sun_up(make_dem: MakeDem) -> None:
    heights = np.zeros((200, 40))
    heights[:10] = 900.0  # in the north, where the sun is lowest
    dem = make_dem(heights, lon=20.0, lat=75.0)
    arrival = light_arrival(dem, SOLSTICE, evening=True)
    near, far = (30, 20), (190, 20)
    assert np.isposinf(arrival.arrives_s[far])
    assert np.isfinite(arrival.arrives_s[near])
    assert arrival.lit(arrival.moment(arrival.length_s))[far]
    assert not arrival.lit(arrival.moment(arrival.length_s))[near]
    with pytest.raises(NoSun, match="up still when the day ends"):
        arrival.at(*place(dem, *far))
    whole = Valley(name="all", grid=dem.grid, cells=np.ones(dem.shape, dtype=bool))
    row = valley_times(arrival, [whole]).loc["all"]
    assert row["last_light"] == arrival.moment(arrival.length_s)
    assert (arrival.bands().popitem()[1] == 1.0)[far]
    with pytest.raises(NoSun, match="it is up still when the day ends"):
        light_arrival(make_dem(np.zeros((20, 20)), lon=20.0, lat=75.0), SOLSTICE, evening=True)


@pytest.mark.parametrize(("day", "hours"), [((3, 30), 23), ((3, 31), 24), ((10, 26), 25)])
def test_the_day_is_as_long_as_the_clock_has_it(
    make_dem: MakeDem, day: tuple[int, int], hours: int
) -> None:
    dem = make_dem(np.zeros((20, 20)), lon=-3.0, lat=54.5)
    arrival = light_arrival(dem, dt.date(2025, *day), evening=True)
    assert arrival.length_s == 3600.0 * hours
    lon, lat = place(dem, 10, 10)
    sunset = twilight(arrival.day, lon_deg=lon, lat_deg=lat).sunset
    assert sunset is not None
    assert abs(arrival.at(lon, lat) - sunset) < dt.timedelta(seconds=20)


def test_warm_light_of_an_evening(make_dem: MakeDem) -> None:
    heights = np.zeros((40, 300))
    heights[:, :40] = 300.0
    dem = make_dem(heights)
    lon, lat = place(dem, 20, 200)
    spot, path = Spot(lon_deg=lon, lat_deg=lat), sun_path(SPRING, lon_deg=lon, lat_deg=lat)
    contact = sun_contact(skyline(dem, spot), SPRING, evening=True)
    light, goes = warm_light(contact, spot), contact.appears
    assert light.ends == goes
    arrives = light_arrival(dem, SPRING, evening=True).at(lon, lat)
    assert abs(arrives - goes) < dt.timedelta(seconds=20)
    assert light.begins is not None
    assert float(path.true_at(path.seconds(light.begins))[1]) == pytest.approx(6.0, abs=0.01)
    assert light.length == light.ends - light.begins > dt.timedelta(minutes=20)
    assert (light.colour_begins, light.colour_ends) == (
        None,
        light.twilight.sunset + dt.timedelta(minutes=15),
    )
    names = [name for name, _ in light.stages()]
    assert names[:3] == ["warm light begins", "sun goes", "sunset"]
    assert names.index("sunset") < names.index("colour ends") < names.index("civil dusk")
    soon = goes - dt.timedelta(hours=2)
    high = warm_light(replace(contact, appears=soon), spot)
    assert high.length == dt.timedelta(0)
    assert high.stages()[0] == ("sun goes", soon)
