"""The sun over skylines that are formulas."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from datetime import UTC, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from terrain.errors import NoGround, NoSun
from terrain.ground.accuracy import Accuracy
from terrain.ground.geodesy import azimuth_and_distance, drop_m
from terrain.ground.places import Spot
from terrain.sight.skyline import Skyline
from terrain.sun.crossings import crossings
from terrain.sun.path import sun_path
from terrain.sun.twilight import twilight
from terrain.view.contact import sun_contact
from terrain.view.rims import Rims
from tests.authorities import sun_tables as tables
from tests.drawn_doubts import SLANTS, drawn_together
from tests.scenes import Floats, flat, rim_over_ground, ring, sun_at
from tests.twin import Sky, halved

MARCH = dt.date(2026, 3, 20)

# longitude, latitude, date: both hemispheres, the date line, days of 23 and of 25 hours
MORNINGS = {
    "upland": (-24.0, 54.4, MARCH),
    "near the equator": (36.8, -1.3, dt.date(2026, 5, 1)),
    "south": (170.0, -44.0, dt.date(2026, 12, 21)),
    "far north": (20.0, 66.0, dt.date(2026, 11, 20)),
    "west of the date line": (179.9, -16.8, dt.date(2026, 8, 1)),
    "east of the date line": (-171.8, -13.9, dt.date(2026, 8, 1)),
    "23 hours": (-3.1, 54.5, dt.date(2026, 3, 29)),
    "25 hours": (-3.1, 54.5, dt.date(2026, 10, 25)),
}


def shapes() -> dict[str, Skyline]:
    return {
        "flat": flat(1.0),
        "slanting": ring(lambda azimuth: 1.0 + 0.6 * np.sin(np.radians(9.0 * azimuth))),
        "rugged": ring(lambda azimuth: 1.5 + np.abs(np.sin(np.radians(80.0 * azimuth)))),
        "below": flat(-1.5, eye_height_m=1200.0),
    }


@pytest.mark.parametrize("shape", shapes())
def test_rim_stands_on_the_ground_at_the_moment_found(shape: str) -> None:
    skyline = shapes()[shape]
    contact = sun_contact(skyline, MARCH)
    assert rim_over_ground(skyline, contact.appears).max() == pytest.approx(0.0, abs=1e-3)
    assert contact.clears is not None
    assert rim_over_ground(skyline, contact.clears, -1).min() == pytest.approx(0.0, abs=1e-3)
    for moment, side, pick in ((contact.appears, 1, np.max), (contact.clears, -1, np.min)):
        second = timedelta(seconds=1)
        assert pick(rim_over_ground(skyline, moment - second, side)) < 0.0
        assert pick(rim_over_ground(skyline, moment + second, side)) > 0.0


@pytest.mark.parametrize("shape", shapes())
def test_moments_are_better_than_a_hundredth_of_a_second(shape: str) -> None:
    """The rim moves 0.002 degrees a second or more, so in that time by 0.00002."""
    skyline = shapes()[shape]
    spot = skyline.spot
    path = sun_path(
        MARCH, lon_deg=spot.lon_deg, lat_deg=spot.lat_deg, height_m=skyline.eye_height_m
    )
    contact = sun_contact(skyline, MARCH)
    over = Rims(skyline=skyline, path=path).upper(np.array([path.seconds(contact.appears)]))
    assert over == pytest.approx(0.0, abs=2e-5)


@pytest.mark.parametrize("shape", shapes())
def test_what_a_contact_tells_hangs_together(shape: str) -> None:
    skyline = shapes()[shape]
    contact = sun_contact(skyline, MARCH)
    azimuth, true, half = sun_at(skyline, contact.appears)
    assert contact.sun_azimuth_deg == pytest.approx(azimuth, abs=1e-4)
    assert 0.0 < contact.sun_altitude_deg - true < 1.5
    assert contact.semidiameter_deg == pytest.approx(half, abs=1e-4)
    assert abs(contact.azimuth_deg - azimuth) <= half + 0.01
    assert contact.altitude_deg == pytest.approx(float(skyline.at(contact.azimuth_deg)))
    spot = skyline.spot
    at = azimuth_and_distance(spot.lon_deg, spot.lat_deg, contact.lon_deg, contact.lat_deg)
    assert [float(v) for v in at] == pytest.approx([contact.azimuth_deg, 5000.0], abs=1e-3)
    ahead_m = np.arange(20_000.0, 1.5e6, 100.0)
    ray = (ahead_m * np.tan(np.radians(contact.altitude_deg)) + drop_m(ahead_m)).min()
    assert contact.beyond_height_m == pytest.approx(skyline.eye_height_m + ray, abs=0.1)
    assert contact.later == ()


@pytest.mark.parametrize("morning", MORNINGS)
def test_almanac_sunrise_differs_by_what_its_conventions_say(morning: str) -> None:
    """A sea horizon: the almanac has 34' and 16', here the air and the sun are those of the day.

    Bennett's refraction at the horizontal is cot(7.31/4.4 degrees) = 34.48', less the 0.08" that
    makes the zenith zero, in air of 1010 hPa and 10 degrees (Meeus, eq. 16.3).
    """
    lon, lat, day = MORNINGS[morning]
    skyline = flat(0.0, lon_deg=lon, lat_deg=lat, eye_height_m=0.0)
    contact = sun_contact(skyline, day)
    almanac = twilight(day, lon_deg=lon, lat_deg=lat).sunrise
    assert almanac is not None
    lift = 34.48 / 60.0 * 1013.25 / 1010.0
    rises_at = -lift - contact.semidiameter_deg
    minute = timedelta(seconds=30)
    rate = (sun_at(skyline, almanac + minute)[1] - sun_at(skyline, almanac - minute)[1]) / 60.0
    expected_s = (rises_at + 50.0 / 60.0) / rate
    assert (contact.appears - almanac).total_seconds() == pytest.approx(expected_s, abs=1.5)


@pytest.mark.parametrize("evening", [False, True])
@pytest.mark.parametrize("morning", MORNINGS)
def test_an_independent_sun_agrees_everywhere(morning: str, evening: bool) -> None:
    lon, lat, day = MORNINGS[morning]
    skyline = flat(0.8, lon_deg=lon, lat_deg=lat, eye_height_m=400.0)
    contact = sun_contact(skyline, day, evening=evening)
    assert contact.appears.date() == day
    assert contact.appears.utcoffset() is not None
    assert contact.evening == evening
    sky, side = Sky(lon, lat, 400.0), -1.0 if evening else 1.0
    assert contact.clears is not None
    for moment, edge in ((contact.appears, np.max), (contact.clears, np.min)):
        at = moment.timestamp()
        rises = side * halved(
            lambda t, edge=edge: float(edge(sky.rim(side * t)[1])) - 0.8,
            side * at - 600.0,
            side * at + 600.0,
        )
        # Saemundsson's and Bennett's refraction differ by 0.1' (Meeus): a second or two here
        assert at == pytest.approx(rises, abs=4.0)


@pytest.mark.parametrize("month_day", tables.NORTH_60)
def test_published_sunsets_over_a_level_sea(month_day: tuple[int, int]) -> None:
    """Where the air lifts the sun by the 34' of the almanac; its disc is the day's own.

    Bennett's 34.48' in air of 1010 hPa and 10 degrees (Meeus, eq. 16.3). The almanac's disc of 16'
    is up to 0.3' too wide or too narrow, which the sun takes 4 s to pass here in midwinter.
    """
    sea = flat(0.0, lon_deg=0.0, lat_deg=60.0, eye_height_m=0.0)
    day = dt.date(2019, *month_day)
    gone = sun_contact(sea, day, pressure_hpa=1010.0 * 34.0 / 34.48, evening=True).appears
    published = dt.datetime.strptime(
        f"{day} {tables.NORTH_60[month_day][1]}+0000", "%Y-%m-%d %H%M%z"
    )
    assert abs((gone - published).total_seconds()) < 30.0 + 3.0 + 4.0


def mirrored(skyline: Skyline) -> Skyline:
    """The same in a mirror along the meridian."""
    turned = -np.arange(skyline.azimuth_deg.size)
    return replace(
        skyline,
        **{
            name: getattr(skyline, name)[turned]
            for name in ("altitude_deg", "distance_m", "known_to_m")
        },
    )


@pytest.mark.parametrize("shape", shapes())
def test_an_evening_is_a_morning_in_a_mirror(shape: str) -> None:
    """About the noon between them, but for what the declination d does meanwhile.

    The hour angle H of a rise over level ground hangs on it by tan(lat) / cos²(d) / sin(H), and a
    degree of it is 240 s: here 430 s for each degree, and 0.2 s for what d changes on this day.
    """
    skyline = replace(shapes()[shape], spot=Spot(lon_deg=0.0, lat_deg=51.5))
    day, sky = dt.date(2027, 6, 21), Sky(0.0, 51.5, skyline.eye_height_m)
    morning = sun_contact(skyline, day)
    evening = sun_contact(mirrored(skyline), day, evening=True)
    path = sun_path(day, lon_deg=0.0, lat_deg=51.5)
    noon = next(
        path.time(each.t_s)
        for each in crossings(path.east_at, 0.0, path.length_s, 600.0, 0.01)
        if not each.rising
    )
    ends = [(morning.appears, evening.appears)]
    if morning.clears and evening.clears:
        ends.append((morning.clears, evening.clears))
    for first, last in ends:
        assert abs((noon - first) - (last - noon)) < timedelta(seconds=0.5)
    assert (morning.clears is None) == (evening.clears is None)
    drift = np.ptp(sky.declination([morning.appears.timestamp(), evening.appears.timestamp()]))
    assert 430.0 * drift < 0.25
    assert evening.azimuth_deg == pytest.approx(360.0 - morning.azimuth_deg, abs=0.002)
    assert evening.altitude_deg == pytest.approx(morning.altitude_deg, abs=0.002)
    assert evening.uncertainty_s == pytest.approx(morning.uncertainty_s, rel=0.01)
    assert evening.lon_deg == pytest.approx(-morning.lon_deg, abs=1e-5)


def test_local_time_follows_the_clock() -> None:
    place = {"lon_deg": -3.1, "lat_deg": 54.5}
    saturday = sun_contact(flat(1.0, **place), dt.date(2026, 3, 28)).appears
    sunday = sun_contact(flat(1.0, **place), dt.date(2026, 3, 29)).appears
    assert sunday.tzinfo == ZoneInfo("Europe/London")
    assert (sunday.utcoffset(), saturday.utcoffset()) == (timedelta(hours=1), timedelta(0))
    by_sun = sunday.astimezone(UTC) - saturday.astimezone(UTC)
    assert timedelta(hours=23, minutes=55) < by_sun < timedelta(hours=24)


def test_a_slit_that_the_centre_and_the_top_miss() -> None:
    """The rising disc sweeps up beside its top: sd·sqrt(1 + m²) over the path of its centre."""
    path = sun_path(MARCH, lon_deg=-24.0, lat_deg=54.4, height_m=100.0)
    t_s = np.arange(5.5 * 3600.0, 8.0 * 3600.0, 1.0)
    azimuth, altitude = path.at(t_s)
    slit = 95.0
    centre = float(np.interp(slit, azimuth, altitude))
    floor = centre + path.semidiameter_deg + 0.03
    skyline = ring(lambda a: np.where(np.abs(a - slit) < 0.015, floor, 30.0), step_deg=0.01)
    top = altitude + path.semidiameter_deg - skyline.at(azimuth)
    assert top.max() < 0.0
    contact = sun_contact(skyline, MARCH)
    assert contact.azimuth_deg == pytest.approx(slit, abs=0.02)
    assert contact.sun_azimuth_deg > slit + 0.05
    assert contact.clears is None
    assert rim_over_ground(skyline, contact.appears).max() == pytest.approx(0.0, abs=4e-3)
    blind = ring(lambda a: np.where(np.abs(a - slit) < 0.015, floor + 0.06, 30.0), step_deg=0.01)
    assert sun_contact(blind, MARCH).azimuth_deg > slit + 1.0


def test_reappears_beyond_a_second_hill() -> None:
    skyline = ring(lambda a: np.where((a > 96.0) & (a < 110.0), 25.0, 1.0))
    contact = sun_contact(skyline, MARCH)
    assert contact.azimuth_deg < 95.0
    assert contact.clears is not None
    assert contact.appears < contact.clears
    (again,) = contact.later
    assert again.appears > contact.clears
    # the leading rim of the sun comes out from behind the hill's right side
    lead = again.semidiameter_deg / np.cos(np.radians(again.sun_altitude_deg))
    assert again.sun_azimuth_deg + lead == pytest.approx(110.0, abs=0.05)
    assert again.later == ()


def test_behind_a_peak_in_the_evening_and_clear_of_it() -> None:
    """Long after the morning: in between the sun stands above everything."""
    skyline = ring(lambda azimuth: np.where(np.abs(azimuth - 255.0) < 2.0, 12.0, 1.0))
    (again,) = sun_contact(skyline, MARCH).later
    assert again.appears.hour >= 16
    assert again.clears is not None
    assert rim_over_ground(skyline, again.clears, -1).min() == pytest.approx(0.0, abs=0.01)


def test_not_clear_where_it_is_hidden_again_at_once() -> None:
    near = sun_contact(flat(1.0), MARCH).azimuth_deg
    skyline = ring(lambda a: np.where((a > near + 0.1) & (a < near + 15.0), 25.0, 1.0))
    contact = sun_contact(skyline, MARCH)
    assert contact.azimuth_deg == pytest.approx(near, abs=0.2)
    assert contact.clears is None
    assert len(contact.later) == 1
    assert contact.later[0].clears is not None


@pytest.mark.parametrize(("lat", "side"), [(54.4, 1.0), (-54.4, -1.0)])
def test_comes_out_beside_a_cliff(lat: float, side: float) -> None:
    """North of the tropics the sun moves to the right, south of them to the left."""
    cliff = 100.0 if side > 0 else 80.0
    skyline = ring(lambda a: np.where(side * (a - cliff) < 0.0, 40.0, 0.2), lat_deg=lat)
    contact = sun_contact(skyline, MARCH)
    assert contact.azimuth_deg == pytest.approx(cliff, abs=0.06)
    lead = side * contact.semidiameter_deg / np.cos(np.radians(contact.sun_altitude_deg))
    assert contact.sun_azimuth_deg + lead == pytest.approx(cliff, abs=0.05)


def test_polar_day_and_night() -> None:
    with pytest.raises(NoSun, match="does not set") as day:
        sun_contact(flat(0.5, lon_deg=25.0, lat_deg=71.0), dt.date(2026, 6, 21))
    assert "71.0000, 25.0000 on 2026-06-21" in day.value.reason
    with pytest.raises(NoSun, match=r"does not rise.*degrees below the horizontal"):
        sun_contact(flat(0.5, lon_deg=25.0, lat_deg=71.0), dt.date(2026, 12, 21))


def test_no_evening_of_a_polar_day_or_night() -> None:
    for day, reason in ((dt.date(2026, 6, 21), "not set"), (dt.date(2026, 12, 21), "not rise")):
        with pytest.raises(NoSun, match=f"does {reason} at 71.0000, 25.0000"):
            sun_contact(flat(0.5, lon_deg=25.0, lat_deg=71.0), day, evening=True)


def test_days_on_which_it_only_rises_or_only_sets() -> None:
    """At 80 north on the first and the last days of a summer (table of the USNO)."""
    sea = flat(0.0, lon_deg=0.0, lat_deg=80.0, eye_height_m=0.0)
    for month_day, evening, reason in (
        ((4, 13), True, r"does not set at 80.0000, 0.0000 on 2019-04-13: it still shows as"),
        ((8, 30), False, r"does not come up at 80.0000, 0.0000 on 2019-08-30: it shows already"),
    ):
        day = dt.date(2019, *month_day)
        assert tables.NORTH_80[month_day][evening] is None
        with pytest.raises(NoSun, match=reason):
            sun_contact(sea, day, evening=evening)
        at = sun_contact(sea, day, evening=not evening).appears
        published = tables.NORTH_80[month_day][not evening]
        assert published is not None
        minutes = 60 * at.hour + at.minute - 60 * int(published[:2]) - int(published[2:])
        # the sun slides along the horizon: a minute of arc is three minutes of time
        assert abs(minutes) <= 4


def test_the_evening_of_a_date_is_the_last_of_it_though_it_be_after_midnight() -> None:
    """In Iceland about midsummer, against the twin's disc at every minute of each night."""
    place, hours = {"lon_deg": -21.9, "lat_deg": 64.1}, []
    sky, sea = Sky(*place.values(), 100.0), flat(0.0, **place)
    for number in range(14):
        day = dt.date(2026, 6, 14) + timedelta(days=number)
        begins_s = dt.datetime(day.year, day.month, day.day, tzinfo=UTC).timestamp()
        # from three in the morning to nine in the evening the sun is up
        times = begins_s + 60.0 * np.r_[0:181, 1260:1441]
        shows = sky.rim(times)[1].max(axis=1) > 0.0
        falls = np.flatnonzero(shows[:-1] & ~shows[1:])
        if not falls.size:
            with pytest.raises(NoSun, match="it still shows as the day ends"):
                sun_contact(sea, day, evening=True)
            hours.append(None)
            continue
        gone = sun_contact(sea, day, evening=True)
        # where the disc sinks by two minutes of arc in one of time, 0.1' of refraction is 3 s
        assert times[falls[-1]] - 6.0 < gone.appears.timestamp() < times[falls[-1] + 1] + 6.0
        hours.append(gone.appears.hour)
        # what is before midnight is of the date before
        assert (gone.clears is None) == (gone.appears.hour == 0)
    assert {0, 23, None} == set(hours)


