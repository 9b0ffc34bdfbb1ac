"""What is made for the site from the code, and nothing left out of it."""

from __future__ import annotations

import datetime as dt
import inspect
import re
from pathlib import Path
from xml.etree import ElementTree

import pytest
import yaml

import terrain
from docs import house, reference
from docs.checks import ground, pages, sources
from docs.checks.check import Check, Row, clocks, numbers

ROOT = Path(__file__).resolve().parents[2]
WRITTEN = ROOT / "docs" / "pages"


@pytest.fixture(scope="module")
def checks() -> list[Check]:
    return pages.all_checks()


def test_the_reference_holds_every_public_name_once() -> None:
    listed = [name for group in reference.groups() for name in group.names]
    assert sorted(listed) == sorted(terrain.__all__)
    assert len({group.file for group in reference.groups()}) == len(reference.groups())


def test_the_gallery_draws_every_kind_of_picture() -> None:
    drawn = set(re.findall(r"terrain\.(\w+)", (WRITTEN / "gallery.md").read_text()))
    pictures = {
        name
        for name in terrain.__all__
        if inspect.isfunction(thing := getattr(terrain, name))
        and thing.__module__.startswith("terrain.show")
        and inspect.signature(thing).return_annotation == "Figure"
    }
    assert len(pictures) > 10
    # a country takes minutes: its picture is on the page about it
    pictures -= {"survey_figure"}
    assert "terrain survey" in (WRITTEN / "how-to" / "work-on-a-country.md").read_text()
    assert drawn >= pictures | {"save_strip", "small_views"}


def test_every_page_that_is_written_is_in_the_list_and_every_one_in_it_is_there() -> None:
    nav = yaml.safe_load((ROOT / "docs" / "mkdocs.yml").read_text())["nav"]
    listed = set(re.findall(r"[\w/-]+\.md", str(nav)))
    made = {"checks.md", "developers.md", "changelog.md"}
    assert listed - made == {file.relative_to(WRITTEN).as_posix() for file in WRITTEN.rglob("*.md")}


def test_every_value_from_outside_is_on_the_page_of_checks(checks: list[Check]) -> None:
    shown = {(check.module, name) for check in checks for name in check.names}
    held = {(module, name) for module in sources.modules() for name in sources.values(module)}
    assert held == shown


def test_every_value_from_outside_has_a_source_and_a_test(checks: list[Check]) -> None:
    for check in checks:
        if check.names:
            assert len(sources.said(check.module, *check.names)) > 20, check.title
            assert sources.held_by(check.module, *check.names), check.title


def test_checks_have_values_and_places_of_their_own(checks: list[Check]) -> None:
    assert sum(len(check.rows) for check in checks) > 250
    assert len({check.anchor for check in checks}) == len(checks)
    page = pages.page()
    for check in checks:
        assert check.rows
        assert page.count(f"{{#{check.anchor}}}") == 1
        assert f"(#{check.anchor})" in page


def test_a_difference_is_that_of_ours_and_what_is_published() -> None:
    assert numbers({"a": (1.25, 1.5)}, 2) == [Row("a", "1.25", "1.50", 0.25)]
    moment = terrain.twilight(dt.date(2025, 3, 20), lon_deg=0.0, lat_deg=50.0).sunrise
    assert moment is not None
    early = moment.replace(hour=0, minute=0, second=10)
    assert clocks([("b", "2359", early)])[0].off == 70.0
    assert clocks([("c", None, None)])[0].off == 0.0
    assert clocks([("d", None, moment)])[0].off is None


def test_what_is_told_of_a_check_is_worked_out_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    before = {check.title: check.most for check in ground.checks()}
    monkeypatch.setattr(ground, "lowest_deg", lambda *_: (-1.0, 1.0))
    after = {check.title: check.most for check in ground.checks()}
    changed = {title for title in before if before[title] != after[title]}
    assert "The dip of the sea's horizon" in changed
    assert changed <= {"The dip of the sea's horizon", "The dip of a level at a distance"}


def test_the_page_begins_with_how_sure_a_time_is(checks: list[Check]) -> None:
    assert checks[0].title == "The ± against draws"
    assert checks[0].about == checks[1].about == "How sure a time is"


def test_the_house_is_drawn_as_the_imports_are_held() -> None:
    rooms = [room for floor in house.layers() for room in floor]
    assert set(house.SAYS) == set(rooms)
    assert rooms[0] == "command"
    picture = ElementTree.fromstring(house.drawn())
    names = [text.text for text in picture.iter("{http://www.w3.org/2000/svg}text")][::2]
    assert names == rooms
