"""Every time at which the sun shows, against a disc that is looked at twice a second."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, cached_property

import numpy as np
import pytest

from terrain.errors import TerrainError
from terrain.sight.skyline import Skyline
from terrain.view.contact import sun_contact
from terrain.view.passage import Showing, sun_passage
from tests.scenes import Floats, flat, ring
from tests.twin import RIM, Sky

MARCH = dt.date(2026, 3, 20)
LON_DEG, LAT_DEG, EYE_M = -24.0, 54.4, 100.0
STEP_S = 0.5
TOLERANCE_S = 3.0

Spell = tuple[float | None, float | None]


@dataclass(frozen=True)
class Disc(Sky):
    """The twin's sun in the air of Bennett's formula, turned round step by step."""

    def lifted(self, true_deg: Floats) -> Floats:
        """Apparent altitudes (Meeus, eq. 16.3, with his constant that makes the zenith zero).

        The formula is of the apparent one, and gives the true ones of a table, turned round here.
        """
        return np.interp(true_deg, *self._table)

    @cached_property
    def _table(self) -> tuple[Floats, Floats]:
        pressure = 1013.25 * (1.0 - 2.25577e-5 * self.height_m) ** 5.25588
        density = pressure / 1010.0 * 283.0 / (273.0 + self.temperature_c)
        seen = np.arange(-3.0, 90.0, 0.001)
        arcmin = 1.0 / np.tan(np.radians(seen + 7.31 / (seen + 4.4))) + 0.0013515
        return seen - density * arcmin / 60.0, seen

    def centre(self, unix_s: Floats) -> tuple[Floats, Floats]:
        azimuth, true, _ = self.true(unix_s)
        return azimuth, self.lifted(true)

    def rim_between(self, unix_s: Floats, step_deg: float) -> tuple[Floats, Floats]:
        """As `rim`, and over every multiple of a step of azimuth."""
        azimuth, altitude, half = (v[:, np.newaxis] for v in self.true(unix_s))
        azimuth = np.unwrap(azimuth, period=360.0, axis=0)
        wide = half / np.cos(np.radians(altitude))
        reach = np.arange(-int(0.4 / step_deg), int(0.4 / step_deg) + 1)
        across = ((np.round(azimuth / step_deg) + reach) * step_deg - azimuth) / wide
        over = np.arccos(np.clip(across, -1.0, 1.0))
        turn = np.concatenate([np.broadcast_to(RIM, (unix_s.size, RIM.size)), over], axis=1)
        return azimuth + wide * np.cos(turn), self.lifted(altitude + half * np.sin(turn))


disc_at = cache(Disc)


def disc_over(skyline: Skyline) -> Disc:
    return disc_at(skyline.spot.lon_deg, skyline.spot.lat_deg, skyline.eye_height_m)


def half_day(skyline: Skyline, day: dt.date, evening: bool) -> Floats:
    """Moments every ten seconds from the sun's lowest to its highest, or back."""
    noon = dt.datetime(day.year, day.month, day.day, 12, tzinfo=dt.UTC).timestamp()
    noon -= skyline.spot.lon_deg * 240.0
    half = np.arange(0.0, 43_800.0, 10.0)
    times = noon + half if evening else noon - half[::-1]
    altitude = disc_over(skyline).true(times)[1]
    ends = sorted((int(np.argmin(altitude)), int(np.argmax(altitude))))
    return times[ends[0] : ends[1] + 1]


