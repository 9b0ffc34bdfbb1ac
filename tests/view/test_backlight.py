"""Whether the sun comes up behind a hill, on ground where that is known beforehand."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from terrain.country import Country
from terrain.errors import NoAnswer, NoGround, NoSun, TerrainError
from terrain.ground.accuracy import Accuracy
from terrain.ground.dem import Dem
from terrain.ground.geodesy import azimuth_and_distance, destination
from terrain.ground.places import Hill, Spot
from terrain.ground.relief.summits import hill_at
from terrain.mist.level import level_mist
from terrain.sight.line import sight_line
from terrain.sun.twilight import twilight
from terrain.view.backlight import backlight, check_backlight
from terrain.view.look import look
from terrain.view.scene import Scene
from terrain.view.toward import clearance_m
from terrain.words.sunrise import warnings
from tests.conftest import MakeDem
from tests.scenes import Floats, cone, flat, scene_with

MARCH = dt.date(2026, 3, 20)
SIZE = 161
# behind this hill, from 3 km off, the sun of an equinox stands when it stands as high
TOWARD, AWAY_M = 105.0, 3000.0


def ground(*cones: Floats) -> Floats:
    """A plain of 10 m with a rim that keeps the sun down till it stands about as high."""
    row, col = np.mgrid[:SIZE, :SIZE] - 80
    plain = 10.0 + 0.4 * np.maximum(np.hypot(row, col) - 60.0, 0.0)
    return np.maximum.reduce([plain, *cones])


def hill_of(dem: Dem, row: float = 80, col: float = 80) -> Hill:
    return hill_at(dem, *map(float, dem.grid.lonlat(row, col)))


def stand(hill: Hill, toward_deg: float = TOWARD, away_m: float = AWAY_M) -> Spot:
    lon, lat = destination(hill.lon_deg, hill.lat_deg, toward_deg + 180.0, away_m)
    return Spot(lon_deg=float(lon), lat_deg=float(lat))


@pytest.fixture(scope="module")
def lone(make_dem: MakeDem) -> Dem:
    return make_dem(ground(cone(SIZE, (80, 80), 600.0, 0.4)))


def test_offset_is_measured_on_the_sky_to_the_right(lone: Dem) -> None:
    """The earlier in spring, the farther right the sun comes up: signs, sizes and widths."""
    hill = hill_of(lone)
    spot = stand(hill)
    azimuth, _ = azimuth_and_distance(spot.lon_deg, spot.lat_deg, hill.lon_deg, hill.lat_deg)
    offsets = []
    for day in (dt.date(2026, 3, 14), dt.date(2026, 3, 18), dt.date(2026, 3, 23)):
        answer = check_backlight(lone, spot, hill, day)
        contact = answer.contact
        aside = (contact.azimuth_deg - float(azimuth)) * np.cos(np.radians(contact.altitude_deg))
        assert answer.offset_deg == pytest.approx(aside, abs=1e-6)
        assert answer.offset_widths == pytest.approx(aside / (2.0 * contact.semidiameter_deg))
        offsets.append(answer.offset_deg)
    assert offsets[0] > 0.0 > offsets[-1]
    assert offsets == sorted(offsets, reverse=True)


def test_behind_and_what_it_says(lone: Dem) -> None:
    hill = hill_of(lone)
    answer = check_backlight(lone, stand(hill), hill, dt.date(2026, 3, 13))
    assert answer.behind
    assert answer.view.visible
    assert answer.view.on_skyline
    assert answer.view.obstacle is None
    assert answer.view.altitude_deg == pytest.approx(np.degrees(np.arctan(588.3 / 3000.0)), abs=0.1)
    assert answer.reason.startswith(f"the sun appears behind {hill.label}, ")
    side = "right" if answer.offset_deg > 0 else "left"
    assert f"sun widths to the {side} of its summit" in answer.reason


@pytest.mark.parametrize("lat_deg", [54.4, -44.0])
def test_a_view_for_one_day_scans_less_and_answers_the_same(
    make_dem: MakeDem, lat_deg: float
) -> None:
    dem = make_dem(ground(cone(SIZE, (80, 80), 600.0, 0.4)), lat=lat_deg)
    hill = hill_of(dem)
    spot, scene = (
        stand(hill, TOWARD if lat_deg > 0.0 else 180.0 - TOWARD),
        Scene(Country(dem), hill),
    )
    all_round, on_day = look(scene, spot), look(scene, spot, day=MARCH)
    assert on_day.skyline.azimuth_deg.size < 0.7 * all_round.skyline.azimuth_deg.size
    assert replace(on_day, skyline=all_round.skyline) == all_round
    expected, answer = (backlight(scene, view, MARCH) for view in (all_round, on_day))
    assert answer.offset_deg == pytest.approx(expected.offset_deg, abs=1e-9)
    assert (answer.behind, answer.reason) == (expected.behind, expected.reason)
    for name in ("appears", "clears"):
        found, known = getattr(answer.contact, name), getattr(expected.contact, name)
        assert abs(found - known) <= dt.timedelta(microseconds=10)
    assert answer.contact.uncertainty_s == pytest.approx(expected.contact.uncertainty_s)


def test_beside_it(make_dem: MakeDem) -> None:
    other = cone(SIZE, (28, 110), 150.0, 0.4)
    dem = make_dem(ground(cone(SIZE, (80, 80), 600.0, 0.4), other))
    hill = hill_of(dem)
    answer = check_backlight(dem, stand(hill, 150.0), hill, MARCH)
    assert answer.view.on_skyline
    assert not answer.behind
    assert answer.offset_deg < -20.0
    assert answer.reason.startswith(f"the sun appears beside {hill.label}, ")
    assert "sun widths to the left of its summit" in answer.reason
    assert "over ground of" in answer.reason


def test_an_evening_behind_a_hill_is_a_morning_in_a_mirror(make_dem: MakeDem) -> None:
    """Made ground with a second hill beside the first, about the noon of midsummer.

    To half a second, and half of one for noon; `test_contact` says what the declination does
    meanwhile. A skyline in steps of 0.05 degrees lies otherwise to the hill in the mirror.
    """
    heights = ground(cone(SIZE, (80, 80), 600.0, 0.4), cone(SIZE, (50, 110), 250.0, 0.3))
    day, toward, answers = dt.date(2027, 6, 21), 64.0, []
    for evening in (False, True):
        dem = make_dem(heights[:, :: -1 if evening else 1], lon=0.0, lat=51.5)
        hill = hill_of(dem)
        spot = stand(hill, -toward if evening else toward)
        answers.append(check_backlight(dem, spot, hill, day, evening=evening))
    dawn, dusk = answers
    assert dawn.behind
    assert (dusk.behind, dusk.contact.evening) == (True, True)
    assert abs(dawn.offset_deg) > 0.3
    assert dusk.offset_deg == pytest.approx(-dawn.offset_deg, abs=0.005)
    assert dusk.uncertainty_deg == pytest.approx(dawn.uncertainty_deg, rel=0.02)
    noon = twilight(day, lon_deg=0.0, lat_deg=51.5).transit
    assert noon is not None
    assert dawn.contact.clears is not None
    assert dusk.contact.clears is not None
    for first, last in (
        (dawn.contact.appears, dusk.contact.appears),
        (dawn.contact.clears, dusk.contact.clears),
    ):
        assert abs((noon - first) - (last - noon)).total_seconds() < 0.5 + 0.5
    assert dawn.nearest is not None
    assert dusk.nearest is not None
    assert dusk.nearest.apart_widths == pytest.approx(dawn.nearest.apart_widths, abs=0.01)
    assert dusk.passage[-1].end == dusk.contact.appears
    assert dusk.nearest.at <= dusk.contact.appears
    assert dusk.sun_path.at(dusk.sun_path.seconds(dusk.contact.appears)) == pytest.approx(
        (dusk.contact.sun_azimuth_deg, dusk.contact.sun_altitude_deg)
    )
    sides = {"left": "right", "right": "left"}
    said = [word for word in sides if word in dawn.reason]
    assert dusk.reason == (
        dawn.reason.replace("appears behind", "goes down behind")
        .replace(said[0], sides[said[0]])
        .replace(dawn.hill.label, dusk.hill.label)
    )


def test_a_sun_that_goes_after_midnight_passes_on_the_evening_before(make_dem: MakeDem) -> None:
    """In Iceland at midsummer: what is told of its way down leads to the moment that is told."""
    dem = make_dem(ground(cone(SIZE, (80, 80), 60.0, 0.4)), lon=-21.9, lat=64.1)
    hill = hill_of(dem)
    sea = flat(0.0, lon_deg=-21.9, lat_deg=64.1)
    view = replace(look(Scene(Country(dem), hill), stand(hill, 345.0)), skyline=sea)
    answer = backlight(Scene(Country(dem), hill), view, dt.date(2026, 6, 20), evening=True)
    gone = answer.contact.appears
    assert (gone.day, gone.hour) == (20, 0)
    (showing,) = answer.passage
    assert (showing.start, showing.end) == (None, None)
    assert answer.nearest is not None
    assert dt.timedelta() < gone - answer.nearest.at < dt.timedelta(hours=2)


def test_doubt_of_the_offset_grows_with_that_of_the_spot(lone: Dem) -> None:
    hill = hill_of(lone)
    sure, unsure = (
        check_backlight(lone, stand(hill), hill, MARCH, accuracy=Accuracy(position_m=metres))
        for metres in (1.0, 60.0)
    )
    assert sure.offset_deg == unsure.offset_deg
    bearing = np.degrees(np.arctan(60.0 / AWAY_M))
    assert unsure.uncertainty_deg > bearing > sure.uncertainty_deg


def test_higher_ground_behind(make_dem: MakeDem) -> None:
    dem = make_dem(ground(cone(SIZE, (80, 80), 300.0, 0.4), cone(SIZE, (80, 130), 1200.0, 0.8)))
    hill = hill_of(dem)
    answer = check_backlight(dem, stand(hill, 90.0), hill, MARCH)
    view = answer.view
    assert view.visible
    assert not view.on_skyline
    assert view.obstacle is not None
    assert view.obstacle.distance_m > view.distance_m
    # the sun comes up beside the mountain, and under it the flank of the hill is seen
    assert answer.behind
    assert f"behind {hill.label}, 15.3 sun widths to the right of its summit, over ground of" in (
        answer.reason
    )
    assert view.sky_from_deg == pytest.approx(view.altitude_deg + view.under_skyline_deg)
    assert view.backdrop_distance_m == pytest.approx(4571.0, abs=50.0)
    assert not answer.within(1.0)


def test_ground_in_front(make_dem: MakeDem) -> None:
    dem = make_dem(ground(cone(SIZE, (80, 100), 400.0, 0.4), cone(SIZE, (80, 70), 300.0, 0.6)))
    hill = hill_of(dem, 80, 100)
    answer = check_backlight(dem, stand(hill, 90.0), hill, MARCH)
    view = answer.view
    assert not view.visible
    assert not view.on_skyline
    assert not answer.behind
    assert view.clearance_m < 0.0
    assert view.obstacle is not None
    assert view.obstacle.distance_m == pytest.approx(1500.0, abs=60.0)
    assert view.obstacle.height_m == pytest.approx(300.0, abs=35.0)
    assert answer.reason.startswith(f"{hill.label} is hidden by ground of")


def test_sun_over_its_flank_while_the_summit_is_hidden(make_dem: MakeDem) -> None:
    """A spike before the summit: the sun comes up over the hill's own ground, yet not behind it."""
    bare = make_dem(ground(cone(SIZE, (80, 80), 600.0, 0.4)))
    hill = hill_of(bare)
    spot = stand(hill)
    day = dt.date(2026, 3, 10)
    assert check_backlight(bare, spot, hill, day).behind
    heights = bare.heights_m.copy()
    lon, lat = destination(spot.lon_deg, spot.lat_deg, TOWARD, 1500.0)
    heights[bare.grid.cell_of(float(lon), float(lat))] = 500.0
    answer = check_backlight(Dem(heights, bare.grid), spot, hill, day)
    assert abs(answer.offset_deg) > 2.0
    assert not answer.view.visible
    assert not answer.behind
    assert answer.reason.startswith(f"{hill.label} is hidden by ground of")


