"""The page in a real browser: sliders, map and view by hand and by keyboard, and its address."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from terrain.desk.app import PAGE
from terrain.show.paper import palette
from tests.browser import chromium, needs_browser
from tests.desk.browser import address, browser, let_in

fixtures = (address, browser, chromium, let_in)

SPOT = "54.405600,-24.065800"
NO_WEBGL = """for (const kind of [HTMLCanvasElement, OffscreenCanvas]) {
  const { getContext } = kind.prototype;
  kind.prototype.getContext = function (name, ...rest) {
    return name === "webgl2" ? null : getContext.call(this, name, ...rest);
  };
}"""


@needs_browser
def test_the_top_of_the_mist_is_dragged_and_the_sea_follows(browser):
    page = browser.open("#tab=take&time=12:00")
    page.settle()
    before = page.pixels("#map")
    page.drag("#top", 0.8)
    kind, top = page.state["mist"].split(":")
    assert kind == "level"
    assert float(top) > 300.0
    assert page.page.locator("#top-said").inner_text() == f"{top} m"
    page.settle()
    assert np.mean(np.abs(page.pixels("#map") - before).sum(axis=-1) > 30) > 0.05


@needs_browser
def test_the_clock_is_dragged_and_light_moves_over_ground_and_mist(browser):
    page = browser.open("#tab=take")
    page.settle()
    page.drag("#clock", 0.02)
    early, dark = page.state["time"], page.pixels("#map")
    page.drag("#clock", 0.98)
    late, bright = page.state["time"], page.pixels("#map")
    assert early < late
    assert late in page.page.locator("#clock-said").inner_text()
    assert bright.mean() > dark.mean() + 4.0


@needs_browser
@pytest.mark.slow
def test_mist_along_the_valley_floors_has_a_depth_and_a_ceiling(browser):
    page = browser.open("#tab=take&time=12:00")
    page.settle()
    before = page.pixels("#map")
    page.page.get_by_label("valley floors").check()
    page.drag("#ceiling", 0.7)
    page.drag("#depth", 0.9)
    kind, depth, ceiling = page.state["mist"].split(":")
    assert kind == "valley"
    assert float(depth) > 200.0
    assert float(ceiling) > 250.0
    page.settle()
    assert np.abs(page.pixels("#map") - before).mean() > 1.0


@needs_browser
def test_a_click_on_the_map_stands_there_and_the_back_button_returns(browser):
    page = browser.open("#tab=take&mist=none")
    page.settle()
    page.page.locator("#map").click(position={"x": 120, "y": 120})
    first = page.state["spot"]
    page.page.locator("#map").click(position={"x": 320, "y": 160})
    assert page.state["spot"] != first
    page.page.go_back()
    assert page.state["spot"] == first
    page.page.go_forward()
    assert page.state["spot"] != first


@needs_browser
def test_the_map_is_walked_by_keyboard_and_says_where_it_is(browser):
    # the walk may end where the mist lies over the eye, of which the desk has no answer
    page = browser.open("#tab=take&time=12:00", refused=True)
    page.settle()
    ground = page.page.locator("#map")
    ground.focus()
    before = page.data("#map canvas")
    for key in ("+", "ArrowLeft", "ArrowUp"):
        ground.press(key)
    page.settle()
    after = page.data("#map canvas")
    assert after["cells"] < before["cells"]
    assert after["col"] < before["col"]
    assert after["row"] < before["row"]
    page.wait("/° N, .* m/.test(document.getElementById('live').textContent)")
    ground.press("Enter")
    lat, lon = (float(part) for part in page.state["spot"].split(","))
    assert lat > 54.4
    assert lon < -24.0
    page.wait("document.getElementById('live').textContent.startsWith('You stand at')")


@needs_browser
def test_a_place_is_typed_and_one_that_is_not_known_is_said_in_one_line(browser):
    page = browser.open("#tab=seen")
    page.settle()
    page.page.get_by_label("Stand at").fill("the ridge")
    page.page.get_by_role("button", name="Stand there").click()
    assert page.state["spot"] == SPOT
    page.page.get_by_label("Stand at").fill("nowhere")
    page.page.keyboard.press("Enter")
    wrong = page.page.get_by_role("alert").inner_text()
    assert wrong == '"nowhere" is no place that is known here: give its name, or LAT,LON'
    assert page.state["spot"] == SPOT


@needs_browser
def test_a_link_and_a_reload_return_to_the_same_desk(browser):
    state = f"#tab=take&mist=level:205&time=06:30&spot={SPOT}&lens=85&eye=3.5&map=30,40,22&hidden=1"
    page = browser.open(state)
    page.settle()
    shown = {name: page.page.locator(f"#{name}").input_value() for name in ("top", "eye", "lens")}
    assert shown == {"top": "205", "eye": "3.5", "lens": "85"}
    assert page.page.locator("#hidden").is_checked()
    assert page.data("#map canvas")["row"] == 30.0
    picture = page.pixels("#map")
    page.page.reload()
    page.settle()
    assert np.mean(page.pixels("#map") != picture) < 0.01
    page.run("(hash) => { location.hash = hash; }", state.replace("205", "150"))
    page.wait("document.getElementById('top').value === '150'")


@needs_browser
def test_the_address_is_written_once_when_a_slider_is_let_go(browser):
    page = browser.open("#tab=take&time=12:00")
    page.settle()
    # what waits for hands to rest never comes
    page.run(
        """() => {
          const { setTimeout: timer } = window;
          window.setTimeout = (work, wait_ms) => (wait_ms >= 500 ? 0 : timer(work, wait_ms));
          window.written = 0;
          const { replaceState } = history;
          history.replaceState = function (...all) {
            window.written += 1;
            return replaceState.apply(this, all);
          };
        }"""
    )
    page.drag("#top", 0.8)
    assert page.run("() => window.written") == 1
    assert "mist=level" in page.page.url


@needs_browser
def test_the_view_turns_by_drag_and_by_keys_and_words_stand_beside_it(browser):
    page = browser.open(f"#tab=seen&spot={SPOT}&time=06:40", size=(920, 600))
    page.settle(view=True)
    before = page.data("#view canvas")["azimuth_deg"]
    box = page.page.locator("#view").bounding_box()
    middle = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.page.mouse.move(*middle)
    page.page.mouse.down()
    page.page.mouse.move(middle[0] - 60, middle[1], steps=3)
    page.page.mouse.up()
    turned = float(page.state["look"].split(",")[0])
    assert turned > before + 0.3
    # the address is written when the hands rest
    look = "new URLSearchParams(location.hash.slice(1)).get('look')"
    page.page.locator("#view").press("ArrowRight")
    page.wait(f"parseFloat({look}) > {turned}")
    page.page.locator("#view").press("Home")
    page.wait(f"!{look}")
    page.wait(
        "/behind|hidden|no /.test(document.querySelector('#answer .verdict')?.textContent ?? '')"
    )


@needs_browser
def test_without_webgl_the_same_map_is_drawn_plainly(browser):
    def drawn(script: str) -> np.ndarray:
        page = browser.open("#tab=take&time=07:00", size=(920, 600), script=script)
        page.settle()
        assert page.page.locator("#map").get_attribute("data-painter") == (
            "PlainPainter" if script else "ShadePainter"
        )
        return page.pixels("#map")

    assert np.mean(np.abs(drawn(NO_WEBGL) - drawn("")).max(axis=-1) > 6) < 0.01


@needs_browser
@pytest.mark.parametrize(
    ("size", "scheme"),
    [
        ((360, 740), "dark"),
        pytest.param((1600, 1000), "light", marks=pytest.mark.slow),
    ],
)
def test_nothing_stands_in_the_way_of_those_who_see_or_point_otherwise(browser, size, scheme):
    page = browser.open(f"#spot={SPOT}&tab=seen", size=size, scheme=scheme)
    page.settle(view=True)
    for tab in ("seen", "hill", "season", "take"):
        page.page.locator(f"#tab-{tab}").click()
        assert page.barriers() == []
    width = page.run("() => document.documentElement.scrollWidth")
    assert width <= size[0]


@needs_browser
@pytest.mark.slow
def test_places_are_found_numbered_on_the_map_and_chosen(browser):
    page = browser.open("#tab=hill")
    page.settle()
    page.page.get_by_role("button", name="Find places for this day").click()
    page.wait("document.querySelectorAll('#pane-hill tbody tr').length > 0")
    rows = page.page.locator("#pane-hill tbody tr").count()
    assert page.page.locator("#map .vantage").count() == rows
    page.page.get_by_role("button", name="Stand at place 1", exact=True).click()
    chosen = page.page.locator("#pane-hill button[aria-pressed=true]")
    assert chosen.get_attribute("data-spot") == page.state["spot"]
    page.page.locator("#tab-take").click()
    assert "spots=" in page.page.get_by_role("link", name="This desk").get_attribute("href")


@needs_browser
@pytest.mark.slow
def test_a_day_of_the_season_moves_everything_to_it(browser):
    page = browser.open("#tab=season&from=2026-03-10&to=2026-03-20")
    page.settle()
    page.page.get_by_role("button", name="Find days").click()
    page.wait("document.querySelectorAll('#pane-season tbody tr').length > 0")
    day = page.page.locator("#pane-season tbody button").last
    # a day stands in one line
    assert day.bounding_box()["height"] < 40
    day.click()
    assert page.page.locator("#date").input_value() == day.get_attribute("data-date")
    assert page.state["spot"]
    assert day.get_attribute("aria-pressed") == "true"


@needs_browser
@pytest.mark.slow
def test_the_desk_in_one_file_works_from_the_file_system(browser, tmp_path: Path):
    page = browser.open(f"#tab=take&spot={SPOT}&time=06:40")
    page.settle()
    with page.page.expect_download() as coming:
        page.page.get_by_role("link", name="This desk").click()
    kept = tmp_path / "desk.html"
    coming.value.save_as(kept)
    alone = browser.open(size=(920, 600), url=kept.as_uri())
    alone.settle()
    before = alone.pixels("#map")
    alone.drag("#top", 0.9)
    alone.settle()
    assert np.mean(np.abs(alone.pixels("#map") - before).sum(axis=-1) > 30) > 0.05
    # the file has a finer view toward the hill, and beside it the coarse one all round
    alone.wait("document.querySelector('#view canvas').dataset.fine === '1'")
    alone.wait("document.querySelector('#view canvas').dataset.share === '1'")
    assert alone.pixels("#view").std() > 15.0
    alone.run("() => { location.hash += '&look=200,0'; }")
    alone.wait("document.querySelector('#view canvas').dataset.azimuth_deg === '200'")
    alone.wait("document.querySelector('#view canvas').dataset.fine === '0'")
    assert not alone.page.locator("#tab-hill").is_visible()


def test_every_colour_of_the_style_is_one_of_the_palette():
    ours = {value for value in vars(palette).values() if isinstance(value, str)}
    used = re.findall(r"#[0-9a-f]{6}\b", (PAGE / "desk.css").read_text(encoding="utf-8"))
    assert used
    assert set(used) <= ours


def test_the_modules_can_stand_in_one_file():
    told = re.compile(
        r"^(?:export )?(?:async )?(?:function|class) (\w+)|^(?:export )?(?:const|let) (\w+) =",
        re.MULTILINE,
    )
    names = [
        "".join(found)
        for path in sorted(PAGE.glob("*.js"))
        for found in told.findall(path.read_text(encoding="utf-8"))
    ]
    assert len(names) > 100
    assert sorted(names) == sorted(set(names))
