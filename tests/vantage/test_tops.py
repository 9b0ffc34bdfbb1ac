"""A range of tops: every band against a look at every top, and what is said where there is none."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from terrain.country import Country
from terrain.errors import NoAnswer, NoGround, NoSun
from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.ground.relief.summits import find_summits, hill_at, hill_named
from terrain.mist.level import MistRange, level_mist, mist_range
from terrain.sun.sun_line import sun_line
from terrain.vantage.candidates import likely_on, likely_places
from terrain.vantage.find import find_vantages
from terrain.vantage.limits import Limits
from terrain.vantage.question import Question, standard_criteria
from terrain.vantage.sea import Sea
from terrain.vantage.tops import Seas, _farthest
from terrain.view.backlight import backlight
from terrain.view.look import look
from terrain.view.scene import Scene
from terrain.view.toward import clearance_m
from tests.conftest import MakeDem
from tests.scenes import cone

MARCH = dt.date(2026, 3, 20)
SIZE = 121
TOPS = (50.0, 80.0, 110.0, 140.0, 170.0, 200.0, 230.0)
LIMITS = Limits(freeboard_m=15.0, apart_m=250.0)


@pytest.fixture(scope="module")
def slope(make_dem: MakeDem) -> Dem:
    """A hill in the east; to its west the ground falls evenly from 320 m to a floor at 60 m."""
    _, col = np.mgrid[:SIZE, :SIZE].astype(float)
    falling = np.maximum(320.0 - 6.0 * np.abs(col - 12.0), 60.0)
    return make_dem(np.maximum(falling, cone(SIZE, (60, 95), 400.0, 0.5)))


@pytest.fixture(scope="module")
def hill(slope: Dem) -> Hill:
    return hill_at(slope, *map(float, slope.grid.lonlat(60, 95)))


@pytest.fixture(scope="module")
def tops(slope: Dem) -> MistRange:
    return mist_range(slope, TOPS[1:], hoped_m=140.0)


@pytest.fixture(scope="module")
def found(slope: Dem, hill: Hill, tops: MistRange):
    return find_vantages(slope, hill, day=MARCH, mist=tops, limits=LIMITS)


def works(dem: Dem, hill: Hill, row: pd.Series, day: dt.date, top_m: float, limits: Limits) -> bool:
    """A look at one top with nothing shared with the search but the parts it is made of."""
    spot = Spot(lon_deg=row["lon_deg"], lat_deg=row["lat_deg"])
    try:
        scene = Scene(Country(dem, mist=level_mist(dem, top_m)), hill)
        view = look(scene, spot)
        answer = backlight(scene, view, day)
    except (NoAnswer, NoGround, NoSun):
        return False
    contact, best = answer.contact, answer.best
    if not view.on_skyline:  # the line to the sun goes on over far ground
        contact = replace(contact, distance_m=min(contact.distance_m, view.distance_m))
    first = answer.behind and abs(answer.offset_deg) <= limits.tolerance_deg
    passes = best.which == "passage" and best.away_deg <= limits.tolerance_deg
    share = Sea(scene=scene).seen_from(view)["mist_share"]
    return (
        view.visible
        and limits.against in (None, view.backdrop)
        and (passes or (first and clearance_m(scene, spot, contact) >= limits.clearance_m))
        and view.clearance_m >= limits.clearance_m
        and view.freeboard_m >= limits.freeboard_m
        and share >= limits.mist_share
    )


def check_bands(dem: Dem, hill: Hill, table, day: dt.date, tops: MistRange, limits: Limits) -> None:
    for _, row in table.iterrows():
        held = [top for top in tops.tops_m if works(dem, hill, row, day, top, limits)]
        own = row["mist_top_m"]
        assert own == min(held, key=lambda top: abs(top - tops.hoped_m))
        assert row["mist_from_m"] in held
        assert row["mist_to_m"] in held
        between = [top for top in tops.tops_m if row["mist_from_m"] <= top <= row["mist_to_m"]]
        assert set(between) <= set(held)
        beyond = set(held) - set(between)
        ends = {tops.tops_m.index(row["mist_from_m"]) - 1, tops.tops_m.index(row["mist_to_m"]) + 1}
        assert not ends & {tops.tops_m.index(top) for top in beyond}
        assert row["mist_band_m"] == row["mist_to_m"] - row["mist_from_m"]


def test_each_band_is_what_a_look_at_every_top_finds(
    slope: Dem, hill: Hill, tops: MistRange, found
) -> None:
    assert len(found) >= 4
    assert found["mist_band_m"].nunique() > 2
    check_bands(slope, hill, found, MARCH, tops, LIMITS)


def test_the_band_ends_where_the_freeboard_does(tops: MistRange, found) -> None:
    for _, row in found.iterrows():
        room = [top for top in tops.tops_m if top + LIMITS.freeboard_m <= row["height_m"]]
        assert row["mist_to_m"] == max(room)
        assert row["freeboard_m"] == pytest.approx(row["height_m"] - row["mist_top_m"], abs=1e-3)


def test_no_band_reaches_down_to_where_no_mist_is_seen(slope: Dem, hill: Hill) -> None:
    """The valley's floor is at 60 m: a top below it makes no sea."""
    floor = slope.heights_m.copy()
    floor[:, 118:] = 30.0  # and is flooded in the far east alone
    dem = Dem(floor, slope.grid)
    table = find_vantages(
        dem, hill, day=MARCH, mist=mist_range(dem, TOPS, hoped_m=50.0), limits=LIMITS
    )
    assert table["mist_from_m"].min() == 80.0
    assert (table["mist_top_m"] >= 80.0).all()
    check_bands(dem, hill, table.head(2), MARCH, mist_range(dem, TOPS, hoped_m=50.0), LIMITS)


