"""Vantages of an evening, of a lens, and against a backdrop; what is said of each."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.ground.relief.summits import hill_at
from terrain.mist.level import level_mist
from terrain.show.files.calendar import save_calendar
from terrain.sun.twilight import twilight
from terrain.vantage.access import Access, in_place_by
from terrain.vantage.find import choose_vantage, find_vantages
from terrain.vantage.limits import Limits
from terrain.vantage.season import plan_season
from terrain.view.backlight import check_backlight
from terrain.words.vantages import evening_lines, lacks
from tests.conftest import MakeDem
from tests.scenes import cone

MARCH = dt.date(2026, 3, 20)
SIZE = 121
LIMITS = Limits(freeboard_m=10.0)


@pytest.fixture(scope="module")
def lone(make_dem: MakeDem) -> Dem:
    """A hill in a wide bowl: from its rim it is seen out of a mist, in the east and the west."""
    row, col = np.mgrid[:SIZE, :SIZE] - SIZE // 2
    rim = 10.0 + 4.0 * np.maximum(np.hypot(row, col) - 30, 0)
    return make_dem(np.maximum(rim, cone(SIZE, (60, 60), 200.0, 0.4)))


def hill_of(dem: Dem) -> Hill:
    return hill_at(dem, *map(float, dem.grid.lonlat(60, 60)), name="the Cone")


def test_the_evening_s_vantages_lie_on_the_other_side(lone: Dem) -> None:
    hill, mist = hill_of(lone), level_mist(lone, 50.0)
    found = find_vantages(lone, hill, day=MARCH, mist=mist, limits=LIMITS, evening=True)
    assert len(found) > 2
    assert found["evening"].all()
    assert found["azimuth_deg"].between(225.0, 315.0).all()
    for row in found.itertuples():
        spot = Spot(lon_deg=row.lon_deg, lat_deg=row.lat_deg)
        answer = check_backlight(lone, spot, hill, MARCH, mist=mist, evening=True)
        assert answer.within(LIMITS.tolerance_deg)
        assert answer.contact.appears == row.appears
        assert row.best_at <= row.appears
        assert row.appears.hour >= 15
        assert row.mist_share >= LIMITS.mist_share
    assert "way back is in the dark" in evening_lines(found)[0]
    morning = find_vantages(lone, hill, day=MARCH, mist=mist, limits=LIMITS)
    assert morning["azimuth_deg"].between(45.0, 135.0).all()
    assert evening_lines(morning) == ()


def test_one_is_there_before_the_warm_light(lone: Dem) -> None:
    hill, access = hill_of(lone), Access(within_min=90.0)
    start = Spot(lon_deg=hill.lon_deg + 0.03, lat_deg=hill.lat_deg, name="the lane")
    found = find_vantages(
        lone, hill, day=MARCH, limits=LIMITS, evening=True, starts=[start], access=access, count=2
    )
    row = found.iloc[0]
    assert 0.0 < row["walk_min"] <= 90.0
    spot = Spot(lon_deg=row["lon_deg"], lat_deg=row["lat_deg"])
    answer = check_backlight(lone, spot, hill, MARCH, evening=True)
    light = twilight(MARCH, lon_deg=spot.lon_deg, lat_deg=spot.lat_deg, height_m=row["height_m"])
    by = in_place_by(answer, access)
    assert light.evening_golden_begins is not None
    ahead = light.evening_golden_begins - by
    assert ahead >= dt.timedelta(minutes=9.5)
    assert by < row["best_at"]
    place, day = choose_vantage(lone, hill, start, (MARCH, MARCH), access=access, evening=True)
    assert day == MARCH
    assert (place.lon_deg, place.lat_deg) in set(
        zip(found["lon_deg"], found["lat_deg"], strict=True)
    )


def test_evenings_of_a_season_and_their_calendar(lone: Dem, tmp_path: Path) -> None:
    last = MARCH + dt.timedelta(days=2)
    season = plan_season(
        lone, [hill_of(lone)], MARCH, last, step_days=2, limits=LIMITS, evening=True
    )
    assert set(season["day"]) == {MARCH, last}
    for row in season.itertuples():
        assert row.light_begins < row.best_at
        assert row.appears.date() == row.day
    save_calendar(season, tmp_path / "evenings.ics")
    text = (tmp_path / "evenings.ics").read_text().replace("\r\n ", "")
    assert "the Cone at sunset" in text
    assert "sun gone" in text
    assert "sunrise" not in text


def test_a_lens_holds_hill_mist_and_sun_or_not(lone: Dem) -> None:
    hill, mist = hill_of(lone), level_mist(lone, 50.0)
    # in so narrow a frame about the summit there is no mist
    wide, long = (
        find_vantages(
            lone,
            hill,
            day=MARCH,
            mist=mist,
            limits=replace(LIMITS, field_deg=field, mist_share=m),
            count=3,
        )
        for field, m in (((50.0, 34.0), 0.05), ((2.6, 1.7), 0.0))
    )
    assert (wide["fits_share"] == 1.0).all()
    assert (wide["frame"] == 1.0).all()
    assert (long["fits_share"] < 0.5).all()
    said = lacks(long.iloc[0].to_dict())
    assert "% of it in frame" in said


@pytest.mark.parametrize("against", ["sky", "mist", "ground"])
def test_the_backdrop_is_the_one_asked_for(make_dem: MakeDem, against: str) -> None:
    """From high on a slope a low hill stands against the mist, or a fell behind; low down the sky.

    The fell is there for its own case alone.
    """
    _, col = np.mgrid[:SIZE, :SIZE].astype(float)
    fell = np.where(col > 110, 90.0 if against == "ground" else 0.0, 0.0)
    slope = np.maximum(420.0 - 8.0 * col, fell)
    dem = make_dem(np.maximum(slope, cone(SIZE, (60, 90), 130.0, 0.4)))
    hill = hill_at(dem, *map(float, dem.grid.lonlat(60, 90)))
    limits = replace(LIMITS, against=against, max_slope_deg=80.0)
    found = find_vantages(dem, hill, day=MARCH, mist=level_mist(dem, 50.0), limits=limits)
    assert set(found["backdrop"]) == {against}


def test_what_fails_is_said_in_words() -> None:
    row = {"alignment": 0.0, "best_deg": 3.0, "waterline": 0.0, "over_mist": 0.0}
    said = lacks(row | {"over_mist_deg": float("nan"), "footing": 0.9})
    assert said == "sun 3.0° off, no mist at its foot"
    assert lacks({"alignment": 1.0}) == "-"
