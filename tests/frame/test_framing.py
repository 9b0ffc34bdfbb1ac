"""The frame against published angles of lenses, and outlines and figures against geometry."""

from __future__ import annotations

import datetime as dt
import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain.country import Country
from terrain.errors import NoAnswer, NoGround, TerrainError
from terrain.frame.figure import _moves, figure_at, step_for, steps_for
from terrain.frame.framing import frame_view, sun_on_sensor_mm
from terrain.frame.lens import Frame, Kit, Lens, Sensor, aim_at, lens_of
from terrain.frame.shade import sun_in_frame
from terrain.ground.dem import Dem
from terrain.ground.geodesy import azimuth_and_distance, destination, wrap_deg
from terrain.ground.places import Hill, Spot
from terrain.ground.relief.summits import hill_at
from terrain.mist.level import level_mist
from terrain.mist.mist import Mist
from terrain.sun.position import sun_position
from terrain.view.backlight import Backlight, backlight
from terrain.view.look import look
from terrain.view.scene import Scene
from terrain.view.shown import hill_outline, mist_strip
from terrain.words.plan import step_words
from tests.authorities import optics
from tests.scenes import scene_with

CELL_M = 40.0
CONE_AT, CONE_M, SLOPE = (90, 160), 160.0, 0.32
RADIUS_M = CONE_M / SLOPE
DAY = dt.date(2026, 10, 1)

azimuths = st.floats(0.0, 359.0)
tilts = st.floats(-25.0, 25.0)
offsets = st.floats(-30.0, 30.0)


# --- lenses


@pytest.mark.parametrize(("focal_mm", "angles"), optics.FIELD_OF_VIEW_DEG.items())
def test_published_fields_of_view(focal_mm, angles):
    frame = Frame(azimuth_deg=10.0, altitude_deg=0.0, focal_mm=focal_mm, sensor=Sensor())
    width, height = frame.field_deg
    assert (width, height) == pytest.approx(angles, abs=0.05)
    turned = replace(frame, sensor=Sensor().turned)
    assert turned.field_deg == pytest.approx((height, width))
    assert (frame.sensor.orientation, turned.sensor.orientation) == ("landscape", "portrait")


def test_the_suns_image():
    semidiameter = 959.63 / 3600.0
    assert 400.0 / sun_on_sensor_mm(400.0, semidiameter) == pytest.approx(
        optics.FOCAL_LENGTHS_A_SUN, abs=0.02
    )
    frame = Frame(azimuth_deg=100.0, altitude_deg=1.0, focal_mm=400.0, sensor=Sensor())
    _, up = frame.on_sensor_mm(100.0, [1.0 - semidiameter, 1.0 + semidiameter])
    assert up[1] - up[0] == pytest.approx(sun_on_sensor_mm(400.0, semidiameter), rel=1e-9)


@settings(deadline=None)
@given(azimuth=azimuths, tilt=tilts, aside=offsets, above=offsets)
def test_the_projection_is_gnomonic(azimuth, tilt, aside, above):
    # Snyder (1987), Map Projections: A Working Manual, USGS paper 1395, equations 22-3 to 22-5
    frame = Frame(azimuth_deg=azimuth, altitude_deg=tilt, focal_mm=50.0, sensor=Sensor())
    turn, altitude, middle = (math.radians(v) for v in (aside, tilt + above, tilt))
    cos_c = math.sin(middle) * math.sin(altitude)
    cos_c += math.cos(middle) * math.cos(altitude) * math.cos(turn)
    right = 50.0 * math.cos(altitude) * math.sin(turn) / cos_c
    up = math.cos(middle) * math.sin(altitude)
    up = 50.0 * (up - math.sin(middle) * math.cos(altitude) * math.cos(turn)) / cos_c
    assert frame.on_sensor_mm(azimuth + aside, tilt + above) == pytest.approx((right, up), abs=1e-9)
    back = frame.direction_deg(right, up)
    assert float(wrap_deg(back[0] - azimuth - aside)) == pytest.approx(0.0, abs=1e-9)
    assert float(back[1]) == pytest.approx(tilt + above, abs=1e-9)


