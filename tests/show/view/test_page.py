"""The page of a view: its pictures, the marks about them, and its words."""

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
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from PIL import Image

from terrain.country import Country
from terrain.errors import TerrainError
from terrain.frame.lens import Frame, Kit, Orientation, Sensor
from terrain.ground.places import Spot
from terrain.light.colour import colour_begins, light_at
from terrain.show.files.export import save_picture
from terrain.show.paper import palette
from terrain.show.view.aim import aim
from terrain.show.view.edges import draw_degrees
from terrain.show.view.moments import best_moment, minutes_about, triptych
from terrain.show.view.panorama import view_figure
from terrain.show.view.strip import save_strip
from terrain.show.view.summits_in_view import striking_summits
from terrain.show.view.window import Window, draw_angles
from terrain.view.backlight import Backlight, backlight
from terrain.view.look import look
from terrain.view.nearness import Best, BestAt
from terrain.view.scene import Scene
from terrain.words.clocks import exact, moment_plus_minus
from tests.show.conftest import DAY, World

SIXTEEN = (
    *("N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE"),
    *("S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"),
)


@pytest.fixture(scope="module")
def page(world: World) -> Figure:
    return view_figure(world.scene, world.answer, summits=world.summits, dpi=40)


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
    page = view_figure(world.scene, world.answer, small_scenes=gpd.GeoDataFrame(rows), dpi=30)
    picture, sheet = page.axes[1], page.axes[3]
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
    first = world.answer.contact
    assert moment_plus_minus(first.appears, first.uncertainty_s) in words
    assert words.count("UTC-2") == 2
    assert "±" in words
    assert "Never look at the sun through a lens" in words


def test_no_text_is_too_small(page: Figure) -> None:
    sizes = [t.get_fontsize() for t in page.findobj(mpl.text.Text) if t.get_text().strip()]
    assert min(sizes) >= 7.5


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


@pytest.fixture(scope="module")
def evening(world: World) -> Backlight:
    """The cone from its flank in the east-north-east, as the sun goes down behind it."""
    lon, lat = (float(part) for part in world.dem.grid.lonlat(80, 164))
    view = look(world.scene, Spot(lon_deg=lon, lat_deg=lat, name="the Flank"))
    return backlight(world.scene, view, DAY, evening=True)


def test_every_word_of_a_view_is_true_of_an_evening(world: World, evening: Backlight) -> None:
    page = view_figure(world.scene, evening, dpi=30)
    said = [t.get_text() for t in page.findobj(mpl.text.Text)]
    words = " ".join(said)
    assert evening.behind
    gone = evening.contact.appears
    assert "The Cone from the Flank, evening of Friday 20 March 2026" in words
    assert "The sun goes down behind the Cone" in words
    last = moment_plus_minus(gone, evening.contact.uncertainty_s)
    assert f"Last light of its disc at {last}, its place" in words
    assert "to hide it sooner" in words
    assert not re.search("first|appears|delay|still|dawn|sunrise|morning", words, re.IGNORECASE)
    clocks = [text for text in said if re.fullmatch(r"\d\d:\d\d:\d\d", text)]
    assert clocks == sorted(clocks)
    assert len(clocks) == 3
    assert exact(best_moment(evening)) == clocks[1]
    assert "ten minutes before" in words
    assert "after the colour" in words


def test_a_triptych_is_before_the_colour_at_its_best_and_ten_minutes_on(world: World) -> None:
    answer = world.answer
    before, best, later = triptych(answer).moments
    contact = answer.contact
    assert best == answer.best.at
    assert colour_begins(light_at(answer), contact.appears) - before == dt.timedelta(minutes=15)
    assert later - best == dt.timedelta(minutes=10)


