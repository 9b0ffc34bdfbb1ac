"""The view from within the mist: said in words, by the rule of the library, with an empty table."""

from __future__ import annotations

import re

import numpy as np
import pytest

import terrain
from terrain.desk.table import Table
from terrain.errors import NoAnswer
from tests.browser import chromium, needs_browser
from tests.desk.browser import address, browser, let_in

SHARE = "({ value, min, max }) => (value - min) / (max - min)"
fixtures = (address, browser, chromium, let_in)

QUAY = (54.4061, -24.0428)
STATE = f"#spot={QUAY[0]:.6f},{QUAY[1]:.6f}&time=07:00&tab=seen&lens=24"


# what is said of the mist, what is named and what is marked, at each frame that is shown
KEEPING = """() => {
  window.kept = [];
  const look = () => {
    const said = document.getElementById("view-caption").textContent;
    const rows = document.querySelectorAll("#view-summits tr").length;
    const marks = document.querySelectorAll("#view .mark").length;
    window.kept.push([said.includes("under the mist"), rows > 0, marks > 0]);
    requestAnimationFrame(look);
  };
  requestAnimationFrame(look);
}"""


def under_m(table: Table, top_m: float, eye_m: float) -> float:
    """How deep in the mist the library has the quay."""
    country = table.country.under(terrain.level_mist(table.country.dem, top_m))
    hill = terrain.hill_at(table.country.dem, -24.0228, 54.4066, name="Lone Hill")
    spot = terrain.Spot(lat_deg=QUAY[0], lon_deg=QUAY[1], eye_m=eye_m)
    with pytest.raises(NoAnswer) as found:
        terrain.look(terrain.Scene(country, hill), spot)
    said = re.search(r"(\d+) m under the mist", str(found.value))
    assert said
    return float(said[1])


@needs_browser
@pytest.mark.parametrize("eye_m", [1.6, 400.0])
def test_a_view_from_within_the_mist_says_so_and_names_nothing(browser, table: Table, eye_m):
    page = browser.open(f"{STATE}&mist=level:200&eye={eye_m:g}", size=(920, 600), refused=True)
    page.settle(view=True)
    said = page.page.locator("#view-caption").inner_text()
    assert f"You stand {under_m(table, 200.0, eye_m):.0f} m under the mist" in said
    assert not page.page.locator("#view-summits").is_visible()
    assert page.page.locator("#view .mark").count() == 0
    page.page.get_by_label("none").check()
    page.settle(view=True)
    page.wait("document.querySelectorAll('#view-summits tr').length > 0")
    assert "mm takes in" in page.page.locator("#view-caption").inner_text()
    assert "Lone Hill" in page.page.locator("#view-summits").inner_text()


def test_from_within_the_mist_all_ground_is_hidden(plane, table: Table):
    spot = f"lat_deg={QUAY[0]}&lon_deg={QUAY[1]}"
    shape = table.country.dem.shape
    ways = [f"/visible/0?{spot}&eye_m={eye}&mist=level:200" for eye in ("1.6", "400")]
    for way in ways:
        assert (plane(way, *shape) == 0).all()
    clear = plane(f"/visible/0?{spot}&eye_m=1.6&mist=none", *shape)
    assert np.unique(clear).tolist() == [0, 1]


@needs_browser
def test_what_is_named_agrees_with_what_is_said_of_the_mist_while_the_slider_is_dragged(browser):
    page = browser.open(f"{STATE}&mist=level:20", size=(920, 600), refused=True)
    page.settle(view=True)
    slider, mouse = page.page.locator("#top"), page.page.mouse
    box, held = slider.bounding_box(), slider.evaluate(SHARE)
    across = [box["x"] + 8 + share * (box["width"] - 16) for share in (held, 0.6, 0.0)]
    down = box["y"] + box["height"] / 2
    said = "document.getElementById('view-caption').textContent"
    page.run(KEEPING)
    mouse.move(across[0], down)
    mouse.down()
    for place, words in [(across[1], "under the mist"), (across[2], "mm takes in")] * 2:
        mouse.move(place, down, steps=8)
        page.wait(f"{said}.includes('{words}')")
    mouse.up()
    kept = {tuple(each) for each in page.run("window.kept")}
    assert kept == {(True, False, False), (False, True, True)}