def test_clearance_is_the_least_height_of_the_line(make_dem: MakeDem) -> None:
    """A wall of 48 m half way to a tower of 100 m: 50.85 m less the wall, less the earth's rise."""
    heights = np.zeros((41, 101))
    heights[:, 50] = 48.0
    heights[20, 90] = 100.0
    dem = make_dem(heights)
    hill = hill_of(dem, 20, 90)
    lon, lat = map(float, dem.grid.lonlat(20, 10))
    scene, spot = Scene(Country(dem), hill), Spot(lon_deg=lon, lat_deg=lat)
    view = look(scene, spot)
    hump = 2000.0 * 2000.0 * 0.87 / (2.0 * 6_371_000.0)
    assert view.clearance_m == pytest.approx(2.85 - hump, abs=0.05)
    line = sight_line(dem, spot, hill.lon_deg, hill.lat_deg, hill.height_m)
    low = clearance_m(scene, spot, replace(line, altitude_deg=0.0))
    # a level line: it leaves the eye at 1.7 m and meets the wall at 48 m
    assert low == pytest.approx(1.7 - 48.0 + hump, abs=0.05)


@pytest.mark.parametrize(("cells", "clears"), [(0.9, True), (5.0, False)])
def test_the_hill_s_own_ground_counts_short_of_its_last_two_cells(
    make_dem: MakeDem, cells: float, clears: bool
) -> None:
    """A tower of the hill's own 20 m high, near the end of a level line from an eye at 1.7 m."""
    heights = np.zeros((41, 101))
    heights[20, 90] = 20.0
    dem = make_dem(heights)
    own = np.zeros(dem.shape, dtype=bool)
    own[19:22, 89:92] = True
    scene = scene_with(dem, hill_of(dem, 20, 90), own)
    lon, lat = map(float, dem.grid.lonlat(20, 10))
    spot, distance_m = Spot(lon_deg=lon, lat_deg=lat), (80.0 + cells) * 50.0
    line = sight_line(dem, spot, scene.hill.lon_deg, scene.hill.lat_deg, 20.0)
    level = replace(line, altitude_deg=0.0, distance_m=distance_m)
    over_m = clearance_m(scene, spot, level, forgiven_m=5.0)
    fall = 0.87 / (2.0 * 6_371_000.0)
    assert (over_m > 0.0) == clears
    if not clears:
        assert over_m == pytest.approx(1.7 - 20.0 + fall * 4000.0**2, abs=0.3)


