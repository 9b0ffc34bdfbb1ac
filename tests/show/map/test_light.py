"""The map of clock times, and the frames of the light that comes."""

from __future__ import annotations

import datetime as dt
from itertools import pairwise

import numpy as np
import pytest
from matplotlib.collections import LineCollection
from matplotlib.colors import to_hex, to_rgb
from scipy.ndimage import map_coordinates

from terrain.ground.places import Spot
from terrain.light.day import light_arrival
from terrain.light.shares import valley_times
from terrain.light.valleys import Valley
from terrain.show.map.contour_labels import draw_isolines
from terrain.show.map.light import draw_light_map, light_map_figure, valley_key
from terrain.show.map.light_moment import draw_light, light_frame
from terrain.show.map.light_sheet import light_sheet
from terrain.show.map.lit_ground import LitGround, extent_of, worth_a_row
from terrain.show.paper import palette
from terrain.show.paper.marks import in_points
from terrain.show.paper.page import axes_at, new_page
from terrain.words.clocks import hour_minute
from tests.authorities.colour_vision import lightness

DAY = dt.date(2026, 3, 20)


@pytest.fixture(scope="module")
def wall(make_dem):
    """A plain with a wall in the east whose shadow draws in, and mist-free."""
    heights = np.zeros((120, 160))
    heights[:, 140:] = 300.0
    return make_dem(heights, cell_m=50.0)


@pytest.fixture(scope="module")
def light(wall):
    return light_arrival(wall, DAY)


@pytest.fixture(scope="module")
def halves(wall):
    col = np.arange(160)
    return [
        Valley(name=name, grid=wall.grid, cells=np.tile(cells, (120, 1)))
        for name, cells in (("far plain", col < 70), ("near plain", (col >= 70) & (col < 140)))
    ]


def axes(wide_in=6.0, high_in=4.5):
    return axes_at(new_page(wide_in + 1.0, high_in + 1.0, ""), 0.5, 0.5, wide_in, high_in)


def lit(light, *, dem=None, mist=None, valleys=()):
    ground = light.surface if dem is None else dem
    return LitGround(dem=ground, arrival=light, mist=mist, valleys=valleys)


def by_gid(ax, name):
    return [artist for artist in ax.get_children() if str(artist.get_gid()) == name]


def test_each_contour_lies_where_the_light_is_at_its_time(wall, light):
    ax = axes()
    times = light.clock_times(5.0)
    draw_light_map(ax, lit(light), times)
    lines = by_gid(ax, "isoline")
    assert len(lines) == len(times)
    off_s = []
    for time, line in zip(times, lines, strict=True):
        assert isinstance(line, LineCollection)
        for part in line.get_segments():
            cols = (part[:, 0] - wall.transform.c) / 50.0 - 0.5
            rows = (wall.transform.f - part[:, 1]) / 50.0 - 0.5
            middle = (cols > 5) & (cols < 132) & (rows > 5) & (rows < 114)
            at = map_coordinates(light.arrives_s, (rows[middle], cols[middle]), order=1)
            off_s += list(np.abs(at - light.seconds(time)))
    assert len(off_s) > 100
    # the shadow draws in by a cell in half a minute or so
    assert np.median(off_s) < 10.0
    assert np.percentile(off_s, 90) < 30.0


def test_labels_stand_on_their_lines_apart_from_each_other_and_the_scale(wall, light):
    ax = axes()
    times = light.clock_times(5.0)
    draw_light_map(ax, lit(light), times)
    labels = by_gid(ax, "isoline-label")
    assert len(labels) >= 3
    places = in_points(ax, np.array([label.get_position() for label in labels]))
    scale = by_gid(ax, "scale")[0].get_window_extent().get_points() * 72.0 / ax.figure.dpi
    for number, label in enumerate(labels):
        line = by_gid(ax, "isoline")[[hour_minute(time) for time in times].index(label.get_text())]
        on_line = np.concatenate([in_points(ax, part) for part in line.get_segments()])
        assert np.hypot(*(on_line - places[number]).T).min() < 6.0
        others = np.delete(places, number, axis=0)
        assert np.hypot(*(others - places[number]).T).min() > 30.0
        assert not np.all((places[number] > scale[0]) & (places[number] < scale[1]))


