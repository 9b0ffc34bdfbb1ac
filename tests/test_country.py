"""A country: what is derived from the ground is worked out once, whoever asks, mist or none."""

from __future__ import annotations

import datetime as dt
import pickle
import sys
from collections import Counter
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import numpy as np
import pytest

import terrain.country as country_module
from terrain.country import Country, country_of
from terrain.errors import TerrainError
from terrain.ground.accuracy import Accuracy
from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.ground.relief.hills import hill_ground
from terrain.ground.relief.summits import hill_at
from terrain.mist.level import level_mist, mist_range
from terrain.plan.morning import plan_morning
from terrain.vantage.find import choose_vantage, find_vantages
from terrain.vantage.pairs import backlit_pairs
from terrain.vantage.season import plan_season
from tests.conftest import MakeDem
from tests.scenes import cone

SIZE = 121
DAY = dt.date(2026, 10, 24)
TOP_M = 60.0
MAKERS = {
    "tops": "find_tops",
    "slope_deg": "slope_deg",
    "water": "level_water",
    "drainage": "drain",
    "levels_m": "flood_levels",
}


@pytest.fixture(scope="module")
def ground(make_dem: MakeDem) -> Dem:
    """Rising gently outwards, with two hills."""
    row, col = np.mgrid[:SIZE, :SIZE]
    bowl = 10.0 + 2.5 * np.hypot(row - 60, col - 60)
    hills = [cone(SIZE, (70, 75), 400.0, 0.4), cone(SIZE, (45, 60), 330.0, 0.5)]
    return make_dem(np.maximum.reduce([bowl, *hills]), lon=-3.1, lat=54.5)


@pytest.fixture(scope="module")
def hill(ground: Dem) -> Hill:
    return hill_at(ground, *map(float, ground.grid.lonlat(70, 75)), snap_m=30.0, name="the Cone")


def counted(monkeypatch: pytest.MonkeyPatch, made: Counter[str], name: str, whole: Dem) -> None:
    """Have every room's uses of a maker counted that are about the whole ground as it is."""
    make: Callable[..., Any] = getattr(country_module, name)

    def counting(dem: Dem, *rest: Any, **options: Any) -> Any:
        made[name] += np.array_equal(dem.heights_m, whole.heights_m, equal_nan=True)
        return make(dem, *rest, **options)

    for module in [held for at, held in sys.modules.items() if at.startswith("terrain.")]:
        if vars(module).get(name) is make:
            monkeypatch.setattr(module, name, counting)