def twin_spells(
    skyline: Skyline, day: dt.date, up_to_deg: float = 6.0, evening: bool = False
) -> list[Spell]:
    """From when to when any of 240 points of the rim stands over the ground, in UNIX seconds."""
    sky = disc_over(skyline)
    coarse = half_day(skyline, day, evening)
    low = coarse[(sky.true(coarse)[1] > -2.0) & (sky.centre(coarse)[1] < up_to_deg)]
    times = np.arange(low[0], low[-1], STEP_S)
    ground_deg = np.append(skyline.altitude_deg, skyline.altitude_deg[0])
    azimuths = np.append(skyline.azimuth_deg, skyline.azimuth_deg[0] + 360.0)
    step_deg = float(skyline.azimuth_deg[1])
    shows = np.empty(times.size, dtype=bool)
    for part in np.array_split(np.arange(times.size), 20):
        azimuth, altitude = sky.rim_between(times[part], step_deg)
        ground = np.nan_to_num(np.interp(azimuth % 360.0, azimuths, ground_deg))
        shows[part] = (altitude - ground).max(axis=1) > 0.0
    changes = np.flatnonzero(shows[1:] != shows[:-1])
    edges: list[float | None] = [0.5 * (times[at] + times[at + 1]) for at in changes]
    if shows[0]:
        edges.insert(0, None)
    if shows[-1]:
        edges.append(None)
    return list(zip(edges[::2], edges[1::2], strict=True))


def agree(found: tuple[Showing, ...], known: list[Spell]) -> None:
    assert len(found) == len(known)
    for showing, (start_s, end_s) in zip(found, known, strict=True):
        for moment, second in ((showing.start, start_s), (showing.end, end_s)):
            assert (moment is None) == (second is None)
            if moment is not None and second is not None:
                assert moment.timestamp() == pytest.approx(second, abs=TOLERANCE_S)


def along(over_deg: Callable[[Floats], Floats], *, evening: bool = False) -> Skyline:
    """A ridge along the way of the sun's upper edge, and so much over it, degrees.

    over_deg: from the azimuth, in the evening as a mirror at the meridian shows it.
    """
    sky = disc_at(LON_DEG, LAT_DEG, EYE_M)
    times = half_day(flat(0.0), MARCH, evening)
    azimuth, true, half = sky.true(times)
    up = (true > -0.4) & (true < 25.0)
    azimuth, true, half = azimuth[up], true[up], half[up]
    top, bottom = sky.lifted(true + half), sky.lifted(true - half)
    middle, tall = 0.5 * (top + bottom), 0.5 * (top - bottom)
    wide = half / np.cos(np.radians(middle))
    # the upper edge of what an ellipse passes over
    edge = middle + np.hypot(tall, wide * np.gradient(middle, azimuth))
    azimuth, edge = azimuth[np.argsort(azimuth)], edge[np.argsort(azimuth)]

    def ridge(at: Floats) -> Floats:
        over = over_deg(360.0 - at if evening else at)
        return np.interp(at, azimuth, edge) + over

    return ring(ridge, step_deg=0.02)


def dips(*each: tuple[float, float], base_deg: float = 0.05) -> Callable[[Floats], Floats]:
    """So much over the sun's edge, with notches of a depth under it at azimuths; free at 97."""

    def over(at: Floats) -> Floats:
        ridge = np.where(at < 97.0, base_deg, -3.0)
        for azimuth, depth in each:
            ridge = np.minimum(ridge, np.abs(at - azimuth) * 2.0 - depth)
        return ridge

    return over


SHAPES = {
    "a single rise": flat(1.0),
    "a flash, and later the sun": along(dips((94.0, 0.0007))),
    "three appearances": along(dips((93.0, 0.003), (95.0, 0.02))),
    "hidden for seconds": along(dips((94.0, 0.02), (94.3, 0.02))),
    "rugged": ring(lambda a: 1.5 + np.abs(np.sin(np.radians(80.0 * a)))),
}


@pytest.mark.parametrize("shape", SHAPES)
def test_a_disc_looked_at_twice_a_second_shows_at_the_same_times(shape: str) -> None:
    found = sun_passage(SHAPES[shape], MARCH)
    agree(found, twin_spells(SHAPES[shape], MARCH))
    contact = sun_contact(SHAPES[shape], MARCH)
    starts = [each.appears for each in (contact, *contact.later)]
    assert starts[: len(found)] == [showing.start for showing in found]
    assert contact.azimuth_deg == found[0].start_azimuth_deg
    assert contact.altitude_deg == found[0].start_altitude_deg
    assert len(found) == {"a single rise": 1, "rugged": 1, "a flash, and later the sun": 2}.get(
        shape, 3
    )