def test_a_direction_off_the_axis_lands_at_f_tan_and_behind_nowhere():
    frame = Frame(azimuth_deg=350.0, altitude_deg=0.0, focal_mm=28.0, sensor=Sensor())
    right, up = frame.on_sensor_mm([10.0, 350.0, 170.0], [0.0, 15.0, 0.0])
    assert right[0] == pytest.approx(28.0 * math.tan(math.radians(20.0)))
    assert up[1] == pytest.approx(28.0 * math.tan(math.radians(15.0)))
    assert np.isnan([right[2], up[2]]).all()
    assert not frame.takes_in(170.0, 0.0)


@settings(deadline=None)
@given(azimuth=azimuths, tilt=tilts)
def test_upright_lines_stay_upright_without_tilt_and_how_far_out_is_an_angle(azimuth, tilt):
    level = Frame(azimuth_deg=azimuth, altitude_deg=0.0, focal_mm=35.0, sensor=Sensor())
    right, _ = level.on_sensor_mm(azimuth + 20.0, [-10.0, 0.0, 15.0])
    assert np.ptp(right) < 1e-9
    frame = replace(level, altitude_deg=tilt)
    half = frame.field_deg[1] / 2.0
    beyond = frame.outside_deg(azimuth, [tilt + half - 0.01, tilt + half + 4.0])
    assert beyond == pytest.approx([0.0, 4.0], abs=1e-6)


@settings(deadline=None)
@given(
    azimuth=azimuths,
    tilt=tilts,
    places=st.lists(st.tuples(offsets, offsets), min_size=2, max_size=9),
    portrait=st.booleans(),
)
def test_the_aim_touches_the_outermost_on_both_sides(azimuth, tilt, places, portrait):
    aside, above = np.array(places).T
    if max(np.ptp(aside), np.ptp(above)) < 0.1:
        return
    sensor = Sensor().turned if portrait else Sensor()
    frame = aim_at(azimuth + aside, tilt + above, sensor)
    right, up = frame.on_sensor_mm(azimuth + aside, tilt + above)
    assert right.max() + right.min() == pytest.approx(0.0, abs=1e-4 * sensor.width_mm)
    assert up.max() + up.min() == pytest.approx(0.0, abs=1e-4 * sensor.height_mm)
    fill = max(np.ptp(right) / sensor.width_mm, np.ptp(up) / sensor.height_mm)
    assert fill == pytest.approx(1.0, rel=1e-4)


def test_lenses_and_sensors_that_cannot_be():
    assert lens_of([100, 400]).up_to(250.0) == 250.0
    assert lens_of(70).up_to(250.0) == 70.0
    assert lens_of((100, 400)).up_to(99.0) is None
    assert lens_of((100, 400)).up_to(100.0) == 100.0
    assert lens_of(70).up_to(70.0) == 70.0
    with pytest.raises(TerrainError, match="a lens of 200 to 70 mm cannot be"):
        lens_of((200, 70))
    with pytest.raises(TerrainError, match="one focal length or a shortest and a longest"):
        lens_of((24, 70, 200))
    with pytest.raises(TerrainError, match="width_px of a sensor must be above 0, got 0"):
        Sensor(width_px=0)
    with pytest.raises(TerrainError, match="width_mm of a sensor must be above 0, got inf"):
        Sensor(width_mm=math.inf)
    with pytest.raises(NoAnswer, match="more than 160°"):
        aim_at([0.0, 170.0], [0.0, 0.0], Sensor())


# --- a cone on a plain, the sun behind it


@pytest.fixture(scope="module")
def plain(make_dem):
    row, col = np.indices((180, 320))
    away_m = np.hypot(row - CONE_AT[0], col - CONE_AT[1]) * CELL_M
    return make_dem(np.maximum(CONE_M - SLOPE * away_m, 0.0), CELL_M)


@pytest.fixture(scope="module")
def cone(plain) -> Scene:
    row, col = np.indices(plain.shape)
    away_m = np.hypot(row - CONE_AT[0], col - CONE_AT[1]) * CELL_M
    return scene_of(plain, away_m < RADIUS_M)