def test_the_highest_of_a_polar_night_is_that_of_noon_whatever_the_skyline() -> None:
    """In the gap in the south-east the sun comes nearest to the ground, but it is not highest."""
    gap = ring(lambda a: np.where(np.abs(a - 145.0) < 20.0, 0.5, 12.0), lon_deg=25.0, lat_deg=69.0)
    said = []
    for skyline in (gap, flat(0.5, lon_deg=25.0, lat_deg=69.0)):
        with pytest.raises(NoSun, match="does not rise") as night:
            sun_contact(skyline, dt.date(2026, 12, 21))
        said.append(night.value.reason)
    assert said[0] == said[1]


def test_in_a_deep_valley() -> None:
    with pytest.raises(NoSun, match=r"stays behind the skyline.*azimuth 180") as none:
        sun_contact(flat(20.0), dt.date(2026, 12, 21))
    # noon altitude 90 - 54.4 - 23.44, less 20 and the semi-diameter (declination: Meeus, ch. 27)
    assert "7.5 degrees short" in none.value.reason


@pytest.mark.parametrize("day", [MARCH, dt.date(2026, 9, 23)])
def test_sun_in_the_zenith_and_at_the_nadir(day: dt.date) -> None:
    contact = sun_contact(flat(0.0, lon_deg=0.0, lat_deg=0.0), day)
    assert contact.appears.astimezone(UTC).hour in (5, 6)
    high = ring(lambda a: np.where(a < 180.0, 89.0, 0.0), lon_deg=0.0, lat_deg=0.0)
    assert sun_contact(high, day).appears.astimezone(UTC).hour in (11, 12)