@pytest.mark.parametrize("name", MAKERS)
def test_what_is_derived_is_worked_out_once_under_any_mist(
    ground: Dem, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    made: Counter[str] = Counter()
    counted(monkeypatch, made, MAKERS[name], ground)
    country = Country(ground)
    assert not made
    first = getattr(country, name)
    misty = country.under(level_mist(ground, TOP_M, levels=np.array(country.levels_m)))
    others = (country, misty, misty.under(None), country_of(misty, refraction=0.2))
    assert all(getattr(other, name) is first for other in others)
    assert made[MAKERS[name]] == 1


def test_own_ground_is_kept_of_the_hills_asked_for_last(
    ground: Dem, hill: Hill, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[Hill] = []

    def asked_for(dem: Dem, other: Hill) -> Any:
        asked.append(other)
        return hill_ground(dem, other)

    monkeypatch.setattr(country_module, "hill_ground", asked_for)
    country = Country(ground)
    tops = [hill_at(ground, *map(float, ground.grid.lonlat(45, 60)), name=n) for n in "abcd"]
    bare = country.own_ground(hill)
    misty = country.under(level_mist(ground, 200.0))
    assert misty.mist is not None
    assert np.array_equal(misty.own_ground(hill), bare & ~misty.mist.covers)
    assert (misty.own_ground(hill) != bare).any()
    assert not bare.flags.writeable
    assert not misty.own_ground(hill).flags.writeable
    assert asked == [hill]
    for top in tops:
        country.own_ground(top)
    assert country.own_ground(tops[0]) is country.own_ground(tops[0])
    assert asked == [hill, *tops]
    country.own_ground(hill)
    assert asked == [hill, *tops, hill]


def test_a_range_of_tops_lies_at_the_one_hoped_for(ground: Dem) -> None:
    tops = mist_range(ground, [50.0, 60.0, 80.0], hoped_m=60.0)
    under = Country(ground).under(tops)
    assert under.mist is tops.hoped
    assert under.mists is tops
    assert country_of(under).mists is tops
    certain = under.under(tops.mist(80.0))
    assert certain.mists is None
    assert certain.mist is not None
    assert certain.mist.stated_top_m == 80.0
    assert country_of(under, accuracy=Accuracy()).mists is tops
    assert under.under(None).mist is None


def test_the_freeboard_and_what_is_seen_are_those_over_the_mist(ground: Dem) -> None:
    bare = Country(ground)
    assert bare.seen is ground
    assert np.isnan(bare.freeboard_m).all()
    misty = bare.under(level_mist(ground, TOP_M))
    np.testing.assert_allclose(misty.freeboard_m, ground.heights_m - TOP_M, atol=1e-4)
    np.testing.assert_allclose(misty.seen.heights_m, np.maximum(ground.heights_m, TOP_M))


@pytest.mark.parametrize("refraction", [-0.01, 1.01, float("nan")])
def test_a_refraction_that_makes_no_sense(ground: Dem, refraction: float) -> None:
    with pytest.raises(TerrainError, match=f"{refraction} is not from 0 to 1: 0.13 is the usual"):
        Country(ground, refraction=refraction)
    with pytest.raises(TerrainError, match="is not from 0 to 1"):
        country_of(ground, refraction=refraction)


def test_a_mist_of_other_ground(ground: Dem, make_dem: MakeDem) -> None:
    other = level_mist(make_dem(np.arange(9.0).reshape(3, 3)), 4.0)
    with pytest.raises(ValueError, match="another grid"):
        Country(ground).under(other)


def test_it_can_be_pickled_with_all_it_holds(ground: Dem, hill: Hill) -> None:
    country = Country(ground, refraction=0.2).under(level_mist(ground, TOP_M))
    slope, own = country.slope_deg, country.own_ground(hill)
    again = pickle.loads(pickle.dumps(country))
    assert again.refraction == 0.2
    assert np.array_equal(again.slope_deg, slope, equal_nan=True)
    assert np.array_equal(again.own_ground(hill), own)
    assert again.mist.stated_top_m == TOP_M


def test_all_searches_in_one_country_work_out_its_ground_once(
    ground: Dem, hill: Hill, monkeypatch: pytest.MonkeyPatch
) -> None:
    made: Counter[str] = Counter()
    for name in ("find_tops", "slope_deg", "flood_levels"):
        counted(monkeypatch, made, name, ground)
    country = Country(ground)
    misty = country.under_level(TOP_M)
    season = plan_season(country, [hill], DAY, DAY, mist_top_m=TOP_M)
    best = find_vantages(misty, hill, day=DAY, count=1).iloc[0]
    assert (best["lon_deg"], best["appears"]) == (season["lon_deg"][0], season["appears"][0])
    start = Spot(lon_deg=best["lon_deg"], lat_deg=best["lat_deg"] + 0.002)
    find_vantages(country, hill, year=2026, count=1, mist=misty.mist)
    backlit_pairs(misty, country.summits(), DAY, count=1)
    spot, _ = choose_vantage(country, hill, start, (DAY, DAY), mist_top_m=TOP_M)
    plan_morning(misty, spot, hill, DAY, start=start)
    # the window of a walk, which on so small a ground is the whole, has slopes of its own
    assert made == {"find_tops": 1, "slope_deg": 2, "flood_levels": 1}


def test_the_hills_asked_for_last_are_kept(ground: Dem, monkeypatch: pytest.MonkeyPatch) -> None:
    found: list[Hill] = []
    find = country_module.hill_ground

    def noted(dem: Dem, hill: Hill) -> Any:
        found.append(hill)
        return find(dem, hill)

    monkeypatch.setattr(country_module, "hill_ground", noted)
    places = [(70, 75), (45, 60), (30, 30), (90, 90), (90, 30)]
    hills = [hill_at(ground, *map(float, ground.grid.lonlat(*at)), snap_m=0.0) for at in places]
    country = Country(ground)
    for hill in (*hills[:4], hills[0], hills[4]):
        country.own_ground(hill)
    assert found == hills
    country.own_ground(hills[0])
    assert found == hills
    country.own_ground(hills[1])
    assert found == [*hills, hills[1]]


def test_only_the_ground_is_given_by_its_place(ground: Dem) -> None:
    with pytest.raises(TypeError):
        Country(ground, level_mist(ground, TOP_M))  # type: ignore[misc]


def test_what_has_been_worked_out_does_not_show_in_print(ground: Dem) -> None:
    country = Country(ground)
    before = repr(country)
    assert country.tops is country.tops
    assert repr(country) == before


def test_many_threads_may_ask_for_hills_at_once(
    ground: Dem, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(country_module, "hill_ground", lambda dem, hill: np.ones(1, dtype=bool))
    country = Country(ground)
    hills = [Hill(lon_deg=at / 10.0, lat_deg=54.0, height_m=100.0) for at in range(8)]
    switch_s = sys.getswitchinterval()
    sys.setswitchinterval(1e-6)
    try:
        with ThreadPoolExecutor(6) as threads:
            asked = [threads.submit(country.own_ground, hills[at % 8]) for at in range(3000)]
            assert all(each.result().all() for each in asked)
    finally:
        sys.setswitchinterval(switch_s)


def test_islands_and_shallows_are_of_one_mist_and_kept(make_dem: MakeDem) -> None:
    dem = make_dem(cone(SIZE, (60, 60), 200.0, 0.1))
    bare = Country(dem)
    low, high = (bare.under(level_mist(dem, top_m)) for top_m in (TOP_M, 90.0))
    assert low.islands is low.islands
    assert low.shallows((5.0, 15.0)) is low.shallows((5.0, 15.0))
    for one in (low, high):
        assert one.mist is not None
        np.testing.assert_array_equal(one.islands > 0, ~one.mist.covers)
    assert (low.islands != high.islands).any()
    assert (low.shallows((5.0, 15.0)) != high.shallows((5.0, 15.0))).any()
    assert (low.shallows((5.0, 15.0)) != low.shallows((5.0, 8.0))).any()
    with pytest.raises(ValueError, match="without a mist"):
        bare.islands  # noqa: B018
    with pytest.raises(ValueError, match="without a mist"):
        bare.shallows((5.0, 15.0))
