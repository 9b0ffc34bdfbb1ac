"""The view from a spot: true angles, the sun's true size, the mist, the marks, the whole page."""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
import re
import warnings
from pathlib import Path
from xml.etree import ElementTree

import geopandas as gpd
import matplotlib as mpl
import numpy as np
import pytest
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Ellipse

from terrain.country import Country
from terrain.ground.places import Spot
from terrain.mist.flood import flood_levels
from terrain.mist.level import level_mist
from terrain.show.files.export import save_picture
from terrain.show.paper import palette
from terrain.show.view.panorama import view_figure
from terrain.show.view.scenery import Light, scenery, sky
from terrain.show.view.summits_in_view import striking_summits
from terrain.show.view.sun_discs import Suns, draw_sun, suns_after
from terrain.show.view.window import Window, _foot_deg, draw_angles
from terrain.sight.seen import SeenGround, seen_ground
from terrain.sun.path import SunPath, sun_path
from terrain.view.backlight import Backlight, backlight
from terrain.view.look import look
from terrain.view.scene import Scene
from terrain.words.clocks import exact, to_second
from tests.show.conftest import DAY, World

SIXTEEN = (
    *("N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE"),
    *("S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"),
)


@pytest.fixture(scope="module")
def path(world: World) -> SunPath:
    spot, eye_m = world.spot, world.answer.view.skyline.eye_height_m
    return sun_path(DAY, lon_deg=spot.lon_deg, lat_deg=spot.lat_deg, height_m=eye_m)


@pytest.fixture(scope="module")
def page(world: World) -> Figure:
    return view_figure(world.scene, world.answer, summits=world.summits)


@pytest.fixture(scope="module")
def seen(world: World) -> SeenGround:
    middle = world.answer.view.azimuth_deg
    return seen_ground(
        world.dem,
        world.spot,
        azimuths_deg=np.linspace(middle - 15.0, middle + 15.0, 300),
        altitudes_deg=np.linspace(-5.0, 4.0, 180),
        lid_m=world.mist.lid_m,
    )


def discs(page: Figure) -> dict[str, Ellipse]:
    patches = [p for p in page.axes[0].patches if isinstance(p, Ellipse) and p.get_gid()]
    return {str(p.get_gid()): p for p in patches}


def test_a_degree_is_a_degree(page: Figure) -> None:
    ax = page.axes[0]
    box = ax.get_window_extent()
    across = box.width / np.ptp(ax.get_xlim())
    up = box.height / np.ptp(ax.get_ylim())
    assert across == pytest.approx(up, rel=0.002)


def test_sun_has_its_true_size_and_place(page: Figure, world: World, path: SunPath) -> None:
    drawn = discs(page)
    assert len(drawn) == 5
    first = world.answer.contact
    assert f"sun-{first.appears:%H%M}" in drawn
    for disc in drawn.values():
        _, altitude = disc.center
        assert disc.height / 2.0 == pytest.approx(path.semidiameter_deg, rel=1e-6)
        level = math.cos(math.radians(altitude))
        assert disc.width / 2.0 * level == pytest.approx(path.semidiameter_deg, rel=1e-6)
    centre = drawn[f"sun-{first.appears:%H%M}"].center
    assert centre == pytest.approx((first.sun_azimuth_deg, first.sun_altitude_deg), abs=0.002)


def test_sun_stands_where_the_clock_beside_it_says(page: Figure, path: SunPath) -> None:
    words = {t.get_text() for t in page.axes[0].texts}
    later = sorted(discs(page))[1:]
    for name in later:
        hour, minute = int(name[4:6]), int(name[6:8])
        assert f"{hour:02d}:{minute:02d}" in words
        moment = dt.datetime(DAY.year, DAY.month, DAY.day, hour, minute, tzinfo=path.zone)
        azimuth, altitude = path.at(path.seconds(moment))
        assert discs(page)[name].center == pytest.approx((azimuth, altitude), abs=1e-6)


def test_discs_are_open(page: Figure) -> None:
    assert all(disc.get_facecolor()[3] == 0.0 for disc in discs(page).values())


