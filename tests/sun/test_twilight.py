from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from terrain.errors import TerrainError
from terrain.sun.position import sun_position
from terrain.sun.twilight import level_light, twilight
from tests.authorities import sun_spa as nrel
from tests.authorities import sun_tables as tables

HALF_MINUTE_S = 30.0
ROUNDING_S = 3.0
"""Allowed beyond the half minute of a table: a second of parallax, UT1 - UTC and its own errors."""

DAWNS = {
    "astronomical_dawn": -18.0,
    "nautical_dawn": -12.0,
    "civil_dawn": -6.0,
    "morning_blue_begins": -6.0,
    "morning_blue_ends": -4.0,
    "morning_golden_begins": -4.0,
    "sunrise": -50.0 / 60.0,
    "morning_golden_ends": 6.0,
}
DUSKS = {
    "evening_golden_begins": 6.0,
    "sunset": -50.0 / 60.0,
    "evening_golden_ends": -4.0,
    "evening_blue_begins": -4.0,
    "evening_blue_ends": -6.0,
    "civil_dusk": -6.0,
    "nautical_dusk": -12.0,
    "astronomical_dusk": -18.0,
}


def seconds_off(moment: datetime | None, hhmm: str) -> float:
    """Seconds by which a moment misses a clock reading, by its own clock, the short way round."""
    assert moment is not None
    since_midnight = (moment.hour * 60 + moment.minute) * 60 + moment.second
    published = (int(hhmm[:2]) * 60 + int(hhmm[2:])) * 60
    return (since_midnight - published + 43_200) % 86_400 - 43_200


def assert_agrees(moment: datetime | None, hhmm: str | None, slack_s: float = ROUNDING_S) -> None:
    if hhmm is None:
        assert moment is None
    else:
        assert abs(seconds_off(moment, hhmm)) <= HALF_MINUTE_S + slack_s


def truly_at(moment: datetime, lon_deg: float, lat_deg: float) -> tuple[float, float]:
    """True azimuth and altitude, straight from `sun_position`."""
    sun = sun_position([moment], lon_deg=lon_deg, lat_deg=lat_deg)
    return float(sun.azimuth_deg[0]), float(sun.altitude_deg[0])


@pytest.mark.parametrize("month_day", tables.NORTH_60)
def test_table_for_60_north(month_day: tuple[int, int]) -> None:
    light = twilight(date(2019, *month_day), lon_deg=0.0, lat_deg=60.0)
    rise, set_ = tables.NORTH_60[month_day]
    assert_agrees(light.sunrise, rise)
    assert_agrees(light.sunset, set_)


@pytest.mark.parametrize("month_day", tables.SOUTH_60_WEST_150)
def test_table_for_60_south_150_west(month_day: tuple[int, int]) -> None:
    rise, set_ = tables.SOUTH_60_WEST_150[month_day]
    day = date(2019, *month_day)
    today = twilight(day, lon_deg=-150.0, lat_deg=-60.0)
    before = twilight(day - timedelta(days=1), lon_deg=-150.0, lat_deg=-60.0)
    assert_agrees(today.sunrise.astimezone(UTC), rise)
    assert_agrees(before.sunset.astimezone(UTC), set_)
    assert before.sunset.astimezone(UTC).date() == day


# Here the sun moves so flatly that a second of arc is seconds of time: half a minute more.
@pytest.mark.parametrize("month_day", tables.NORTH_80)
def test_table_for_80_north(month_day: tuple[int, int]) -> None:
    light = twilight(date(2019, *month_day), lon_deg=0.0, lat_deg=80.0)
    rise, set_ = tables.NORTH_80[month_day]
    assert_agrees(light.sunrise, rise, slack_s=30.0)
    assert_agrees(light.sunset, set_, slack_s=30.0)