def scene_of(dem: Dem, own, mist: Mist | None = None) -> Scene:
    lon, lat = (float(part) for part in dem.grid.lonlat(*CONE_AT))
    hill = Hill(lon_deg=lon, lat_deg=lat, height_m=CONE_M, name="Cone")
    return scene_with(dem, hill, own, mist)


def spot_before(scene: Scene, distance_m: float, azimuth_deg: float, **more) -> Spot:
    lon, lat = destination(scene.hill.lon_deg, scene.hill.lat_deg, azimuth_deg + 180.0, distance_m)
    return Spot(lon_deg=float(lon), lat_deg=float(lat), **more)


@pytest.fixture(scope="module")
def morning(cone) -> Backlight:
    # the sun of 1 October comes up at about 94 degrees and climbs to the right
    return backlight(cone, look(cone, spot_before(cone, 3000.0, 98.0)), DAY)


def kit(*lenses_mm: float | tuple[float, float]) -> Kit:
    return Kit(lenses_mm=lenses_mm)


def test_the_outline_of_a_cone(cone, morning):
    view = morning.view
    outline = hill_outline(cone, view)
    # the two lines that touch its foot
    width = 2.0 * math.degrees(math.asin(RADIUS_M / 3000.0))
    cell = math.degrees(CELL_M / 3000.0)
    assert outline.width_deg == pytest.approx(width, abs=2.0 * cell)
    middle = (outline.azimuth_deg[0] + outline.azimuth_deg[-1]) / 2.0
    assert middle == pytest.approx(view.azimuth_deg, abs=cell)
    assert outline.altitude_deg.max() == pytest.approx(view.altitude_deg, abs=0.05)
    assert outline.within(view.azimuth_deg, 4.0).width_deg == pytest.approx(4.0, abs=0.11)


def test_an_outline_through_north_and_one_that_is_not_there(cone, plain):
    view = look(cone, spot_before(cone, 3000.0, 0.0))
    outline = hill_outline(cone, view)
    assert outline.azimuth_deg[0] < 360.0 < outline.azimuth_deg[-1]
    assert np.all(np.diff(outline.azimuth_deg) > 0.0)
    assert outline.width_deg == pytest.approx(19.2, abs=1.6)
    away = scene_of(plain, np.zeros(plain.shape, bool))
    with pytest.raises(NoAnswer, match="Cone makes no skyline from this spot"):
        hill_outline(away, view)


def test_within_a_crater_the_outline_goes_once_all_round(make_dem):
    row, col = np.indices((61, 61))
    rim = np.where((row == 30) & (col == 42), 330.0, 300.0)
    dem = make_dem(np.where(np.hypot(row - 30, col - 30) < 12.0, 0.0, rim), CELL_M)
    lon, lat = (float(part) for part in dem.grid.lonlat(30, 42))
    hill = Hill(lon_deg=lon, lat_deg=lat, height_m=330.0)
    inside = Spot(
        lon_deg=float(dem.grid.lonlat(30, 30)[0]), lat_deg=float(dem.grid.lonlat(30, 30)[1])
    )
    scene = scene_with(dem, hill, np.ones(dem.shape, bool))
    view = look(scene, inside)
    outline = hill_outline(scene, view)
    assert outline.azimuth_deg.size == view.skyline.azimuth_deg.size
    assert outline.width_deg == pytest.approx(360.0, abs=0.2)


@pytest.mark.parametrize("lenses_mm", [[24, 70, 200, 400], [(24, 70), (100, 400)], [400], [35]])
def test_the_frame_takes_in_hill_and_sun(cone, morning, lenses_mm):
    contact = morning.contact
    framing = frame_view(cone, morning, kit=kit(*lenses_mm))
    frame, outline = framing.frame, framing.outline
    taken = frame.takes_in(outline.azimuth_deg, outline.altitude_deg)
    assert framing.takes_all == (min(np.ravel(lenses_mm[0])) < framing.longest_mm)
    assert taken.all() == framing.takes_all
    if framing.takes_all:
        assert frame.takes_in(contact.sun_azimuth_deg, contact.sun_altitude_deg)
        assert frame.takes_in(contact.azimuth_deg, contact.altitude_deg)
        able = [fit.focal_mm for fit in framing.lenses if fit.takes_all]
        assert frame.focal_mm == max(able) <= framing.longest_mm + 1e-9
    right, _ = frame.on_sensor_mm(outline.azimuth_deg[[0, -1]], outline.altitude_deg[[0, -1]])
    share = (right[1] - right[0]) / frame.sensor.width_mm
    assert framing.hill_share == pytest.approx(min(share, 1.0))
    assert framing.sun_px / framing.sun_mm == pytest.approx(6000.0 / 36.0)
    assert framing.sun_mm == pytest.approx(frame.focal_mm / 107.5, rel=0.02)


