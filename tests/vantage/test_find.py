"""The search on ground that is a formula: what it keeps to, and what it says when it finds none."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

import geopandas as gpd
import numpy as np
import pytest

from terrain.country import Country
from terrain.errors import NoAnswer, NoSun, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.geodesy import azimuth_and_distance
from terrain.ground.places import Hill, Spot
from terrain.ground.relief.summits import hill_at
from terrain.mist.level import level_mist, mist_range
from terrain.vantage.candidates import fit_to_stand
from terrain.vantage.find import find_vantages
from terrain.vantage.limits import Limits
from terrain.vantage.question import standard_criteria
from terrain.view.backlight import check_backlight
from tests.conftest import MakeDem
from tests.scenes import Floats, cone

MARCH = dt.date(2026, 3, 20)
SIZE = 121


def plain(*cones: Floats) -> Floats:
    """Ground that rises gently outwards from the middle, with hills on it."""
    row, col = np.mgrid[:SIZE, :SIZE] - SIZE // 2
    return np.maximum.reduce([10.0 + 0.5 * np.hypot(row, col), *cones])


def hill_of(dem: Dem, row: float = 60, col: float = 60) -> Hill:
    return hill_at(dem, *map(float, dem.grid.lonlat(row, col)))


@pytest.fixture(scope="module")
def lone(make_dem: MakeDem) -> Dem:
    return make_dem(plain(cone(SIZE, (60, 60), 400.0, 0.4)))


@pytest.fixture(scope="module")
def found(lone: Dem):
    return find_vantages(lone, hill_of(lone), day=MARCH)


def test_every_row_holds_when_looked_at_again(lone: Dem, found) -> None:
    hill = hill_of(lone)
    assert len(found) > 3
    assert found.crs == "EPSG:4326"
    for row in found.itertuples():
        spot = Spot(lon_deg=row.geometry.x, lat_deg=row.geometry.y)
        answer = check_backlight(lone, spot, hill, MARCH)
        assert answer.within(Limits().tolerance_deg)
        assert answer.contact.appears == row.appears
        assert answer.offset_deg == row.offset_deg
        assert (answer.best.at, answer.best.away_deg) == (row.best_at, row.best_deg)
        assert row.best_deg <= Limits().tolerance_deg
        assert row.clearance_m >= Limits().clearance_m


def test_rows_are_ranked_and_scored(found) -> None:
    criteria = standard_criteria(Limits())
    assert found["rank"].tolist() == list(range(1, len(found) + 1))
    assert found["score"].is_monotonic_decreasing
    unasked = {"sea", "waterline", "over_mist", "island", "isles", "pouring", "band", "frame"}
    unasked |= {"shallows"}
    assert not unasked & set(found)  # there is no mist, and no lens was named
    for criterion in criteria:
        if criterion.name in unasked:
            continue
        assert criterion.value in found
        if criterion.name == "freeboard":
            assert found["freeboard"].isna().all()  # there is no mist
        else:
            assert found[criterion.name].between(0.0, 1.0).all()


def test_rows_stand_apart_and_are_not_too_many(lone: Dem) -> None:
    limits = Limits(apart_m=900.0)
    few = find_vantages(lone, hill_of(lone), day=MARCH, limits=limits, count=3)
    assert len(few) == 3
    lon, lat = few["lon_deg"].to_numpy(), few["lat_deg"].to_numpy()
    _, away = azimuth_and_distance(lon[:, None], lat[:, None], lon, lat)
    assert away[~np.eye(3, dtype=bool)].min() >= 900.0 * 0.999


def test_weights_change_what_comes_first(lone: Dem) -> None:
    hill = hill_of(lone)
    criteria = standard_criteria(Limits(tolerance_deg=1.0, max_slope_deg=25.0))
    only = {c.name: 0.0 for c in criteria if c.name != "alignment"}
    first = find_vantages(lone, hill, day=MARCH, weights=only, count=5)
    assert first["score"].tolist() == pytest.approx(first["alignment"].tolist())
    with pytest.raises(TerrainError, match="no criterion is called 'luck'"):
        find_vantages(lone, hill, day=MARCH, weights={"luck": 1.0})


def test_nearest_start_and_progress(lone: Dem) -> None:
    hill = hill_of(lone)
    starts = [
        Spot(lon_deg=float(lon), lat_deg=float(lat), name=name)
        for (lon, lat), name in zip(
            (lone.grid.lonlat(60, 5), lone.grid.lonlat(100, 115)), ("west", ""), strict=True
        )
    ]
    shares: list[float] = []
    table = find_vantages(
        lone, hill, day=MARCH, starts=starts, count=3, progress=lambda share: shares.append(share)
    )
    assert set(table["start"]) == {"west"}
    row = table.iloc[0]
    _, away = azimuth_and_distance(row.lon_deg, row.lat_deg, starts[0].lon_deg, starts[0].lat_deg)
    assert row.start_m == pytest.approx(float(away))
    assert shares == sorted(shares)
    assert shares[-1] == pytest.approx(1.0)
    assert 0.0 <= shares[0] <= 0.3


@pytest.mark.parametrize(
    ("limits", "message"),
    [
        ({"tolerance_deg": -1.0}, "tolerance_deg must be 0 or more, got -1.0"),
        ({"freeboard_m": float("nan")}, "freeboard_m must be 0 or more, got nan"),
        ({"max_slope_deg": float("inf")}, "max_slope_deg must be 0 or more, got inf"),
        ({"apart_m": -5.0}, "apart_m must be 0 or more"),
        ({"clearance_m": -5.0}, "clearance_m must be 0 or more"),
        ({"tolerance_deg": 0.0}, "a tolerance of 0.0 degrees .* leave no vantage"),
        ({"mist_share": -0.1}, "mist_share must be 0 or more, got -0.1"),
        ({"against": "heaven"}, "against is sky, mist, ground, not 'heaven'"),
        ({"min_distance_m": 900.0, "max_distance_m": 900.0}, "from 900 to 900 m leave no vantage"),
    ],
)
def test_limits_that_make_no_sense(limits: dict[str, float], message: str) -> None:
    with pytest.raises(TerrainError, match=message):
        Limits(**limits)


@pytest.mark.parametrize("when", [{}, {"day": MARCH, "year": 2026}])
def test_a_day_or_a_year_and_not_both(lone: Dem, when: dict[str, Any]) -> None:
    with pytest.raises(TerrainError, match="for a day or for a year: give one of the two"):
        find_vantages(lone, hill_of(lone), **when)


def test_none_sees_it(lone: Dem) -> None:
    limits = Limits(min_distance_m=20_000.0, max_distance_m=21_000.0)
    with pytest.raises(NoAnswer, match=r"no place between 20000 and 21000 m from .* sees its"):
        find_vantages(lone, hill_of(lone), day=MARCH, limits=limits)


def test_none_above_the_mist(lone: Dem) -> None:
    mist = level_mist(lone, 350.0)
    with pytest.raises(
        NoAnswer,
        match="stands 20 m above the mist: the highest lies 270 m under it; try a lower mist",
    ):
        find_vantages(lone, hill_of(lone), day=MARCH, mist=mist)


def test_freeboard_is_kept(lone: Dem) -> None:
    mist = level_mist(lone, 25.0)
    # looking down a hollow of ten metres there is little mist to see, whatever the freeboard
    low, high = (
        find_vantages(
            lone,
            hill_of(lone),
            day=MARCH,
            mist=mist,
            limits=Limits(freeboard_m=metres, mist_share=0.0),
        )
        for metres in (0.0, 8.0)
    )
    assert low["freeboard_m"].min() < 8.0 <= high["freeboard_m"].min()
    assert high["freeboard_m"].tolist() == pytest.approx((high["height_m"] - 25.0).tolist())
    assert high["freeboard"].between(0.0, 1.0).all()


def test_with_everything_asked_for_every_criterion_is_a_column(make_dem: MakeDem) -> None:
    """Looking at the hill over a sea with an island in it, and a gap that the mist is just over."""
    _, col = np.mgrid[:SIZE, :SIZE].astype(float)
    falling = np.maximum(320.0 - 6.0 * np.abs(col - 12.0), 60.0)
    ground = np.maximum.reduce(
        [falling, cone(SIZE, (60, 95), 400.0, 0.5), cone(SIZE, (57, 70), 150.0, 0.4)]
    )
    dem = make_dem(ground)
    gap = gpd.GeoDataFrame(
        {"name": ["the Gap"], "height_m": [70.0], "pours": [True], "pours_at_m": [70.0]},
        geometry=gpd.points_from_xy(*([part] for part in dem.grid.lonlat(62, 75))),
        crs="EPSG:4326",
    )
    table = find_vantages(
        dem,
        hill_of(dem, 60, 95),
        day=MARCH,
        mist=mist_range(dem, [80, 100, 120]),
        passes=gap,
        limits=Limits(freeboard_m=15.0, field_deg=(20.0, 14.0)),
    )
    assert len(table) > 3
    for criterion in standard_criteria(Limits(tolerance_deg=1.0, max_slope_deg=25.0)):
        assert table[criterion.value].notna().all()
        assert table[criterion.name].between(0.0, 1.0).all()
    assert table["mist_share"].between(0.05, 1.0).all()
    assert table["islands_in_view"].max() == 2  # the hill's and the cone's beside it
    assert set(table["pours_over"]) == {"the Gap"}
    assert (table["pours_in_view"] == 1).all()


def test_only_level_ground(make_dem: MakeDem) -> None:
    _, col = np.mgrid[:SIZE, :SIZE]
    dem = make_dem(np.maximum(10.0 * (3 - col // 20), cone(SIZE, (60, 95), 400.0, 0.4)))
    table = find_vantages(dem, hill_of(dem, 60, 95), day=MARCH, limits=Limits(max_slope_deg=0.0))
    assert len(table)
    assert (table["slope_deg"] == 0.0).all()
    assert (table["footing"] == 1.0).all()


def test_hill_under_the_mist(make_dem: MakeDem) -> None:
    dem = make_dem(plain(cone(SIZE, (60, 60), 400.0, 0.4), cone(SIZE, (30, 30), 600.0, 0.9)))
    with pytest.raises(NoAnswer, match=r"\(400 m\) lies 50 m under the mist's top at 450 m"):
        find_vantages(dem, hill_of(dem), day=MARCH, mist=level_mist(dem, 450.0))


def test_none_level_enough(make_dem: MakeDem) -> None:
    slope = 6.0 * np.mgrid[:SIZE, :SIZE][0]
    dem = make_dem(plain(cone(SIZE, (60, 60), 400.0, 0.4)) + slope)
    with pytest.raises(
        NoAnswer, match="is steeper than 0 degrees, the most level 1: allow more, with care"
    ):
        find_vantages(dem, hill_of(dem), day=MARCH, limits=Limits(max_slope_deg=0.01))


def test_none_on_the_right_side_of_it(make_dem: MakeDem) -> None:
    dem = make_dem(plain(cone(SIZE, (60, 8), 400.0, 0.4)))
    with pytest.raises(NoAnswer, match=r"within 1.0 degrees of it .* misses by \d+\.\d degrees"):
        find_vantages(dem, hill_of(dem, 60, 8), day=MARCH)


def test_sun_that_never_stands_as_high(make_dem: MakeDem) -> None:
    dem = make_dem(plain(cone(SIZE, (60, 60), 600.0, 0.4)), lon=20.0, lat=66.0)
    # its whole way stays below the summit: how far, is told
    with pytest.raises(NoAnswer, match=r"the closest misses by \d+\.\d degrees") as none:
        find_vantages(dem, hill_of(dem), day=dt.date(2026, 12, 21))
    assert "nan" not in str(none.value)


def test_higher_ground_behind_everywhere(make_dem: MakeDem) -> None:
    """Against it the hill is a subject as well; against the sky there is none."""
    wall = np.where(np.mgrid[:SIZE, :SIZE][1] > 90, 1500.0, 0.0)
    dem = make_dem(plain(cone(SIZE, (60, 60), 400.0, 0.4), wall))
    limits = Limits(max_slope_deg=80.0)
    found = find_vantages(dem, hill_of(dem), day=MARCH, limits=limits)
    assert set(found["backdrop"]) == {"ground"}
    with pytest.raises(NoAnswer, match="sees its summit against sky: ask for another"):
        find_vantages(dem, hill_of(dem), day=MARCH, limits=replace(limits, against="sky"))


def test_sun_already_up_beside_a_needle(make_dem: MakeDem) -> None:
    dem = make_dem(plain(cone(SIZE, (60, 60), 400.0, 4.0)))
    # when it comes to the needle's point it stands higher than 6 degrees
    with pytest.raises(NoAnswer, match="none of the likeliest of"):
        find_vantages(dem, hill_of(dem), day=MARCH)


def test_none_bears_a_full_look(lone: Dem) -> None:
    limits = Limits(tolerance_deg=1e-6)
    with pytest.raises(NoAnswer, match=r"none of the likeliest of .* within 1e-06 degrees") as none:
        find_vantages(lone, hill_of(lone), day=MARCH, limits=limits, count=2)
    assert "try another date" in str(none.value)


def test_polar_night(make_dem: MakeDem) -> None:
    dem = make_dem(plain(cone(SIZE, (60, 60), 400.0, 0.4)), lon=25.0, lat=71.0)
    with pytest.raises(NoSun, match="does not rise at"):
        find_vantages(dem, hill_of(dem), day=dt.date(2026, 12, 21))


def test_unknown_ground_toward_the_sun_is_no_vantage_and_no_end(make_dem: MakeDem) -> None:
    """All that sees the hill is the raster's northern row, and left of the hill all is unknown."""
    heights = cone(SIZE, (60, 110), 400.0, 0.4)
    heights[heights == 0.0] = np.nan
    heights[:60] = np.nan
    heights[:, 111:] = np.nan
    heights[0] = 10.0
    dem = make_dem(heights)
    with pytest.raises(NoAnswer, match=r"none of the likeliest of the places"):
        find_vantages(dem, hill_of(dem, 60, 110), day=dt.date(2026, 2, 10))


