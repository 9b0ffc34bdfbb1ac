from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from terrain.sun.path import sun_path
from terrain.view.contact import sun_contact
from terrain.view.passage import sun_passage
from terrain.view.rims import Rims, rims_over
from tests.scenes import Floats, ring

MARCH = dt.date(2026, 3, 20)


def teeth(azimuth: Floats) -> Floats:
    """Ground that the sun of a day in March comes over more than once."""
    return 2.0 + 1.5 * np.sin(azimuth * 4.0)


@pytest.fixture
def looked_at(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """The beginnings of the spans whose edges are looked for."""
    begun: list[float] = []
    look = Rims._edges_between

    def noting(rims: Rims, first_s: float, last_s: float) -> list:
        begun.append(first_s)
        return look(rims, first_s, last_s)

    monkeypatch.setattr(Rims, "_edges_between", noting)
    return begun


def test_edges_that_a_contact_looked_for_a_passage_does_not_look_for_again(looked_at) -> None:
    skyline = ring(teeth)
    contact = sun_contact(skyline, MARCH)
    assert looked_at
    before = list(looked_at)
    showings = sun_passage(skyline, MARCH)
    assert looked_at == before
    assert showings[0].start == contact.appears
    assert len(showings) > 1
    sun_passage(skyline, MARCH + dt.timedelta(days=1))
    sun_passage(ring(teeth), MARCH)
    assert len(looked_at) > len(before)


def test_edges_of_a_part_of_the_day_are_those_of_the_whole_day_in_it() -> None:
    path = sun_path(MARCH, lon_deg=-24.0, lat_deg=54.4, height_m=100.0)
    skyline = ring(teeth)
    whole = list(Rims(skyline=skyline, path=path).edges())
    assert len(whole) > 4
    first_s, last_s = whole[1].t_s, whole[-2].t_s
    part = list(Rims(skyline=skyline, path=path).edges(first_s, last_s))
    assert part == whole[1:-1]


def test_the_rims_of_a_day_over_a_skyline_are_one_thing() -> None:
    skyline, other = ring(teeth), ring(teeth)
    path = sun_path(MARCH, lon_deg=-24.0, lat_deg=54.4, height_m=100.0)
    assert rims_over(skyline, path) is rims_over(skyline, path)
    assert rims_over(other, path) is not rims_over(skyline, path)
