"""Which framing belongs to which stage: by the sun's moment, and by what the light falls on."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from terrain.country import Country
from terrain.frame.lens import Kit
from terrain.ground.places import Spot
from terrain.ground.relief.summits import hill_at
from terrain.mist.level import level_mist
from terrain.plan import valley_light as valley_light_module
from terrain.plan.frames import Aims, aims_for
from terrain.plan.stages import StageKind, timeline
from terrain.plan.valley_light import ValleyLight, valley_light
from terrain.sun.twilight import Twilight, twilight
from terrain.view.backlight import backlight
from terrain.view.look import look
from terrain.view.scene import Scene
from terrain.view.sun_azimuths import Needed
from terrain.walk.walk import Walk, walk_in
from tests.scenes import cone

DAY = dt.date(2026, 3, 20)
KIT = Kit(lenses_mm=((10.0, 1000.0),))
MINUTE = dt.timedelta(minutes=1)


@pytest.fixture(scope="module")
def scene(make_dem) -> Scene:
    row, col = np.mgrid[:161, :161]
    ridge = 300.0 - 10.0 * np.abs(col - 30.0)
    # a far wall all along the east, so that the cone's skyline ends where its flanks do
    wall = np.where(col > 150, 100.0 + 0.1 * row, 20.0)
    heights = np.maximum.reduce([cone(161, (80, 110), 400.0, 0.25), ridge, wall])
    dem = make_dem(heights, cell_m=50.0)
    return Scene(Country(dem), hill_at(dem, *map(float, dem.grid.lonlat(80, 110)), name="Cone"))


@pytest.fixture(scope="module")
def spot(scene) -> Spot:
    lon, lat = map(float, scene.dem.grid.lonlat(77, 30))
    return Spot(lon_deg=lon, lat_deg=lat)


def lit(scene: Scene, spot: Spot, *, on_mist: bool, seen: bool) -> ValleyLight:
    """Light on a place far below all else that is framed, half an hour after sunrise."""
    answer = backlight(scene, look(scene, spot), DAY)
    later = answer.contact.appears + 30 * MINUTE
    return ValleyLight(
        contact=replace(answer.contact, appears=later, clears=None, later=()),
        first=later,
        last=later,
        on_mist=on_mist,
        seen=seen,
        azimuth_deg=answer.view.azimuth_deg,
        altitude_deg=-25.0,
    )


def aims_with(scene: Scene, spot: Spot, valley: ValleyLight | None) -> Aims:
    return aims_for(scene, backlight(scene, look(scene, spot), DAY), valley, KIT)


@pytest.mark.parametrize(("on_mist", "seen"), [(False, True), (True, True), (False, False)])
def test_the_lit_floor_is_framed_where_it_is_seen_and_no_mist(scene, spot, on_mist, seen):
    valley = lit(scene, spot, on_mist=on_mist, seen=seen)
    aims = aims_with(scene, spot, valley)
    framed = bool(aims.valley.frame.takes_in(valley.azimuth_deg, valley.altitude_deg))
    assert framed == (seen and not on_mist)
    assert (aims.valley.frame == aims.after.frame) == (not framed)
    assert not aims.after.frame.takes_in(valley.azimuth_deg, valley.altitude_deg)


@pytest.fixture(scope="module")
def walk(scene, spot) -> Walk:
    lon, lat = map(float, scene.dem.grid.lonlat(90, 20))
    arrives = twilight(DAY, lon_deg=lon, lat_deg=lat).sunrise
    return walk_in(scene.dem, Spot(lon_deg=lon, lat_deg=lat), spot, arrives=arrives)


@pytest.fixture(scope="module")
def light(spot) -> Twilight:
    return twilight(DAY, lon_deg=spot.lon_deg, lat_deg=spot.lat_deg)


def test_the_sun_is_framed_until_it_is_clear_and_when_it_comes_again(scene, spot, walk, light):
    valley = lit(scene, spot, on_mist=False, seen=True)
    aims = aims_with(scene, spot, valley)
    contact = aims.answer.contact
    assert contact.clears is not None
    again = replace(contact, appears=contact.clears + 40 * MINUTE, clears=None)
    aims = replace(aims, answer=replace(aims.answer, contact=replace(contact, later=(again,))))
    stages = {stage.kind: stage for stage in timeline(light, walk, aims, None, valley)}
    with_sun = {kind for kind, stage in stages.items() if stage.framing is aims.rising}
    assert with_sun == {
        StageKind.COLOUR_BEGINS,
        StageKind.SUN_APPEARS,
        StageKind.SUN_CLEAR,
        StageKind.SUN_APPEARS_AGAIN,
    }
    assert stages[StageKind.SUN_CLEAR].framing is aims.rising
    assert stages[StageKind.SUN_APPEARS_AGAIN].framing is aims.rising
    assert stages[StageKind.LIGHT_ON_FLOOR].framing is aims.valley
    assert stages[StageKind.WARM_LIGHT_OVER].framing is aims.after
    assert {aims.rising.frame, aims.valley.frame, aims.after.frame} != {aims.after.frame}


def test_warm_light_that_was_over_before_the_sun_appeared_is_no_stage(scene, spot, walk, light):
    aims = aims_with(scene, spot, None)
    appears = aims.answer.contact.appears
    for shift, told in ((-MINUTE, False), (MINUTE, True)):
        over = replace(light, morning_golden_ends=appears + shift)
        kinds = [stage.kind for stage in timeline(over, walk, aims, None, None)]
        assert (StageKind.WARM_LIGHT_OVER in kinds) == told
    without_dawn = replace(light, civil_dawn=None)
    dark = [stage.kind for stage in timeline(without_dawn, walk, aims, None, None)]
    assert StageKind.NO_LAMP not in dark
    assert StageKind.LEAVE not in dark


def test_the_valley_lies_as_high_in_view_as_its_own_refraction_lifts_it(scene, spot):
    """The more the light is bent with the earth, the less far ground lies under the horizontal."""
    found = []
    for refraction in (0.9, 0.0):
        bent = Scene(Country(scene.dem, refraction=refraction), scene.hill)
        lit = valley_light(bent, look(bent, spot), DAY)
        assert lit is not None
        found.append(lit.altitude_deg)
    assert found[0] - found[1] > 0.002


def test_the_light_in_the_valley_is_that_under_the_whole_skyline(scene, spot, monkeypatch):
    view = look(scene, spot)
    found = [valley_light(scene, view, DAY)]
    monkeypatch.setattr("terrain.plan.valley_light.needed_under", lambda path: Needed())
    found.append(valley_light(scene, view, DAY))
    narrow, whole = ((lit.first, lit.contact.appears, lit.contact.azimuth_deg) for lit in found)
    assert narrow == whole


def test_the_light_of_a_misty_valley_is_that_on_its_mist_alone(scene, spot, monkeypatch):
    """The spot's own slope and the hill's stand out of it at either end."""
    misty = Scene(Country(scene.dem, mist=level_mist(scene.dem, 60.0)), scene.hill)
    asked, contact_at = [], valley_light_module._contact_at

    def told(scene, at, day, *, level, evening):
        asked.append((at, level))
        return contact_at(scene, at, day, level=level, evening=evening)

    monkeypatch.setattr(valley_light_module, "_contact_at", told)
    lit = valley_light(misty, look(misty, spot), DAY)
    assert lit is not None
    assert lit.on_mist
    assert len(asked) > 3
    for at, level in asked:
        assert level
        assert scene.dem.height_at(at.lon_deg, at.lat_deg) < 60.0
