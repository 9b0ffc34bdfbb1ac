"""The morning with another mist than planned, of every kind: as if it had been planned so."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

import terrain
from terrain.errors import TerrainError
from terrain.plan.morning import plan_morning
from terrain.plan.what_if import mist_steps, what_ifs
from tests.scenes import cone

DAY = dt.date(2026, 3, 20)


@pytest.fixture(scope="module")
def ground(make_dem):
    """A cone and a ridge over a valley whose floor falls to the south."""
    row, col = np.mgrid[:121, :161]
    ridge = 420.0 - 0.2 * 50.0 * np.abs(col - 30)
    valley = 120.0 - 0.3 * row
    return make_dem(np.maximum.reduce([cone(161, (60, 110), 500.0, 0.25)[:121], ridge, valley]))


def at(dem, row: float, col: float, **more):
    lon, lat = map(float, dem.grid.lonlat(row, col))
    return terrain.Spot(lon_deg=lon, lat_deg=lat, **more)


@pytest.fixture(scope="module")
def plan_with(ground):
    peak, spot, start = at(ground, 60, 110), at(ground, 58, 30), at(ground, 70, 30)
    hill = terrain.hill_at(ground, peak.lon_deg, peak.lat_deg, name="Cone")

    def planned(ground=ground, **more):
        return plan_morning(ground, spot, hill, DAY, start=start, **more)

    return planned


def test_every_what_if_is_what_a_check_under_that_mist_finds(ground, plan_with):
    plan = plan_with(mist_top_m=200.0, other_tops_m=())
    found = what_ifs(plan, [150.0, 250.0, 200.0, 450.0, 480.0])
    assert [morning.mist_top_m for morning in found.mornings] == [150.0, 200.0, 250.0]
    assert found.planned == 1
    assert found.mornings[1].backlight is plan.backlight
    assert found.lower == ""
    assert "under the mist" in found.higher
    for morning in found.mornings:
        mist = terrain.level_mist(ground, morning.mist_top_m)
        assert np.array_equal(morning.scene.mist.covers, mist.covers)
        alone = terrain.check_backlight(ground, plan.spot, plan.hill, DAY, mist=mist)
        assert morning.backlight.contact.appears == alone.contact.appears
        assert morning.backlight.reason == alone.reason
        assert morning.backlight.view.freeboard_m == alone.view.freeboard_m


def test_the_mist_is_tried_100_m_either_way_in_steps_of_25():
    assert mist_steps(300.0) == tuple(200.0 + 25.0 * step for step in range(9))
    assert mist_steps(np.nan) == ()


def test_without_mist_there_is_the_morning_alone(plan_with):
    plan = plan_with()
    found = what_ifs(plan, [100.0, 200.0])
    assert (len(found.mornings), found.planned, found.lower, found.higher) == (1, 0, "", "")
    assert np.isnan(found.mornings[0].mist_top_m)


def test_mist_along_a_valley_rises_along_it(ground, plan_with):
    mist = terrain.valley_mist(ground, 40.0)
    plan = plan_with(mist=mist, other_tops_m=(30.0,))
    (higher,) = plan.fall_backs
    assert plan.mist_top_m == pytest.approx(float(np.nanmax(mist.top_m)))
    assert higher.mist_top_m == plan.mist_top_m + 30.0
    assert higher.stays
    found = what_ifs(plan, [plan.mist_top_m - 20.0, plan.mist_top_m + 20.0])
    lower, planned, deeper = (morning.scene.mist for morning in found.mornings)
    both = planned.covers & deeper.covers
    assert np.median((deeper.top_m - planned.top_m)[both]) == pytest.approx(20.0, abs=0.5)
    assert lower.covers.sum() < planned.covers.sum() < deeper.covers.sum()
    assert np.ptp(planned.top_m[planned.covers]) > 10.0


def test_a_range_falls_back_to_its_own_ends(ground, plan_with):
    tops = terrain.mist_range(ground, [160.0, 200.0, 260.0], hoped_m=200.0)
    plan = plan_with(mist=tops, other_tops_m=(-1.0,))
    assert plan.mist_top_m == 200.0
    assert [other.mist_top_m for other in plan.fall_backs] == [160.0, 260.0]
    # that of a country is its own; the top hoped for is its lowest, and has nothing under it
    high = terrain.mist_range(ground, [200.0, 260.0], hoped_m=200.0)
    own = plan_with(terrain.Country(ground).under(high), other_tops_m=(-1.0,))
    assert [other.mist_top_m for other in own.fall_backs] == [260.0]


def test_a_mist_of_bare_heights_is_planned_with_and_not_raised(ground, plan_with):
    level = terrain.level_mist(ground, 200.0)
    plan = plan_with(mist=terrain.Mist(level.top_m, level.grid))
    assert plan.backlight.view.freeboard_m > 100.0
    assert plan.fall_backs == ()
    assert len(what_ifs(plan).mornings) == 1


def test_a_mist_given_twice_is_refused(ground, plan_with):
    with pytest.raises(TerrainError, match="mist_top_m of 200 were given"):
        plan_with(mist=terrain.level_mist(ground, 200.0), mist_top_m=200.0)