def test_the_rim_of_the_whole_disc_is_in_the_frame_first_and_last(plain, cone, morning):
    """The sun far beside a narrow piece of the hill bounds the frame: by its rim."""
    view, contact = morning.view, morning.contact
    narrow = {"hill_width_deg": 0.1, "kit": kit((10, 5000)), "margin": 0.0}
    framing = frame_view(cone, morning, **narrow)
    frame, spot = framing.frame, view.spot
    moments = [contact.appears, contact.clears]
    sun = sun_position(
        moments, lon_deg=spot.lon_deg, lat_deg=spot.lat_deg, height_m=view.skyline.eye_height_m
    )
    right_mm, _ = frame.on_sensor_mm(sun.azimuth_deg, sun.apparent_altitude_deg)
    radius_mm = frame.focal_mm * math.tan(math.radians(contact.semidiameter_deg))
    rims_mm = [*(right_mm - radius_mm), *(right_mm + radius_mm)]
    hill_mm, _ = frame.on_sensor_mm(view.azimuth_deg, view.altitude_deg)
    half_mm = frame.sensor.width_mm / 2.0
    # from the farther rim to the summit is all the width there is
    span_mm = max(*rims_mm, float(hill_mm)) - min(*rims_mm, float(hill_mm))
    assert span_mm == pytest.approx(2.0 * half_mm, rel=0.02)
    assert frame.focal_mm == framing.longest_mm
    assert radius_mm > 0.05 * half_mm


def test_the_longest_lens_that_fits_leaves_the_margin_and_no_more(cone, morning):
    framing = frame_view(cone, morning, kit=kit((10, 1000)), margin=0.1)
    frame, outline = framing.frame, framing.outline
    assert frame.focal_mm == framing.longest_mm
    right, up = frame.on_sensor_mm(outline.azimuth_deg, outline.altitude_deg)
    room = [
        1.0 - 2.0 * np.abs(right).max() / frame.sensor.width_mm,
        1.0 - 2.0 * np.abs(up).max() / frame.sensor.height_mm,
    ]
    assert min(room) == pytest.approx(0.2, abs=1e-3)
    assert framing.hill_share == pytest.approx(0.8, abs=1e-3)
    # by hand: 19.2 degrees of hill over 80 % of 36 mm
    by_hand = 0.8 * 18.0 / math.tan(math.radians(outline.width_deg / 2.0))
    assert frame.focal_mm == pytest.approx(by_hand, rel=0.01)
    assert framing.orientation == "landscape"


def test_the_sun_is_hidden_then_in_the_frame_then_out_of_it(cone, morning):
    contact = morning.contact
    frame = frame_view(cone, morning, kit=kit(100)).frame
    second = dt.timedelta(seconds=1)
    around = [contact.appears - 4 * second, contact.appears + 4 * second]
    before, after = sun_in_frame(cone, morning, frame, around)
    assert (before.state, after.state) == ("hidden", "in frame")
    hours = [contact.appears + dt.timedelta(minutes=m) for m in (0.5, *range(20, 241, 20))]
    states = [sun.state for sun in sun_in_frame(cone, morning, frame, hours)]
    order = ["hidden", "in frame", "just out", "out"]
    assert [order.index(s) for s in states] == sorted(order.index(s) for s in states)
    assert (states[0], states[-1]) == ("in frame", "out")
    for sun in sun_in_frame(cone, morning, frame, hours):
        beyond = float(frame.outside_deg(sun.azimuth_deg, sun.altitude_deg))
        if sun.state == "in frame":
            assert beyond < 0.3
        if sun.state == "just out":
            assert 0.0 < beyond < 10.3
        if sun.state == "out":
            assert beyond > 9.7
    assert sun_in_frame(cone, morning, frame, []) == ()