@pytest.mark.parametrize("place", tables.ONE_DAY)
def test_one_day_tables(place: str) -> None:
    lon, lat, day, events = tables.ONE_DAY[place]
    light = twilight(day, lon_deg=lon, lat_deg=lat)
    for name, hhmm in events.items():
        assert_agrees(getattr(light, name).astimezone(UTC), hhmm)


def test_all_bounds_at_defiance() -> None:
    lon, lat, day, events = tables.DEFIANCE
    light = twilight(day, lon_deg=lon, lat_deg=lat)
    for name, hhmm in events.items():
        assert_agrees(getattr(light, name).astimezone(UTC), hhmm)


@pytest.mark.parametrize("month_day", tables.GOLDEN_2015)
def test_tables_as_pvlib_quotes_them(month_day: tuple[int, int]) -> None:
    day = date(2015, *month_day)
    for (lon, lat), table, offset_h in (
        (tables.GOLDEN_LON_LAT_DEG, tables.GOLDEN_2015, -7),
        (tables.BEIJING_LON_LAT_DEG, tables.BEIJING_2015, 8),
    ):
        light = twilight(day, lon_deg=lon, lat_deg=lat)
        standard = timedelta(hours=offset_h)
        assert_agrees(light.sunrise.astimezone(UTC) + standard, table[month_day][0])
        assert_agrees(light.sunset.astimezone(UTC) + standard, table[month_day][1])


def test_nrel_day() -> None:
    place = {"lon_deg": nrel.LON_DEG, "lat_deg": nrel.LAT_DEG, "height_m": nrel.HEIGHT_M}
    before, light = (twilight(date(2003, 10, day), **place) for day in (16, 17))
    for moment, published in (
        (light.sunrise, nrel.SUNRISE),
        (before.sunset, nrel.SUNSET_BEFORE),
    ):
        assert abs((moment - datetime.fromisoformat(published)).total_seconds()) < 2.5


@pytest.mark.parametrize(
    ("lon_lat_deg", "day", "published"),
    [
        *(((nrel.LON_DEG, nrel.LAT_DEG), *item) for item in nrel.WEB_GOLDEN.items()),
        *((nrel.SOUTH_LON_LAT_DEG, *item) for item in nrel.WEB_SOUTH.items()),
    ],
)
def test_days_on_the_site_of_nrel(
    lon_lat_deg: tuple[float, float], day: date, published: tuple[str, str, str]
) -> None:
    light = twilight(day, lon_deg=lon_lat_deg[0], lat_deg=lon_lat_deg[1])
    moments = (light.sunrise, light.transit, light.sunset)
    for moment, when in zip(moments, published, strict=True):
        assert abs((moment - datetime.fromisoformat(when)).total_seconds()) < 2.5


@pytest.mark.parametrize(
    ("lon_deg", "lat_deg", "day"),
    [
        (-24.0, 54.4, date(2025, 3, 20)),
        (170.0, -44.0, date(2025, 6, 1)),
        (178.44, -18.14, date(2025, 12, 21)),
        (180.0, -16.8, date(2025, 8, 1)),
        (-157.4, 1.9, date(2025, 1, 1)),
        (-3.1, 54.5, date(2025, 3, 30)),
        (-3.1, 54.5, date(2025, 10, 26)),
    ],
)
def test_every_event_is_where_it_says_and_in_its_day(
    lon_deg: float, lat_deg: float, day: date
) -> None:
    light = twilight(day, lon_deg=lon_deg, lat_deg=lat_deg)
    for name, level in (DAWNS | DUSKS).items():
        moment = getattr(light, name)
        _, altitude = truly_at(moment, lon_deg, lat_deg)
        # half a second of the finder's, at a quarter of a degree a minute
        assert altitude == pytest.approx(level, abs=0.003)
        assert moment.date() == day
        later = truly_at(moment + timedelta(seconds=60), lon_deg, lat_deg)[1]
        assert (later > altitude) == (name in DAWNS)
    names = [*DAWNS, "transit", *DUSKS]
    times = [getattr(light, name) for name in names]
    assert times == sorted(times)
    azimuth, altitude = truly_at(light.transit, lon_deg, lat_deg)
    assert np.sin(np.radians(azimuth)) == pytest.approx(0.0, abs=1e-3)
    assert light.transit_altitude_deg == pytest.approx(altitude, abs=1e-4)
    assert light.highest_deg == pytest.approx(altitude, abs=0.01)
    assert light.state == "the sun rises and sets"


