"""The places that are found for a hill: on the map, in their pictures, on a phone, and stood at."""

from __future__ import annotations

import datetime as dt
import re

import numpy as np
import pytest

from tests.browser import chromium, needs_browser
from tests.desk.browser import address, browser, let_in

pytestmark = needs_browser
fixtures = (address, browser, chromium, let_in)

SPOT = "54.405600,-24.065800"
DOWN = "document.querySelectorAll('#pane-hill tbody canvas')"


def found(page) -> None:
    """Search the places of the day, and wait until the first picture is drawn."""
    page.settle()
    page.page.locator("#places-day").click()
    page.wait(f"{DOWN}.length > 0")
    before = page.run(f"{DOWN}[0].height")
    page.wait(f"{DOWN}[0].dataset.drawn === '1'")
    # the rows below stay where they were
    assert page.run(f"{DOWN}[0].height") == before


LOOKED_AT = """async ([cells, said]) => {
  const { HillPane } = await import("/hill.js");
  const { GroundMap } = await import("/map.js");
  const set = [];
  const about = { rows: 800, cols: 800, cell_m: 50 };
  const supply = { lattice: { rowcol: (row, col) => [row, col] }, about };
  const get = (name) => (name === "map" ? said : "");
  const state = { get, set: (parts) => set.push(parts.map) };
  const size = { width: 500, height: 400 };
  const map = Object.create(GroundMap.prototype, {
    supply: { value: supply }, state: { value: state }, size: { value: size },
  });
  const pane = { bench: { map, hill: { row: 300, col: 200 } }, supply, state };
  HillPane.prototype.lookAt.call(pane, cells.map(([lat_deg, lon_deg]) => ({ lat_deg, lon_deg })));
  return set;
}"""


@pytest.mark.parametrize(
    ("cells", "said", "window"),
    [
        # as much again about them: 2 x 60 cells in 500 px, or 2 x 20 in 400
        ([[290, 240], [310, 260]], "", ["300.00,230.00,12.000"]),
        ([[290, 240], [310, 260]], "310.00,250.00,40.000", []),
        # no nearer than the whole ground
        ([[20, 780]], "", []),
        ([], "", []),
    ],
)
def test_a_map_of_all_the_ground_goes_to_the_places_that_are_found(browser, cells, said, window):
    assert browser.bare().run(LOOKED_AT, [cells, said]) == window


def test_the_picture_of_a_place_shows_the_hill_however_far_below(browser):
    page = browser.open("#tab=hill&mist=none&lens=200&eye=999", size=(920, 600))
    found(page)
    image = page.run(
        f"""() => {{
          const canvas = {DOWN}[0];
          const {{ width, height }} = canvas;
          const {{ data }} = canvas.getContext("2d").getImageData(0, 0, width, height);
          return {{ width, height, data: [...data] }};
        }}"""
    )
    rgb = np.array(image["data"]).reshape(image["height"], image["width"], 4)[..., :3]
    # what lies beyond the planes of a view is drawn as their last row, and so in stripes
    lower, middle = image["height"] // 2, slice(image["width"] // 3, 2 * image["width"] // 3)
    hill = rgb[lower:, middle].astype(int)
    stripes = (np.abs(np.diff(hill, axis=0)).sum(axis=(0, 2)) == 0).mean()
    assert stripes < 0.2


def test_a_phone_has_room_for_the_words_of_a_place_and_the_name_of_the_hill(browser):
    page = browser.open("#tab=hill&mist=level:120", size=(360, 740))
    found(page)
    words = page.page.locator("#pane-hill tbody tr").first.locator("td").nth(1)
    assert words.bounding_box()["width"] > 300
    assert page.page.locator("#hill").bounding_box()["width"] > 250
    assert page.run("document.documentElement.scrollWidth") <= 360
    assert page.barriers() == []


@pytest.mark.parametrize(("eye_m", "is_low"), [(1.7, False), (250.0, True)])
def test_the_sky_where_the_sun_comes_is_in_the_picture_though_the_hill_is_low(
    browser, eye_m, is_low
):
    page = browser.open(f"#spot={SPOT}&mist=none&lens=200&eye={eye_m:g}&tab=seen", size=(920, 600))
    page.settle(view=True)
    at = page.data("#view canvas")
    box = page.page.locator("#view").bounding_box()
    down_deg = at["field_deg"] * box["height"] / box["width"]
    assert (at["altitude_deg"] < -1.0) == is_low
    assert at["altitude_deg"] + down_deg / 2 > 1.0
    sign = page.page.locator("#view .mark.hill").bounding_box()
    assert box["y"] < sign["y"]
    assert sign["y"] + sign["height"] < box["y"] + box["height"]


def test_no_sign_in_the_view_covers_the_sun(browser):
    day = "date=2026-03-29"
    page = browser.open(f"#spot={SPOT}&mist=none&lens=200&tab=seen&{day}", size=(920, 600))
    page.settle(view=True)
    minutes = page.run(f"fetch('sun.json?{day}&end=morning').then((answer) => answer.json())")
    at, box = page.data("#view canvas"), page.page.locator("#view").bounding_box()
    scale = box["width"] / at["field_deg"]
    sides = set()
    for minute in minutes["minutes"]:
        right = (minute["azimuth_deg"] - at["azimuth_deg"]) * scale
        if abs(right) > 40:
            continue
        page.run(f"() => {{ location.hash += '&time={minute['clock']}'; }}")
        page.wait(
            f"document.getElementById('view-caption').textContent.includes('{minute['clock']}')"
        )
        page.settle(view=True)
        sign = page.page.locator("#view .mark.hill circle").bounding_box()
        sun_x = box["x"] + box["width"] / 2 + right
        sun_y = box["y"] + box["height"] / 2
        sun_y -= (minute["altitude_deg"] - at["altitude_deg"]) * scale
        across, down = sign["x"] + sign["width"] / 2, sign["y"] + sign["height"] / 2
        assert np.hypot(across - sun_x, down - sun_y) > 12.0 + 0.265 * scale
        stem = page.page.locator("#view .mark.hill .stem").get_attribute("d")
        sides.add(stem == "M0 -12V-20")
    assert sides == {True, False}


def test_a_place_found_for_the_year_is_stood_at_on_its_best_day(browser):
    page = browser.open("#tab=hill&date=2035-01-05&mist=none")
    page.settle()
    page.page.get_by_role("button", name="Find places for the year").click()
    page.wait("document.querySelectorAll('#pane-hill tbody tr').length > 0")
    words = page.page.locator("#pane-hill tbody tr").first.inner_text()
    best = re.search(r"best on \w+ (\d+ \w+ 2035), good on \d+ days?", words)
    assert best, words
    day = dt.datetime.strptime(best[1], "%d %B %Y").date()
    assert day != dt.date(2035, 1, 5)
    page.page.get_by_role("button", name="Stand at place 1", exact=True).click()
    assert page.page.locator("#date").input_value() == f"{day}"
    assert page.state["date"] == f"{day}"
    moment = re.search(r"at its best (\d\d:\d\d)", words)
    assert moment, words
    assert page.state["time"] == moment[1]
    # they are of that day too
    assert "find them anew" not in page.page.locator("#pane-hill .said").inner_text()
    page.wait("(document.querySelector('#answer .verdict')?.textContent ?? '').length > 20")
    rows = page.page.locator("#pane-hill tbody tr").count()
    assert page.page.locator("#map .vantage").count() == rows
