"""The mornings of a year against every day of it by itself."""

from __future__ import annotations

import datetime as dt
from types import SimpleNamespace
from typing import Any

import numpy as np
import pandas as pd
import pytest

from terrain.country import Country
from terrain.errors import NoGround, NoSun, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.geodesy import destination
from terrain.ground.places import Hill, Spot
from terrain.ground.relief.summits import hill_at
from terrain.view.backlight import backlight
from terrain.view.dates import _skyline_about, backlit_dates
from terrain.view.look import look
from terrain.view.scene import Scene
from tests.conftest import MakeDem
from tests.scenes import cone, ring
from tests.view.test_agreement import is_held

YEAR = 2026


def upland(make_dem: MakeDem, lat: float) -> tuple[Dem, Hill]:
    """A cone of 600 m on a low plain that has a gentle rim all round."""
    row, col = np.mgrid[:161, :161] - 80
    rim = 0.4 * np.maximum(np.hypot(row, col) - 60.0, 0.0)
    dem = make_dem(cone(161, (80, 80), 600.0, 0.4) + rim, lat=lat)
    return dem, hill_at(dem, *dem.grid.centre_lonlat)


def needle(make_dem: MakeDem, lat: float) -> tuple[Dem, Hill]:
    """A rock of 200 m with sides of 80 degrees, on cells of 10 m."""
    dem = make_dem(cone(161, (80, 80), 200.0, 6.0, cell_m=10.0), cell_m=10.0, lat=lat)
    return dem, hill_at(dem, *dem.grid.centre_lonlat)


def stand(hill: Hill, toward_deg: float, away_m: float) -> Spot:
    """A spot from which the summit stands at an azimuth."""
    lon, lat = destination(hill.lon_deg, hill.lat_deg, toward_deg + 180.0, away_m)
    return Spot(lon_deg=float(lon), lat_deg=float(lat))


def behind(
    dem: Dem, spot: Spot, hill: Hill, days: list[dt.date], *, evening: bool = False
) -> list[dt.date]:
    """Those of some days on which a look by itself has the sun within 2 degrees."""
    scene = Scene(Country(dem), hill)
    view = look(scene, spot)
    found = []
    for day in days:
        try:
            answer = backlight(scene, view, day, evening=evening)
        except NoSun:
            continue
        if is_held(answer, 2.0):
            found.append(day)
    return found


def to_try(found: list[dt.date]) -> list[dt.date]:
    """Days all over the year, and every one about the beginnings and ends of the spells."""
    first = dt.date(YEAR, 1, 1).toordinal()
    numbers = {day.toordinal() for day in found}
    ends = {n for n in numbers if not {n - 1, n + 1} <= numbers}
    days = set(range(first, first + 365, 21)) | {n + i for n in ends for i in (-1, 0, 1)}
    return [dt.date.fromordinal(n) for n in sorted(days) if 0 <= n - first < 365]


SCENES = {
    # ground, latitude, azimuth of the summit, distance
    "two spells": (upland, 54.4, 105.0, 3000.0),
    "one spell about midsummer": (upland, 54.4, 60.0, 3600.0),
    "south": (upland, -44.0, 75.0, 3000.0),
    "a needle in the tropics": (needle, 5.0, 70.0, 600.0),
    "a needle high overhead": (needle, 5.0, 62.0, 110.0),
}


@pytest.mark.parametrize("name", SCENES)
def test_the_same_days_as_day_by_day(make_dem: MakeDem, name: str) -> None:
    ground, lat, toward, away_m = SCENES[name]
    dem, hill = ground(make_dem, lat)
    spot = stand(hill, toward, away_m)
    table = backlit_dates(dem, spot, hill, YEAR, tolerance_deg=2.0)
    found = table["day"].tolist()
    tried = to_try(found)
    assert behind(dem, spot, hill, tried) == [day for day in found if day in tried]
    assert len(found) > 2
    assert found == sorted(set(found))
    assert [moment.date() for moment in table["appears"]] == found


@pytest.fixture(scope="module")
def narrow(make_dem: MakeDem) -> pd.DataFrame:
    dem, hill = upland(make_dem, 54.4)
    return backlit_dates(dem, stand(hill, 105.0, 3000.0), hill, YEAR, tolerance_deg=0.8)


def test_both_spells_of_the_year(narrow: pd.DataFrame) -> None:
    """The declination passes a value twice, about as long before the solstice as after it."""
    days = narrow["day"]
    number = np.array([day.timetuple().tm_yday for day in days])
    spells = np.split(number, np.flatnonzero(np.diff(number) > 5) + 1)
    assert len(spells) == 2
    solstice = dt.date(YEAR, 12, 21).timetuple().tm_yday
    before, after = solstice - spells[1].mean(), spells[0].mean() + 365 - solstice
    assert before == pytest.approx(after, abs=2.0)


def test_a_narrower_tolerance_keeps_the_better_days(
    make_dem: MakeDem, narrow: pd.DataFrame
) -> None:
    dem, hill = upland(make_dem, 54.4)
    spot = stand(hill, 105.0, 3000.0)
    wide = backlit_dates(dem, spot, hill, YEAR, tolerance_deg=1.5)
    kept = wide[wide["best_deg"] <= 0.8].drop(columns="rank").reset_index(drop=True)
    pd.testing.assert_frame_equal(kept, narrow.drop(columns="rank"))
    assert 0 < len(narrow) < len(wide)
    least = backlit_dates(dem, spot, hill, YEAR, tolerance_deg=0.05)
    assert list(least["day"]) == list(wide["day"][wide["best_deg"] <= 0.05])
    assert sorted(narrow["rank"]) == list(range(1, len(narrow) + 1))
    assert narrow.sort_values("rank")["best_deg"].is_monotonic_increasing