def test_contact_is_on_the_skyline(page: Figure, world: World) -> None:
    (mark,) = [a for a in page.axes[0].lines if a.get_gid() == "contact"]
    azimuth, altitude = np.array(mark.get_xydata())[0]
    assert azimuth == pytest.approx(world.answer.contact.azimuth_deg, abs=1e-6)
    assert altitude == pytest.approx(float(world.answer.view.skyline.at(azimuth)), abs=0.01)


def test_sun_across_north_keeps_to_the_turn_of_the_axes(path: SunPath, world: World) -> None:
    ax = Figure(figsize=(6, 4)).add_axes((0, 0, 1, 1))
    ax.set(xlim=(360.0 + 80.0, 360.0 + 110.0), ylim=(-3.0, 9.0))
    azimuths = np.linspace(440.0, 470.0, 100)
    moment = world.answer.contact.appears + dt.timedelta(minutes=10)
    draw_sun(
        ax, Suns(path=path, moments=[moment]), (azimuths, world.answer.view.skyline.at(azimuths))
    )
    (disc,) = [p for p in ax.patches if p.get_gid()]
    assert 440.0 < disc.center[0] < 470.0  # type: ignore[attr-defined]


def test_clock_times_do_not_run_into_one_another(path: SunPath, world: World) -> None:
    ax = Figure(figsize=(6, 4), dpi=100).add_axes((0, 0, 1, 1))
    ax.set(xlim=(80.0, 120.0), ylim=(-3.0, 22.0))
    start = world.answer.contact.appears
    moments = [start + dt.timedelta(minutes=m) for m in range(0, 60, 1)]
    flat = np.linspace(80.0, 120.0, 50)
    draw_sun(ax, Suns(path=path, moments=moments), (flat, np.full(50, -2.0)))
    ax.figure.canvas.draw()
    boxes = [a.get_window_extent() for a in ax.texts]
    assert len(boxes) > 5
    assert not any(a.overlaps(b) for i, a in enumerate(boxes) for b in boxes[:i])


def test_hill_mark_points_at_the_summit(page: Figure, world: World) -> None:
    ax, view = page.axes[0], world.answer.view
    starts = [
        np.array(line.get_xydata())[0]
        for line in ax.lines
        if isinstance(line, Line2D) and not line.get_gid() and len(line.get_xdata()) == 2
    ]
    summit = np.array([view.azimuth_deg, view.altitude_deg])
    assert min(np.hypot(*(start - summit)) for start in starts) < 1e-6


def test_mist_is_pale_and_only_where_it_lies(seen: SeenGround, world: World) -> None:
    light = Light(azimuth_deg=98.0, altitude_deg=2.0)
    colour = scenery(seen, world.dem, light, mist=world.mist)
    bare = scenery(seen, world.dem, light)
    ground = ~np.isnan(seen.distance_m)
    assert np.array_equal(colour[..., 3] > 0.0, ground)
    row, col = (np.round(part[ground]).astype(int) for part in (seen.row, seen.col))
    lon, lat = world.dem.grid.lonlat(seen.row[ground], seen.col[ground])
    height = world.dem.heights_at(lon, lat)
    covered = world.mist.covers[row, col]
    deep, dry = covered & (height < 160.0), ~covered & (height > 230.0)
    assert deep.sum() > 500
    assert dry.sum() > 500
    pale = np.array([to_rgb(palette.MIST_DEEP), to_rgb(palette.MIST)])
    low, high = pale.min(axis=0) - 0.01, pale.max(axis=0) + 0.01
    within = ((colour[ground][:, :3] >= low) & (colour[ground][:, :3] <= high)).all(axis=1)
    assert within[deep].mean() > 0.98
    assert not within[dry].any()
    far_from_shore = dry & (height > 260.0)
    assert np.allclose(colour[ground][far_from_shore], bare[ground][far_from_shore])