def test_a_flash_is_no_longer_than_half_a_minute_and_hidden_again() -> None:
    flash, whole = sun_passage(SHAPES["a flash, and later the sun"], MARCH)
    assert flash.seconds == pytest.approx(10.0, abs=1.0)
    assert (flash.is_flash, whole.is_flash) == (True, False)
    (cut,) = sun_passage(flat(1.0), MARCH, up_to_deg=0.78)
    assert cut.seconds < 30.0
    assert cut.end is None
    assert not cut.is_flash


@pytest.mark.parametrize("depth_deg", [0.0007, 0.012, 0.12])
@pytest.mark.parametrize("evening", [False, True])
def test_a_double_sunset_and_its_mirror(depth_deg: float, evening: bool) -> None:
    """It sets, shows for 10 to 110 seconds, and sets; in the morning the other way about."""
    sky = along(dips((95.0, depth_deg)), evening=evening)
    found = sun_passage(sky, MARCH, evening=evening)
    agree(found, twin_spells(sky, MARCH, evening=evening))
    short, whole = found[::-1] if evening else found
    assert (whole.start is None, whole.end is None) == (evening, not evening)
    contact = sun_contact(sky, MARCH, evening=evening)
    ends = [each.end if evening else each.start for each in (short, whole)]
    assert [each.appears for each in (contact, *contact.later)] == ends
    assert contact.clears is None
    ends_deg = short.end_azimuth_deg, short.end_altitude_deg
    starts_deg = short.start_azimuth_deg, short.start_altitude_deg
    assert (contact.azimuth_deg, contact.altitude_deg) == (ends_deg if evening else starts_deg)
    assert 9.0 < short.seconds < 115.0
    assert short.is_flash == (short.seconds < 30.0)


def apart_deg(sky: Disc, unix_s: Floats, azimuth_deg: float, altitude_deg: float) -> Floats:
    """Angle between the sun's centre and a direction, by their unit vectors."""
    vectors = []
    for azimuth, altitude in (sky.centre(unix_s), (azimuth_deg, altitude_deg)):
        turn, up = np.radians(azimuth), np.radians(altitude)
        vectors.append(
            np.stack([np.cos(up) * np.sin(turn), np.cos(up) * np.cos(turn), np.sin(up)], axis=-1)
        )
    return np.degrees(np.arccos(vectors[0] @ vectors[1]))


def test_rolls_up_a_ridge_and_stands_on_the_summit() -> None:
    """Twenty minutes after a first flash five degrees to the left of it."""
    edge = along(np.zeros_like)
    top = float(edge.at(98.0)) - 0.55

    def over(at: Floats) -> Floats:
        ridge = np.minimum(0.05, np.abs(at - 93.0) * 2.0 - 0.002)
        return np.where(at < 97.7, ridge, np.where(at > 98.3, -4.0, top - edge.at(at)))

    skyline = along(over)
    found = sun_passage(skyline, MARCH, toward=(98.0, top))
    agree(found, twin_spells(skyline, MARCH))
    flash, stands = found
    assert flash.is_flash
    assert flash.start is not None
    assert flash.start_azimuth_deg == pytest.approx(93.0, abs=0.02)
    assert np.isnan([stands.end_azimuth_deg, stands.end_altitude_deg]).all()
    (at_end,), (nearest,) = flash.nearest, stands.nearest
    assert at_end.at == flash.end
    assert nearest.at - flash.start == pytest.approx(dt.timedelta(minutes=23), abs=minute())
    sky, times = disc_over(skyline), nearest.at.timestamp() + np.arange(-60.0, 60.0, STEP_S)
    apart = apart_deg(sky, times, 98.0, top)
    assert nearest.apart_deg == pytest.approx(apart.min(), abs=2e-3)
    assert nearest.at.timestamp() == pytest.approx(times[np.argmin(apart)], abs=TOLERANCE_S)
    assert nearest.apart_widths == pytest.approx(apart.min() / 0.5352, rel=0.01)
    azimuth, altitude = sky.centre(np.array([nearest.at.timestamp()]))
    assert nearest.sun_azimuth_deg == pytest.approx(azimuth[0], abs=2e-3)
    assert nearest.sun_altitude_deg == pytest.approx(altitude[0], abs=2e-3)