def test_as_the_sun_comes_out_half_of_it_is_out(world: World, evening: Backlight) -> None:
    for answer in (world.answer, evening):
        contact = answer.contact
        first = dataclasses.replace(answer)
        kept = first._nearness.__dict__
        kept["best"] = Best(BestAt.CONTACT, contact.appears, 0.0)
        assert contact.clears is not None
        half = (contact.clears - contact.appears) / 2
        most = dt.timedelta(minutes=2)
        half_out = contact.appears + max(min(half, most), -most)
        assert best_moment(first) == half_out
        # nearest to the summit while less of the disc is out, and well after that
        for share, at in ((0.0, half_out), (0.5, half_out), (6.0, None)):
            moment = contact.appears + share * (half_out - contact.appears)
            kept["best"] = Best(BestAt.PASSAGE, moment, 0.0)
            assert best_moment(first) == (at or moment)


def test_nothing_is_drawn_into_the_pictures(page: Figure, world: World) -> None:
    pictures = page.axes[:3]
    for ax in pictures:
        (image,) = ax.images
        assert image.get_gid() == "photograph"
        inside = ax.get_window_extent()
        marks = [line for line in ax.lines if str(line.get_gid()).startswith("mark-")]
        ends = [np.array(line.get_xydata()) for line in marks]
        drawn = [ax.transData.transform(end)[0] for end in ends]
        assert not any(inside.contains(*place) for place in drawn)
    assert {line.get_gid() for line in pictures[1].lines} >= {"mark-▲"}
    # the hill's mark stands over the hill
    frame = aim(world.scene, world.answer, triptych(world.answer))
    right, _ = frame.on_sensor_mm(world.answer.view.azimuth_deg, world.answer.view.altitude_deg)
    (mark,) = [line for line in pictures[1].lines if line.get_gid() == "mark-▲"]
    assert float(np.ravel(mark.get_xdata())[0]) == pytest.approx(float(right), abs=0.1)


def test_degrees_stand_where_they_meet_the_edges() -> None:
    frame = Frame(azimuth_deg=355.0, altitude_deg=4.0, focal_mm=24.0, sensor=Sensor().turned)
    ax = Figure(figsize=(4, 6)).add_axes((0.1, 0.1, 0.8, 0.8))
    draw_degrees(ax, frame)
    wide, high = frame.sensor.halves_mm
    assert len(ax.get_xticks()) > 2
    for at, label in zip(ax.get_xticks(), ax.get_xticklabels(), strict=True):
        if not label.get_text():
            continue
        azimuth, _ = frame.direction_deg(at, -high)
        said = float(label.get_text().split("°")[0])
        assert abs((float(azimuth) - said + 180.0) % 360.0 - 180.0) < 0.05
    for at, label in zip(ax.get_yticks(), ax.get_yticklabels(), strict=True):
        _, altitude = frame.direction_deg(-wide, at)
        assert float(label.get_text().rstrip("°").replace("−", "-")) == pytest.approx(
            float(altitude), abs=0.05
        )


@pytest.mark.parametrize("azimuth_deg", [104.2, 104.5, 104.9])
def test_degrees_keep_to_their_own_picture(azimuth_deg: float) -> None:
    """Of pictures side by side the last of one would else run into the first of the next."""
    frame = Frame(azimuth_deg=azimuth_deg, altitude_deg=0.0, focal_mm=400.0, sensor=Sensor())
    page = Figure(figsize=(4, 3))
    ax = page.add_axes((0.1, 0.1, 0.8, 0.8))
    draw_degrees(ax, frame)
    page.canvas.draw()
    said = [label for label in ax.get_xticklabels() if label.get_text()]
    assert len(said) >= 3
    box = ax.get_window_extent()
    for label in said:
        extent = label.get_window_extent()
        assert box.x0 - 1.0 <= extent.x0 <= extent.x1 <= box.x1 + 1.0


