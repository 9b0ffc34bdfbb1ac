"""The views of a sheet that are begun before its plan is whole."""

from __future__ import annotations

from dataclasses import replace

import pytest

from terrain.plan.morning import Plan
from terrain.show.sheet.pictures import draw_pictures
from terrain.show.sheet.views import begin_views
from tests.show.conftest import World
from tests.show.sheets import TOP_M, plan_of

TOPS_M = (TOP_M - 25.0, TOP_M)


@pytest.fixture(scope="module")
def plan(world: World) -> Plan:
    return plan_of(world)


def test_they_are_those_of_the_whole_plan(plan: Plan) -> None:
    begun = begin_views(replace(plan, fall_backs=()), TOPS_M)
    early, late = draw_pictures(plan, views=begun), draw_pictures(plan, mist_tops_m=TOPS_M)
    assert len(early.looks) == len(late.looks) == 2
    for one, other in zip(early.looks, late.looks, strict=True):
        assert (one.view, one.map) == (other.view, other.map)
    assert early.passing == late.passing
    assert (early.window, early.at, early.view_px) == (late.window, late.at, late.view_px)
    with pytest.raises(RuntimeError):
        begun.threads.submit(print)


def test_one_that_fails_is_told_and_the_rest_given_up(
    plan: Plan, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(*args: object) -> bytes:
        raise MemoryError("no room for a view")

    monkeypatch.setattr("terrain.show.sheet.views._photograph", fails)
    begun = begin_views(plan, TOPS_M)
    with pytest.raises(MemoryError, match="no room for a view"):
        draw_pictures(plan, views=begun)
    with pytest.raises(RuntimeError):
        begun.threads.submit(print)