def test_mist_that_hides_the_foot(lone: Dem) -> None:
    hill = hill_of(lone)
    mist = level_mist(lone, 60.0)
    with pytest.raises(NoAnswer, match=r"\(10 m\) stands 50 m under the mist: choose a higher"):
        check_backlight(lone, stand(hill), hill, MARCH, mist=mist)
    high = Spot(
        lon_deg=stand(hill, TOWARD, 1000.0).lon_deg, lat_deg=stand(hill, TOWARD, 1000.0).lat_deg
    )
    answer = check_backlight(lone, high, hill, MARCH, mist=mist)
    assert answer.view.freeboard_m == pytest.approx(answer.view.spot_height_m - 60.0)
    assert np.isnan(check_backlight(lone, high, hill, MARCH).view.freeboard_m)
    with pytest.raises(NoAnswer, match=r"\(600 m\) lies 20 m under the mist's top at 620 m"):
        Scene(Country(lone, mist=level_mist(make_taller(lone), 620.0)), hill)


def make_taller(dem: Dem) -> Dem:
    """The same grid with a corner above any mist, since a mist must leave some ground clear."""
    heights = dem.heights_m.copy()
    heights[:2, :2] = 900.0
    return Dem(heights, dem.grid)


def test_mist_is_ground_to_the_eye_but_not_to_the_feet(make_dem: MakeDem) -> None:
    """A pool of mist between a perch and a hill lifts what is in front; the perch stays put."""
    perch = cone(SIZE, (80, 20), 200.0, 0.5)
    dem = make_dem(ground(cone(SIZE, (80, 80), 600.0, 0.4), perch))
    hill = hill_of(dem)
    lon, lat = map(float, dem.grid.lonlat(80, 20))
    spot = Spot(lon_deg=lon, lat_deg=lat)
    bare = look(Scene(Country(dem), hill), spot)
    misty = look(Scene(Country(dem, mist=level_mist(dem, 190.0)), hill), spot)
    assert misty.spot_height_m == bare.spot_height_m
    assert misty.altitude_deg == pytest.approx(bare.altitude_deg, abs=1e-9)
    assert misty.clearance_m < bare.clearance_m
    assert misty.freeboard_m == pytest.approx(10.0, abs=0.5)


