"""A season of mornings: each row against the search of one day and the check of one morning."""

from __future__ import annotations

import datetime as dt
from collections import deque
from contextlib import suppress
from functools import partial
from queue import SimpleQueue
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest

import terrain.vantage.search as search_module
import terrain.vantage.season as season_module
from terrain import processes
from terrain.country import Country
from terrain.errors import NoAnswer, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.ground.relief.summits import find_summits, hill_at
from terrain.mist.level import level_mist, mist_range
from terrain.mist.mist import Mist
from terrain.mist.valley import valley_mist
from terrain.plan.morning import plan_morning
from terrain.vantage.access import Access
from terrain.vantage.find import choose_vantage, find_vantages
from terrain.vantage.limits import Limits
from terrain.vantage.question import Question
from terrain.vantage.season import plan_season
from terrain.view.backlight import check_backlight
from tests.conftest import MakeDem
from tests.scenes import cone

SIZE = 121
TOP_M = 60.0
# the clocks in Britain go back on the 25th
FIRST, LAST = dt.date(2026, 10, 24), dt.date(2026, 10, 26)
DAYS = [FIRST, dt.date(2026, 10, 25), LAST]


@pytest.fixture(scope="module")
def ground(make_dem: MakeDem) -> Dem:
    """Rising gently outwards, with two hills and, far north of them, one too low for the mist."""
    row, col = np.mgrid[:SIZE, :SIZE]
    bowl = 10.0 + 2.5 * np.hypot(row - 60, col - 60)
    hills = [cone(SIZE, (70, 75), 400.0, 0.4), cone(SIZE, (45, 60), 330.0, 0.5)]
    heights = np.maximum.reduce([bowl, *hills])
    heights[60, 60] = 55.0
    return make_dem(heights, lon=-3.1, lat=54.5)


@pytest.fixture(scope="module")
def hills(ground: Dem) -> list[Hill]:
    cells = {"the Great Cone": (70, 75), "the Small Cone": (45, 60), "the Wart": (60, 60)}
    return [
        hill_at(ground, *map(float, ground.grid.lonlat(*cell)), snap_m=30.0, name=name)
        for name, cell in cells.items()
    ]


@pytest.fixture(scope="module")
def season(ground: Dem, hills: list[Hill]) -> gpd.GeoDataFrame:
    return plan_season(ground, hills, FIRST, LAST, mist_top_m=TOP_M)


def test_every_row_holds_when_checked_by_itself(
    ground: Dem, hills: list[Hill], season: gpd.GeoDataFrame
) -> None:
    mist = level_mist(ground, TOP_M)
    by_name = {hill.label: hill for hill in hills}
    assert len(season) >= 3
    assert season.crs == "EPSG:4326"
    for row in season.itertuples():
        hill = by_name[row.hill]
        spot = Spot(lon_deg=row.geometry.x, lat_deg=row.geometry.y)
        answer = check_backlight(ground, spot, hill, row.day, mist=mist)
        # the sun may stand over the hill later, having shown beside it first
        assert answer.within(Limits().tolerance_deg)
        assert answer.contact.appears == row.appears
        assert row.appears.date() == row.day
        assert answer.offset_deg == pytest.approx(row.offset_deg, abs=1e-9)
        assert row.best_deg == pytest.approx(answer.best.away_deg, abs=1e-9)
        assert row.best_deg <= Limits().tolerance_deg
        assert row.mist_share >= Limits().mist_share
        assert answer.view.freeboard_m == pytest.approx(row.freeboard_m)
        assert row.freeboard_m >= Limits().freeboard_m
        assert (row.hill_lon_deg, row.hill_lat_deg) == (hill.lon_deg, hill.lat_deg)


def best_of_day(ground: Dem, hill: Hill, day: dt.date, mist: Mist) -> pd.Series | None:
    for count in (1, 3):
        with suppress(NoAnswer):
            return find_vantages(ground, hill, day=day, mist=mist, count=count).iloc[0]
    return None


def test_rows_are_those_of_the_search_of_each_day(
    ground: Dem, hills: list[Hill], season: gpd.GeoDataFrame
) -> None:
    """The slow twin: everything anew for each hill and each day."""
    mist = level_mist(ground, TOP_M)
    found = {(row.hill, row.day): row for row in season.itertuples()}
    for hill in hills:
        for day in DAYS:
            best = best_of_day(ground, hill, day, mist)
            if best is None:
                assert (hill.label, day) not in found
                continue
            row = found.pop((hill.label, day))
            assert (row.lon_deg, row.lat_deg) == (best["lon_deg"], best["lat_deg"])
            assert row.appears == best["appears"]
            assert row.score == pytest.approx(best["score"], abs=1e-12)
    assert not found