def test_the_band_ends_where_mist_stands_behind_a_lower_hill(make_dem: MakeDem) -> None:
    """From 320 m a hill of 250 m has the far mist behind it well before the mist is too high."""
    _, col = np.mgrid[:SIZE, :SIZE].astype(float)
    falling = np.maximum(320.0 - 6.0 * np.abs(col - 12.0), 60.0)
    ground = make_dem(np.maximum(falling, cone(SIZE, (60, 95), 250.0, 0.4)))
    # beyond it the ground falls away, or the sea would stand behind the hill
    dem = replace(ground, sea_m=-3000.0)
    low = hill_at(dem, *map(float, dem.grid.lonlat(60, 95)))
    tops = mist_range(dem, np.arange(80.0, 241.0, 20.0), hoped_m=100.0)
    limits = Limits(freeboard_m=15.0, min_distance_m=3600.0, against="sky")
    table = find_vantages(dem, low, day=MARCH, mist=tops, limits=limits, count=4)
    room = [max(top for top in tops.tops_m if top + 15.0 <= h) for h in table["height_m"]]
    assert (table["mist_to_m"] < room).any()
    check_bands(dem, low, table, MARCH, tops, limits)


def test_rows_are_about_the_top_hoped_for_where_they_can_be(slope: Dem, hill: Hill, found) -> None:
    high = found[found["height_m"] >= 140.0 + LIMITS.freeboard_m]
    low = found[found["height_m"] < 140.0 + LIMITS.freeboard_m]
    assert len(high)
    assert len(low)
    assert (high["mist_top_m"] == 140.0).all()
    assert (low["mist_top_m"] < 140.0).all()
    for _, row in found.iterrows():
        spot = Spot(lon_deg=row["lon_deg"], lat_deg=row["lat_deg"])
        scene = Scene(Country(slope, mist=level_mist(slope, row["mist_top_m"])), hill)
        answer = backlight(scene, look(scene, spot), MARCH)
        assert answer.contact.appears == row["appears"]
        assert answer.offset_deg == row["offset_deg"]
        assert Sea(scene=scene).seen_from(answer.view)["mist_share"] == row["mist_share"]


def test_a_wider_band_comes_first(slope: Dem, hill: Hill, tops: MistRange, found) -> None:
    others = {each.name: 0.0 for each in standard_criteria(LIMITS) if each.name != "band"}
    best = find_vantages(slope, hill, day=MARCH, mist=tops, limits=LIMITS, weights=others)
    assert (np.diff(best["mist_band_m"]) <= 0.0).all()
    assert best["mist_band_m"].iloc[0] == 150.0
    assert best["score"].tolist() == pytest.approx(best["band"].tolist())
    assert best["mist_band_m"].sum() > found["mist_band_m"].sum()
    alone = best["band"][best["mist_band_m"] == 0.0]
    assert (alone == 0.0).all()


def test_a_range_of_one_top_finds_what_a_mist_does(slope: Dem, hill: Hill) -> None:
    one = find_vantages(
        slope, hill, day=MARCH, mist=mist_range(slope, [140.0]), limits=LIMITS, count=4
    )
    same = find_vantages(
        slope, hill, day=MARCH, mist=level_mist(slope, 140.0), limits=LIMITS, count=4
    )
    shared = ["lon_deg", "lat_deg", "appears", "mist_share", "islands_in_view", "stature_deg"]
    assert one[shared].equals(same[shared])
    assert (one["mist_band_m"] == 0.0).all()
    assert "mist_band_m" not in same


def test_a_range_for_a_year(slope: Dem, hill: Hill, tops: MistRange) -> None:
    table = find_vantages(slope, hill, year=2026, mist=tops, limits=LIMITS, count=2)
    assert len(table) == 2
    for _, row in table.iterrows():
        check_bands(slope, hill, pd.DataFrame([row]), row["day"], tops, LIMITS)


def test_bands_on_real_ground(open_data: Path) -> None:
    from terrain.ground.raster.read import read_dem

    around = Spot(lon_deg=-3.1704, lat_deg=54.5684)
    dem = read_dem(open_data / "lakeland_50m.tif", around=around, reach_m=12_000.0)
    summits = find_summits(dem, names=open_data / "lakeland_summits.csv")
    hill, day = hill_named(summits, "Cat Bells [Catbells]"), dt.date(2026, 10, 13)
    tops = mist_range(dem, range(140, 301, 40))
    table = find_vantages(dem, hill, day=day, mist=tops)
    assert len(table) >= 2
    check_bands(dem, hill, table, day, tops, Limits())