def test_a_gap_on_the_way_to_the_summit_is_told(lone: Dem) -> None:
    hill = hill_of(lone)
    spot = stand(hill)
    heights = lone.heights_m.copy()
    row, col = (round(float(at)) for at in lone.grid.rowcol(spot.lon_deg, spot.lat_deg))
    between = (row + 2 * 80) // 3, (col + 2 * 80) // 3
    heights[between[0] - 1 : between[0] + 2, between[1] - 1 : between[1] + 2] = np.nan
    holed = check_backlight(Dem(heights, lone.grid), spot, hill, MARCH)
    whole = check_backlight(lone, spot, hill, MARCH)
    assert (holed.view.visible, holed.view.known_between, whole.view.known_between) == (
        True,
        False,
        True,
    )
    told, quiet = list(warnings(holed)), list(warnings(whole))
    assert len(told) == len(quiet) + 1
    assert "ground on the way to" in told[0]


def test_where_no_answer_can_be_given(lone: Dem) -> None:
    hill = hill_of(lone)
    with pytest.raises(TerrainError, match="the spot is on the summit of"):
        check_backlight(lone, Spot(lon_deg=hill.lon_deg, lat_deg=hill.lat_deg), hill, MARCH)
    with pytest.raises(NoGround, match="no ground at"):
        check_backlight(lone, stand(hill, TOWARD, 20_000.0), hill, MARCH)
    far = Hill(lon_deg=0.0, lat_deg=54.4, height_m=500.0)
    with pytest.raises(NoGround, match="no ground at"):
        check_backlight(lone, stand(hill), far, MARCH)


def test_a_day_without_sun(make_dem: MakeDem) -> None:
    dem = make_dem(ground(cone(SIZE, (80, 80), 600.0, 0.4)), lon=25.0, lat=71.0)
    hill = hill_of(dem)
    with pytest.raises(NoSun, match="does not rise"):
        check_backlight(dem, stand(hill), hill, dt.date(2026, 12, 21))


def test_skyline_at_the_very_edge_of_the_raster(make_dem: MakeDem) -> None:
    """The last known ground of a slanting ray may seem to lie a little off the raster."""
    dem = make_dem(np.tile(np.arange(4000) * 0.4, (60, 1)), cell_m=10.0, lat=60.0)
    at_lon, at_lat = map(float, dem.grid.lonlat(30, 3990))
    hill = Hill(lon_deg=at_lon, lat_deg=at_lat, height_m=1595.0)
    lon, lat = map(float, dem.grid.lonlat(30, 20))
    answer = check_backlight(dem, Spot(lon_deg=lon, lat_deg=lat), hill, MARCH)
    assert "nan" not in answer.reason