def test_ridges_pale_with_distance(seen: SeenGround, world: World) -> None:
    colour = scenery(seen, world.dem, Light(azimuth_deg=98.0, altitude_deg=2.0))
    ground = ~np.isnan(seen.distance_m)
    distance, shade = seen.distance_m[ground], colour[ground][:, :3].mean(axis=1)
    near, far = np.quantile(distance, [0.1, 0.9])
    assert far > 1.5 * near
    assert shade[distance > far].mean() > shade[distance < near].mean() + 0.08


def test_empty_sky_has_no_scenery(seen: SeenGround, world: World) -> None:
    nothing = seen_ground(world.dem, world.spot, azimuths_deg=[90.0, 91.0], altitudes_deg=[60, 61])
    light = Light(azimuth_deg=98.0, altitude_deg=2.0)
    assert scenery(nothing, world.dem, light, mist=world.mist)[..., 3].max() == 0.0


def test_sky_is_brightest_where_the_sun_comes_up() -> None:
    light = Light(azimuth_deg=90.0, altitude_deg=1.0)
    azimuths, altitudes = np.linspace(70, 110, 41), np.linspace(0, 12, 25)
    colour = sky(azimuths, altitudes, light)
    red_over_blue = colour[..., 0] - colour[..., 2]
    row, col = np.unravel_index(np.argmax(red_over_blue), red_over_blue.shape)
    assert azimuths[col] == pytest.approx(90.0, abs=1.0)
    assert altitudes[row] == pytest.approx(1.0, abs=2.0)


def test_window_across_north() -> None:
    window = Window(azimuth_deg=(350.0, 380.0), altitude_deg=(-2.0, 8.0))
    assert window.turned(5.0) == pytest.approx(365.0)
    assert window.turned(355.0) == pytest.approx(355.0)
    assert window.holds([5.0, 355.0, 100.0, 5.0], [1.0, 1.0, 1.0, 9.0], 0.5).tolist() == [
        *(True, True, False, False)
    ]
    assert window.width_deg == 30.0
    assert window.height_deg == 10.0


@pytest.mark.parametrize(("low", "high"), [(-2.0, 3.0), (-2.0, 8.0), (-5.0, 40.0), (-60.0, 85.0)])
def test_altitudes_are_named_as_often_as_there_is_room(low: float, high: float) -> None:
    ax = Figure(figsize=(8, 3)).add_axes((0.1, 0.2, 0.8, 0.7))
    ax.set(xlim=(80.0, 110.0), ylim=(low, high))
    draw_angles(ax)
    ticks = np.array(ax.get_yticks())
    apart_pt = np.diff(ticks) * 3 * 0.7 * 72.0 / (high - low)
    # room for one line of text, and not for two and a half as many
    assert (apart_pt >= 18.0).all()
    assert (apart_pt < 2.5 * 18.0).all()
    assert low <= ticks[0]
    assert ticks[-1] <= high
    shown = [label.get_text() for label in ax.get_yticklabels()]
    assert [float(words.rstrip("°").replace("−", "-")) for words in shown] == list(ticks)


@pytest.mark.parametrize("ends", [(350.0, 380.0), (80.0, 110.0), (0.0, 180.0), (64.0, 70.0)])
def test_compass_points_stand_at_their_azimuths(ends: tuple[float, float]) -> None:
    ax = Figure(figsize=(8, 3)).add_axes((0.1, 0.2, 0.8, 0.7))
    ax.set(xlim=ends, ylim=(-2.0, 6.0))
    draw_angles(ax)
    ticks = [*zip(ax.get_xticks(), ax.get_xticklabels(), strict=True)]
    ticks += [*zip(ax.get_xticks(minor=True), ax.get_xticklabels(minor=True), strict=True)]
    named = {}
    for at, label in ticks:
        degrees, _, name = label.get_text().partition("\n")
        if degrees:
            assert float(degrees.rstrip("°")) == pytest.approx(at % 360.0)
        if name:
            named[float(at)] = name
    step = 45.0 if ends[1] - ends[0] > 90.0 else 22.5
    first = math.ceil(ends[0] / step)
    whole = [step * turn for turn in range(first, math.floor(ends[1] / step) + 1)]
    assert named == {at: SIXTEEN[round(at / 22.5) % 16] for at in whole}