@pytest.mark.parametrize("dpi", [37, 50])
def test_a_page_is_as_wide_as_asked_and_shows_its_pictures_pixel_by_pixel(
    world: World, dpi: int
) -> None:
    page = view_figure(world.scene, world.answer, dpi=dpi)
    assert page.dpi == dpi
    canvas = FigureCanvasAgg(page)
    canvas.draw()
    drawn = np.asarray(canvas.buffer_rgba())[..., :3]
    assert drawn.shape[1] == 12 * dpi
    shown = [(ax, image) for ax in page.axes for image in ax.images]
    assert len(shown) == 3
    for ax, image in shown:
        picture, box = np.asarray(image.get_array()), ax.get_window_extent()
        left, low = round(box.x0), round(box.y0)
        high, wide = picture.shape[:2]
        top = drawn.shape[0] - low - high
        inner = np.s_[3:-3, 3:-3]
        assert (drawn[top : top + high, left : left + wide][inner] == picture[inner]).all()


@pytest.mark.parametrize("width_px", [200, 301, 1199])
def test_a_wall_is_as_wide_as_asked(world: World, width_px: int) -> None:
    wall = view_figure(world.scene, world.answer, clean=True, width_in=width_px / 10.0, dpi=10)
    canvas = FigureCanvasAgg(wall)
    canvas.draw()
    drawn = np.asarray(canvas.buffer_rgba())
    assert drawn.shape[1] == width_px
    paper = (drawn[..., :3] == np.round(255.0 * np.array(to_rgb(palette.PAPER)))).all(axis=(0, 2))
    assert not paper[0]
    assert not paper[-1]
    assert np.diff(paper.astype(int)).tolist().count(1) == 2


def test_pictures_for_the_wall_bear_no_word(world: World) -> None:
    wall = view_figure(world.scene, world.answer, clean=True, width_in=6.0, dpi=50)
    assert not wall.texts
    assert not wall.axes
    assert len(wall.images) == 3
    across, _ = wall.get_size_inches() * 50
    assert across == pytest.approx(300, abs=3)


def test_mist_is_told_where_some_is_in_the_picture(page: Figure, world: World) -> None:
    def words(figure: Figure) -> str:
        return " ".join(t.get_text() for t in figure.findobj(mpl.text.Text))

    assert "mist with its top at 200 m" in words(page)
    bare = Scene(Country(world.dem), world.hill)
    dry = backlight(bare, look(bare, world.spot), DAY)
    assert "mist" not in words(view_figure(bare, dry, dpi=30))
    assert "Computed light, clear air" in words(page)


@pytest.mark.parametrize("held", Orientation)
def test_the_camera_is_held_as_asked(world: World, held: Orientation) -> None:
    suns = triptych(world.answer)
    frame = aim(world.scene, world.answer, suns, kit=Kit(lenses_mm=(50.0,)), held=held)
    assert frame.sensor.orientation is held
    assert frame.focal_mm == 50.0


@pytest.mark.parametrize(("ending", "count"), [("webp", 1), ("gif", 1), ("png", 3)])
def test_a_strip_is_whole(world: World, tmp_path: Path, ending: str, count: int) -> None:
    every = dt.timedelta(minutes=30)
    moments = minutes_about(world.answer, every)
    files = save_strip(
        world.scene, world.answer, tmp_path / f"light.{ending}", every=every, width_px=48
    )
    assert sorted(files) == sorted(tmp_path.iterdir())
    assert len(files) == (len(moments) if ending == "png" else count)
    with Image.open(files[0]) as image:
        assert image.size == (48, 32)
        assert getattr(image, "n_frames", 1) == (1 if ending == "png" else len(moments))


def test_a_strip_of_another_kind_is_refused(world: World, tmp_path: Path) -> None:
    with pytest.raises(TerrainError, match="must end in"):
        save_strip(world.scene, world.answer, tmp_path / "light.mp4")
    with pytest.raises(TerrainError, match="more than 240"):
        save_strip(world.scene, world.answer, tmp_path / "light.gif", every=dt.timedelta(seconds=5))
    assert not list(tmp_path.iterdir())