@pytest.mark.parametrize("kind", ["a range of an evening", "along the floors, on foot"])
def test_another_process_finds_the_same(kind: str, ground: Dem, hills: list[Hill]) -> None:
    """To the last digit, and with the same reasons where there is none."""
    asked, mist = Question(evening=True), mist_range(ground, [40.0, TOP_M, 80.0])
    if kind == "along the floors, on foot":
        start = Spot(lon_deg=hills[0].lon_deg, lat_deg=hills[0].lat_deg, name="the pound")
        dry = Limits(mist_share=0.0)
        asked = Question(limits=dry, starts=[start], access=Access(within_min=240.0))
        mist = valley_mist(ground, 3.0)
    work = partial(season_module._of_hill, Country(ground).under(mist), hills, asked, DAYS)
    shares: list[float] = []
    here = [work(number, shares.append) for number in range(len(hills))]
    events: SimpleQueue[processes.Event] = SimpleQueue()
    there: dict[int, object] = {}
    with processes._beside(work, 1, deque(range(len(hills))), events):
        while len(there) < len(hills):
            event = events.get(timeout=60.0)
            assert event is not None, "it cannot do it"
            number, share, done = event
            if done is None:
                assert share == shares.pop(0)
            else:
                there[number] = done[0]
    assert [repr(there[number]) for number in range(len(hills))] == [repr(one) for one in here]
    assert any(one.rows for one in here)
    assert any(one.why_none for one in here)