def test_lines_that_would_run_into_each_other_are_left_out():
    ax = axes()
    ax.set(xlim=(0.0, 100.0), ylim=(0.0, 75.0))
    across, up = np.arange(0.5, 100.0), np.arange(74.5, 0.0, -1.0)
    cliff = np.where(across < 50.0, across, across + 1000.0)
    values = np.tile(cliff, (75, 1))
    levels = {float(level): f"{level:g}" for level in (10.0, 30.0, 300.0, 310.0, 700.0)}
    draw_isolines(ax, (across, up), values, levels)
    drawn = [len(line.get_segments()) for line in by_gid(ax, "isoline")]
    assert drawn == [1, 1, 0, 0, 0]


def test_the_earlier_the_paler(wall, light):
    ax = axes()
    draw_light_map(ax, lit(light), light.clock_times(5.0))
    colours = by_gid(ax, "light")[0].get_array()
    tone = colours[60, :, :3] @ np.array([0.2126, 0.7152, 0.0722])
    assert tone[10] > tone[100] + 0.05 > tone[130] + 0.1
    assert np.all(np.diff(tone[5:130]) < 0.01)
    # of the last column, beyond which nothing is known, nothing is said
    assert colours[60, -1, 3] == 0.0


def test_ground_without_sun_is_dark_and_hatched(make_dem):
    heights = np.zeros((60, 90))
    heights[30:34, 20:70] = 2500.0
    dem = make_dem(heights)
    light = light_arrival(dem, dt.date(2026, 12, 21))
    ax = axes()
    draw_light_map(ax, lit(light), light.clock_times(10.0))
    hatched = by_gid(ax, "never")
    assert len(hatched) == 1
    colours = by_gid(ax, "light")[0].get_array()
    assert colours[26, 45, :3].mean() < 0.35
    assert worth_a_row(lit(light).never)


def test_the_page_holds_the_table_and_the_notes(wall, light, halves):
    table = valley_times(light, halves)
    times = light.clock_times(2.0)
    page = light_map_figure(
        lit(light, valleys=halves),
        times,
        title="The wall",
        subtitle="a day",
        table=table,
        notes=["a note that is long enough to take more than one line beside a map " * 3],
    )
    texts = [text.get_text() for ax in page.axes for text in ax.texts]
    for words in ("far plain", "near plain", hour_minute(times[0]), "later", "1", "2"):
        assert words in texts
    key = valley_key(table)
    assert list(key.columns)[1:] == ["first\nlight", "10 %\nlit", "50 %\nlit", "90 %\nlit"]
    assert key.columns["50 %\nlit"][1] == hour_minute(
        table.loc["near plain", "lit_50"].to_pydatetime()
    )
    # no text lies on another or leaves the page
    side = page.axes[1]
    boxes = [text.get_window_extent() for text in side.texts if text.get_text().strip()]
    width, height = page.get_size_inches() * page.dpi
    for number, box in enumerate(boxes):
        assert box.x0 >= 0.0
        assert box.x1 <= width
        assert box.y0 >= 0.0
        assert box.y1 <= height
        assert not any(
            box.shrunk(0.9, 0.7).overlaps(other.shrunk(0.9, 0.7)) for other in boxes[number + 1 :]
        )


