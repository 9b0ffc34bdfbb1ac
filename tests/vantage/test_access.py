"""Which vantages can be walked to in time, against the walks themselves."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np
import pandas as pd
import pytest

from terrain.country import Country
from terrain.errors import NoAnswer, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.ground.relief.summits import hill_at
from terrain.sun.twilight import twilight
from terrain.vantage.access import Access, in_place_by, walks_to
from terrain.vantage.find import _in_reach, find_vantages
from terrain.vantage.limits import Limits
from terrain.view.backlight import check_backlight
from terrain.walk.pace import naismith
from terrain.walk.reach import Reach, reach_from
from terrain.walk.walk import walk_in
from tests.conftest import MakeDem
from tests.scenes import Floats, cone

MARCH = dt.date(2026, 3, 20)
SIZE = 121
LIMITS = Limits(apart_m=400.0)


def falling() -> Floats:
    """A hill in the east, and ground that falls towards it from the west."""
    _, col = np.mgrid[:SIZE, :SIZE].astype(float)
    ground = np.maximum(320.0 - 6.0 * np.abs(col - 12.0), 60.0)
    return np.maximum(ground, cone(SIZE, (60, 95), 400.0, 0.5))


@pytest.fixture(scope="module")
def dem(make_dem: MakeDem) -> Dem:
    return make_dem(falling())


@pytest.fixture(scope="module")
def hill(dem: Dem) -> Hill:
    return hill_at(dem, *map(float, dem.grid.lonlat(60, 95)))


def start_at(dem: Dem, row: float, col: float, name: str) -> Spot:
    lon, lat = (float(part) for part in dem.grid.lonlat(row, col))
    return Spot(lon_deg=lon, lat_deg=lat, name=name)


@pytest.fixture(scope="module")
def starts(dem: Dem) -> list[Spot]:
    return [start_at(dem, 85, 25, "the south"), start_at(dem, 30, 45, "the north")]


def test_minutes_are_those_of_the_walk_that_a_plan_would_have(
    dem: Dem, hill: Hill, starts: list[Spot]
) -> None:
    access = Access(within_min=75.0)
    found = find_vantages(dem, hill, day=MARCH, starts=starts, access=access, limits=LIMITS)
    assert len(found) >= 4
    assert set(found["start"]) == {"the south", "the north"}
    for row in found.itertuples():
        spot = Spot(lon_deg=row.lon_deg, lat_deg=row.lat_deg)
        answer = check_backlight(dem, spot, hill, MARCH)
        be_there = in_place_by(answer, access)
        walks = {one.name: walk_in(dem, one, spot, arrives=be_there) for one in starts}
        assert row.walk_min == pytest.approx(walks[row.start].there_s / 60.0, abs=0.05)
        assert row.start == min(walks, key=lambda name: walks[name].there_s)
        assert walks[row.start].dark_s > 0.0
        assert row.walk_min <= 75.0
    assert found.attrs["starts_left_out"] == {}


def test_in_place_ten_minutes_before_the_colour(dem: Dem, hill: Hill) -> None:
    spot = start_at(dem, 60, 20, "")
    answer = check_backlight(dem, spot, hill, MARCH)
    eye_m = answer.view.skyline.eye_height_m
    light = twilight(MARCH, lon_deg=spot.lon_deg, lat_deg=spot.lat_deg, height_m=eye_m)
    before = light.sunrise - in_place_by(answer, Access())
    # the hill delays the sun itself; the colour is a quarter of an hour before it would rise
    assert answer.contact.appears > light.sunrise
    assert before.total_seconds() == pytest.approx(25.0 * 60.0, abs=0.01)
    early = light.sunrise - in_place_by(answer, Access(settle_min=30.0))
    assert early.total_seconds() == pytest.approx(45.0 * 60.0, abs=0.01)


def test_only_what_is_near_enough_is_left(dem: Dem, hill: Hill, starts: list[Spot]) -> None:
    tables = {
        minutes: find_vantages(
            dem,
            hill,
            day=MARCH,
            starts=starts,
            access=Access(within_min=minutes),
            limits=Limits(apart_m=150.0),
            count=24,
        )
        for minutes in (28.0, 36.0, 75.0)
    }
    for minutes, table in tables.items():
        assert table["walk_min"].max() <= minutes
    assert 0 < len(tables[28.0]) < len(tables[36.0]) < len(tables[75.0])
    assert tables[75.0]["walk_min"].max() > 36.0


def test_darkness_takes_its_part(dem: Dem, hill: Hill, starts: list[Spot]) -> None:
    def minutes(**access: float) -> pd.Series:
        table = find_vantages(
            dem,
            hill,
            day=MARCH,
            starts=starts,
            access=Access(**access),
            limits=LIMITS,
            count=4,
        )
        return table.set_index(["lon_deg", "lat_deg"])["walk_min"]

    by_day = minutes(within_min=200.0, dark_factor=1.0)
    dawn = minutes(within_min=200.0)
    night = minutes(within_min=200.0, settle_min=120.0)
    # two hours before the colour all is dark; ten minutes before it the last of the way is not
    assert (night / by_day).tolist() == pytest.approx([1.25] * 4, rel=1e-6)
    assert ((dawn / by_day) > 1.02).all()
    assert ((dawn / by_day) < 1.249).all()
    # what would do by day and does not in the dark is left out
    close = minutes(within_min=float(by_day.max()) + 1.0, settle_min=120.0)
    assert by_day.idxmax() not in close.index


def test_none_within_reach_says_how_many_there_were(
    dem: Dem, hill: Hill, starts: list[Spot]
) -> None:
    with pytest.raises(NoAnswer, match=r"none of \d\d+ places .* is within 10 minutes of a start"):
        find_vantages(dem, hill, day=MARCH, starts=starts, access=Access(within_min=10.0))
    # what is in time by day alone is told how long it takes by day
    standing = [start_at(dem, 60, 30, "a hut")]
    near = find_vantages(
        dem,
        hill,
        day=MARCH,
        starts=standing,
        access=Access(within_min=60.0, dark_factor=1.0, settle_min=90.0),
    )
    walk = Access(within_min=float(near["walk_min"].min()) * 1.1, dark_factor=3.0, settle_min=90.0)
    with pytest.raises(NoAnswer, match=r"of a start in the dark: by day the nearest takes \d+"):
        find_vantages(dem, hill, day=MARCH, starts=standing, access=walk)


def test_the_quickest_start_is_not_the_nearest(make_dem: MakeDem) -> None:
    """A cliff keeps the nearer start away."""
    ground = falling()
    ground[64:66, :60] += 400.0
    ground[66:, :] += 0.0
    dem = make_dem(ground)
    hill = hill_at(dem, *map(float, dem.grid.lonlat(60, 95)))
    starts = [start_at(dem, 70, 30, "beyond"), start_at(dem, 35, 30, "this side")]
    crow = find_vantages(dem, hill, day=MARCH, starts=starts, limits=LIMITS)
    assert "walk_min" not in crow
    assert "beyond" in set(crow["start"])
    walked = find_vantages(
        dem, hill, day=MARCH, starts=starts, access=Access(within_min=90.0), limits=LIMITS
    )
    assert set(walked["start"]) == {"this side"}
    assert (walked["start_m"] > 1000.0).all()


def test_water_paths_and_pace_are_those_of_the_walk(
    dem: Dem, hill: Hill, starts: list[Spot]
) -> None:
    row, _ = np.mgrid[:SIZE, :SIZE]
    wet = (row > 70) & (row < 75)
    both = find_vantages(
        dem, hill, day=MARCH, starts=starts, access=Access(within_min=90.0, water=wet)
    )
    assert set(both["start"]) == {"the north"}
    slow = Access(within_min=200.0, pace=naismith, path_factor=2.0)
    table = find_vantages(dem, hill, day=MARCH, starts=starts[1:], access=slow, count=1)
    spot = Spot(lon_deg=table["lon_deg"][0], lat_deg=table["lat_deg"][0])
    walk = walk_in(
        dem,
        starts[1],
        spot,
        pace=naismith,
        path_factor=2.0,
        arrives=in_place_by(check_backlight(dem, spot, hill, MARCH), slow),
    )
    assert table["walk_min"][0] == pytest.approx(walk.there_s / 60.0, abs=0.05)


def test_a_year_is_walked_to_on_its_own_mornings(dem: Dem, hill: Hill, starts: list[Spot]) -> None:
    access = Access(within_min=60.0)
    table = find_vantages(
        dem, hill, year=2026, starts=starts, access=access, limits=LIMITS, count=3
    )
    for row in table.itertuples():
        spot = Spot(lon_deg=row.lon_deg, lat_deg=row.lat_deg)
        answer = check_backlight(dem, spot, hill, row.day)
        start = next(one for one in starts if one.name == row.start)
        walk = walk_in(dem, start, spot, arrives=in_place_by(answer, access))
        assert row.walk_min == pytest.approx(walk.there_s / 60.0, abs=0.05)
        assert row.walk_min <= 60.0
    far = [start_at(dem, 100, 118, "the far side")]
    with pytest.raises(NoAnswer, match=r"none of \d+ places .* within 5 minutes of a start"):
        find_vantages(dem, hill, year=2026, starts=far, access=Access(within_min=5.0))


def test_starts_at_which_no_walk_begins(make_dem: MakeDem) -> None:
    ground = falling()
    ground += cone(SIZE, (105, 105), 500.0, 1.2)
    dem = make_dem(ground)
    hill = hill_at(dem, *map(float, dem.grid.lonlat(60, 95)))
    good, steep = start_at(dem, 40, 40, "the gate"), start_at(dem, 105, 103, "a crag")
    off = start_at(dem, 60, 130, "off the map")
    abroad = Spot(lon_deg=-20.0, lat_deg=54.4, name="abroad")
    access = Access(within_min=80.0)
    table = find_vantages(dem, hill, day=MARCH, starts=[off, abroad, steep, good], access=access)
    left_out = table.attrs["starts_left_out"]
    assert set(table["start"]) == {"the gate"}
    assert list(left_out) == ["off the map", "abroad", "a crag"]
    assert "no ground at" in left_out["off the map"]
    assert "km from the hill" in left_out["abroad"]
    assert "cannot be walked" in left_out["a crag"]
    with pytest.raises(NoAnswer, match=r"no walk begins at any start; abroad: it is 2.. km from"):
        find_vantages(dem, hill, day=MARCH, starts=[abroad, off], access=access)


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ({"within_min": 0.0}, "within 0.0 minutes: give a time above 0"),
        ({"within_min": float("nan")}, "within nan minutes"),
        ({"within_min": float("inf")}, "within inf minutes"),
        ({"settle_min": -1.0}, "-1.0 minutes in place: give 0 or more"),
        ({"dark_factor": 0.5}, "1 or more times as long, not 0.5"),
    ],
)
def test_access_that_makes_no_sense(wrong: dict[str, float], message: str) -> None:
    with pytest.raises(TerrainError, match=message):
        Access(**wrong)


def test_access_needs_a_start_and_a_going_that_make_sense(
    dem: Dem, hill: Hill, starts: list[Spot]
) -> None:
    for none in (None, []):
        with pytest.raises(TerrainError, match="by foot from a start, and none was given"):
            find_vantages(dem, hill, day=MARCH, starts=none, access=Access())
    with pytest.raises(TerrainError, match="open ground takes 1 or more"):
        find_vantages(dem, hill, day=MARCH, starts=starts, access=Access(path_factor=0.5))


def test_a_walk_is_searched_once_for_all_that_ask_alike(
    dem: Dem, hill: Hill, starts: list[Spot], monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str] = []

    def counted(ground: Dem, start: Spot, *rest: Any) -> Reach:
        asked.append(start.label)
        return reach_from(ground, start, *rest)

    monkeypatch.setattr("terrain.vantage.access.reach_from", counted)
    country, closed = Country(dem), np.zeros(dem.shape, dtype=bool)
    first = walks_to(country, hill, starts, Access(within_min=50.0), 5000.0)
    again = walks_to(country.under_level(80.0), hill, starts, Access(within_min=50.0), 5000.0)
    np.testing.assert_array_equal(first.by_day_min, again.by_day_min)
    assert asked == ["the south", "the north"]

    # a shorter one is found in it
    shorter = walks_to(country, hill, starts, Access(within_min=30.0), 5000.0)
    own = walks_to(Country(dem), hill, starts, Access(within_min=30.0), 5000.0)
    np.testing.assert_allclose(shorter.by_day_min, own.by_day_min, rtol=1e-6)
    assert asked == 2 * ["the south", "the north"]
    asked[2:] = []

    # whatever makes another walk of it is another search
    others = [{"within_min": 60.0}, {"pace": naismith}, {"path_factor": 2.0}, {"water": closed}]
    others += [{"max_slope_deg": 20.0}]
    for other in others:
        walks_to(country, hill, starts[:1], Access(**{"within_min": 50.0, **other}), 5000.0)
    assert len(asked) == 2 + len(others)


def test_a_morning_is_in_reach_within_the_minutes_asked(make_dem: MakeDem) -> None:
    """2 km of open ground take 40 minutes: Tobler's 5.04 km/h on the level, times 0.6."""
    dem = make_dem(np.zeros((41, 81)), 50.0)
    (start_lon, lon), (start_lat, lat) = dem.grid.lonlat([20, 20], [20, 60])
    day, by_day = dt.date(2026, 3, 20), pd.Timestamp("2026-03-20T12:00Z")
    row = {"lon_deg": lon, "lat_deg": lat, "eye_m": 1.7, "day": day, "light_begins": by_day}
    start = Spot(lon_deg=float(start_lon), lat_deg=float(start_lat))
    asked = pd.DataFrame([row]), dem, start
    spot, found = _in_reach(*asked, Access(within_min=41.0), (day, day))
    assert (spot.lon_deg, spot.lat_deg, found) == (lon, lat, day)
    with pytest.raises(NoAnswer, match="within 39 minutes on foot"):
        _in_reach(*asked, Access(within_min=39.0), (day, day))