def test_summits_in_view_are_numbered_from_left_to_right(world: World) -> None:
    window = Window(azimuth_deg=(40.0, 140.0), altitude_deg=(-5.0, 8.0))
    sky = world.answer.view.skyline
    found = striking_summits(world.scene.seen, sky, world.summits, window, count=5)
    assert len(found) == 2
    assert list(found["azimuth_deg"]) == sorted(found["azimuth_deg"])
    without = striking_summits(
        world.scene.seen, sky, world.summits, window, count=5, hill=world.hill
    )
    assert len(without) == 1
    assert striking_summits(world.scene.seen, sky, None, window, count=5).empty


def test_small_scenes_are_lettered_and_told(world: World) -> None:
    """One in the picture and one behind one's back, which has a row and no mark."""
    rows = {
        "kind": ["shallows", "islet"],
        "azimuth_deg": [world.answer.view.azimuth_deg + 3.0, world.answer.view.azimuth_deg + 180.0],
        "altitude_deg": [-1.0, -2.0],
        "distance_m": [4200.0, 900.0],
        "width_deg": [6.2, 3.0],
        "lens_mm": [200.0, 400.0],
        "fills": [0.6, 0.58],
    }
    page = view_figure(world.scene, world.answer, small_scenes=gpd.GeoDataFrame(rows))
    picture, sheet = page.axes[0], page.axes[1]
    marks = {line.get_gid() for line in picture.lines}
    assert "mark-a" in marks
    assert "mark-b" not in marks
    words = {text.get_text() for text in sheet.texts}
    assert words >= {
        "tree tops",
        "islet",
        "4.2",
        "6.2°",
        "200 mm, fills 60 %",
        "400 mm, fills 58 %",
    }


def test_page_says_what_it_shows(page: Figure, world: World) -> None:
    words = " ".join(t.get_text() for t in page.findobj(mpl.text.Text))
    assert "The Cone from the Ridge" in words
    assert "Friday 20 March 2026" in words
    assert world.answer.reason[1:] in words
    assert f"{to_second(world.answer.contact.appears):%H:%M:%S}" in words
    assert words.count("UTC-02") == 2
    assert "±" in words
    assert "Never look at the sun through a lens" in words


def test_no_text_is_too_small(page: Figure) -> None:
    sizes = [t.get_fontsize() for t in page.findobj(mpl.text.Text) if t.get_text().strip()]
    assert min(sizes) >= 7.5


def test_view_is_widened_until_it_holds_the_sun(world: World) -> None:
    figure = view_figure(world.scene, world.answer, width_deg=0.5)
    west, east = figure.axes[0].get_xlim()
    sun, hill = world.answer.contact.azimuth_deg, world.answer.view.azimuth_deg
    aside = abs(sun - hill)
    assert aside > 0.4
    # both as far from their edges, with a quarter of what is between them beyond
    assert min(sun, hill) - west == pytest.approx(0.25 * aside, rel=1e-6)
    assert east - max(sun, hill) == pytest.approx(0.25 * aside, rel=1e-6)


@pytest.mark.parametrize("ending", ["png", "svg"])
def test_files_are_whole(page: Figure, tmp_path: Path, ending: str) -> None:
    file = tmp_path / f"view.{ending}"
    with mpl.rc_context({"svg.fonttype": "none"}), warnings.catch_warnings():
        warnings.simplefilter("error")
        save_picture(page, file)
    assert [p.name for p in tmp_path.iterdir()] == [file.name]
    if ending == "png":
        assert file.read_bytes()[-8:-4] == b"IEND"
    else:
        words = {e.text for e in ElementTree.parse(file).iter() if e.tag.endswith("text")}
        assert "Never look at the sun through a lens." in words


def test_sky_glows_where_the_sun_comes_up(page: Figure, world: World) -> None:
    (image,) = [a for a in page.axes[0].images if a.get_gid() == "sky"]
    colour = np.asarray(image.get_array())
    _, col = np.unravel_index(np.argmax(colour[..., 0] - colour[..., 2]), colour.shape[:2])
    west, east = page.axes[0].get_xlim()
    azimuth = west + (east - west) * col / (colour.shape[1] - 1)
    assert azimuth == pytest.approx(world.answer.contact.azimuth_deg, abs=0.2)