def test_rows_are_whole_minutes_and_the_moments_at_which_something_happens(cone, morning):
    contact = morning.contact
    framing = frame_view(cone, morning, kit=kit(100))
    rows = {sun.event: sun for sun in framing.sun if sun.event}
    assert rows["sun appears"].moment == contact.appears
    assert rows["sun clear"].moment == contact.clears
    whole = [sun.moment for sun in framing.sun if not sun.event]
    assert all((at.second, at.microsecond) == (0, 0) for at in whole)
    assert {b - a for a, b in itertools.pairwise(whole)} == {dt.timedelta(minutes=1)}
    assert contact.appears - dt.timedelta(minutes=5) <= whole[0]
    assert whole[-1] <= contact.appears + dt.timedelta(minutes=30)
    assert len(whole) in (35, 36)
    moments = [sun.moment for sun in framing.sun]
    assert moments == sorted(moments)
    # the very moment at which the sun appears it is seen, and in the frame
    states = [sun.state for sun in framing.sun]
    first = moments.index(contact.appears)
    assert states[first] == "in frame"
    assert not math.isnan(rows["sun appears"].shade)
    assert set(states[:first]) == {"hidden"}


def test_a_frame_without_the_sun_is_closer_and_one_with_more_is_wider(cone, morning):
    view = morning.view
    zoom = {"kit": kit((10, 1000))}
    with_sun = frame_view(cone, morning, **zoom)
    without = frame_view(cone, morning, with_sun=False, **zoom)
    outline = without.outline
    assert without.frame.takes_in(outline.azimuth_deg, outline.altitude_deg).all()
    assert without.longest_mm >= with_sun.longest_mm
    right, up = without.frame.on_sensor_mm(outline.azimuth_deg, outline.altitude_deg)
    half = np.array([without.frame.sensor.width_mm, without.frame.sensor.height_mm]) / 2.0
    fill = max(np.abs(right).max() / half[0], np.abs(up).max() / half[1])
    assert fill == pytest.approx(0.84, abs=1e-3)
    low = (view.azimuth_deg, -9.0)
    wider = frame_view(cone, morning, with_sun=False, also_deg=[low], **zoom)
    assert wider.frame.takes_in(*low)
    assert not without.frame.takes_in(*low)
    assert wider.frame.focal_mm < without.frame.focal_mm


def test_shade_before_a_ridge_and_none_once_the_sun_is_high(make_dem):
    col = np.indices((160, 160))[1]
    away_m = np.abs(col - np.array([55.0, 120.0])[:, None, None]) * CELL_M
    ridges = np.array([100.0, 200.0])[:, None, None] - 0.25 * away_m
    dem = make_dem(np.maximum(ridges.max(axis=0), 0.0), CELL_M)
    lon, lat = (float(part) for part in dem.grid.lonlat(80, 120))
    hill = Hill(lon_deg=lon, lat_deg=lat, height_m=200.0, name="Ridge")
    scene = scene_with(dem, hill, col > 100)
    view = look(scene, spot_before(scene, 2500.0, 90.0))
    answer = backlight(scene, view, DAY)
    framing = frame_view(scene, answer, kit=kit(24), hill_width_deg=5.0, minutes=(-2, 180))
    seen = [sun for sun in framing.sun if sun.state == "in frame"]
    # the sun is up on the flank of the lower ridge, and the valley below lies in the dark
    assert seen[0].shade > 0.85
    assert seen[0].expect_to_bracket
    assert framing.expect_to_bracket
    assert all(a.shade >= b.shade - 1e-9 for a, b in itertools.pairwise(seen))
    # above the steepest ground there is no shade
    high = [sun for sun in seen if sun.altitude_deg > math.degrees(math.atan(0.25)) + 0.5]
    assert high
    assert all(sun.shade == 0.0 and not sun.expect_to_bracket for sun in high)
    assert all(math.isnan(sun.shade) for sun in framing.sun if sun.state != "in frame")