def test_several_processes_make_the_same_table(
    ground: Dem, hills: list[Hill], season: gpd.GeoDataFrame, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(processes, "WORTH_S", 1e-3)
    shares: list[float] = []
    several = plan_season(
        ground, hills, FIRST, LAST, mist_top_m=TOP_M, processes=2, progress=shares.append
    )
    pd.testing.assert_frame_equal(several, season, check_exact=True)
    assert several.attrs == season.attrs
    assert list(several.attrs["left_out"]) == list(season.attrs["left_out"])
    assert shares == sorted(shares)
    assert shares[-1] == 1.0


def test_one_day_by_other_weights(ground: Dem, hills: list[Hill]) -> None:
    """Where nearness to the summit counts for nothing the best place may lie far from it."""
    aside = []
    for day in (FIRST, LAST, dt.date(2026, 11, 12)):
        weights = {"alignment": 0.0, "nearness": 9.0}
        best = find_vantages(ground, hills[0], day=day, count=1, weights=weights).iloc[0]
        (row,) = plan_season(ground, hills[:1], day, day, weights=weights).itertuples()
        assert (row.lon_deg, row.lat_deg, row.appears) == tuple(
            best[["lon_deg", "lat_deg", "appears"]]
        )
        aside.append(row.best_deg)
    assert max(aside) > 0.5


def test_best_of_a_second_round(
    ground: Dem, hills: list[Hill], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the likeliest places fail, more are looked at, and the best of those is taken."""
    pick = search_module.pick

    def no_luck_at_first(batches: Any, take: Any, **asked: Any) -> list[dict[str, Any]]:
        return [] if asked["count"] == 1 else pick(batches, take, **asked)[::-1]

    three = find_vantages(ground, hills[0], day=FIRST, count=3)
    monkeypatch.setattr(search_module, "pick", no_luck_at_first)
    (row,) = plan_season(ground, hills[:1], FIRST, FIRST).itertuples()
    assert three["score"].nunique() == 3
    assert row.score == pytest.approx(three["score"].max(), abs=1e-12)


def test_a_second_round_looks_at_no_cell_again(
    ground: Dem, hills: list[Hill], monkeypatch: pytest.MonkeyPatch
) -> None:
    pick, near_on = search_module.pick, search_module.near_on
    looked: list[Spot] = []

    def in_vain_at_first(batches: Any, take: Any, **asked: Any) -> list[dict[str, Any]]:
        found = pick(batches, take, **asked)
        return [] if asked["count"] == 1 else found

    def counted(*arguments: Any, **asked: Any) -> Any:
        looked.append(arguments[1])
        return near_on(*arguments, **asked)

    monkeypatch.setattr(search_module, "pick", in_vain_at_first)
    monkeypatch.setattr(search_module, "near_on", counted)
    assert len(plan_season(ground, hills[:1], FIRST, FIRST)) == 1
    assert len(looked) == len(set(looked)) >= 3


def test_ranked_by_score_and_told_what_was_asked(
    hills: list[Hill], season: gpd.GeoDataFrame
) -> None:
    assert season["rank"].tolist() == list(range(1, len(season) + 1))
    assert season["score"].is_monotonic_decreasing
    assert not season.duplicated(["hill", "day"]).any()
    assert season.attrs["hills"] == [hill.label for hill in hills]
    assert (season.attrs["first_day"], season.attrs["last_day"]) == (FIRST, LAST)
    assert set(season.attrs["left_out"]) == set(season.attrs["hills"]) - set(season["hill"])
    assert "m under the mist's top at 60 m" in season.attrs["left_out"]["the Wart"]


def test_colour_begins_when_the_plan_of_the_morning_says(
    ground: Dem, hills: list[Hill], season: gpd.GeoDataFrame
) -> None:
    row = season.iloc[0]
    spot = Spot(lon_deg=row["lon_deg"], lat_deg=row["lat_deg"])
    at_row, at_col = (float(part) for part in ground.grid.rowcol(spot.lon_deg, spot.lat_deg))
    lon, lat = map(float, ground.grid.lonlat(at_row, at_col + (4 if at_col < 60 else -4)))
    hill = next(hill for hill in hills if hill.label == row["hill"])
    start = Spot(lon_deg=lon, lat_deg=lat)
    plan = plan_morning(ground, spot, hill, row["day"], start=start)
    begins = plan.stage("colour begins")
    assert begins is not None
    assert abs((begins.at - row["light_begins"]).total_seconds()) < 1.0
    assert row["light_begins"].utcoffset() == row["appears"].utcoffset()


def test_clocks_go_back_in_the_middle(season: gpd.GeoDataFrame) -> None:
    for row in season.itertuples():
        summer = row.day == FIRST
        assert row.appears.utcoffset() == dt.timedelta(hours=1 if summer else 0)
        ahead = row.appears.astimezone(dt.UTC) - row.light_begins.astimezone(dt.UTC)
        assert dt.timedelta(minutes=15) <= ahead <= dt.timedelta(minutes=90)


def test_a_table_of_summits_names_the_hills(ground: Dem) -> None:
    summits = find_summits(ground, min_prominence_m=100.0)
    tall = summits[summits["prominence_m"] < 1e9].iloc[:2]
    season = plan_season(ground, tall, FIRST, FIRST, count=1)
    assert len(season) == 1
    assert season.attrs["hills"][0].startswith("the hill at 54.")
    assert (
        plan_season(ground, tall.assign(name=["the Great Cone", ""]), FIRST, FIRST, count=1).attrs[
            "hills"
        ][0]
        == "the Great Cone"
    )
    place = (season.iloc[0]["hill_lon_deg"], season.iloc[0]["hill_lat_deg"])
    assert place in set(zip(tall.geometry.x, tall.geometry.y, strict=True))


def test_the_best_of_several_days_is_one_of_a_season(ground: Dem, hills: list[Hill]) -> None:
    hill = hills[0]
    first = plan_season(ground, [hill], FIRST, LAST, mist_top_m=TOP_M)
    start = Spot(lon_deg=first["lon_deg"][0], lat_deg=first["lat_deg"][0] + 0.001)
    season = plan_season(ground, [hill], FIRST, LAST, mist_top_m=TOP_M, starts=[start])
    best = season.iloc[0]
    asked = Access(within_min=180.0)
    spot, day = choose_vantage(ground, hill, start, (FIRST, LAST), mist_top_m=TOP_M, access=asked)
    assert (spot.lon_deg, spot.lat_deg, day) == (best["lon_deg"], best["lat_deg"], best["day"])
    assert day > FIRST


def test_fewer_days_and_fewer_rows(ground: Dem, hills: list[Hill]) -> None:
    shares: list[float] = []
    start = Spot(lon_deg=hills[0].lon_deg, lat_deg=hills[0].lat_deg, name="the pound")
    season = plan_season(
        ground, hills[:1], FIRST, LAST, step_days=2, starts=[start], progress=shares.append
    )
    assert set(season["day"]) <= {FIRST, LAST}
    assert (season["start"] == "the pound").all()
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
    few = plan_season(ground, hills[:1], FIRST, LAST, step_days=2, count=1)
    assert few.iloc[0]["day"] == season.iloc[0]["day"]
    assert len(few) == 1


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"last_day": dt.date(2026, 10, 1)}, "2026-10-01, is before the first, 2026-10-24"),
        ({"step_days": 0}, "is 1 day or more, got 0"),
        ({"count": 0}, "0 mornings are none"),
        ({"processes": 0}, "0 processes do nothing"),
        ({"hills": []}, "a season needs hills"),
        ({"weights": {"luck": 1.0}}, "no criterion is called 'luck'"),
    ],
)
def test_what_makes_no_sense(
    ground: Dem, hills: list[Hill], change: dict[str, object], message: str
) -> None:
    asked = {"hills": hills[:1], "first_day": FIRST, "last_day": LAST} | change
    with pytest.raises(TerrainError, match=message):
        plan_season(ground, **asked)


def test_no_morning_at_all(ground: Dem, hills: list[Hill]) -> None:
    with pytest.raises(NoAnswer, match=r"no morning from 2026-10-24 to .* under the mist's top"):
        plan_season(ground, hills[2:], FIRST, LAST, mist_top_m=TOP_M)
    far = Limits(min_distance_m=20_000.0, max_distance_m=21_000.0)
    with pytest.raises(NoAnswer, match=r"none of 3 hills .*; the Great Cone: no place between 2"):
        plan_season(ground, hills, FIRST, LAST, limits=far)


def test_polar_night_has_no_mornings(make_dem: MakeDem) -> None:
    dem = make_dem(np.maximum(10.0, cone(SIZE, (60, 60), 400.0, 0.4)), lon=25.0, lat=71.0)
    hill = hill_at(dem, *map(float, dem.grid.lonlat(60, 60)))
    with pytest.raises(NoAnswer, match=r"no place that sees .* on any of these days"):
        plan_season(dem, [hill], dt.date(2026, 12, 20), dt.date(2026, 12, 22))