def test_the_foot_of_a_view_does_not_move_with_the_mist(world: World) -> None:
    feet = set()
    for top_m in (60.0, 200.0, 340.0, 395.0):
        mist = level_mist(world.dem, top_m, levels=flood_levels(world.dem, min_hollow_m=np.inf))
        scene = Scene(Country(world.dem, mist=mist), world.hill)
        feet.add(_foot_deg(scene, look(scene, world.spot), (80.0, 110.0), (-10.0, 3.0)))
    assert len(feet) == 1


def test_the_sun_is_shown_as_it_appears_and_on_whole_minutes_after(world: World) -> None:
    appears = dt.datetime(2026, 3, 20, 6, 41, 17, tzinfo=dt.UTC)
    contact = dataclasses.replace(world.answer.contact, appears=appears)
    answer = dataclasses.replace(world.answer, contact=contact)
    minute = appears.replace(second=0)
    assert suns_after(answer, [8.0, 0.0, 4.5, 4.5]).moments == [
        appears,
        minute + dt.timedelta(minutes=5),  # 06:45:47
        minute + dt.timedelta(minutes=8),  # 06:49:17
    ]


@pytest.fixture(scope="module")
def evening(world: World) -> Backlight:
    """The cone from its flank in the east-north-east, as the sun goes down behind it."""
    lon, lat = (float(part) for part in world.dem.grid.lonlat(80, 164))
    view = look(world.scene, Spot(lon_deg=lon, lat_deg=lat, name="the Flank"))
    return backlight(world.scene, view, DAY, evening=True)


def test_every_word_of_a_view_is_true_of_an_evening(world: World, evening: Backlight) -> None:
    page = view_figure(world.scene, evening)
    said = [t.get_text() for t in page.findobj(mpl.text.Text)]
    words = " ".join(said)
    assert evening.behind
    gone = evening.contact.appears
    assert "The Cone from the Flank, evening of Friday 20 March 2026" in words
    assert "The sun goes down behind the Cone" in words
    assert f"Last light of its disc at {exact(gone)}" in words
    assert "where the last of the sun is seen; a dotted disc is already behind" in words
    assert "to hide it sooner" in words
    assert not re.search("first|appears|delay|still|dawn|sunrise|morning", words, re.IGNORECASE)
    clocks = [text for text in said if re.fullmatch(r"\d\d:\d\d:\d\d", text)]
    # beside the disc as it goes, and then in the key by the clock
    assert clocks[0] == clocks[-1] == exact(gone)
    assert len(clocks) == 6
    assert clocks[1:] == sorted(clocks[1:])


def test_the_discs_of_an_evening_stand_where_the_sun_was(world: World, evening: Backlight) -> None:
    page, contact, spot = view_figure(world.scene, evening), evening.contact, evening.view.spot
    drawn = discs(page)
    assert len(drawn) == 5
    assert max(drawn) == f"sun-{contact.appears:%H%M}"
    eye_m = evening.view.skyline.eye_height_m
    on = sun_path(DAY, lon_deg=spot.lon_deg, lat_deg=spot.lat_deg, height_m=eye_m)
    for name in sorted(drawn)[:-1]:
        moment = dt.datetime.combine(DAY, dt.time(int(name[4:6]), int(name[6:8])), on.zone)
        assert moment < contact.appears
        place = [float(part) for part in on.at(on.seconds(moment))]
        assert drawn[name].center == pytest.approx(place, abs=1e-6)
    assert drawn[max(drawn)].center == pytest.approx(
        (contact.sun_azimuth_deg, contact.sun_altitude_deg), abs=2e-3
    )
    (mark,) = [each for each in page.axes[0].lines if each.get_gid() == "contact"]
    assert np.array(mark.get_xydata())[0] == pytest.approx(
        (contact.azimuth_deg, contact.altitude_deg)
    )
