"""The same pictures of an evening: what the sun has left, and when, in the order of the clock."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.colors import to_hex, to_rgb

from terrain.light.day import light_arrival
from terrain.light.shares import valley_times
from terrain.light.valleys import Valley
from terrain.show.map.light import light_map_figure, valley_key
from terrain.show.map.light_moment import light_frame
from tests.authorities.colour_vision import lightness
from tests.show.map.test_light import DAY, by_gid, lit


@pytest.fixture(scope="module")
def light(make_dem):
    """The evening of a plain with a wall in the west, whose shadow draws out over it."""
    heights = np.zeros((120, 160))
    heights[:, :20] = 300.0
    return light_arrival(make_dem(heights, cell_m=50.0), DAY, evening=True)


def test_of_an_evening_the_later_the_paler_and_the_key_runs_with_the_clock(light):
    times = light.clock_times(5.0)
    page = light_map_figure(lit(light), times, title="The wall")
    colours = by_gid(page.axes[0], "light")[0].get_array()
    tone = colours[60, :, :3] @ np.array([0.2126, 0.7152, 0.0722])
    assert tone[150] > tone[60] + 0.05 > tone[30] + 0.1
    assert np.all(np.diff(tone[30:155]) > -0.01)
    side = page.axes[1]
    clock = [text for text in side.texts if text.get_text()[:2].isdigit()]
    words = {text.get_text(): text.get_position()[1] for text in side.texts}
    down = [text.get_position()[1] for text in clock]  # points from the top of the page
    assert [text.get_text() for text in clock] == sorted(text.get_text() for text in clock)
    assert down == sorted(down)
    assert words["last direct sun, by the clock"] < words["earlier"] < down[0]
    assert "later" not in words
    boxes = [patch for patch in side.patches if patch.get_width() == 26.0]
    boxes.sort(key=lambda patch: patch.get_y())
    pale = [lightness(to_hex(box.get_facecolor())) for box in boxes]
    assert len(boxes) == len(times)
    assert pale == sorted(pale)
    # each tint is that of the map between the two times beside it
    middle = times[len(times) // 2]
    between = light.arrives_s[60] - light.seconds(middle)
    col = int(np.argmax((between > 60.0) & (between < 240.0)))
    tint = to_rgb(boxes[len(times) // 2 + 1].get_facecolor())
    shade = colours[60, col, :3] / np.array(tint)
    assert np.ptp(shade) < 0.02


def test_a_frame_of_an_evening_says_what_the_sun_has_left(light):
    times = light.clock_times(5.0)
    page = light_frame(lit(light), times[len(times) // 2], title="The wall")
    words = [text.get_text() for text in page.axes[1].texts]
    for wanted in ("lit still", "the sun has yet to leave it", "the sun has left it"):
        assert wanted in words
    colours = by_gid(page.axes[0], "light")[0].get_array()[..., :3]
    dark = colours @ np.array([0.2126, 0.7152, 0.0722]) < 0.6
    inner = np.s_[3:-3, 25:-3]
    assert np.mean(dark[inner] == ~light.lit(times[len(times) // 2])[inner]) > 0.99
    assert 0.1 < dark[inner].mean() < 0.9
    (sun,) = by_gid(page.axes[0], "sun")
    assert float(sun.get_data()[0][0]) < np.mean(page.axes[0].get_xlim())
    table = valley_times(
        light, [Valley(name="plain", grid=light.grid, cells=light.surface.heights_m == 0.0)]
    )
    headings = ["90 %\nlit", "50 %\nlit", "10 %\nlit", "last\nlight"]
    assert list(valley_key(table).columns)[1:] == headings
