"""Which summits stand on the page's map, and where the walk of what is taken along begins."""

from __future__ import annotations

import numpy as np
import pytest

from tests.browser import chromium, needs_browser
from tests.desk.browser import address, browser, let_in

pytestmark = needs_browser
fixtures = (address, browser, chromium, let_in)

SPOT = "54.405600,-24.065800"
STANDING_OUT = """async ([summits, view]) => {
  const { standingOut } = await import("/placed.js");
  const pixel = (row, col, { cells }) => [col / cells, row / cells];
  return standingOut(summits, view, pixel).map(({ id }) => id);
}"""


@pytest.mark.parametrize("cells", [4.0, 1.0, 0.6])
def test_the_most_prominent_summits_stand_on_the_map_and_none_over_another(browser, cells):
    draw = np.random.default_rng(7)
    place = draw.uniform(0.0, 1600.0, (500, 2))
    summits = [
        {"id": each, "row": row, "col": col, "prominence_m": 900.0 - each}
        for each, (row, col) in enumerate(place.tolist())
    ]
    view = {"width": 400, "height": 400, "cells": cells}
    shown = browser.bare().run(STANDING_OUT, [summits, view])
    pixels = place / cells
    inside = np.flatnonzero((pixels <= 400.0).all(axis=1))
    assert set(shown) <= set(inside)
    assert 5 < len(shown) <= 60
    gaps = np.hypot(*(pixels[shown][:, np.newaxis] - pixels[shown][np.newaxis]).transpose(2, 0, 1))
    assert gaps[~np.eye(len(shown), dtype=bool)].min() >= 18.0
    # numbers count down the prominence: whoever is left out makes room for a higher one
    for each in set(inside) - set(shown):
        higher = [one for one in shown if one < each]
        is_beside = any(np.hypot(*(pixels[one] - pixels[each])) < 18.0 for one in higher)
        assert is_beside or len(higher) == 60


def test_where_the_walk_begins_is_typed_or_taken_from_the_map_and_kept_in_the_address(browser):
    page = browser.open(f"#tab=take&spot={SPOT}&map=40,62,20", refused=True)
    page.settle()
    page.page.get_by_label("Walk from").fill("nowhere")
    page.page.keyboard.press("Enter")
    assert page.state["start"] == "nowhere"
    page.page.get_by_role("link", name="The way as GPX").click()
    page.wait("document.getElementById('wrong').textContent.includes('nowhere')")
    page.page.get_by_role("button", name="Walk from the map").click()
    lat, lon = map(float, page.state["start"].split(","))
    # row 40 and column 62 of 80 x 100 cells of 50 m about 54.4066 N, 24.0428 W
    assert lat == pytest.approx(54.4066, abs=0.002)
    assert -24.0428 < lon < -24.02
    with page.page.expect_download() as coming:
        page.page.get_by_role("link", name="The way as GPX").click()
    assert coming.value.suggested_filename == "2026-03-16-plan.gpx"
    assert page.page.locator("#wrong").inner_text() == ""


def test_a_sign_on_the_map_is_named_to_who_points_at_it_and_to_who_walks_there_by_keys(browser):
    page = browser.open(f"#tab=take&spot={SPOT}&mist=none&map=40,50,10")
    page.settle()
    box = page.page.locator("#map").bounding_box()
    frame = page.data("#map canvas")

    def at(row: float, col: float) -> tuple[float, float]:
        across, down = (col - frame["col"]) / frame["cells"], (row - frame["row"]) / frame["cells"]
        return box["x"] + box["width"] / 2 + across, box["y"] + box["height"] / 2 + down

    said = "document.getElementById('status').textContent"
    tip = "document.getElementById('map').title"
    # the hill stands 1300 m east of the middle of 80 x 100 cells of 50 m
    for off, name in [(0.0, "Lone Hill, 460 m"), (0.25, "Lone Hill, 460 m"), (4.0, "")]:
        page.page.mouse.move(*at(40.0 + off, 76.0))
        page.wait(f"{tip}.startsWith('{name}') && ('{name}' !== '' || {tip} === '')")
        page.wait(f"{said}.startsWith('{name}') && {said}.includes('° N')")
    assert "the hill" not in page.run(said)
    page.page.locator("#map").focus()
    page.wait(f"!{said}.includes('Lone Hill')")
    page.run("() => { location.hash = location.hash.replace('map=40,50', 'map=40,71'); }")
    page.wait("document.querySelector('#map canvas').dataset.col === '71'")
    for _ in range(40):
        page.page.keyboard.press("Shift+ArrowRight")
        if page.run(said).startswith("Lone Hill"):
            break
    page.wait("document.getElementById('live').textContent.includes('Lone Hill')")


def test_a_click_is_answered_at_once_and_a_slider_once_it_rests(browser):
    # where the mist lies over the eye there is no answer, and that is told
    page = browser.open("#tab=seen", refused=True)
    page.settle()
    asked = []
    page.page.on("request", lambda request: asked.append(request.url))
    # nothing that waits for a third of a second comes to pass from here on
    page.run(
        "() => { const timer = globalThis.setTimeout; globalThis.setTimeout = "
        "(work, wait_ms) => timer(work, wait_ms >= 300 ? 1e8 : wait_ms); }"
    )
    page.page.locator("#map").click(position={"x": 120, "y": 120})
    page.wait("document.getElementById('answer').textContent.length > 20")
    assert any("/answer.json" in url for url in asked)
    asked.clear()
    page.page.locator("#top").press("ArrowRight")
    page.wait("document.getElementById('answer').ariaBusy === 'true'")
    page.page.wait_for_timeout(200)
    assert not any("/answer.json" in url for url in asked)