@pytest.mark.parametrize("evening", [False, True])
def test_what_shows_follows_the_clock(evening: bool) -> None:
    """Three showings, and the moments of each, from the earliest to the latest."""
    sky = along(dips((93.0, 0.003), (95.0, 0.02)), evening=evening)
    summit = (264.0, 3.0) if evening else (96.0, 3.0)
    found = sun_passage(sky, MARCH, evening=evening, toward=summit)
    assert len(found) == 3
    told = [
        moment
        for showing in found
        for moment in (showing.start, *(each.at for each in showing.nearest), showing.end)
        if moment is not None
    ]
    assert told == sorted(told)
    for showing in found:
        if showing.start and showing.end:
            lasts_s = (showing.end - showing.start).total_seconds()
            assert showing.seconds == pytest.approx(lasts_s, abs=1e-5)
        at_deg = showing.start_azimuth_deg, showing.end_azimuth_deg
        assert not at_deg[0] > at_deg[1]


def minute() -> dt.timedelta:
    return dt.timedelta(minutes=1)


def test_a_polar_day() -> None:
    """It shows at midnight, goes behind a hill and comes out, and never sets."""
    hill = ring(lambda a: np.where(np.abs(a - 15.0) < 4.0, 7.0, 0.5), lon_deg=25.0, lat_deg=71.0)
    day = dt.date(2026, 6, 21)
    found = sun_passage(hill, day)
    agree(found, twin_spells(hill, day))
    assert [(each.start is None, each.end is None) for each in found] == [
        (True, False),
        (False, True),
    ]
    (all_night,) = sun_passage(flat(0.5, lon_deg=25.0, lat_deg=71.0), day)
    assert (all_night.start, all_night.end) == (None, None)
    assert sun_passage(flat(0.5, lon_deg=25.0, lat_deg=71.0), day, up_to_deg=3.0) == ()
    assert sun_passage(flat(0.5, lon_deg=25.0, lat_deg=71.0), dt.date(2026, 12, 21)) == ()


@pytest.mark.parametrize("evening", [False, True])
def test_what_shows_over_unknown_ground_alone_is_left_out(evening: bool) -> None:
    """A level horizon stands in there; over the known ground the times are as they were."""

    def ground(a: Floats) -> Floats:
        a = 360.0 - a if evening else a
        return np.select([a < 91.0, a < 94.0], [1.0, 5.0], np.nan)

    skyline = ring(ground)
    known = twin_spells(skyline, MARCH, evening=evening)
    assert len(known) == 2
    agree(sun_passage(skyline, MARCH, evening=evening), known[1:] if evening else known[:1])
    assert sun_passage(ring(lambda a: np.where(a < 180.0, np.nan, 1.0)), MARCH) == ()


def test_ends_where_the_sun_is_as_high_as_asked() -> None:
    for evening in (False, True):
        low, high = (
            sun_passage(flat(1.0), MARCH, up_to_deg=up_to, evening=evening)[0].seconds
            for up_to in (2.0, 6.0)
        )
        since = dt.datetime(2026, 3, 20, 12, tzinfo=dt.UTC).timestamp()
        sky = disc_over(flat(1.0))
        times = since + 1600 * 4 + (1 if evening else -1) * np.arange(0.0, 30_000.0)[::20]
        altitude = sky.centre(times)[1]
        between = np.abs(np.diff([times[np.argmin(np.abs(altitude - at))] for at in (2.0, 6.0)]))
        assert high - low == pytest.approx(float(between[0]), abs=25.0)


@pytest.mark.parametrize("wrong", [91.0, float("nan")])
def test_altitudes_that_are_none(wrong: float) -> None:
    with pytest.raises(TerrainError, match="must be -90 to 90 degrees, got"):
        sun_passage(flat(1.0), MARCH, up_to_deg=wrong)
    with pytest.raises(TerrainError, match="must be -90 to 90 degrees, got"):
        sun_passage(flat(1.0), MARCH, toward=(90.0, wrong))