def test_no_ground_toward_the_sun() -> None:
    skyline = ring(lambda a: np.where((a > 60.0) & (a < 120.0), np.nan, 1.0))
    with pytest.raises(NoGround, match=r"toward azimuth 89\.\d is unknown from 54.4000, -24.0000"):
        sun_contact(skyline, MARCH)


def test_unknown_ground_later_in_the_day_takes_nothing_away() -> None:
    def altitude(a: Floats) -> Floats:
        return np.select([a < 150.0, a < 180.0, a < 200.0], [1.0, 20.0, np.nan], 20.0)

    contact = sun_contact(ring(altitude), dt.date(2026, 12, 21))
    assert contact.azimuth_deg < 150.0
    assert contact.later == ()


def test_certain_of_its_doubt_at_midnight() -> None:
    """A sun that comes out seconds after the day begins has a rate like any other."""
    place = {"lon_deg": 25.0, "lat_deg": 71.0}
    path = sun_path(dt.date(2026, 6, 21), height_m=100.0, **place)
    azimuth, altitude = path.at(5.0)
    edge = (float(azimuth) + path.semidiameter_deg / np.cos(np.radians(float(altitude)))) % 360.0
    skyline = ring(
        lambda a: np.where((a - edge) % 360.0 > 180.0, 60.0, 0.0), step_deg=0.01, **place
    )
    contact = sun_contact(skyline, dt.date(2026, 6, 21))
    assert (contact.appears - path.start).total_seconds() == pytest.approx(5.0, abs=4.0)
    assert 0.0 < contact.uncertainty_s < 60.0


