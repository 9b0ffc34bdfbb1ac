"""What is taken along, read back by readers that are not ours."""

from __future__ import annotations

import base64
import gzip
import json
import re
from html.parser import HTMLParser

import gpxpy
import icalendar
import numpy as np
import pytest

from terrain.desk import offline
from tests.desk.conftest import DAY, SPOT

STATE = f"hill=Lone Hill&{DAY}&mist=level:120&{SPOT}"

PAGE = {
    "index.html": '<!doctype html>\n<html lang="en"><head><title>desk</title>'
    '<link rel="stylesheet" href="desk.css"></head><body>\n'
    '<script type="module" src="desk.js"></script></body></html>\n',
    "desk.css": "body { color: black; }\n",
    "desk.js": 'import { half } from "./sums.js";\nimport { one, two } from "./numbers.js";\n'
    "const all = half(one + two);\n",
    "sums.js": 'import {\n  two,\n} from "./numbers.js";\nexport const half = (x) => x / two;\n',
    "numbers.js": "export const one = 1;\nexport const two = 2;\n",
    "unused.js": "export const unused = 0;\n",
}


@pytest.fixture
def small_page(tmp_path, monkeypatch):
    """A page of a few lines in the place of the desk's own."""
    for name, text in PAGE.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    monkeypatch.setattr(offline, "PAGE", tmp_path)
    monkeypatch.setattr(offline, "_SKY_EVERY_MIN", 30)


def test_the_way_and_the_times_are_those_of_the_plan(page):
    gpx = page.get(f"/take/plan.gpx?{STATE}")
    assert gpx.headers["content-disposition"] == 'attachment; filename="2026-03-16-plan.gpx"'
    assert len(gpxpy.parse(gpx.text).waypoints) >= 3
    calendar = icalendar.Calendar.from_ical(page.get(f"/take/plan.ics?{STATE}").text)
    days = {event["DTSTART"].dt.date().isoformat() for event in calendar.walk("VEVENT")}
    assert days == {"2026-03-16"}


@pytest.mark.slow
def test_the_sheet_is_one_page(page):
    sheet = page.get(f"/take/sheet.html?{STATE}&start=the quay")
    assert sheet.headers["content-type"].startswith("text/html")
    assert "Lone Hill" in sheet.text
    assert "http://" not in re.sub(r"http://www\.w3\.org\S*", "", sheet.text)


@pytest.mark.usefixtures("small_page")
def test_the_file_has_the_page_and_what_it_shows(page, plane, ask):
    got = page.get(f"/take/desk.html?{STATE}&spots=the ridge")
    assert got.headers["content-disposition"] == 'attachment; filename="desk-2026-03-16.html"'
    packed = packed_in(got.text)
    assert packed["about"] == ask("/about.json")
    assert packed["colours"] == ask("/colours.json")
    when = "2026-03-16 morning"
    assert packed["sun"] == {when: ask(f"/sun.json?{DAY}&{SPOT}")}
    for name in ("heights", "flood"):
        assert (numbers(packed["planes"][name]) == plane(f"/{name}/0", 80 * 100)).all()
    lit = packed["planes"][f"light {when} level:140"]
    assert (lit["rows"], lit["cols"]) == (20, 25)
    assert (numbers(lit["data"]) == plane(f"/light/0?{DAY}&mist=level:140", 20 * 25)).all()
    (view,) = packed["seen"]
    assert (view["name"], view["answer"]["hill"]["name"]) == ("the ridge", "Lone Hill")
    assert numbers(view["planes"]).size == 4 * view["about"]["width"] * view["about"]["height"]
    toward, azimuth_deg = view["toward"]["about"], view["answer"]["summit"]["azimuth_deg"]
    middle_deg = toward["azimuth0_deg"] + toward["step_deg"] * (toward["width"] - 1) / 2
    assert abs(middle_deg - azimuth_deg) < toward["step_deg"] == 0.05
    assert numbers(view["toward"]["planes"]).size == 4 * toward["width"] * toward["height"]
    assert len(packed["skies"]) == 3


@pytest.mark.usefixtures("small_page")
def test_the_file_asks_for_nothing_beside_it(page):
    text = page.get(f"/take/desk.html?{STATE}&mist=none").text
    found = Names()
    found.feed(text)
    assert found.asked == []
    assert "default-src 'none'" in found.policy
    assert "body { color: black; }" in text
    script = text[text.index('<script type="module">') :]
    assert "import" not in script
    assert "export" not in script
    # each module after those that it imports, once, and none that is not needed
    places = [script.index(words) for words in ("const two", "const half", "const all")]
    assert places == sorted(places)
    assert script.count("const two") == 1
    assert "unused" not in script


@pytest.mark.usefixtures("small_page")
def test_what_is_too_much_for_a_file_is_refused(page, monkeypatch):
    many = ";".join(["the ridge"] * 7)
    refused = page.get(f"/take/desk.html?{STATE}&spots={many}")
    assert (refused.status_code, "7 views" in refused.json()["wrong"]) == (400, True)
    monkeypatch.setattr(offline, "MOST_BYTES", 1000)
    refused = page.get(f"/take/desk.html?{STATE}")
    assert (refused.status_code, "take fewer" in refused.json()["wrong"]) == (400, True)


class Names(HTMLParser):
    """The addresses that a page names, and its policy."""

    def __init__(self) -> None:
        super().__init__()
        self.asked: list[str] = []
        self.policy = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        named = dict(attrs)
        self.asked += [str(named[name]) for name in ("src", "href") if name in named]
        if named.get("http-equiv") == "Content-Security-Policy":
            self.policy = str(named["content"])


def packed_in(text: str) -> dict:
    held = re.search(r'<script type="application/json" id="packed">(.*?)</script>', text, re.S)
    return json.loads(held[1])


def numbers(packed: str) -> np.ndarray:
    return np.frombuffer(gzip.decompress(base64.b64decode(packed)), "<u2").astype(int)
