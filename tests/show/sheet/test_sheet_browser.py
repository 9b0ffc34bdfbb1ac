"""The sheet in a real browser: the slider works, nothing is asked of a network, it prints."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from terrain.show.sheet.sheet import save_sheet
from tests.browser import Shown, chromium, needs_browser, page_of, paper_of
from tests.show.conftest import World
from tests.show.sheets import TOPS_M, path_of, plan_of

pytestmark = needs_browser
fixtures = (chromium,)

AA = 4.5
A4_PT = (595.0, 842.0)

SHOWN = (
    "[...document.querySelectorAll('img.{}-picture')]"
    ".filter(image => !image.hidden).map(image => image.dataset.look)"
)
TOP_SHOWN = "document.querySelector('#mist-control strong:not([hidden])').textContent"
REFUSED = """
new Promise(done => {
  addEventListener('securitypolicyviolation', event => done(event.blockedURI));
  new Image().src = 'https://example.invalid/a.png';
})
"""
LEAST_LETTERS = """
Math.min(...[...document.querySelectorAll('main *')]
  .filter(element => element.getClientRects().length)
  .map(element => parseFloat(getComputedStyle(element).fontSize)))
"""

# ratio of luminances of every text to what lies under it (WCAG 2.2, 1.4.3), least first; letters
# over a picture stand on a patch of their own colour
CONTRASTS = """
(() => {
  const pen = document.createElement('canvas').getContext('2d', {willReadFrequently: true});
  const rgba = colour => {
    pen.clearRect(0, 0, 1, 1); pen.fillStyle = colour; pen.fillRect(0, 0, 1, 1);
    return [...pen.getImageData(0, 0, 1, 1).data];
  };
  const light = ([r, g, b]) => [r, g, b].map(c => c / 255)
    .map(c => c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4)
    .reduce((sum, c, i) => sum + c * [0.2126, 0.7152, 0.0722][i], 0);
  const found = [];
  for (const element of document.querySelectorAll('body *')) {
    const text = [...element.childNodes].some(n => n.nodeType === 3 && n.data.trim());
    if (!text || !element.getClientRects().length || element.closest('script')) continue;
    let under = element;
    const patch = at => rgba(getComputedStyle(at).backgroundColor)[3];
    while (under && patch(under) < 200) under = under.parentElement;
    if (!under) { found.push([0, element.tagName]); continue; }
    const pair = [getComputedStyle(element).color, getComputedStyle(under).backgroundColor]
      .map(c => light(rgba(c))).sort((a, b) => b - a);
    found.push([(pair[0] + 0.05) / (pair[1] + 0.05), element.tagName + '.' + element.className]);
  }
  return found.sort((a, b) => a[0] - b[0]);
})()
"""


@pytest.fixture(scope="module")
def sheet(world: World, tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("sheet") / "sheet.html"
    save_sheet(
        plan_of(world), file, mist_tops_m=TOPS_M, paths=path_of(world), summits=world.summits
    )
    return file


@pytest.fixture
def opened(chromium: Any, sheet: Path) -> Iterator[Shown]:
    with page_of(chromium, sheet) as shown:
        yield shown


def test_slider_moves_by_keyboard(opened: Shown) -> None:
    assert opened.run(SHOWN.format("view")) == ["2"]
    opened.page.locator("#mist-top").focus()
    opened.page.keyboard.press("ArrowLeft")
    assert opened.run(SHOWN.format("view")) == ["1"]
    assert opened.run(SHOWN.format("map")) == ["1"]
    words = opened.page.locator("#mist-top").get_attribute("aria-valuetext")
    assert words.startswith("305 m. The spot stands 95 m above the mist")
    opened.page.keyboard.press("End")
    assert opened.run(SHOWN.format("view")) == ["3"]


def test_slider_moves_by_a_click(opened: Shown) -> None:
    slider = opened.page.locator("#mist-top")
    slider.scroll_into_view_if_needed()
    box = slider.bounding_box()
    before = opened.page.screenshot()
    slider.click(position={"x": 10.0, "y": box["height"] / 2.0})
    assert opened.run(SHOWN.format("view")) == ["0"]
    assert opened.run(TOP_SHOWN) == "280 m"
    assert opened.page.screenshot() != before
    # a target for a finger
    assert box["height"] >= 44.0


def test_nothing_is_asked_and_nothing_goes_wrong(chromium: Any, sheet: Path) -> None:
    asked: list[str] = []
    said: list[str] = []
    with page_of(chromium, sheet, asked=asked, said=said) as opened:
        opened.page.locator("#mist-top").focus()
        for _ in range(4):
            opened.page.keyboard.press("ArrowRight")
        opened.run("Promise.all([...document.images].map(image => image.decode())).then(() => 1)")
    assert [url for url in asked if not url.startswith("data:")] == [sheet.as_uri()]
    assert said == opened.wrongs == []


def test_policy_stops_a_request(opened: Shown) -> None:
    # a picture from elsewhere is refused by the page's own policy, before any network
    refused = opened.run(REFUSED)
    assert "example.invalid" in refused


@pytest.mark.parametrize("width_px", [320, 360, 768, 1280])
def test_no_page_is_wider_than_its_screen(chromium: Any, sheet: Path, width_px: int) -> None:
    with page_of(chromium, sheet, size=(width_px, 800)) as shown:
        assert shown.run("document.documentElement.scrollWidth") == width_px
        assert shown.run("parseFloat(getComputedStyle(document.body).fontSize)") >= 16.0
        assert shown.run(LEAST_LETTERS) >= 11.0


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_letters_stand_out(chromium: Any, sheet: Path, scheme: str) -> None:
    with page_of(chromium, sheet, size=(1280, 900), scheme=scheme) as shown:
        contrasts = shown.run(CONTRASTS)
        assert len(contrasts) > 100
        assert contrasts[0][0] >= AA, contrasts[:5]
        ground = shown.run("getComputedStyle(document.body).backgroundColor")
    first = float(re.findall(r"[\d.]+", ground)[0])
    assert (first > 200.0) == (scheme == "light")


def test_a_wide_screen_has_no_empty_column(chromium: Any, sheet: Path) -> None:
    """Below the first part two columns end as evenly as whole sections allow."""
    script = """[...document.querySelectorAll(".second section")].map((part) => {
      const box = part.getBoundingClientRect();
      return [box.left, box.top, part.lastElementChild.getBoundingClientRect().bottom];
    })"""
    with page_of(chromium, sheet, size=(1280, 900)) as shown:
        left, top, bottom = np.array(shown.run(script)).T
    columns = [bottom[left == edge].max() for edge in np.unique(left)]
    assert len(columns) == 2
    longest = (bottom - top).max()
    assert abs(columns[1] - columns[0]) <= longest


@pytest.mark.parametrize(("width_px", "scheme"), [(360, "dark"), (1280, "light")])
def test_nothing_stands_in_the_way_of_those_who_see_or_point_otherwise(
    chromium: Any, sheet: Path, width_px: int, scheme: str
) -> None:
    with page_of(chromium, sheet, size=(width_px, 800), scheme=scheme) as shown:
        assert shown.barriers() == []


def test_prints_on_two_pages_of_a4(opened: Shown) -> None:
    paper = paper_of(opened)
    assert len(re.findall(rb"/Type\s*/Page\b", paper)) == 2
    check_a4(paper)


def test_a_long_plan_prints_on_two_pages_too(chromium: Any, world: World, tmp_path: Path) -> None:
    plan = plan_of(world)
    found = {"edge": (45.0, 90.0), "freeboard_m": 9.0, "clearance_m": 2.0, "in_mist_m": 900.0}
    longer = dataclasses.replace(
        plan,
        stages=(*plan.stages, *plan.stages[-4:]),
        cautions=dataclasses.replace(plan.cautions, **found),
        fall_backs=plan.fall_backs * 2,
    )
    save_sheet(longer, tmp_path / "long.html", mist_tops_m=())
    with page_of(chromium, tmp_path / "long.html") as shown:
        paper = paper_of(shown)
    assert len(re.findall(rb"/Type\s*/Page\b", paper)) == 2
    check_a4(paper)


def check_a4(paper: bytes) -> None:
    for box in re.findall(rb"/MediaBox\s*\[([^\]]+)\]", paper):
        _, _, width_pt, height_pt = (float(part) for part in box.split())
        assert (width_pt, height_pt) == pytest.approx(A4_PT, abs=1.0)


def test_without_a_script_the_planned_mist_shows(chromium: Any, sheet: Path) -> None:
    with page_of(chromium, sheet, java_script_enabled=False) as shown:
        assert shown.run(SHOWN.format("view")) == ["2"]
        assert shown.run("document.getElementById('mist-control').hidden") is True
