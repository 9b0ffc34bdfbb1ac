"""How sure a morning's figures are: against draws of every input, and the parts of each."""

from __future__ import annotations

import math

import numpy as np
import pytest

from terrain.country import Country
from terrain.ground.accuracy import Accuracy
from terrain.plan.stages import offset_doubt, when_clear, when_it_appears
from terrain.view.backlight import Backlight, backlight
from terrain.view.contact import sun_contact
from terrain.view.look import look
from terrain.view.scene import Scene
from tests.drawn_doubts import CAUSES, DAY, drawn_parts
from tests.scenes import ring


@pytest.mark.parametrize("slant", [0.0, -0.25])
@pytest.mark.parametrize("causes", CAUSES)
def test_each_part_against_draws_of_its_cause(slant: float, causes: str) -> None:
    """The spread of both moments by the twin's sun, whose rim stands free wholly or in part."""
    parts = list(drawn_parts(slant, causes))
    assert [part.moment for part in parts] == ["appears", "clear"]
    for part in parts:
        assert part.told_s == pytest.approx(part.drawn_s, rel=0.2)


def test_the_moments_keep_their_own_skyline() -> None:
    """A sun that appears over far ground and is clear of a near wall: two distances, two doubts."""
    near = ring(lambda a: np.where(a > 91.0, 1.4, 1.0))
    far = np.where(near.azimuth_deg > 91.0, 300.0, 20_000.0)
    skyline = type(near)(**{**vars(near), "distance_m": far})
    found = sun_contact(skyline, DAY)
    first, last = when_it_appears(found), when_clear(found)
    assert last is not None
    assert first.total_s == pytest.approx(found.uncertainty_s)
    assert last.total_s == pytest.approx(found.clears_uncertainty_s)
    assert last.raster_s > 20.0 * first.raster_s


def test_unknown_ground_under_the_clear_sun_has_no_doubt_to_tell() -> None:
    # the horizontal stands in for what is not known, and here is the last to hide the sun
    first = sun_contact(ring(lambda a: np.full(a.shape, -0.15)), DAY).azimuth_deg
    found = sun_contact(ring(lambda a: np.where(a > first + 0.3, np.nan, -0.15)), DAY)
    assert found.clears is not None
    assert when_clear(found) is None
    assert math.isnan(found.clears_uncertainty_s)


@pytest.fixture(scope="module")
def answer(make_dem) -> Backlight:
    row, col = np.mgrid[:161, :201]
    cone = 400.0 - 12.0 * np.hypot(row - 80, col - 150)
    dem = make_dem(np.maximum(cone, 20.0 + 0.1 * col), cell_m=50.0)
    from terrain.ground.places import Spot
    from terrain.ground.relief.summits import hill_at

    hill = hill_at(dem, *map(float, dem.grid.lonlat(80, 150)))
    lon, lat = map(float, dem.grid.lonlat(77, 30))
    scene = Scene(Country(dem), hill)
    return backlight(scene, look(scene, Spot(lon_deg=lon, lat_deg=lat)), DAY)


def test_parts_of_the_offset_add_to_what_the_backlight_says(answer: Backlight) -> None:
    doubt = offset_doubt(answer)
    assert doubt.total_deg == pytest.approx(answer.uncertainty_deg)
    contact = answer.contact
    level = math.cos(math.radians(contact.altitude_deg))
    # what shifts the moment shifts the place by how far the sun moves in that time
    turned = contact.uncertainty_deg * level / contact.uncertainty_s
    assert doubt.raster_deg == pytest.approx(turned * when_it_appears(contact).raster_s)
    assert doubt.refraction_deg == pytest.approx(turned * when_it_appears(contact).refraction_s)
    bearing = math.degrees(math.atan(Accuracy().position_m / answer.view.distance_m))
    assert doubt.position_deg >= bearing
    assert doubt.position_deg == pytest.approx(
        math.hypot(bearing, turned * when_it_appears(contact).position_s)
    )


def test_nothing_is_in_doubt_where_nothing_errs() -> None:
    sure = Accuracy(raster_m=0.0, position_m=0.0, refraction=0.0)
    found = sun_contact(ring(lambda a: np.full(a.shape, 1.0)), DAY, accuracy=sure)
    assert when_it_appears(found).raster_s == 0.0
    assert when_it_appears(found).position_s == 0.0
    assert when_it_appears(found).refraction_s == when_it_appears(found).total_s