def test_shade_of_many_moments_is_that_of_each(cone, morning):
    frame = frame_view(cone, morning).frame
    moments = [morning.contact.appears + dt.timedelta(seconds=20 * n) for n in range(12)]
    shades = [sun.shade for sun in sun_in_frame(cone, morning, frame, moments)]
    assert len(set(shades)) > 1
    assert not np.isnan(shades).all()
    alone = [sun_in_frame(cone, morning, frame, [moment])[0].shade for moment in moments]
    np.testing.assert_array_equal(shades, alone)


def test_shade_is_of_the_near_ground_and_not_of_the_hill_itself(cone, morning):
    """A sun lower than the cone is steep leaves its near flank in shade, and the plain lit."""
    framing = frame_view(cone, morning, kit=kit(12), minutes=(90, 120))
    steep_deg = math.degrees(math.atan(SLOPE))
    low = [sun for sun in framing.sun if steep_deg - 2.5 < sun.altitude_deg < steep_deg - 0.5]
    assert [sun.state for sun in low] == ["in frame"] * len(low)
    assert len(low) > 5
    assert [sun.shade for sun in low] == [0.0] * len(low)


def test_where_no_lens_is_wide_enough_the_widest_is_taken(cone, morning):
    framing = frame_view(cone, morning, kit=kit(400, (200, 300), 800))
    assert framing.frame.focal_mm == 200.0
    assert not framing.takes_all


def test_a_strip_of_mist_before_the_hill(plain, cone, morning):
    view = morning.view
    outline = hill_outline(cone, view)
    assert mist_strip(cone, view, outline)[0].size == 0
    near = np.abs(np.indices(plain.shape)[1] - CONE_AT[1]) < 55
    mist = Mist(np.where((plain.heights_m < 30.0) & near, 30.0, np.nan), plain.grid)
    scene = scene_of(plain, cone.own_ground & ~mist.covers, mist)
    high = look(scene, spot_before(scene, 3000.0, 98.0, eye_m=60.0))
    answer = backlight(scene, high, DAY)
    framing = frame_view(scene, answer)
    assert framing.mist_in
    azimuth, altitude = mist_strip(scene, high, framing.outline)
    # the mist meets the cone 30 m up, 30 m below the eye
    foot_m = 3000.0 - (CONE_M - 30.0) / SLOPE
    foot = math.degrees(math.atan(-30.0 / foot_m))
    strip = 0.5 * (high.altitude_deg - foot)
    middle = np.argmin(np.abs(wrap_deg(azimuth - high.azimuth_deg)))
    assert altitude[middle] == pytest.approx(foot - strip, abs=0.1)
    assert framing.frame.takes_in(azimuth, altitude).all()
    assert framing.orientation == "landscape"
    # with little of the hill, what is left between mist and sun is taller than it is wide
    narrow = frame_view(scene, answer, kit=kit(24, (10, 1000)), hill_width_deg=0.5)
    assert narrow.orientation == "portrait"
    assert narrow.frame.focal_mm > 1.2 * framing.longest_mm
    assert narrow.frame.takes_in(answer.contact.sun_azimuth_deg, answer.contact.sun_altitude_deg)
    assert narrow.hill_share == 1.0


def test_a_kit_a_margin_and_minutes_that_make_no_sense(cone, morning):
    with pytest.raises(TerrainError, match="no lens is in the kit"):
        frame_view(cone, morning, kit=kit())
    with pytest.raises(TerrainError, match=r"a margin of 0\.5"):
        frame_view(cone, morning, margin=0.5)
    with pytest.raises(TerrainError, match="minutes from 5 to -5"):
        frame_view(cone, morning, minutes=(5, -5))
    assert str(Lens(shortest_mm=70, longest_mm=200)) == "70-200 mm"


# --- figures


