"""What the page draws while a slider moves where the processor draws: less, and all at rest."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from tests.browser import chromium, needs_browser
from tests.desk.browser import address, browser, let_in
from tests.desk.test_page_drawn import LOOK, VIEW

pytestmark = needs_browser
fixtures = (address, browser, chromium, let_in)

HILL = (0xF2, 0xB1, 0x34)
BY_TURNS = """async ({ view, looks, slid }) => {
  const { Plane } = await import("/planes.js");
  const { ShadePainter } = await import("/shade.js");
  const colours = await (await fetch("/colours.json")).json();
  const plane = (value) => {
    const made = new Plane({ rows: 60, cols: 80 });
    made.values = made.values.map((_, at) => value(Math.floor(at / 80), at % 80));
    return made;
  };
  const wave = (row, col) => 20000 + 9000 * Math.sin(row / 9) * Math.cos(col / 11);
  const painter = new ShadePainter(new OffscreenCanvas(1, 1), colours);
  painter.put("heights", plane(wave));
  painter.put("flood", plane((row, col) => Math.max(wave(row, col), row > 40 ? 24000 : 0)));
  painter.put("light", plane((row, col) => 10 * row + 3 * col));
  painter.put("valley", plane((row, col) => (col % 30 < 20 ? 19000 : 65535)));
  painter.put("days", plane((row, col) => (row > 30 ? 1 + ((row * col) % 365) : 65535)));
  painter.put("visible", plane((row, col) => Number(row + col > 70)));
  painter.sample(view);
  const SVG = "http://www.w3.org/2000/svg";
  const drawing = document.createElementNS(SVG, "svg");
  const disc = document.createElementNS(SVG, "circle");
  for (const [name, value] of Object.entries({ r: 9, cx: 70, cy: 30, fill: "#ff0000" })) {
    disc.setAttribute(name, value);
  }
  drawing.append(disc);
  document.body.append(drawing);
  painter.takeSigns(drawing, 1);
  return looks.flatMap((look) => ["shade", "shadeQuickly"].map((way) => {
    painter[way](look, slid);
    const { width, height } = painter.canvas;
    return { width, height, data: [...painter.pixels()] };
  }));
}"""

# what waits for the slider to rest is kept
SLID = """async () => {
  const { setTimeout: timer } = window;
  window.rests = [];
  window.setTimeout = (work, wait_ms) => (wait_ms >= 250 ? rests.push(work) : timer(work, wait_ms));
  const slider = document.getElementById("top");
  slider.value = 230;
  slider.dispatchEvent(new Event("input", { bubbles: true }));
  await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
  window.setTimeout = timer;
}"""


MIST_MOVES = [{"top": 21000.0}, {"top": 16000.0}, {"top": 24500.0}]
CLOCK_MOVES = [
    {"minute": 900.0},
    {"minute": 420.0, "sun": [0.6, -0.8, 0.02], "dusk": 0.7},
    {"minute": 500.0, "sun": [0.8, -0.5, 0.3], "dusk": 1.0, "evening": True},
]


@pytest.mark.parametrize(
    ("slid", "moves", "shown"),
    [
        ("mist", MIST_MOVES, {}),
        ("mist", MIST_MOVES, {"over": True, "hidden": True}),
        ("mist", MIST_MOVES, {"minute": -1.0}),
        ("mist", [{}], {"kind": 2}),
        ("time", CLOCK_MOVES, {}),
        ("time", CLOCK_MOVES, {"kind": 0, "over": True}),
        ("time", CLOCK_MOVES, {"kind": 2, "hidden": True}),
    ],
)
def test_every_second_pixel_is_shaded_quickly_with_signs_over_it(browser, slid, moves, shown):
    looks = [{**LOOK, **shown, **move} for move in moves]
    view = {**VIEW, "isValley": shown.get("kind") == 2}
    made = browser.bare().run(BY_TURNS, {"view": view, "looks": looks, "slid": slid})
    pictures = [
        np.array(each["data"]).reshape(each["height"], each["width"], 4)[..., :3] for each in made
    ]
    row, col = np.mgrid[:50, :70]
    away = np.hypot(row + 0.5 - 15.0, col + 0.5 - 35.0)
    for whole, quick in zip(pictures[::2], pictures[1::2], strict=True):
        assert quick.shape == (50, 70, 3)
        # rows of WebGL are counted from the south; what is kept is kept in bytes
        off = np.abs(quick - whole[1::2, ::2]).max(axis=-1)
        assert off[away > 6.0].max() <= 2
        assert (quick[away < 3.5] == (255, 0, 0)).all()
    for one, other in itertools.pairwise(pictures[::2]):
        assert np.abs(one - other).mean() > 1.0


def test_signs_stay_on_the_map_while_a_slider_moves_and_the_whole_map_returns(browser):
    page = browser.open("#tab=take&time=12:00&mist=level:120")
    page.settle()
    before = page.pixels("#map")
    page.run(SLID)
    assert page.page.locator("#map.quick").count() == 1
    moving = page.pixels("#map")
    box, frame = (
        page.page.locator(name).bounding_box() for name in ("#map .mark.hill circle", "#map")
    )
    down = round(box["y"] - frame["y"] + box["height"] / 2)
    across = round(box["x"] - frame["x"] + 0.22 * box["width"])
    assert np.abs(moving[down, across] - HILL).max() < 25
    assert np.abs(moving - before).mean() > 1.0
    page.run("() => { for (const work of window.rests) work(); }")
    page.page.wait_for_selector("#map:not(.quick)", state="attached")
    page.settle()
    assert (page.pixels("#map")[down, across] == HILL).all()
