"""What the page draws while a slider moves where the processor draws: less, and all at rest."""

from __future__ import annotations

import numpy as np

from tests.browser import chromium, needs_browser
from tests.desk.browser import address, browser, let_in
from tests.desk.test_page_drawn import LOOK, VIEW

pytestmark = needs_browser
fixtures = (address, browser, chromium, let_in)

HILL = (0xF2, 0xB1, 0x34)
BY_TURNS = """async ({ view, look }) => {
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
  return ["shade", "shadeQuickly", "shade"].map((way) => {
    painter[way](look);
    const { width, height } = painter.canvas;
    return { width, height, data: [...painter.pixels()] };
  });
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


def test_every_second_pixel_is_shaded_quickly_with_signs_and_all_of_them_after_that(browser):
    made = browser.open().run(BY_TURNS, {"view": VIEW, "look": LOOK})
    whole, quick, again = (
        np.array(each["data"]).reshape(each["height"], each["width"], 4)[..., :3] for each in made
    )
    assert quick.shape == (50, 70, 3)
    assert (whole == again).all()
    row, col = np.mgrid[:50, :70]
    away = np.hypot(row + 0.5 - 15.0, col + 0.5 - 35.0)
    # rows of WebGL are counted from the south
    assert (quick == whole[1::2, ::2])[away > 6.0].all()
    assert (quick[away < 3.5] == (255, 0, 0)).all()


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