def profile_scene(make_dem, heights_m, mist_top_m: float | None = None, cell_m=10.0) -> Scene:
    """Ground that changes from west to east alone."""
    dem = make_dem(np.tile(np.asarray(heights_m, dtype=float), (61, 1)), cell_m)
    mist = None
    if mist_top_m is not None:
        mist = Mist(np.where(dem.heights_m < mist_top_m, mist_top_m, np.nan), dem.grid)
    lon, lat = (float(part) for part in dem.grid.lonlat(30, 20))
    hill = Hill(lon_deg=lon, lat_deg=lat, height_m=10.0)
    return scene_with(dem, hill, np.zeros(dem.shape, bool), mist)


def on(scene: Scene, col: float, **more) -> Spot:
    lon, lat = (float(part) for part in scene.dem.grid.lonlat(30, col))
    return Spot(lon_deg=lon, lat_deg=lat, **more)


def test_a_figure_is_as_tall_as_similar_triangles_have_it(make_dem):
    scene = profile_scene(make_dem, np.zeros(300))
    figure = figure_at(scene, on(scene, 10), on(scene, 15))
    assert figure.distance_m == pytest.approx(50.0, rel=1e-3)
    frame = Frame(azimuth_deg=figure.azimuth_deg, altitude_deg=0.0, focal_mm=70.0, sensor=Sensor())
    by_hand = 70.0 * 1.75 / 50.0 * 6000.0 / 36.0
    assert figure.height_px(frame) == pytest.approx(by_hand, rel=1e-3)
    with pytest.raises(TerrainError, match=r"a figure of 0\.0 m"):
        figure_at(scene, on(scene, 10), on(scene, 15), height_m=0.0)
    with pytest.raises(TerrainError, match="where the camera is"):
        figure_at(scene, on(scene, 10), on(scene, 10))
    with pytest.raises(NoGround):
        figure_at(scene, on(scene, 10), Spot(lon_deg=0.0, lat_deg=0.0))
    with pytest.raises(ValueError, match="a backdrop is one of sky, mist, ground"):
        step_for(scene, on(scene, 10), on(scene, 15), "sea")


@pytest.mark.parametrize("eye_m", [0.4, 1.0, 1.7])
def test_on_a_plain_what_is_above_the_eye_stands_against_the_sky(make_dem, eye_m):
    scene = profile_scene(make_dem, np.zeros(300))
    figure = figure_at(scene, on(scene, 10, eye_m=eye_m), on(scene, 15))
    assert figure.seen == 1.0
    # the plain ends 2.8 km off, and rises to within a few centimetres of the eye's level there
    assert figure.sky == pytest.approx((1.75 - eye_m) / 1.75, abs=0.06)
    assert figure.ground == pytest.approx(1.0 - figure.sky)
    assert figure.against == ("sky" if eye_m < 0.8 else "ground")


def test_a_wall_before_a_figure_hides_what_is_below_the_line_over_it(make_dem):
    heights = np.zeros(300)
    heights[30] = 2.5
    scene = profile_scene(make_dem, heights)
    # eye at 1.7 m, a bank of 2.5 m 200 m off, the figure on the plain 300 m off: all below
    hidden = figure_at(scene, on(scene, 10), on(scene, 40))
    assert (hidden.seen, hidden.against) == (0.0, None)
    # from 4 m the line over the bank comes down to 4 - 1.5 * 1.5 = 1.75 m at the figure
    half = figure_at(scene, on(scene, 10, eye_m=3.5), on(scene, 40), height_m=4.0)
    assert half.seen == pytest.approx((4.0 - (3.5 - 1.5 * 1.0)) / 4.0, abs=0.03)


def test_mist_behind_a_figure_and_mist_round_its_knees(make_dem):
    heights = np.full(300, 50.0)
    heights[60:] = 0.0
    scene = profile_scene(make_dem, heights, mist_top_m=40.0)
    figure = figure_at(scene, on(scene, 10, eye_m=8.0), on(scene, 55))
    assert figure.against == "mist"
    assert figure.mist + figure.ground == pytest.approx(1.0)
    low = profile_scene(make_dem, np.where(np.arange(300) < 30, 10.0, 0.0), mist_top_m=1.0)
    knees = figure_at(low, on(low, 29), on(low, 60))
    assert knees.seen == pytest.approx(0.75 / 1.75, abs=0.03)
    assert knees.mist == knees.seen
    # looked down on from a tower, no mist lies in the line to the knees until just before them
    above = figure_at(low, on(low, 56, eye_m=40.0), on(low, 60))
    assert above.seen == pytest.approx(0.75 / 1.75, abs=0.03)