def test_a_frame_shows_what_is_lit_at_its_moment(wall, light, halves):
    times = light.clock_times(5.0)
    moment = times[len(times) // 2]
    ax = axes()
    draw_light(ax, lit(light), moment)
    colours = by_gid(ax, "light")[0].get_array()[..., :3]
    dark = colours @ np.array([0.2126, 0.7152, 0.0722]) < 0.6
    inner = np.s_[3:-3, 3:135]
    assert np.mean(dark[inner] == ~light.lit(moment)[inner]) > 0.99
    (sun,) = by_gid(ax, "sun")
    east, north = (float(part[0]) for part in sun.get_data())
    middle = np.mean(ax.get_xlim()), np.mean(ax.get_ylim())
    assert east > middle[0]
    # after the equinox's sunrise it stands south of east
    assert north < middle[1]


def test_frames_are_of_one_size_and_say_how_much_is_lit(wall, light, halves):
    times = light.clock_times(30.0)
    sizes = set()
    for moment in times:
        page = light_frame(lit(light, valleys=halves), moment, title="The wall")
        sizes.add((*page.get_size_inches(), *page.axes[0].get_position().bounds))
        texts = [text.get_text() for text in page.axes[1].texts]
        share = light.share_lit(halves[0].cells, [moment])[0]
        assert f"{100 * share:.0f} %" in texts
        assert page.texts[0].get_text().startswith(f"The wall at {hour_minute(moment)}")
    assert len(sizes) == 1
    before = light_frame(lit(light), times[0] - dt.timedelta(hours=1), title="The wall")
    assert not by_gid(before.axes[0], "sun")
    assert "below the horizontal" in before.texts[1].get_text()


def test_mist_is_drawn_with_its_shore(world):
    light = light_arrival(world.dem, DAY, mist=world.mist)
    ax = axes()
    misty = lit(light, dem=world.dem, mist=world.mist)
    draw_light_map(ax, misty, light.clock_times(10.0))
    assert by_gid(ax, "mist")
    assert by_gid(ax, "shore")
    frame = axes()
    draw_light(frame, misty, light.clock_times(10.0)[-1])
    colours = by_gid(frame, "light")[0].get_array()
    under = np.argwhere(world.mist.covers & (light.arrives_s < np.nanmedian(light.arrives_s)))
    row, col = under[len(under) // 2]
    pale = lightness(tuple(colours[row, col, :3]))
    assert pale > lightness(palette.SUN_GLOW) - 5.0
    assert np.abs(colours[row, col, :3] - to_rgb(palette.SUN_GLOW)).max() > 0.05


def test_a_map_about_valleys_holds_them(light, halves):
    near = lit(light, valleys=halves[:1])
    inside = near.cells.mask(light.surface.shape)
    assert near.shown == extent_of(light.surface, halves[:1])
    assert inside[halves[0].cells].all()
    assert not inside.all()
    assert lit(light).cells.mask(light.surface.shape).all()


def test_times_to_the_nearest_minute():
    spot = Spot(lon_deg=-24.0, lat_deg=54.4)
    assert spot.name == ""
    late = dt.datetime(2026, 10, 13, 6, 59, 40, tzinfo=dt.UTC)
    assert hour_minute(late) == "07:00"


def test_light_and_shade_differ_in_grey_print():
    looks = light_frame_looks()
    pairs = pairwise(("mist lit", "mist in shade", "ground in shade"))
    for lit, shaded in (*pairs, ("ground lit", "ground in shade")):
        assert lightness(looks[lit]) > lightness(looks[shaded]) + 15.0


def light_frame_looks():
    from terrain.show.map import light_moment as module

    return {
        "ground lit": to_hex(module._LIT),
        "ground in shade": to_hex(module._SHADED),
        "mist lit": to_hex(module._MIST_LIT),
        "mist in shade": to_hex(module._MIST_SHADED),
    }


@pytest.mark.parametrize(("count", "rows"), [(2, [2]), (5, [3, 2])])
def test_a_sheet_leaves_little_of_its_last_row_and_of_its_page_empty(light, count, rows):
    page = light_sheet(lit(light), light.clock_times(5.0)[:count], title="The wall")
    places = [ax.get_position() for ax in page.axes if by_gid(ax, "light")]
    lows = [round(place.y0, 3) for place in places]
    assert [lows.count(low) for low in dict.fromkeys(lows)] == rows
    right_in = max(place.x1 for place in places) * page.get_figwidth()
    assert page.get_figwidth() - right_in < (0.6 if count > 2 else 3.2)


def test_a_sheet_has_at_most_twelve_maps_with_the_first_and_the_last_moment(light):
    times = light.clock_times(5.0)
    assert len(times) > 12
    page = light_sheet(lit(light), times, title="The wall")
    maps = [ax for ax in page.axes if by_gid(ax, "light")]
    clocks = [
        ax.texts[0].get_text() for ax in page.axes if ax.texts and ":" in ax.texts[0].get_text()
    ]
    assert len(maps) == len(clocks) == 12
    assert (clocks[0], clocks[-1]) == (hour_minute(times[0]), hour_minute(times[-1]))
