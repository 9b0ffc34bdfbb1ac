"""The sheet of an evening: its words, its band of light, and that it fits a phone."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from terrain.plan.morning import Plan
from terrain.show.sheet.sheet import save_sheet
from terrain.words.cautions import cautions
from tests.authorities.colour_vision import lightness
from tests.browser import chromium, needs_browser, page_of, paper_of
from tests.evenings import evening_plan
from tests.show.sheets import Page

fixtures = (chromium,)

RIGHTMOST = """
Math.max(...[...document.querySelectorAll('td, th')].map(c => c.getBoundingClientRect().right))
"""


@pytest.fixture(scope="module")
def plan() -> Plan:
    return evening_plan()


@pytest.fixture(scope="module")
def sheet(plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("sheet") / "evening.html"
    save_sheet(plan, file, mist_tops_m=[255.0, 280.0])
    return file


@pytest.fixture(scope="module")
def page(sheet: Path) -> Page:
    return Page(sheet.read_text(encoding="utf-8"))


def test_it_says_that_it_is_an_evening(page: Page, plan: Plan) -> None:
    assert page.root.one("title").words.endswith("Evening of Sunday 1 November 2026")
    assert page.root.one("p", **{"class": "day"}).words == "Evening of Sunday 1 November 2026"
    heads = [page.section(name).one("h2").words for name in ("times", "map")]
    assert heads == ["The evening", "The way in and back"]
    assert "Computed light at" in page.section("view").words
    assert "The sun is gone as planned, at" in page.section("view").words
    assert "Before the sun touches the ground, without it" in page.section("lenses").words
    assert page.section("sure").words.find("The sun is gone at") > 0
    back = plan.walk_back
    assert back is not None
    parts = (page.section("walk").all(tag) for tag in ("dt", "dd"))
    walked = {name.words: said.words for name, said in zip(*parts, strict=True)}
    assert walked["back"] == (
        f"{back.there_s / 60.0:.0f} min, {back.dark_s / 60.0:.0f} min of it after civil dusk"
    )
    assert [line.words for line in page.section("care").all("li")] == list(cautions(plan))


def test_nothing_on_it_is_of_a_morning(page: Page) -> None:
    told = [page.root.one("header").words, page.root.one("main").words]
    told += [image.attrs["alt"] for image in page.root.all("img")]
    for wrong in ("dawn", "appears", "morning", "sunrise", "delay", "after it"):
        assert not [text for text in told if wrong in text]


def test_the_band_darkens_with_the_evening(page: Page, plan: Plan) -> None:
    lines = page.section("times").all("li")
    assert [line.one("strong").words for line in lines] == [stage.kind for stage in plan.stages]
    styles = [line.attrs["style"] for line in lines]
    light = [lightness(style.split(";")[0].removeprefix("--from:")) for style in styles]
    assert light == sorted(light, reverse=True)
    assert light[0] - light[-1] > 40.0


@needs_browser
@pytest.mark.parametrize("width_px", [320, 360, 1280])
def test_no_page_is_wider_than_its_screen(chromium: Any, sheet: Path, width_px: int) -> None:
    with page_of(chromium, sheet, size=(width_px, 800)) as shown:
        assert shown.run("document.documentElement.scrollWidth") == width_px
        # nor is anything cut off at its edge
        assert shown.run(RIGHTMOST) <= width_px


@needs_browser
def test_it_prints_on_two_pages(chromium: Any, sheet: Path) -> None:
    with page_of(chromium, sheet) as shown:
        assert len(re.findall(rb"/Type\s*/Page\b", paper_of(shown))) == 2