def test_how_to_move_to_set_a_figure_against_the_sky_and_back(make_dem):
    metres = np.arange(300) * 10.0
    heights = np.interp(metres, [100.0, 200.0, 400.0, 600.0], [30.0, 0.0, 20.0, 0.0])
    scene = profile_scene(make_dem, heights)
    spot, place = on(scene, 10), on(scene, 40)
    assert figure_at(scene, spot, place).against == "ground"
    step = step_for(scene, spot, place, "sky")
    assert step is not None
    assert step.figure.against == "sky"
    assert step.figure.sky >= 0.85
    # 20 m down the slope the eye is still above the crest; 40 m down it is below
    assert step.distance_m == 40.0
    assert abs(float(wrap_deg(step.azimuth_deg - 90.0))) < 50.0
    assert step.rise_m < -4.0
    # no other step of 40 m does it with less of a climb
    for azimuth in np.arange(0.0, 360.0, 22.5):
        lon, lat = map(float, destination(spot.lon_deg, spot.lat_deg, azimuth, 40.0))
        other = figure_at(scene, Spot(lon_deg=lon, lat_deg=lat), place)
        if other.seen >= 0.95 and other.sky >= 0.9 * other.seen:
            drop = scene.dem.height_at(spot.lon_deg, spot.lat_deg) - scene.dem.height_at(lon, lat)
            assert abs(step.rise_m) <= abs(drop) + 1e-6
    assert "m down" in step_words(step)
    _, moved_m = azimuth_and_distance(
        spot.lon_deg, spot.lat_deg, step.spot.lon_deg, step.spot.lat_deg
    )
    assert float(moved_m) == pytest.approx(40.0)
    back = step_for(scene, step.spot, place, "ground")
    assert back is not None
    assert back.figure.against == "ground"
    stays = step_for(scene, spot, place, "ground")
    assert stays is not None
    assert (stays.distance_m, stays.spot) == (0.0, spot)
    assert step_for(scene, spot, place, "mist") is None
    seen = figure_at(scene, spot, place)
    assert scene.mist is None
    assert steps_for(scene, spot, seen) == {"sky": step}
    assert step_for(scene, spot, place, "sky", reach_m=20.0) is None


def test_a_lower_camera_is_tried_before_a_step(make_dem):
    # the figure on a bank 1 m up stands against the sky for an eye near the ground
    heights = np.zeros(300)
    heights[14:17] = 1.0
    scene = profile_scene(make_dem, heights)
    step = step_for(scene, on(scene, 10), on(scene, 15), "sky")
    assert step is not None
    assert step.distance_m == 0.0
    assert step.spot.eye_m <= 1.2
    assert step_words(step) == f"hold the camera {step.spot.eye_m:g} m above the ground"


def test_no_step_leads_into_the_mist(make_dem):
    heights = np.tile(np.arange(200.0), (100, 1))  # rises to the east, mist up to column 60
    heights[50, 150] = 400.0
    dem = make_dem(heights, 10.0)
    hill = hill_at(dem, *map(float, dem.grid.lonlat(50, 150)), snap_m=0.0)
    scene = Scene(Country(dem, mist=level_mist(dem, 60.0)), hill)
    lon, lat = map(float, dem.grid.lonlat(50, 61))
    steps = [
        step
        for group in _moves(scene, Spot(lon_deg=lon, lat_deg=lat), 200.0)
        for step in group
        if step[2] > 0.0
    ]
    grounds = [dem.height_at(moved.lon_deg, moved.lat_deg) for moved, _, _ in steps]
    assert min(grounds) >= 59.0
    azimuths = {azimuth for _, azimuth, step_m in steps if step_m > 30.0}
    assert 90.0 in azimuths
    assert 270.0 not in azimuths
