"""The vantages of a span of days, as those of a year, but on no day before it or after."""

from __future__ import annotations

import datetime as dt

import geopandas as gpd
import pytest

from terrain.country import Country
from terrain.errors import NoAnswer, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.ground.relief.summits import hill_at
from terrain.vantage.access import Access
from terrain.vantage.find import choose_vantage, find_vantages
from terrain.vantage.limits import Limits
from terrain.view.look import look
from terrain.view.scene import Scene
from terrain.year.atlas import backlight_atlas
from terrain.year.confirm import held_days
from tests.conftest import MakeDem
from tests.scenes import cone

SIZE = 121
TO_COME = dt.date(2026, 9, 14), dt.date(2027, 9, 13)
WINTER = dt.date(2026, 12, 1), dt.date(2027, 1, 31)


@pytest.fixture(scope="module")
def lone(make_dem: MakeDem) -> tuple[Dem, Hill]:
    dem = make_dem(cone(SIZE, (60, 60), 400.0, 0.4))
    return dem, hill_at(dem, *map(float, dem.grid.lonlat(60, 60)), name="Cone")


def days_of(row: object) -> list[dt.date]:
    """All days that a row lists."""
    spans = [span.split("..") for span in row.days.split(", ")]
    ends = [(dt.date.fromisoformat(span[0]), dt.date.fromisoformat(span[-1])) for span in spans]
    return [
        first + dt.timedelta(days=n) for first, last in ends for n in range((last - first).days + 1)
    ]


def check(found: gpd.GeoDataFrame, lone: tuple[Dem, Hill], span: tuple[dt.date, dt.date]) -> None:
    """Each row has exactly the days of the span that the full looks of both years have."""
    dem, hill = lone
    scene, within = Scene(Country(dem), hill), Limits().tolerance_deg
    years = [
        backlight_atlas(dem, hill, year, tolerance_deg=within)
        for year in range(span[0].year, span[1].year + 1)
    ]
    for row in found.itertuples():
        view = look(scene, Spot(lon_deg=row.geometry.x, lat_deg=row.geometry.y))
        held = sorted(day for atlas in years for day in held_days(atlas, scene, view))
        assert days_of(row) == [day for day in held if span[0] <= day <= span[1]]
        assert row.day in days_of(row)
        assert row.appears.date() == row.day


def test_the_twelve_months_to_come(lone: tuple[Dem, Hill]) -> None:
    found = find_vantages(*lone, year=TO_COME, count=2)
    check(found, lone, TO_COME)
    listed = [day for row in found.itertuples() for day in days_of(row)]
    assert {day.year for day in listed} == {2026, 2027}


def test_a_winter_is_of_places_to_the_north_west(lone: tuple[Dem, Hill]) -> None:
    """Only from there does the sun of that time come up behind the hill."""
    dem, hill = lone
    found = find_vantages(dem, hill, year=WINTER, count=2)
    assert len(found) == 2
    check(found, lone, WINTER)
    assert (found["lat_deg"] > hill.lat_deg).all()
    assert (found["lon_deg"] < hill.lon_deg).all()


def test_a_calendar_year_is_its_span(lone: tuple[Dem, Hill]) -> None:
    whole = dt.date(2026, 1, 1), dt.date(2026, 12, 31)
    a, b = (find_vantages(*lone, year=year, count=2) for year in (2026, whole))
    assert a.equals(b)


def test_the_best_of_twelve_months_is_chosen_as_of_a_year(lone: tuple[Dem, Hill]) -> None:
    dem, hill = lone
    start = Spot(lon_deg=hill.lon_deg - 0.03, lat_deg=hill.lat_deg)
    access = Access(within_min=90.0)
    spot, day = choose_vantage(dem, hill, start, TO_COME, access=access)
    first = find_vantages(dem, hill, year=TO_COME, starts=[start], access=access, count=1).iloc[0]
    assert (spot.lon_deg, spot.lat_deg, day) == (first["lon_deg"], first["lat_deg"], first["day"])
    assert TO_COME[0] <= day <= TO_COME[1]


def test_a_span_in_which_the_sun_never_rises_there(make_dem: MakeDem) -> None:
    """All ground far from the hill lies to its north-west: in June the sun rises elsewhere."""
    limits = Limits(min_distance_m=3000.0)
    dem = make_dem(cone(SIZE, (115, 115), 400.0, 0.4))
    hill = hill_at(dem, *map(float, dem.grid.lonlat(115, 115)), name="Cone")
    june = dt.date(2026, 6, 10), dt.date(2026, 6, 30)
    with pytest.raises(NoAnswer, match="any day of the days from 2026-06-10 to 2026-06-30"):
        find_vantages(dem, hill, year=june, limits=limits)
    assert len(find_vantages(dem, hill, year=WINTER, limits=limits, count=1)) == 1
    with pytest.raises(TerrainError, match="is before the first"):
        find_vantages(dem, hill, year=WINTER[::-1])