@given(st.integers(0, 12), st.integers(0, 12))
def test_the_last_top_that_holds_is_found_by_halving(count: int, holding: int) -> None:
    away = [100.0 + step for step in range(count)]
    asked: list[float] = []

    def holds(top: float) -> bool:
        asked.append(top)
        return top < 100.0 + holding

    last = min(count, holding)
    assert _farthest(holds, 99.0, away) == (away[last - 1] if last else 99.0)
    assert len(asked) <= 6


def test_runs_are_unbroken_and_about_the_top_nearest_to_the_hoped(
    slope: Dem, hill: Hill, tops: MistRange
) -> None:
    asked = Question(limits=Limits(freeboard_m=15.0))
    seas = Seas(country=Country(slope).under(tops), hill=hill, asked=asked)
    promised = {(5, 7): [80, 110, 170, 200], (5, 8): [200, 230], (6, 7): [140], (6, 8): [80, 230]}
    kept = [
        pd.DataFrame(
            [
                {"row": row, "col": col, "mist_top_m": top}
                for (row, col), its in promised.items()
                if top in its
            ]
        )
        for top in tops.tops_m
    ]
    table = seas.with_runs([part for part in kept if len(part)]).set_index(["row", "col"])
    runs = ["mist_top_m", "mist_from_m", "mist_to_m", "mist_band_m"]
    assert table.loc[(5, 7), runs].tolist() == [110.0, 80.0, 110.0, 30.0]
    assert table.loc[(5, 8), runs].tolist() == [200.0, 200.0, 230.0, 30.0]
    assert table.loc[(6, 7), runs].tolist() == [140.0, 140.0, 140.0, 0.0]
    assert table.loc[(6, 8), runs].tolist() == [80.0, 80.0, 80.0, 0.0]


def test_quick_values_are_those_over_the_cell_s_own_top(
    slope: Dem, hill: Hill, tops: MistRange
) -> None:
    asked = Question(limits=LIMITS)
    seas = Seas(country=Country(slope).under(tops), hill=hill, asked=asked)
    line = sun_line(MARCH, hill, slope.grid.latitudes_deg)
    cells = seas.likely_on(seas.likely_places([line]), line)
    height_m = slope.heights_m[cells["row"], cells["col"]]
    np.testing.assert_allclose(cells["freeboard_m"], height_m - cells["mist_top_m"], atol=1e-3)
    assert (cells["freeboard_m"] >= LIMITS.freeboard_m).all()
    assert (cells["mist_to_m"] <= cells["highest_m"]).all()
    assert not cells[["row", "col"]].duplicated().any()
    # each top by itself, as a single mist has it
    for top in tops.tops_m:
        scene = Scene(Country(slope, mist=level_mist(slope, top)), hill)
        alone = likely_on(scene, likely_places(scene, [line], LIMITS), line, LIMITS)
        own = cells[cells["mist_top_m"] == top].merge(alone, on=["row", "col"], how="left")
        for name in ("stature_deg", "isolation_deg", "open_share", "offset_deg"):
            assert own[f"{name}_x"].tolist() == own[f"{name}_y"].tolist()


def test_no_top_leaves_the_hill_or_a_place(slope: Dem, hill: Hill, make_dem: MakeDem) -> None:
    heights = slope.heights_m.copy()
    heights[:8, :8] = 900.0
    dem = Dem(heights, slope.grid)
    with pytest.raises(NoAnswer, match=r"\(400 m\) lies under a mist with its top at 450 m or"):
        find_vantages(dem, hill, day=MARCH, mist=mist_range(dem, [450.0, 500.0]))
    lofty = Limits(freeboard_m=1000.0)
    with pytest.raises(NoAnswer, match="stands 1000 m above the mist"):
        find_vantages(dem, hill, day=MARCH, mist=mist_range(dem, [100, 200]), limits=lofty)
    rising = np.maximum(60.0 + 2.0 * np.mgrid[:SIZE, :SIZE][1], cone(SIZE, (60, 8), 400.0, 0.4))
    west = make_dem(rising)
    summit = hill_at(west, *map(float, west.grid.lonlat(60, 8)))
    with pytest.raises(NoAnswer, match=r"with mist anywhere from 100 to 200 m: .* closest misses"):
        find_vantages(west, summit, day=MARCH, mist=mist_range(west, [100, 200]))
    other = make_dem(np.arange(9.0).reshape(3, 3))
    with pytest.raises(ValueError, match="another grid"):
        find_vantages(dem, hill, day=MARCH, mist=mist_range(other, [4.0]))


def test_none_that_shows_any_mist_is_said(slope: Dem, hill: Hill) -> None:
    heights = slope.heights_m.copy()
    heights[:, 118:] = 30.0
    heights[:, 117] = 90.0  # mist in the far east only, behind a bank
    dem = Dem(heights, slope.grid)
    with pytest.raises(NoAnswer, match="by a sure margin with mist in 5% of the view"):
        find_vantages(dem, hill, day=MARCH, mist=mist_range(dem, [40.0, 50.0]), limits=LIMITS)