def test_ground_as_delivered_at_the_feet_counts(make_dem: MakeDem) -> None:
    """A crest that the warp smoothed away hides the hill all the same."""
    dem = make_dem(plain(cone(SIZE, (60, 60), 400.0, 0.4)))
    hill = hill_of(dem)
    best = find_vantages(dem, hill, day=MARCH, count=1).iloc[0]
    row, col = (round(float(v)) for v in dem.grid.rowcol(best.lon_deg, best.lat_deg))
    walled = dem.heights_m.copy()
    walled[row - 1 : row + 2, col + 1] += 60.0
    warped = Dem(dem.heights_m, dem.grid, delivered=Dem(walled, dem.grid))
    table = find_vantages(warped, hill, day=MARCH, count=3)
    off = np.hypot(
        *(np.array(dem.grid.rowcol(table["lon_deg"], table["lat_deg"])).T - [row, col]).T
    )
    assert (off > 0.5).all()


def test_one_stands_above_the_mist_and_on_level_ground(make_dem: MakeDem) -> None:
    """Steps of 45 degrees between terraces at 0, 100 and 200 m, under a mist up to 150 m."""
    ground = np.repeat([0.0, 0.0, 0.0, 50.0, 100.0, 100.0, 100.0, 150.0, 200.0, 200.0, 200.0], 4)
    dem = make_dem(np.tile(ground, (12, 1)), 50.0)
    country = Country(dem, mist=level_mist(dem, 150.0))
    fit = fit_to_stand(country, Limits(freeboard_m=10.0, max_slope_deg=20.0))[6]
    level = country.slope_deg[6] <= 20.0
    assert level.any() and not level.all()  # noqa: PT018
    np.testing.assert_array_equal(fit, level & (ground >= 160.0))
    assert fit.any()