def test_evenings_are_those_on_which_a_look_has_it_go_behind(make_dem: MakeDem) -> None:
    """On the whole the same days as the mornings of the hill in a mirror, and a column more."""
    dem, hill = upland(make_dem, 54.4)
    spot = stand(hill, 255.0, 3000.0)
    table = backlit_dates(dem, spot, hill, YEAR, tolerance_deg=2.0, evening=True)
    mornings = backlit_dates(dem, stand(hill, 105.0, 3000.0), hill, YEAR, tolerance_deg=2.0)
    assert table.columns.tolist() == [*mornings.columns, "evening"]
    assert table["evening"].all()
    found = table["day"].tolist()
    assert behind(dem, spot, hill, to_try(found), evening=True) == [
        day for day in found if day in to_try(found)
    ]
    assert len(set(found) & set(mornings["day"])) > 0.8 * len(mornings)
    assert all(moment.hour >= 14 for moment in table["appears"])
    assert (table["clears"] < table["appears"]).all()


def test_none_in_the_year(make_dem: MakeDem, narrow: pd.DataFrame) -> None:
    dem, hill = upland(make_dem, 54.4)
    north = backlit_dates(dem, stand(hill, 0.0, 3000.0), hill, YEAR)
    assert len(north) == 0
    assert north.columns.tolist() == narrow.columns.tolist()


def test_where_higher_ground_stands_behind_the_sun_comes_up_over_that(make_dem: MakeDem) -> None:
    hills = cone(161, (80, 80), 300.0, 0.4) + cone(161, (80, 140), 1500.0, 0.6)
    dem = make_dem(hills)
    hill = hill_at(dem, *map(float, dem.grid.lonlat(80, 80)))
    spot = stand(hill, 90.0, 3000.0)
    assert not look(Scene(Country(dem), hill), spot).on_skyline
    found = backlit_dates(dem, spot, hill, YEAR, tolerance_deg=5.0)
    assert (found["backdrop"] == "ground").all()
    assert len(found) > 10
    # it first shows beside the mountain, and no later moment of good light is near the hill
    assert found["best_at"].notna().all()


def test_a_span_is_the_years_it_lies_in_cut_and_joined(make_dem: MakeDem) -> None:
    dem, hill = upland(make_dem, 54.4)
    spot = stand(hill, 105.0, 3000.0)
    years = [backlit_dates(dem, spot, hill, year, tolerance_deg=0.8) for year in (2027, 2028)]
    joined = pd.concat(years, ignore_index=True)
    middle = joined["day"].iloc[len(years[0]) // 2]
    span = middle, middle.replace(year=2028) - dt.timedelta(days=1)
    within = joined[joined["day"].between(*span)].reset_index(drop=True)
    assert {day.year for day in within["day"]} == {2027, 2028}
    assert 2 < len(within) < len(joined)
    found = backlit_dates(dem, spot, hill, span, tolerance_deg=0.8)
    within["rank"] = found["rank"]
    pd.testing.assert_frame_equal(found, within, check_exact=True)
    assert sorted(found["rank"]) == list(range(1, len(found) + 1))
    one = backlit_dates(dem, spot, hill, (middle, middle), tolerance_deg=0.8)
    assert one["day"].tolist() == [middle]
    with pytest.raises(TerrainError, match="is before the first"):
        backlit_dates(dem, spot, hill, span[::-1])


def test_progress_and_a_leap_year(make_dem: MakeDem) -> None:
    dem, hill = upland(make_dem, 54.4)
    shares: list[float] = []
    spot = stand(hill, 105.0, 3000.0)
    days = backlit_dates(dem, spot, hill, 2028, tolerance_deg=0.5, progress=shares.append)["day"]
    assert shares[-1] == 1.0
    assert shares == sorted(shares)
    assert {day.year for day in days} == {2028}


@pytest.mark.parametrize("tolerance", [0.0, -1.0, float("nan")])
def test_a_tolerance_that_makes_no_sense(make_dem: MakeDem, tolerance: float) -> None:
    dem, hill = upland(make_dem, 54.4)
    with pytest.raises(TerrainError, match="tolerance must be above 0 degrees, got"):
        backlit_dates(dem, stand(hill, 90.0, 3000.0), hill, YEAR, tolerance_deg=tolerance)


def test_off_the_ground(make_dem: MakeDem) -> None:
    dem, hill = upland(make_dem, 54.4)
    with pytest.raises(NoGround):
        backlit_dates(dem, stand(hill, 90.0, 30_000.0), hill, YEAR)


def test_the_skyline_about_a_summit_is_that_beside_it() -> None:
    """A slope of 1 in 2 that runs through the summit, up to 15 degrees on the one side."""
    sky = ring(lambda a: np.clip(5.0 + 0.5 * (a - 93.0), -5.0, 15.0))
    view: Any = SimpleNamespace(skyline=sky, azimuth_deg=93.0)
    low, high = _skyline_about(view, 2.0)
    assert 0.0 < low <= 4.0
    assert 6.0 <= high < 10.0