def test_the_date_line_and_its_neighbours() -> None:
    fiji = twilight(date(2025, 1, 1), lon_deg=178.44, lat_deg=-18.14)
    kiribati = twilight(date(2025, 1, 1), lon_deg=-157.4, lat_deg=1.9)
    assert fiji.sunrise.isoformat().startswith("2025-01-01T05:")
    assert fiji.sunrise.utcoffset() == timedelta(hours=12)
    assert kiribati.sunrise.isoformat().startswith("2025-01-01T06:")
    assert kiribati.sunrise.astimezone(UTC).date() == date(2024, 12, 31)
    east = twilight(date(2025, 1, 1), lon_deg=180.0, lat_deg=0.0)
    west = twilight(date(2025, 1, 1), lon_deg=-180.0, lat_deg=0.0)
    assert abs(east.sunrise - west.sunrise) < timedelta(seconds=0.5)


def test_southern_midwinter_is_short_and_the_noon_sun_in_the_north() -> None:
    june = twilight(date(2025, 6, 21), lon_deg=170.0, lat_deg=-44.0)
    december = twilight(date(2025, 12, 21), lon_deg=170.0, lat_deg=-44.0)
    assert june.sunset - june.sunrise < timedelta(hours=9)
    assert december.sunset - december.sunrise > timedelta(hours=15)
    azimuth, _ = truly_at(june.transit, 170.0, -44.0)
    assert np.cos(np.radians(azimuth)) > 0.999


def test_polar_day() -> None:
    light = twilight(date(2025, 6, 21), lon_deg=25.0, lat_deg=71.0)
    assert light.state == "the sun stays above the horizon all day"
    assert light.sunrise is None
    assert light.sunset is None
    assert light.civil_dawn is None
    assert light.lowest_deg == pytest.approx(23.44 - (90.0 - 71.0), abs=0.02)
    assert light.morning_golden_ends is not None
    assert light.transit is not None


def test_polar_night() -> None:
    light = twilight(date(2025, 12, 21), lon_deg=15.6, lat_deg=78.2)
    assert light.state == "the sun stays below the horizon all day"
    assert light.sunrise is None
    assert light.civil_dawn is None
    assert light.highest_deg == pytest.approx(90.0 - 78.2 - 23.44, abs=0.02)
    # it is dark, with a few hours of nautical twilight about noon
    assert light.nautical_dawn < light.transit < light.nautical_dusk


def test_the_days_on_which_it_only_rises_or_only_sets() -> None:
    spring = twilight(date(2019, 4, 13), lon_deg=0.0, lat_deg=80.0)
    summer = twilight(date(2019, 8, 30), lon_deg=0.0, lat_deg=80.0)
    assert spring.state == "the sun rises and does not set again this day"
    assert summer.state == "the sun sets and does not rise this day"


@pytest.mark.parametrize("lat_deg", [90.0, -90.0])
def test_poles(lat_deg: float) -> None:
    june = twilight(date(2025, 6, 21), lon_deg=0.0, lat_deg=lat_deg)
    where = "above" if lat_deg > 0 else "below"
    assert june.state == f"the sun stays {where} the horizon all day"
    assert june.highest_deg == pytest.approx(np.sign(lat_deg) * 23.44, abs=0.01)
    assert [name for name, _ in june.events()] == ["transit"]


def test_white_night_has_no_astronomical_dawn() -> None:
    light = twilight(date(2025, 6, 21), lon_deg=-24.0, lat_deg=54.4)
    assert light.astronomical_dawn is None
    assert light.nautical_dawn is not None
    assert light.lowest_deg == pytest.approx(23.44 - (90.0 - 54.4), abs=0.02)


