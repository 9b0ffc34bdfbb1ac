"""Pictures of the light against the skyline, the flood levels, the sun's size and the model."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from pyproj import Geod

from terrain.country import Country
from terrain.frame.lens import Frame, Sensor
from terrain.glow.air import ClearAir
from terrain.glow.haze import haze
from terrain.glow.sky import sky_radiance, skylight
from terrain.glow.spectrum import LUMINANCE
from terrain.glow.sunlight import sunlight
from terrain.ground.dem import Dem
from terrain.ground.geodesy import drop_m
from terrain.ground.places import Spot
from terrain.ground.relief.summits import hill_at
from terrain.mist.level import level_mist
from terrain.show.view import _ray_kernels
from terrain.show.view._scenery_kernels import (
    FEET,
    GRAZING,
    MIST_PER_M,
    forward,
    mist_share,
    sky_on,
    smooth,
)
from terrain.show.view._shadow_kernels import air_lit, shadow_heights
from terrain.show.view.moment import Moment, moment_at
from terrain.show.view.moments import best_moment
from terrain.show.view.photograph import Camera
from terrain.show.view.scenery import GRASS, _lift, _share_of_disc, scenery
from terrain.sight.skyline import skyline
from terrain.view.scene import Scene
from tests.plain import plain_kernels
from tests.show.conftest import TOP_M, World

AIR = ClearAir()


def camera(world: World, focal_mm: float, *, tilt_deg: float = 0.5, width_px: int = 300) -> Camera:
    frame = Frame(
        azimuth_deg=world.answer.view.azimuth_deg,
        altitude_deg=tilt_deg,
        focal_mm=focal_mm,
        sensor=Sensor(),
    )
    return Camera(scene=world.scene, spot=world.spot, frame=frame, width_px=width_px)


def sun(true_deg: float, *, azimuth_deg: float = 98.0, eye_m: float = 390.0) -> Moment:
    return Moment(azimuth_deg=azimuth_deg, true_deg=true_deg, semidiameter_deg=0.267, eye_m=eye_m)


def luminance(light: NDArray) -> NDArray:
    return np.asarray(light, dtype=float) @ LUMINANCE


@pytest.mark.parametrize("focal_mm", [24.0, 100.0, 400.0])
@pytest.mark.parametrize("sensor", [Sensor(), Sensor().turned])
def test_the_ridge_in_pixels_is_the_skyline(world: World, focal_mm: float, sensor: Sensor) -> None:
    bare = Scene(Country(world.dem), world.hill)
    view = world.answer.view
    frame = Frame(
        azimuth_deg=view.azimuth_deg,
        altitude_deg=view.altitude_deg,
        focal_mm=focal_mm,
        sensor=sensor,
    )
    taken = Camera(scene=bare, spot=world.spot, frame=frame, width_px=240)
    moment = sun(-2.0, azimuth_deg=view.azimuth_deg)
    bright = luminance(taken.light(moment))
    wide, high = taken.size_px
    cols = np.arange(5, wide - 5, 7)
    per_mm = taken.px_per_focal / focal_mm

    def toward(rows: NDArray) -> tuple[NDArray, NDArray]:
        return frame.direction_deg(
            (cols + 0.5 - wide / 2.0) / per_mm, (high / 2.0 - rows - 0.5) / per_mm
        )

    azimuth, altitude = toward(np.arange(high)[:, np.newaxis])
    sky = moment.sky.radiance(
        azimuth_from_sun_deg=azimuth - view.azimuth_deg, altitude_deg=altitude
    )
    # from the top, the first pixel that is darker than the sky there by a quarter
    dark = bright[:, cols] < 0.75 * luminance(sky)
    assert dark.any(axis=0).all()
    azimuth, altitude = toward(np.argmax(dark, axis=0) - 0.5)
    sky_line = skyline(world.dem, world.spot, azimuths_deg=azimuth)
    # a picture ends with the ground that is known, a skyline with the sea
    known = sky_line.distance_m <= sky_line.known_to_m
    assert known.sum() >= 8
    apart = np.abs(altitude - sky_line.altitude_deg)[known]
    within = max(0.05, 1.5 * math.degrees(1.0 / taken.px_per_focal))
    assert np.quantile(apart, 0.95) < within


def test_the_disc_has_its_true_size_and_place(world: World) -> None:
    moment = sun(12.0, azimuth_deg=world.answer.view.azimuth_deg)
    taken = camera(world, 400.0, tilt_deg=moment.seen_deg, width_px=360)
    bright = luminance(taken.light(moment))
    disc = bright > 0.2 * bright.max()
    half = moment.semidiameter_deg
    per_deg = taken.px_per_focal * math.radians(1.0)
    assert disc.sum() == pytest.approx(math.pi * (half * per_deg) ** 2, rel=0.04)
    assert np.ptp(np.flatnonzero(disc.any(axis=0))) + 1 == pytest.approx(
        2 * half * per_deg, abs=1.5
    )
    middle = [np.flatnonzero(disc.any(axis=axis)).mean() for axis in (0, 1)]
    wide, high = taken.size_px
    assert middle == pytest.approx([wide / 2 - 0.5, high / 2 - 0.5], abs=0.05 * per_deg)


def test_ground_hides_the_disc(world: World) -> None:
    moment = sun(0.3, azimuth_deg=world.answer.view.azimuth_deg)
    bright = luminance(camera(world, 200.0).light(moment))
    assert bright.max() < 1e6
    assert luminance(camera(world, 200.0, tilt_deg=8.0).light(sun(8.0))).max() > 1e7


def test_mist_begins_where_the_flood_does(world: World) -> None:
    azimuths, altitudes = np.linspace(85.0, 110.0, 200), np.linspace(-5.0, 2.0, 140)
    shown = scenery(world.scene, world.spot, azimuths, altitudes)
    dry = scenery(Scene(Country(world.dem), world.hill), world.spot, azimuths, altitudes)
    moment = sun(6.0, azimuth_deg=20.0)
    bright = luminance(shown.light(moment))
    seen = shown.seen
    there = ~np.isnan(seen.distance_m)
    lon, lat = world.dem.grid.lonlat(seen.row[there], seen.col[there])
    height = world.dem.heights_at(lon, lat)
    bare = luminance(dry.light(moment))
    same = np.isclose(dry.seen.distance_m[there], seen.distance_m[there], rtol=1e-3)
    # well over the level of the flood nothing changes but the light that mist throws back
    high = same & (height > TOP_M + 110.0)
    assert high.sum() > 100
    assert np.median(bright[there][high] / bare[there][high]) == pytest.approx(1.0, abs=0.02)
    deep = height < TOP_M - 20.0
    assert deep.sum() > 100
    brighter = bright[there][deep].min() / np.median(bright[there][height > TOP_M + 30.0])
    assert brighter > 1.2
    assert shown.shows_mist
    assert not dry.shows_mist


def test_the_mist_line_in_pixels_is_the_level_of_the_flood(world: World) -> None:
    """Down each column of pixels across the hill, the first that mist changes, and what is there.

    What is there is found by a walk outward on the line of sight, drop by d²(1−k)/2R.
    """
    misty = camera(world, 100.0, tilt_deg=-1.0, width_px=360)
    dry = dataclasses.replace(misty, scene=Scene(Country(world.dem), world.hill))
    moment = sun(6.0, azimuth_deg=20.0)
    with_mist, without = (luminance(taken.light(moment)) for taken in (misty, dry))
    wide, high = misty.size_px
    per_mm = misty.px_per_focal / 100.0
    eye_m = float(world.dem.heights_at(world.spot.lon_deg, world.spot.lat_deg)) + world.spot.eye_m
    away_m = np.arange(3000.0, 7000.0, 5.0)
    found = []
    for col in range(wide // 2 - 30, wide // 2 + 31, 10):
        # ground that stands out of it is lit a little more by what mist throws back
        row = int(np.argmax(with_mist[:, col] > 1.35 * without[:, col]))
        azimuth, altitude = misty.frame.direction_deg(
            (col + 0.5 - wide / 2.0) / per_mm, (high / 2.0 - row) / per_mm
        )
        lon, lat, _ = Geod(ellps="WGS84").fwd(
            *(np.full(away_m.size, at) for at in (world.spot.lon_deg, world.spot.lat_deg, azimuth)),
            away_m,
        )
        line_m = eye_m + away_m * math.tan(math.radians(altitude)) + drop_m(away_m, 0.13)
        ground_m = world.dem.heights_at(lon, lat)
        found.append(float(ground_m[np.argmax(ground_m >= line_m)]))
    assert np.abs(np.array(found) - TOP_M).max() < 20.0
    assert abs(float(np.median(found)) - TOP_M) < 12.0


def test_mist_thins_at_its_shore() -> None:
    shares = [mist_share(over, 0.1) for over in (40.0, 10.0, 1e-9, -1e-9, -1.0, -30.0)]
    assert shares == sorted(shares)
    assert shares[2] == pytest.approx(FEET, rel=1e-6)
    assert shares[3] == pytest.approx(FEET, rel=1e-6)
    through = (1.0 - FEET) * math.exp(-MIST_PER_M * 5.0 / 0.5)
    assert mist_share(-5.0, 0.5) == pytest.approx(1.0 - through)
    assert mist_share(-5.0, 0.0) == mist_share(-5.0, GRAZING)


@pytest.mark.parametrize("true_deg", [-6.0, -0.4, 4.5])
def test_colours_are_those_of_the_model(world: World, true_deg: float) -> None:
    """At civil dawn, sunrise and half an hour later."""
    moment = sun(true_deg)
    azimuths, altitudes = np.linspace(88.0, 108.0, 120), np.linspace(-4.0, 9.0, 100)
    bare = Scene(Country(world.dem), world.hill)
    shown = scenery(bare, world.spot, azimuths, altitudes)
    light, seen = shown.light(moment), shown.seen
    high = np.s_[92:98, 5:60:10]
    expected = sky_radiance(
        AIR,
        sun_altitude_deg=true_deg,
        azimuth_from_sun_deg=azimuths[high[1]] - 98.0,
        altitude_deg=altitudes[high[0], np.newaxis],
        eye_height_m=390.0,
    )
    np.testing.assert_allclose(light[high], expected, rtol=0.01)
    # the least light of ground is that of its haze in shade, the most all that the sun can send
    lit = skylight(AIR, sun_altitude_deg=true_deg, height_m=390.0) * 1.3 * _lift(moment.seen_deg)
    lit = lit + sunlight(AIR, sun_altitude_deg=true_deg, height_m=500.0)
    rows, cols = np.nonzero(~np.isnan(seen.distance_m))
    pick = slice(None, None, max(rows.size // 150, 1))
    rows, cols = rows[pick], cols[pick]
    far = seen.distance_m[rows, cols].astype(float)
    between = haze(
        AIR,
        sun_altitude_deg=true_deg,
        azimuth_from_sun_deg=azimuths[cols] - 98.0,
        distance_m=far,
        eye_height_m=390.0,
        target_height_m=390.0 + np.tan(np.radians(altitudes[rows])) * far,
    )
    own = 2.0 * np.array(GRASS) / math.pi * np.maximum(lit, 0.0)
    most = own * between.transmittance + between.light
    found = light[rows, cols]
    assert (luminance(found) <= 1.02 * luminance(most) + 1e-9).all()
    assert (luminance(found) >= 0.19 * luminance(between.light)).all()
    print_ = camera(world, 70.0).picture(moment)
    assert print_.dtype == np.uint8
    assert 40 < np.median(print_[:30]) < 245


def test_a_hill_shades_the_mist_and_the_air_before_it(world: World) -> None:
    """Toward the sun a cone of 9 m fall a cell stands 520 m over a plain of 20 m."""
    moment = moment_at(world.answer, world.answer.sun_path.seconds(best_moment(world.answer)))
    azimuths, altitudes = np.linspace(90.0, 106.0, 160), np.linspace(-4.0, 3.0, 90)
    shown = scenery(world.scene, world.spot, azimuths, altitudes)
    surface = shown._lit(moment)
    assert surface.lit.min() == 0.0
    assert surface.lit.max() > 0.98
    clear = luminance(shown.light(sun(moment.true_deg, azimuth_deg=moment.azimuth_deg + 90.0)))
    assert clear.max() > 0.0


def test_shadows_fall_away_from_the_sun() -> None:
    heights = np.zeros((5, 30), dtype=np.float32)
    heights[2, 20] = 100.0
    found = np.empty_like(heights)
    # the sun in the east, its rays fall 7 m to a cell
    shadow_heights(heights, 0.0, 1.0, 7.0, found)
    assert found[2, 10] == pytest.approx(30.0)
    assert found[2, 25] == 0.0
    assert found[0, 10] == 0.0
    shadow_heights(heights, 0.0, -1.0, 7.0, found)
    assert found[2, 25] == pytest.approx(65.0)
    assert found[2, 10] == 0.0


def test_the_share_of_a_way_in_the_sun() -> None:
    parts = 2001
    along = 1000.0 * (np.arange(parts) / (parts - 1.0)) ** 2
    wall = np.where(along > 400.0, 10.0, -10.0)
    assert air_lit(1000.0, 0.0, 1000.0, wall) == pytest.approx(0.4, abs=1e-3)
    assert air_lit(500.0, 0.0, 1000.0, wall) == pytest.approx(0.8, abs=2e-3)
    assert air_lit(300.0, 0.0, 1000.0, wall) == pytest.approx(1.0)
    assert air_lit(1000.0, 0.05, 1000.0, wall) == pytest.approx(1.0)


def test_light_of_the_sky_on_slopes() -> None:
    """Against the sum over all directions, and level ground against `skylight`."""
    moment = sun(3.0)
    numbers = moment.round(0.0)
    level = np.array([sky_on(numbers, 0.0, 0.0, 1.0, tone) for tone in range(3)])
    np.testing.assert_allclose(luminance(level), luminance(moment.sky.irradiance()), rtol=0.1)
    toward = luminance([sky_on(numbers, 0.6, 0.0, 0.8, tone) for tone in range(3)])
    away = luminance([sky_on(numbers, -0.6, 0.0, 0.8, tone) for tone in range(3)])
    assert toward > 1.5 * away


def test_what_is_scattered_goes_somewhere() -> None:
    angle = (np.arange(4000) + 0.5) * math.pi / 4000
    share = np.array([forward(math.cos(each), 0.75) for each in angle])
    whole = (share * 2.0 * math.pi * np.sin(angle) * math.pi / 4000).sum()
    assert whole == pytest.approx(1.0, abs=1e-4)


def test_smooth_values_have_no_creases_and_keep_planes() -> None:
    rows, cols = np.mgrid[:9, :9]
    plane = (2.0 * rows - 3.0 * cols).astype(np.float32)
    assert smooth(plane, 4.3, 5.8) == pytest.approx(2.0 * 4.3 - 3.0 * 5.8, abs=1e-5)
    bump = np.zeros((9, 9), dtype=np.float32)
    bump[4, 4] = 1.0
    along = np.array([smooth(bump, 4.0, col) for col in np.linspace(3.0, 5.0, 201)])
    assert np.abs(np.diff(along, 2)).max() < 3e-4


def test_how_much_of_a_disc_shows() -> None:
    edges = np.full((40, 40), 0.0)
    assert _share_of_disc(edges)[20, 20] == pytest.approx(0.5)
    assert _share_of_disc(edges + 2.0)[20, 20] == pytest.approx(1.0)
    assert _share_of_disc(edges - 1.0)[20, 20] == pytest.approx(0.0)
    # half a radius over the edge: 0.8045 of a disc
    assert _share_of_disc(edges + 0.5)[20, 20] == pytest.approx(0.8045, abs=1e-4)


def test_no_edge_is_drawn_as_a_mean() -> None:
    light = np.array([[[1.0] * 3, [9.0] * 3, [1.02] * 3]], dtype=np.float32)

    def filled(distance_m: list[float], after: float) -> float:
        light[0, 1], light[0, 2] = 9.0, after
        cell = np.array([distance_m], dtype=np.float32)
        _ray_kernels.is_between(cell, light, (0, 1), (0, 1))
        return float(light[0, 1, 2])

    assert filled([100.0, 101.0, 102.0], 1.02) == pytest.approx(1.01)
    # a thin ridge before the ground, its edge, the sky over it, and a shore of mist
    assert filled([100.0, 60.0, 102.0], 1.02) == 9.0
    assert filled([100.0, 101.0, 180.0], 1.02) == 9.0
    assert filled([100.0, 101.0, math.nan], 1.02) == 9.0
    assert filled([100.0, 101.0, 102.0], 1.1) == 9.0


def test_pictures_of_plain_kernels(
    make_dem: Callable[..., Dem], monkeypatch: pytest.MonkeyPatch
) -> None:
    """And of cells that are all worked out, none of them as the mean of its neighbours."""
    rows, cols = np.mgrid[:14, :18]
    heights = np.maximum(300.0 - 60.0 * np.hypot(rows - 7, cols - 12), 20.0 + 9.0 * (9 - cols))
    heights[3, 9] = np.nan
    dem = make_dem(heights, cell_m=50.0)
    lon, lat = (part.tolist() for part in dem.grid.lonlat([7, 7], [12, 0]))
    country = Country(dem, mist=level_mist(dem, 60.0))
    scene = Scene(country, hill_at(dem, lon[0], lat[0]))
    frame = Frame(azimuth_deg=90.0, altitude_deg=-8.0, focal_mm=24.0, sensor=Sensor())
    spot = Spot(lon_deg=lon[1], lat_deg=lat[1])

    def light() -> NDArray:
        return Camera(scene=scene, spot=spot, frame=frame, width_px=16).light(sun(2.0))

    compiled = light()
    with plain_kernels():
        plain = light()
        monkeypatch.setattr(_ray_kernels, "UNLIKE", -1.0)
        whole = light()
    np.testing.assert_allclose(plain, compiled, rtol=2e-3)
    np.testing.assert_allclose(plain, whole, rtol=8e-3)
    assert (plain != whole).any()