def test_air_pressure_counts() -> None:
    thin = sun_contact(flat(1.0), MARCH, pressure_hpa=700.0)
    thick = sun_contact(flat(1.0), MARCH, pressure_hpa=1040.0)
    cold = sun_contact(flat(1.0), MARCH, temperature_c=-20.0)
    warm = sun_contact(flat(1.0), MARCH, temperature_c=20.0)
    assert thick.appears < thin.appears
    assert cold.appears < warm.appears


def test_a_spot_of_which_no_slope_is_told_lies_on_one_in_five() -> None:
    line, moved = flat(1.0), Accuracy(raster_m=0.0, position_m=50.0, refraction=0.0)
    found, told = (
        sun_contact(line, MARCH, accuracy=moved, **more) for more in ({}, {"spot_slope": 0.2})
    )
    assert found.uncertainty_s == told.uncertainty_s > 0.0


@pytest.mark.parametrize("slant", SLANTS)
def test_doubt_against_draws(slant: float) -> None:
    """The spread of the moment when every input is drawn at random (seeded), by the twin's sun."""
    found = drawn_together(slant)
    assert found.middle_s == pytest.approx(0.0, abs=10.0)
    assert found.told_s == pytest.approx(found.drawn_s, rel=0.1)
    assert found.told_deg == pytest.approx(found.drawn_deg, rel=0.1)