def test_dusk_after_midnight_is_the_first_of_its_day() -> None:
    # In western Norway the clock is nearly two hours ahead of the sun in summer, and about the
    # first of August nautical dusk passes midnight: it comes before dawn on that calendar day.
    lon, lat = 5.3, 60.4
    days = [date(2025, 7, 15) + timedelta(days=i) for i in range(40)]
    lights = [twilight(day, lon_deg=lon, lat_deg=lat) for day in days]
    after_midnight = [x for x in lights if x.nautical_dusk and x.nautical_dusk.hour < 2]
    assert after_midnight
    for light in after_midnight:
        assert light.nautical_dusk.date() == light.day
        assert light.nautical_dusk < light.nautical_dawn
        assert light.events()[0][0] == "nautical_dusk"


def test_of_two_sunsets_of_a_day_the_last_is_that_of_its_evening() -> None:
    """About the end of June in Iceland the sunset comes back over midnight, once in a year."""
    twice = []
    for number in range(22):
        day, place = date(2026, 6, 14) + timedelta(days=number), {"lon_deg": -21.9, "lat_deg": 64.1}
        begins = datetime(day.year, day.month, day.day, tzinfo=UTC)
        minutes = [begins + timedelta(minutes=m) for m in range(24 * 60 + 1)]
        up = sun_position(minutes, **place).altitude_deg > -50.0 / 60.0
        falls = np.flatnonzero(up[:-1] & ~up[1:])
        sunset = twilight(day, **place).sunset
        assert (sunset is None) == (falls.size == 0)
        if sunset is not None:
            assert minutes[falls[-1]] <= sunset <= minutes[falls[-1] + 1]
            twice += [sunset.hour] * (falls.size == 2)
    assert twice == [23]


@pytest.mark.parametrize("change", [date(2025, 3, 30), date(2025, 10, 26)])
def test_clock_change(change: date) -> None:
    before, today, after = (
        twilight(change + timedelta(days=i), lon_deg=-3.1, lat_deg=54.5) for i in (-1, 0, 1)
    )
    for name in ("civil_dawn", "sunrise", "transit", "sunset"):
        steps = np.diff([getattr(x, name).timestamp() for x in (before, today, after)]) - 86_400.0
        assert np.abs(steps).max() < 180.0
        assert abs(steps[1] - steps[0]) < 5.0
    assert before.sunrise.utcoffset() != today.sunrise.utcoffset() == after.sunrise.utcoffset()


def test_events_are_in_order_and_leave_out_what_does_not_happen() -> None:
    light = twilight(date(2025, 6, 21), lon_deg=-24.0, lat_deg=54.4)
    names = [name for name, _ in light.events()]
    assert "astronomical_dawn" not in names
    assert names.index("nautical_dawn") < names.index("sunrise") < names.index("sunset")
    assert all(a[1] <= b[1] for a, b in zip(light.events(), light.events()[1:], strict=False))


def test_bad_places_and_days() -> None:
    with pytest.raises(TerrainError, match=r"200\.0 is not a place"):
        twilight(date(2025, 3, 20), lon_deg=200.0, lat_deg=0.0)
    with pytest.raises(TerrainError, match="there was no"):
        twilight(date(2011, 12, 30), lon_deg=-171.76, lat_deg=-13.83)


@pytest.mark.parametrize("lat_deg", [0.0, 54.4, 63.0, 71.0])
def test_one_level_alone_is_that_of_all(lat_deg: float) -> None:
    for month in range(1, 13):
        place = {"lon_deg": -24.0, "lat_deg": lat_deg, "height_m": 300.0}
        day = date(2026, month, 11)
        light = twilight(day, **place)
        assert level_light(day, evening=False, **place) == light.sunrise
        assert level_light(day, evening=True, **place) == light.evening_golden_begins
