"""How near the sun comes on a day, against all that a full look tells of it."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from terrain.country import Country
from terrain.errors import NoSun
from terrain.ground.places import Hill, Spot
from terrain.ground.relief.summits import hill_at
from terrain.view.backlight import backlight
from terrain.view.contact import sun_contact
from terrain.view.look import look
from terrain.view.nearness import nearness
from terrain.view.scene import Scene
from terrain.view.touch import first_touch
from tests.conftest import MakeDem
from tests.scenes import cone


@pytest.mark.parametrize("evening", [False, True])
def test_it_is_that_of_a_full_look(make_dem: MakeDem, evening: bool) -> None:
    """Beside a low cone, and where steps in the ground hide the sun again."""
    steps = np.kron(np.random.default_rng(5).uniform(0.0, 50.0, (11, 11)), np.ones((11, 11)))
    again, which = 0, set()
    for ground in (
        cone(121, (60, 60), 150.0, 0.5, cell_m=20.0) + steps,
        cone(121, (60, 60), 80, 1),
    ):
        dem = make_dem(ground, cell_m=20.0)
        scene = Scene(Country(dem), hill_at(dem, *map(float, dem.grid.lonlat(60, 60))))
        lon, lat = (float(part) for part in dem.grid.lonlat(58, 115 if evening else 5))
        view = look(scene, Spot(lon_deg=lon, lat_deg=lat))
        for number in range(0, 180, 8):
            day = dt.date(2027, 1, 1) + dt.timedelta(days=number)
            answer = backlight(scene, view, day, evening=evening)
            near = nearness(scene, view, day, evening=evening)
            touch = vars(near.touch)
            assert touch == {name: getattr(answer.contact, name) for name in touch}
            assert (near.offset_deg, near.behind) == (answer.offset_deg, answer.behind)
            assert (near.best, near.passage) == (answer.best, answer.passage)
            for within in (0.3, 2.0):
                assert near.within(within) == answer.within(within)
            again += len(answer.contact.later)
            which.add(near.best.which)
    assert again > 0
    assert len(which) == 2


def test_without_a_sun_it_says_why_as_a_contact_does(make_dem: MakeDem) -> None:
    dem = make_dem(cone(21, (10, 10), 50.0, 0.2), lon=20.0, lat=75.0)
    lon, lat = (float(part) for part in dem.grid.lonlat(10, 3))
    scene = Scene(Country(dem), Hill(lon_deg=20.0, lat_deg=75.0, height_m=50.0))
    view = look(scene, Spot(lon_deg=lon, lat_deg=lat))
    said = []
    for asked in (sun_contact, first_touch):
        with pytest.raises(NoSun) as caught:
            asked(view.skyline, dt.date(2026, 12, 21))
        said.append(str(caught.value))
    assert said[0] == said[1]
